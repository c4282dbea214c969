"""One connector set: its life runs from its first use."""

from __future__ import annotations

from lumenward.journey.event import Event
from lumenward.journey.states import ConnectorSetState


def start(set_id: str) -> ConnectorSetState:
    """Return a connector set of which nothing is known yet."""
    return ConnectorSetState(id=set_id)


def apply(state: ConnectorSetState, event: Event) -> ConnectorSetState:
    """Return the state after the event."""
    if event.body.get("connector_set") == state.id:
        return _used(state, event)
    if event.subject != state.id:
        return state
    if event.kind == "connector_set_opened":
        found = {"kind": event.body["kind"], "code": event.body.get("code") or ""}
        return state.model_copy(update={**found, "opened_at": event.happened_at})
    if event.kind == "connector_set_discarded":
        return state.model_copy(update={"discarded_why": event.body.get("reason", "")})
    return state


def _used(state: ConnectorSetState, event: Event) -> ConnectorSetState:
    if event.kind == "connected":
        first = state.first_use_at or event.happened_at
        return state.model_copy(update={"first_use_at": first, "uses": state.uses + 1, "on": event.cycle})
    if event.kind == "disconnected":
        return state.model_copy(update={"on": ""})
    return state
