"""One cycle in brief."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from lumenward.journey.event import Event
from lumenward.journey.states import CycleState

Change = dict[str, Any]

_OPENING = ("patient_use_ended", "reprocessing_required")
_UNDONE: Change = {"dried_at": None, "stored_at": None, "cabinet": ""}
_CLEANING = (
    "detergent_dosed", "exterior_cleaned", "channel_brushed", "connected", "aspirated", "flushed", "purged",
    "rinsed", "disconnected",
)  # fmt: skip


def start(cycle_id: str) -> CycleState:
    """Return a cycle of which nothing is known yet."""
    return CycleState(id=cycle_id)


def apply(state: CycleState, event: Event) -> CycleState:
    """Return the state after the event."""
    if state.id not in (event.cycle, event.id):
        return state
    handler = _HANDLERS.get(event.kind)
    change: Change = handler(state, event) if handler else {}
    change |= {"last_kind": event.kind, "last_at": event.happened_at}
    if event.person not in state.people:
        change["people"] = [*state.people, event.person]
    return state.model_copy(update=change)


def _opened(state: CycleState, event: Event) -> Change:
    return {
        "endoscope": event.subject,
        "opened_by": event.kind,
        "case": event.body.get("case", ""),
        "opened_at": event.happened_at,
        "time_known": event.body.get("time_known", event.kind == "reprocessing_required"),
        "stage": "waiting",
    }


def _cleaning(state: CycleState, event: Event) -> Change:
    return {"stage": "being cleaned", "station": event.station}


def _leak_tested(state: CycleState, event: Event) -> Change:
    return {
        "stage": "held" if event.body.get("result") == "leak" else "being cleaned",
        "station": event.station,
    }


def _cleaning_started(state: CycleState, event: Event) -> Change:
    began = state.cleaning_started_at or event.happened_at
    return _cleaning(state, event) | {"cleaning_started_at": began} | _UNDONE


def _inspected(state: CycleState, event: Event) -> Change:
    result = event.body.get("result")
    if result == "clean and whole":
        return _cleaning(state, event)
    stage = "held" if result == "damage seen" else "being cleaned"
    return {"stage": stage, "failures": state.failures + (result == "debris seen")}


def _verified(state: CycleState, event: Event) -> Change:
    return _cleaning(state, event) | {"failures": state.failures + (event.body.get("result") == "fail")}


def _hld_started(state: CycleState, event: Event) -> Change:
    return {"stage": "being disinfected", "station": event.station} | _UNDONE


def _hld_ended(state: CycleState, event: Event) -> Change:
    return {"stage": "disinfected" if event.body.get("result") == "complete" else "being cleaned"}


def _dried(state: CycleState, event: Event) -> Change:
    dry = event.body.get("result") == "dry"
    return {"stage": "dry" if dry else "disinfected", "dried_at": event.happened_at if dry else None}


def _stored(state: CycleState, event: Event) -> Change:
    return {"stage": "stored", "stored_at": event.happened_at, "cabinet": event.body.get("cabinet", "")}


def _released(state: CycleState, event: Event) -> Change:
    return {"stage": "ready", "released_at": event.happened_at, "released_by": event.person}


def _taken(state: CycleState, event: Event) -> Change:
    return {"stage": "in use", "closed_at": event.happened_at}


_HANDLERS: dict[str, Callable[[CycleState, Event], Change]] = {
    **dict.fromkeys(_OPENING, _opened),
    **dict.fromkeys(_CLEANING, _cleaning),
    "leak_tested": _leak_tested,
    "cleaning_started": _cleaning_started,
    "inspected": _inspected,
    "cleaning_verified": _verified,
    "hld_started": _hld_started,
    "hld_ended": _hld_ended,
    "machine_cycle_started": _hld_started,
    "machine_cycle_ended": _hld_ended,
    "dried": _dried,
    "stored": _stored,
    "released": _released,
    "taken_for_use": _taken,
}
