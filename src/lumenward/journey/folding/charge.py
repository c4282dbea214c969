"""One fill of a basin: its tests, its guests, its end."""

from __future__ import annotations

from lumenward.journey.event import Event
from lumenward.journey.states import ChargeState, Immersion, MecTest


def start(charge_id: str) -> ChargeState:
    """Return a charge of which nothing is known yet."""
    return ChargeState(id=charge_id)


def apply(state: ChargeState, event: Event) -> ChargeState:
    """Return the state after the event."""
    if event.kind == "charge_poured" and event.subject == state.id:
        return _poured(state, event)
    if event.kind == "mec_tested" and event.subject == state.id:
        return state.model_copy(update={"tests": [*state.tests, _test(event)]})
    if event.kind == "charge_discarded" and event.subject == state.id:
        why = event.body.get("reason", "")
        return state.model_copy(update={"discarded_at": event.happened_at, "discarded_why": why})
    if event.kind in ("hld_started", "hld_ended") and event.body.get("charge") == state.id:
        return state.model_copy(update={"stays": _stays(state.stays, event)})
    return state


def _poured(state: ChargeState, event: Event) -> ChargeState:
    found = {key: event.body[key] for key in ("basin", "disinfectant", "lot", "volume_l")}
    return state.model_copy(update={**found, "poured_at": event.happened_at})


def _test(event: Event) -> MecTest:
    body = event.body
    return MecTest(
        at=event.happened_at, result=body["result"], strip_lot=body["strip_lot"], percent=body.get("percent"),
        temperature_c=body.get("temperature_c"), event=event.id,
    )  # fmt: skip


def _stays(stays: list[Immersion], event: Event) -> list[Immersion]:
    if event.kind == "hld_started":
        stay = Immersion(cycle=event.cycle, endoscope=event.subject, start=event.happened_at)
        return [*stays, stay]
    open_ones = [i for i, stay in enumerate(stays) if stay.cycle == event.cycle and stay.end is None]
    if not open_ones:
        return stays
    last = open_ones[-1]
    ended = stays[last].model_copy(update={"end": event.happened_at})
    return [*stays[:last], ended, *stays[last + 1 :]]
