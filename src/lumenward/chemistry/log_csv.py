"""Reading a log from CSV text: two columns, time and value, each wrong line named by its number."""

from __future__ import annotations

import csv
import re
from datetime import datetime
from io import StringIO

from lumenward.quantities import Refusal, convert, echo, find_unit, parse_number

LARGEST_CHARACTERS = 5_000_000
LARGEST_READINGS = 200_000
_UNIT = re.compile(r"[\s_([]\s*([^\s_()\[\]]{1,4})\s*[)\]]?\s*$")
_CLOCK = re.compile(r"(\d{1,2}):([0-5]\d)(?::([0-5]\d(?:[.,]\d+)?))?")
_TIME_UNITS = {"s": "s", "sec": "s", "min": "min", "h": "h"}
_VALUE_UNITS = {"c": "°C", "°c": "°C", "degc": "°C", "f": "°F", "°f": "°F", "degf": "°F", "k": "K"}


def read_log_csv(text: str, field: str = "csv") -> list[tuple[float, float]]:
    """Return [(seconds, value), …] from CSV text.

    The first column is the time: seconds since the start (or min, h, where the header says so: "time_min"), clock
    times (10:04:30), or dates with times in ISO form; clock and date times become seconds since the first reading.
    The second column is the value; a header "temperature_f" or "…_k" is turned into °C. Columns are parted by comma,
    semicolon or tab; with semicolon or tab the decimal sign may be a comma. Further columns, empty lines and lines
    starting with # are passed over. Raises Refusal whose field is `csv line N`.

    >>> read_log_csv("time_s,temperature_c\\n0,20\\n30,21.5\\n")
    [(0.0, 20.0), (30.0, 21.5)]
    """
    if len(text) > LARGEST_CHARACTERS:
        raise Refusal(
            "too-long", "This log is larger than 5 million characters.", field, "Give a shorter log."
        )
    rows = _rows(text, _delimiter(text))
    if not rows:
        raise Refusal("empty", "This log has no readings.", field, "Give lines such as 30,21.5.")
    header = rows.pop(0)[1] if _is_header(rows[0][1]) else []
    if len(rows) > LARGEST_READINGS:
        raise Refusal("too-long", f"{len(rows)} readings are too many.", field, "Give a shorter log.")
    readings = _relative([_reading(cells, header, f"{field} line {number}") for number, cells in rows], field)
    _require_forward(readings, [f"{field} line {number}" for number, _ in rows])
    return readings


def _delimiter(text: str) -> str:
    line = next((one for one in text.splitlines() if one.strip() and not one.startswith("#")), "")
    return next((sign for sign in ("\t", ";") if sign in line), ",")


def _rows(text: str, delimiter: str) -> list[tuple[int, list[str]]]:
    reader = csv.reader(StringIO(text.removeprefix("\ufeff")), delimiter=delimiter)
    rows: list[tuple[int, list[str]]] = []
    try:
        for cells in reader:
            stripped = [cell.strip() for cell in cells]
            if any(stripped) and not stripped[0].startswith("#"):
                rows.append((reader.line_num, stripped))
    except csv.Error:
        raise Refusal(
            "not-csv",
            f"Line {reader.line_num} is not CSV.",
            f"csv line {reader.line_num}",
            "Save as CSV again.",
        ) from None
    return rows


def _is_header(cells: list[str]) -> bool:
    return not re.search(r"\d", cells[0])


def _reading(cells: list[str], header: list[str], field: str) -> tuple[float | datetime, float]:
    if len(cells) < 2 or not cells[0] or not cells[1]:
        raise Refusal(
            "bad-reading", f"{field}: a time and a value are needed.", field, "Complete or remove it."
        )
    unit = _unit_of(header, 1, _VALUE_UNITS)
    value = _number(cells[1], field)
    return _time(cells[0], header, field), convert(value, unit, "°C") if unit else value


def _number(cell: str, field: str) -> float:
    return parse_number(cell, field, decimal="," if "," in cell else None)


def _time(cell: str, header: list[str], field: str) -> float | datetime:
    clock = _CLOCK.fullmatch(cell)
    if clock:
        return int(clock[1]) * 3600 + int(clock[2]) * 60 + float((clock[3] or "0").replace(",", "."))
    if re.match(r"\d{4}-\d{2}-\d{2}", cell):
        return _instant(cell, field)
    unit = find_unit(_unit_of(header, 0, _TIME_UNITS) or "s")
    return _number(cell, field) * unit.scale


def _instant(cell: str, field: str) -> datetime:
    try:
        return datetime.fromisoformat(cell)
    except ValueError:
        raise Refusal(
            "bad-time", f"{field}: {echo(cell)} is not a time.", field, "Write 2026-03-01T10:04:30+01:00."
        ) from None


def _unit_of(header: list[str], column: int, known: dict[str, str]) -> str | None:
    found = _UNIT.search(header[column]) if column < len(header) else None
    return known.get(found[1].casefold()) if found else None


def _relative(readings: list[tuple[float | datetime, float]], field: str) -> list[tuple[float, float]]:
    kinds = {type(time) is datetime and (time.tzinfo is not None) for time, _ in readings}
    dates = [time for time, _ in readings if isinstance(time, datetime)]
    if dates and (len(dates) != len(readings) or len(kinds) > 1):
        raise Refusal(
            "bad-time",
            "This log mixes times with and without a date or zone.",
            field,
            "Use one form of time.",
        )
    if dates:
        return [((t - dates[0]).total_seconds(), x) for t, x in readings if isinstance(t, datetime)]
    return [(t, x) for t, x in readings if not isinstance(t, datetime)]


def _require_forward(readings: list[tuple[float, float]], fields: list[str]) -> None:
    for before, after, field in zip(readings, readings[1:], fields[1:], strict=False):
        if after[0] <= before[0]:
            raise Refusal(
                "not-forward",
                f"{field}: its time is not after the one before.",
                field,
                "Times must grow; write dates with the times where a log runs over midnight.",
            )
