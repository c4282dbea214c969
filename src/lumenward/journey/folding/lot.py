"""One lot in use."""

from __future__ import annotations

from datetime import date

from lumenward.journey.event import Event
from lumenward.journey.states import LotState


def start(lot_id: str) -> LotState:
    """Return a lot of which nothing is known yet."""
    return LotState(id=lot_id)


def apply(state: LotState, event: Event) -> LotState:
    """Return the state after the event; use of the lot changes nothing here."""
    if event.subject != state.id:
        return state
    body = event.body
    if event.kind == "lot_opened":
        found = {key: body[key] for key in ("product", "shelf", "lot", "code") if body.get(key)}
        expires = date.fromisoformat(str(body["expires"]))
        return state.model_copy(update={**found, "expires": expires, "opened_at": event.happened_at})
    if event.kind == "lot_withdrawn":
        return state.model_copy(update={"withdrawn_why": body.get("reason", "")})
    if event.kind == "strips_checked":
        keys = ("full_strength_passed", "diluted_failed")
        return state.model_copy(update={key: body[key] for key in keys})
    return state
