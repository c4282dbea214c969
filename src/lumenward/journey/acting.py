"""From what a person gave in a step to the act that completes it; the page at the sink does the same.

    draft(step, given, acts, progress) -> Draft(kind, about, subject, happened_at, body)

`given` maps entry keys to values; what is carried over, set by a choice, graded or computed from a fill is added.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from lumenward.journey.event import Event
from lumenward.journey.plan import Choice, Dosing, Entry, PlannedStep, Progress, Trouble, low_of
from lumenward.quantities import Refusal

RESERVED = ("subject", "happened_at")


@dataclass(frozen=True)
class Draft:
    """An act before it has an id, a person and a station. `subject` empty means the endoscope."""

    kind: str
    about: str
    subject: str = ""
    happened_at: datetime | None = None
    body: dict[str, Any] = field(default_factory=dict)


def draft(
    step: PlannedStep | Trouble, given: Mapping[str, Any], acts: Iterable[Event], stands: Progress
) -> Draft:
    """Return the act of a step (or of a trouble), or raise a Refusal naming the first entry that is missing.

    `acts` are the cycle's acts so far, in order, and `stands` their progress: only acts that complete a step now are
    carried over, so that a mix of detergent from before a second cleaning is not taken for the new one.
    """
    known = dict(given)
    body = dict(step.body)
    complete = set(stands.done.values())
    carried = _carried(step.carry, [act for act in acts if act.id in complete])
    body.update(carried)
    for entry in step.entries:
        _take(entry, step.entries, known, carried, body)
    if isinstance(step, PlannedStep):
        _fill(step, known, body)
        _start(step, stands, body)
    return Draft(
        kind=step.kind,
        about=step.about if isinstance(step, PlannedStep) else "",
        subject=str(known.get("subject", "")),
        happened_at=known.get("happened_at"),
        body=body,
    )


def _take(
    entry: Entry,
    entries: Sequence[Entry],
    known: dict[str, Any],
    carried: Mapping[str, Any],
    body: dict[str, Any],
) -> None:
    if entry.key in carried:
        return
    if entry.graded and known.get(entry.key) is None:
        known[entry.key] = _grade(entry.graded, entries, known)
    value = known.get(entry.key)
    missing = value is None or value == "" or (entry.kind == "tick" and value is not True)
    if missing and entry.required:
        raise Refusal("missing", f"{entry.label}: nothing was given.", entry.key, entry.hint)
    if missing:
        return
    choice = _choice(entry, value, known)
    if choice is not None:
        body.update({key: found for key, found in choice.sets.items() if known.get(key) is None})
    _not_below(entry, value, body)
    if entry.record and entry.key not in RESERVED:
        body[entry.key] = value


def _not_below(entry: Entry, value: Any, body: Mapping[str, Any]) -> None:
    low = low_of(entry, body) if entry.low_by else None
    if low is not None and float(value) < low:
        found = f"{entry.label}: {value:g} {entry.unit} is below {low:g} {entry.unit}."
        raise Refusal("too-low", found, entry.key, entry.low_why)


def _choice(entry: Entry, value: Any, known: Mapping[str, Any]) -> Choice | None:
    found = next((choice for choice in entry.choices if choice.value == value), None)
    if found is not None and found.why_not:
        raise Refusal("not-usable", found.why_not, entry.key)
    if found is not None and any(known.get(key) not in allowed for key, allowed in found.only.items()):
        raise Refusal("not-together", f"{found.label} does not go with what was picked before.", entry.key)
    return found


def _grade(by: tuple[str, str], entries: Sequence[Entry], known: Mapping[str, Any]) -> str | None:
    number, chooser = known.get(by[0]), next(entry for entry in entries if entry.key == by[1])
    choice = next((one for one in chooser.choices if one.value == known.get(by[1])), None)
    if number is None or choice is None:
        return None
    return next((g.value for g in choice.grades if g.below is None or number < g.below), None)


def _carried(carry: Mapping[str, str], acts: Sequence[Event]) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for key, path in carry.items():
        kind, _, part = path.removesuffix("[]").partition(".")
        values = [_part(act, part) for act in acts if act.kind == kind]
        values = [value for value in values if value is not None]
        if values:
            found[key] = values if path.endswith("[]") else values[-1]
    return found


def _part(act: Event, part: str) -> Any:
    return getattr(act, part) if part in ("id", "subject") else act.body.get(part)


def _start(step: PlannedStep, stands: Progress, body: dict[str, Any]) -> None:
    started = stands.started.get(step.key)
    if started and step.timer and step.timer.recorded and not step.timer.since:
        body["started"] = started


def _fill(step: PlannedStep, known: Mapping[str, Any], body: dict[str, Any]) -> None:
    fill = known.get("fill")
    if fill is None or not step.dosings:
        return
    table = _table(step.dosings, body)
    water_l, aim_ml, low, high = _between(table, float(fill))
    dose_ml = float(body.get("dose_ml") or aim_ml)
    share = (dose_ml / (water_l * 1000 + dose_ml)) / (aim_ml / (water_l * 1000 + aim_ml))
    body.update(
        water_l=water_l,
        dose_ml=dose_ml,
        concentration_ppm=round(1e6 * dose_ml / (water_l * 1000 + dose_ml), 1),
        low_ppm=round(low * share, 1),
        high_ppm=round(high * share, 1),
    )


def _table(tables: Sequence[Dosing], body: Mapping[str, Any]) -> Dosing:
    for table in tables:
        if table.detergent == body.get("detergent") and table.vessel == body.get("vessel"):
            return table
    raise Refusal(
        "no-dose", "There is no dose table for this detergent in this vessel.", "lot", "Scan the lot."
    )


def _between(table: Dosing, fill_m: float) -> tuple[float, float, float, float]:
    fills = [row[0] for row in table.rows]
    if not fills[0] <= fill_m <= fills[-1]:
        raise Refusal(
            "fill",
            f"{fill_m * 100:g} cm is outside what {table.vessel_name} can be filled to.",
            "fill",
            f"From {fills[0] * 100:g} cm to {fills[-1] * 100:g} cm.",
        )
    place = bisect_left(fills, fill_m)
    above = table.rows[place]
    if above[0] == fill_m:
        return above[1], above[2], above[3], above[4]
    below = table.rows[place - 1]
    part = (fill_m - below[0]) / (above[0] - below[0])
    water, dose, low, high = (round(a + part * (b - a), 2) for a, b in zip(below[1:], above[1:], strict=True))
    return water, dose, low, high
