"""A result as people read it: sentences, single figures with units, tables; and the picture's own data."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from pydantic import BaseModel

from lumenward.calculations.case import Chart
from lumenward.quantities import THIN, show_duration, show_number
from lumenward.screens.calculations.wording import split, trade

_SENTENCES = ("words", "sentence", "against_floor")
_SUPERSCRIPT = str.maketrans("-0123456789", "⁻⁰¹²³⁴⁵⁶⁷⁸⁹")
_NOT_KNOWN = "none"


@dataclass(frozen=True)
class Row:
    """One figure: what, how much, in which unit, the same in the trade's unit, what it means."""

    label: str
    value: str
    unit: str
    also: str = ""
    note: str = ""


@dataclass(frozen=True)
class Grid:
    """One table: a title, heads with units, rows of texts."""

    title: str
    heads: list[str]
    rows: list[list[str]]


@dataclass
class Shown:
    """All of a result."""

    sentences: list[str] = field(default_factory=list)
    rows: list[Row] = field(default_factory=list)
    grids: list[Grid] = field(default_factory=list)


def show(result: Mapping[str, Any], output: type[BaseModel]) -> Shown:
    """Return a result in the order of its output model."""
    notes = {
        info.alias or name: (info.description or "").replace("`", "")
        for name, info in output.model_fields.items()
    }
    shown = Shown()
    for key, value in result.items():
        if key in _SENTENCES and isinstance(value, str):
            shown.sentences.append(value)
        elif isinstance(value, list) and value and all(isinstance(one, Mapping) for one in value):
            shown.grids.append(_grid(key, value))
        else:
            shown.rows.append(_row(key, value, notes.get(key, "")))
    return shown


def _row(key: str, value: Any, note: str) -> Row:
    label, unit = split(key)
    if isinstance(value, Mapping):
        text = "; ".join(f"{split(str(k))[0]} {say(v)}" for k, v in value.items()) or _NOT_KNOWN
        return Row(label, text, unit, "", note)
    return Row(label, say(value), unit if value is not None else "", _also(value, unit), note)


def _also(value: Any, unit: str) -> str:
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        return ""
    other, factor = trade(unit)
    if factor != 1.0:
        return f"{say(value * factor)}{THIN}{other}"
    if unit == "s" and abs(value) >= 120:
        return show_duration(value)
    if unit.startswith("Pa") and unit in ("Pa", "Pa absolute") and abs(value) >= 1000:
        return f"{say(value / 1000)}{THIN}kPa"
    return f"{say(value * 1000)}{THIN}mm" if unit == "m" and 0 < abs(value) < 0.1 else ""


def _grid(key: str, rows: list[Mapping[str, Any]]) -> Grid:
    keys = list(rows[0])
    heads, factors = [], []
    for one in keys:
        label, unit = split(one)
        unit, factor = trade(unit)
        heads.append(f"{label}, {unit}" if unit else label)
        factors.append(factor)
    made = [[_cell(row.get(one), factor) for one, factor in zip(keys, factors, strict=True)] for row in rows]
    return Grid(split(key)[0], heads, made)


def _cell(value: Any, factor: float) -> str:
    plain = isinstance(value, int | float) and not isinstance(value, bool)
    return say(value * factor) if plain else say(value)


def say(value: Any) -> str:
    """Return any value as text: five figures that matter, powers of ten where a number is tiny or huge.

    >>> say(1.25e-5).replace(chr(0x202f), " "), say(0.72125), say(True), say([1, 2.5])
    ('1.25 × 10⁻⁵', '0.72125', 'yes', '1 to 2.5')
    """
    if value is None:
        return _NOT_KNOWN
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float):
        return _number(float(value))
    if isinstance(value, list):
        return (" to " if _is_interval(value) else ", ").join(say(one) for one in value) or _NOT_KNOWN
    if isinstance(value, Mapping):
        return "; ".join(f"{split(str(k))[0]} {say(v)}" for k, v in value.items())
    return str(value)


def _is_interval(value: list[Any]) -> bool:
    return len(value) == 2 and all(isinstance(one, int | float) for one in value)


def _number(value: float) -> str:
    size = abs(value)
    if not math.isfinite(value) or size == 0:
        return show_number(value)
    if size < 1e-3 or size >= 1e7:
        mantissa, _, power = f"{value:.4e}".partition("e")
        trimmed = mantissa.rstrip("0").rstrip(".").replace("-", "−")
        return f"{trimmed}{THIN}×{THIN}10{str(int(power)).translate(_SUPERSCRIPT)}"
    decimals = max(0, 4 - math.floor(math.log10(size)))
    text = show_number(value, decimals)
    return text.rstrip("0").rstrip(".") if decimals else text


def chart_table(chart: Chart) -> Grid:
    """Return the numbers a chart draws: a row a place where all series share their places, else a row a point."""
    places = [series.x for series in chart.series]
    if places and all(one == places[0] for one in places):
        heads = [chart.x_label, *(series.name for series in chart.series)]
        rows = [
            [say(x), *(say(series.y[i]) for series in chart.series)] for i, x in enumerate(places[0])
        ]  # fmt: skip
        return Grid(chart.y_label, heads, rows)
    rows = [
        [series.name, say(x), say(y)] for series in chart.series for x, y in zip(series.x, series.y, strict=True)
    ]  # fmt: skip
    return Grid(chart.y_label, ["series", chart.x_label, chart.y_label], rows)
