"""Cycles as a list: found by endoscope, person, case and date; a page of them, or all that match as CSV or JSON."""

from __future__ import annotations

import csv
import json
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta, tzinfo
from typing import Any

from django.db.models import Q, QuerySet

from lumenward.interchange.strict_json import to_json
from lumenward.journey import saying
from lumenward.journey.clocks import elapsed_s
from lumenward.journey.course import OPENING
from lumenward.journey.states import CycleState, EndoscopeState
from lumenward.records.models import Projection, StoredEvent, Touch
from lumenward.records.world import StoredWorld

COLUMNS = (
    "cycle", "endoscope_id", "endoscope", "model", "serial", "opened_by", "case", "time_known", "opened_at",
    "cleaning_started_at", "delay_s", "dried_at", "stored_at", "cabinet", "released_at", "released_by_id",
    "released_by", "taken_at", "open_to_release_s", "failed_inspections_and_tests", "people_ids", "people",
    "standing", "last_act", "last_act_at", "zone", "leaf_number",
)  # fmt: skip
_CHUNK = 200
_FORMULA = ("=", "+", "-", "@", "\t", "\r")


@dataclass(frozen=True)
class Wanted:
    """What to look for; empty or None: anything. Dates are days on the house's wall clock, both included."""

    endoscope: str = ""
    person: str = ""
    case: str = ""
    first: date | None = None
    last: date | None = None

    @property
    def narrowed(self) -> bool:
        """Whether anything was asked for."""
        return self != Wanted()


@dataclass(frozen=True)
class Found:
    """One cycle of the list."""

    cycle: CycleState
    endoscope: EndoscopeState
    people: list[str]
    standing: str
    word: str  # "ready", "held", "late", "open" or "ended"
    leaf_number: int


def find(wanted: Wanted, zone: tzinfo, world: StoredWorld) -> QuerySet[StoredEvent]:
    """Return the opening acts of the cycles that match, newest first."""
    found = StoredEvent.objects.filter(kind__in=OPENING).order_by("-happened_utc", "-id")
    if wanted.endoscope:
        found = found.filter(subject__in=_endoscopes(wanted.endoscope, world))
    if wanted.person:
        people = _people(wanted.person, world)
        touched = Touch.objects.filter(about="cycle", event__person__in=people).values("ref")
        found = found.filter(id__in=touched)
    if wanted.case:
        inside = f'"case":"{json.dumps(wanted.case, ensure_ascii=False)[1:-1]}'
        mended = StoredEvent.objects.filter(kind="corrected", body__icontains=inside).values("subject")
        found = found.filter(Q(body__icontains=inside) | Q(id__in=mended))
    if wanted.first:
        found = found.filter(happened_utc__gte=datetime.combine(wanted.first, time(0), tzinfo=zone))
    if wanted.last:
        end = datetime.combine(wanted.last + timedelta(days=1), time(0), tzinfo=zone)
        found = found.filter(happened_utc__lt=end)
    return found


def read(rows: Iterable[StoredEvent], world: StoredWorld, now: datetime) -> list[Found]:
    """Return the cycles that these acts opened."""
    opened = list(rows)
    states = Projection.objects.filter(about="cycle", ref__in=[row.id for row in opened])
    known = {row.ref: CycleState.model_validate_json(row.state) for row in states}
    fleet = {one.id: one for one in world.endoscopes()}
    return [_found(known.get(row.id) or CycleState(id=row.id), row, fleet, world, now) for row in opened]


def _found(
    cycle: CycleState, row: StoredEvent, fleet: dict[str, EndoscopeState], world: StoredWorld, now: datetime
) -> Found:
    endoscope = fleet.get(row.subject) or EndoscopeState(id=row.subject, name=row.subject)
    people = [saying.person(world, one) for one in cycle.people]
    word, standing = _standing(cycle, endoscope, now)
    return Found(cycle, endoscope, people, standing, word, row.seq - 1)


def _standing(cycle: CycleState, endoscope: EndoscopeState, now: datetime) -> tuple[str, str]:
    if cycle.opened_at is None:
        return "ended", "withdrawn: it was opened by mistake"
    present = endoscope.cycle == cycle.id
    if present and endoscope.stage == "held":
        return "held", f"held: {endoscope.held_why}"
    if cycle.closed_at:
        return "ready", "released, used on a patient"
    if cycle.released_at and present:
        over = endoscope.ready_until is not None and endoscope.ready_until < now
        return (
            ("late", "released, its time on the shelf is over")
            if over
            else ("ready", "released, on the shelf")
        )
    if cycle.released_at:
        return "ready", "released, not used"
    return ("open", cycle.stage) if present else ("ended", "not released")


def _endoscopes(text: str, world: StoredWorld) -> list[str]:
    wanted, fleet = text.casefold(), world.endoscopes()
    models = {one.id: one for one in world.library().endoscopes} if fleet else {}
    return [
        one.id
        for one in fleet
        if any(wanted in words.casefold() for words in (one.name, one.id, one.serial, one.code))
        or (
            one.model in models
            and wanted in f"{models[one.model].name} {models[one.model].family}".casefold()
        )
    ]


def _people(text: str, world: StoredWorld) -> list[str]:
    wanted = text.casefold()
    return [one.id for one in world.people() if wanted in one.name.casefold() or wanted == one.id]


def rows(
    found: QuerySet[StoredEvent], world: StoredWorld, now: datetime, zone: tzinfo
) -> Iterator[dict[str, Any]]:
    """Yield one plain row a cycle, of all that match; times in ISO 8601 with the offset of the house's zone."""
    total = found.count()
    for start in range(0, total, _CHUNK):
        for one in read(found[start : start + _CHUNK], world, now):
            yield _row(one, world, zone)


def _row(one: Found, world: StoredWorld, zone: tzinfo) -> dict[str, Any]:
    cycle = one.cycle
    known = cycle.opened_by == "patient_use_ended" and cycle.time_known
    values = (
        cycle.id, one.endoscope.id, one.endoscope.name, one.endoscope.model, one.endoscope.serial, cycle.opened_by,
        cycle.case, cycle.time_known, _iso(cycle.opened_at, zone), _iso(cycle.cleaning_started_at, zone),
        _seconds(cycle.opened_at if known else None, cycle.cleaning_started_at), _iso(cycle.dried_at, zone),
        _iso(cycle.stored_at, zone), cycle.cabinet, _iso(cycle.released_at, zone), cycle.released_by,
        saying.person(world, cycle.released_by) if cycle.released_by else "", _iso(cycle.closed_at, zone),
        _seconds(cycle.opened_at, cycle.released_at), cycle.failures, " ".join(cycle.people), "; ".join(one.people),
        one.standing, cycle.last_kind, _iso(cycle.last_at, zone), str(zone), one.leaf_number,
    )  # fmt: skip
    return dict(zip(COLUMNS, values, strict=True))


def _iso(at: datetime | None, zone: tzinfo) -> str:
    return at.astimezone(zone).isoformat(timespec="seconds") if at else ""


def _seconds(start: datetime | None, end: datetime | None) -> float | None:
    return elapsed_s(start, end) if start and end else None


class _Line:
    """A place for one written line: what the csv module writes is handed on at once."""

    def write(self, text: str) -> str:
        return text


def as_csv(found: Iterable[dict[str, Any]]) -> Iterator[str]:
    """Yield CSV lines (UTF-8 with a mark for spreadsheets); a cell that would be read as a formula gets a quote."""
    writer: Any = csv.writer(_Line())
    yield "\ufeff" + writer.writerow(COLUMNS)
    for row in found:
        yield writer.writerow([_cell(row[column]) for column in COLUMNS])


def _cell(value: Any) -> Any:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"'{value}" if isinstance(value, str) and value.startswith(_FORMULA) else value


def as_json(found: Iterable[dict[str, Any]], about: dict[str, Any]) -> Iterator[str]:
    """Yield one JSON object: `about` and under "cycles" every row."""
    yield to_json(about)[:-1] + ', "cycles": ['
    for place, row in enumerate(found):
        yield (",\n" if place else "\n") + to_json(row)
    yield "\n]}\n"


def file_name(unit: str, what: str, day: date, ending: str) -> str:
    """Return the name of an export: unit, what, date.

    >>> file_name("reedmarsh", "cycles", date(2031, 5, 7), "csv")
    'reedmarsh_cycles_2031-05-07.csv'
    """
    return f"{unit}_{what}_{day.isoformat()}.{ending}"
