"""One mix of detergent, named by the event that mixed it."""

from __future__ import annotations

from lumenward.journey.event import Event
from lumenward.journey.states import BatchState


def start(batch_id: str) -> BatchState:
    """Return a batch of which nothing is known yet."""
    return BatchState(id=batch_id)


def apply(state: BatchState, event: Event) -> BatchState:
    """Return the state after the event; the first use counts, a batch serves one endoscope."""
    if event.kind == "detergent_dosed" and event.id == state.id:
        found = {key: event.body.get(key, "sink") for key in ("vessel", "role", "detergent", "lot")}
        change = {**found, "cycle": event.cycle, "endoscope": event.subject, "mixed_at": event.happened_at}
        return state.model_copy(update=change)
    if event.kind == "cleaning_started" and state.id in event.body.get("batches", ()) and not state.used_by:
        return state.model_copy(update={"used_by": event.cycle, "used_at": event.happened_at})
    if event.kind == "batch_discarded" and event.subject == state.id:
        return state.model_copy(update={"discarded_why": event.body.get("reason", "")})
    return state
