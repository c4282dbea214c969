"""The last hours of the invented house, so that whoever opens it finds work at every stage."""

from __future__ import annotations

from datetime import timedelta

from lumenward.demo.cast import LEAD
from lumenward.demo.rota import Case
from lumenward.demo.unit import Unit
from lumenward.demo.walk import Enough, Walk

REACH = timedelta(hours=9)

# model, room, minutes in use, minutes since the end of use: from nearly done to just out of the patient
_CASES = (
    ("whimbrel-38", "room 2", 31, 262),
    ("sanderling-28", "room 1", 14, 205),
    ("redshank-23", "room 5", 12, 160),
    ("sanderling-28", "room 1", 17, 118),
    ("dunlin-22", "room 4", 22, 92),
    ("turnstone-42", "room 3", 55, 71),
    ("sanderling-28", "room 1", 15, 33),
)
# used, and nobody has received them yet: minutes since the end of use
_WAITING = (("whimbrel-38", "room 2", 38, 49), ("sanderling-28", "room 1", 13, 16))
# still in the patient
_IN_USE = (("whimbrel-38", "room 2", 25), ("phalarope-37", "room 3", 30))


def put(unit: Unit) -> None:
    """Write the last hours up to now."""
    today = unit.now.astimezone(unit.zone)
    start = unit.now - timedelta(minutes=330)
    unit.stock.morning(start)
    for number, (model, room, minutes, ago) in enumerate(_CASES, 1):
        end = unit.now - timedelta(minutes=ago)
        case = Case(model, room, end - timedelta(minutes=minutes), minutes, f"C{today:%y%m%d}-{number:02d}")
        _attempt(unit, case)
    for number, (model, room, minutes, ago) in enumerate(_WAITING, 21):
        end = unit.now - timedelta(minutes=ago)
        _left_waiting(
            unit, Case(model, room, end - timedelta(minutes=minutes), minutes, f"C{today:%y%m%d}-{number}")
        )
    for number, (model, room, ago) in enumerate(_IN_USE, 31):
        _left_in_use(
            unit, Case(model, room, unit.now - timedelta(minutes=ago), 90, f"C{today:%y%m%d}-{number}")
        )
    _hold_for_culture(unit)


def _attempt(unit: Unit, case: Case) -> None:
    try:
        unit.use(case, unit.now)
    except Enough:
        return


def _left_waiting(unit: Unit, case: Case) -> None:
    """Used and sent, not received."""
    walk = _taken(unit, case)
    if walk:
        walk.at = case.end
        walk.opened(case.reference, case.room)


def _left_in_use(unit: Unit, case: Case) -> None:
    _taken(unit, case)


def _taken(unit: Unit, case: Case) -> Walk | None:
    scope = unit.ready(case.model, case.start)
    if scope is None:
        return None
    walk = unit.walk(scope, case.start, unit.now)
    state = unit.pen.world.endoscope(scope.id)
    walk.cycle, walk.station = state.cycle if state else "", case.room
    walk.do("taken_for_use", {"case": case.reference, "room": case.room})
    return walk


def _hold_for_culture(unit: Unit) -> None:
    """One endoscope waits for the result of its culture."""
    for scope_id in ("crane-02", "crane-04", "crane-08"):
        state = unit.pen.world.endoscope(scope_id)
        if state and state.stage == "ready":
            at = unit.now - timedelta(hours=5)
            if state.since and state.since < at:
                body = {
                    "reason": "culture awaited",
                    "note": "Sampled on the monthly round; the result is due in two days.",
                }
                unit.pen.write("held", at, scope_id, body, person=LEAD.id, station="desk", cycle=state.cycle)
                return
