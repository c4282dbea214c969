"""What counts after corrections: an act withdrawn did not happen, an act corrected has its new body."""

from __future__ import annotations

from collections.abc import Iterable

from lumenward.journey.event import Event
from lumenward.journey.kinds import check_body


def effective(events: Iterable[Event]) -> list[Event]:
    """Return the events that count, sorted by (instant, id), each once, corrections applied and left out.

    The last correction of an event wins; one that withdraws it is final. A new body counts as its kind's schema
    keeps it; one that the schema does not allow raises its Refusal.
    """
    known = {event.id: event for event in events}
    ordered = sorted(known.values(), key=lambda event: event.order)
    for correction in ordered:
        if correction.kind == "corrected":
            _apply(known, correction)
    kept = (known.get(event.id) for event in ordered if event.kind != "corrected")
    return [event for event in kept if event is not None]


def _apply(known: dict[str, Event], correction: Event) -> None:
    named = str(correction.body.get("event", ""))
    if named not in known or known[named].kind == "corrected":
        return
    new_body = correction.body.get("new_body")
    if new_body is None:
        del known[named]
    else:
        corrected = known[named].model_copy(update={"body": new_body})
        known[named] = corrected.model_copy(update={"body": check_body(corrected)})
