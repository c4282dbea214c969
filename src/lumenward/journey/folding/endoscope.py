"""Where one endoscope is and what it may be used for."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import Any

from lumenward.journey.event import Event
from lumenward.journey.states import EndoscopeState, Stage

Change = dict[str, Any]

_FREE: Change = {"ready_until": None, "slot": None}
_CLEANING = (
    "leak_tested", "detergent_dosed", "cleaning_started", "exterior_cleaned", "channel_brushed", "connected",
    "aspirated", "flushed", "purged", "rinsed", "disconnected", "inspected", "cleaning_verified",
)  # fmt: skip
_OUTSIDE_CYCLE = frozenset(
    {"endoscope_registered", "held", "hold_lifted", "sent_for_repair", "returned_from_repair", "loan_ended",
     "retired", "patient_use_ended", "reprocessing_required"}
)  # fmt: skip

# A hold outlasts whatever else happens; only the stage behind it moves on.
_ENDS_HOLD = frozenset({"hold_lifted", "sent_for_repair", "returned_from_repair", "loan_ended", "retired"})


def start(endoscope_id: str) -> EndoscopeState:
    """Return an endoscope of which nothing is known: dirty until processed here."""
    return EndoscopeState(id=endoscope_id)


def apply(state: EndoscopeState, event: Event) -> EndoscopeState:
    """Return the state after the event; acts of a cycle that is over change nothing."""
    if event.subject != state.id or (event.kind not in _OUTSIDE_CYCLE and event.cycle != state.cycle):
        return state
    handler = _HANDLERS.get(event.kind)
    change = handler(state, event) if handler else {}
    if not change:
        return state
    if state.stage == "held" and event.kind not in _ENDS_HOLD and "stage" in change:
        change["stage_before_hold"] = change.pop("stage")
    if "stage" in change and change["stage"] != state.stage:
        change.setdefault("since", event.happened_at)
    return state.model_copy(update=change)


def _registered(state: EndoscopeState, event: Event) -> Change:
    return {key: event.body[key] for key in ("name", "model", "serial", "code", "owner") if key in event.body}


def _use_ended(state: EndoscopeState, event: Event) -> Change:
    known = event.body.get("time_known", True)
    return _opened(state, event) | {
        "end_of_use": event.happened_at if known else None,
        "uses": state.uses + 1,
        "place": event.body.get("room") or state.place,
    }


def _opened(state: EndoscopeState, event: Event) -> Change:
    return {"cycle": event.id, "end_of_use": None, "stage": "waiting", **_FREE, "since": event.happened_at}


def _placed(key: str) -> Callable[[EndoscopeState, Event], Change]:
    def place(state: EndoscopeState, event: Event) -> Change:
        found = event.body.get(key)
        return {"place": found} if found else {}

    return place


def _leak_tested(state: EndoscopeState, event: Event) -> Change:
    if event.body.get("result") == "leak":
        return _hold(state, "leak found")
    return {"stage": "being cleaned", "place": event.station}


def _cleaning(state: EndoscopeState, event: Event) -> Change:
    if event.kind == "inspected" and event.body.get("result") == "damage seen":
        return _hold(state, "damage seen")
    return {"stage": "being cleaned", "place": event.station}


def _to(stage: Stage) -> Callable[[EndoscopeState, Event], Change]:
    return lambda state, event: {"stage": stage, "place": event.station}


def _disinfected(state: EndoscopeState, event: Event) -> Change:
    return {"stage": "disinfected" if event.body.get("result") == "complete" else "being cleaned"}


def _dried(state: EndoscopeState, event: Event) -> Change:
    return {"stage": "dry" if event.body.get("result") == "dry" else "disinfected"}


def _stored(state: EndoscopeState, event: Event) -> Change:
    return {"stage": "stored", "place": event.body.get("cabinet", ""), "slot": event.body.get("slot")}


def _released(state: EndoscopeState, event: Event) -> Change:
    return {"stage": "ready", "ready_until": datetime.fromisoformat(event.body["ready_until"])}


def _taken(state: EndoscopeState, event: Event) -> Change:
    return {"stage": "in use", "cycle": "", "place": event.body.get("room") or "", **_FREE}


def _hold(state: EndoscopeState, why: str) -> Change:
    if state.stage == "held":
        return {"held_why": why}
    return {"stage": "held", "held_why": why, "stage_before_hold": state.stage}


def _held(state: EndoscopeState, event: Event) -> Change:
    return _hold(state, event.body.get("reason", "other"))


def _lifted(state: EndoscopeState, event: Event) -> Change:
    if state.stage != "held":
        return {}
    return {"stage": state.stage_before_hold or "never processed", "held_why": "", "stage_before_hold": ""}


def _gone(stage: Stage) -> Callable[[EndoscopeState, Event], Change]:
    change: Change = {
        "stage": stage,
        "cycle": "",
        "held_why": "",
        "stage_before_hold": "",
        "place": "",
        **_FREE,
    }
    return lambda state, event: dict(change)


_HANDLERS: dict[str, Callable[[EndoscopeState, Event], Change]] = {
    "endoscope_registered": _registered,
    "patient_use_ended": _use_ended,
    "reprocessing_required": _opened,
    "sent": _placed("container"),
    "received": _placed("place"),
    **dict.fromkeys(_CLEANING, _cleaning),
    "leak_tested": _leak_tested,
    "hld_started": _to("being disinfected"),
    "hld_ended": _disinfected,
    "machine_cycle_started": _to("being disinfected"),
    "machine_cycle_ended": _disinfected,
    "dried": _dried,
    "stored": _stored,
    "released": _released,
    "taken_for_use": _taken,
    "held": _held,
    "hold_lifted": _lifted,
    "sent_for_repair": _gone("away"),
    "returned_from_repair": _gone("never processed"),
    "loan_ended": _gone("away"),
    "retired": _gone("retired"),
}
