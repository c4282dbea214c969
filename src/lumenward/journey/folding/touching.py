"""Which subjects an event is about, so that it finds its way into every state it changes."""

from __future__ import annotations

from typing import Any

from lumenward.journey.event import Event
from lumenward.journey.kinds import KINDS
from lumenward.journey.states import World

Subject = tuple[str, str]

_NAMED: dict[str, tuple[tuple[str, str], ...]] = {
    "detergent_dosed": (("lot", "lot"),),
    "cleaning_started": (("batch", "batches"),),
    "channel_brushed": (("lot", "brush_lot"),),
    "connected": (("connector-set", "connector_set"),),
    "disconnected": (("connector-set", "connector_set"),),
    "cleaning_verified": (("lot", "lot"),),
    "hld_started": (("charge", "charge"),),
    "hld_ended": (("charge", "charge"),),
    "charge_poured": (("lot", "lot"),),
    "mec_tested": (("lot", "strip_lot"),),
}
_WITH_STATE = frozenset({"endoscope", "lot", "charge", "connector-set", "batch", "person"})


def touches(event: Event, world: World) -> set[Subject]:
    """Return (kind of subject, id) of everything the event is about.

    A correction touches what the named event touched and what its new body names.
    """
    if event.kind == "corrected":
        return _of_correction(event, world)
    kind = KINDS.get(event.kind)
    if kind is None:
        return set()
    found = set(_named_in(event.kind, event.body))
    if kind.about in _WITH_STATE:
        found.add((kind.about, event.subject))
    cycle = event.id if kind.opens_cycle else event.cycle
    if cycle:
        found.add(("cycle", cycle))
    if event.kind == "detergent_dosed":
        found.add(("batch", event.id))
    return found


def touch_rows(event: Event, world: World) -> set[tuple[str, str, str]]:
    """Return (event id, kind of subject, id): the rows to add to an index when this event arrives.

    A correction adds rows for the named event too: its new body may be about a subject that it was not about.
    """
    subjects = touches(event, world)
    rows = {(event.id, about, ref) for about, ref in subjects}
    if event.kind == "corrected":
        named = str(event.body.get("event", ""))
        rows |= {(named, about, ref) for about, ref in subjects}
    return rows


def _of_correction(event: Event, world: World) -> set[Subject]:
    named = world.event(str(event.body.get("event", "")))
    if named is None or named.kind == "corrected":
        return set()
    return touches(named, world) | set(_named_in(named.kind, event.body.get("new_body") or {}))


def _named_in(kind: str, body: dict[str, Any]) -> list[Subject]:
    found: list[Subject] = []
    for about, key in _NAMED.get(kind, ()):
        value = body.get(key)
        if isinstance(value, str) and value:
            found.append((about, value))
        elif isinstance(value, list):
            found.extend((about, str(one)) for one in value)
    return found
