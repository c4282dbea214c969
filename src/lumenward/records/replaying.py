"""All projections from nothing: what the ledger adds up to, whatever the order in which it was filled."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import cast

from lumenward.journey.event import Event
from lumenward.journey.folding import fold, touch_rows
from lumenward.journey.states import World
from lumenward.records.models import Projection, StoredEvent
from lumenward.records.projecting import TouchRow, make_projection, place_in_time
from lumenward.records.world import Subject, event_of


@dataclass(frozen=True)
class Replay:
    """Every touch (event id, kind of subject, id) and every state."""

    events: dict[str, Event]
    touches: set[TouchRow]
    projections: dict[Subject, Projection]


@dataclass(frozen=True)
class _Events:
    """As much of a world as the touches ask for."""

    known: dict[str, Event]

    def event(self, event_id: str) -> Event | None:
        return self.known.get(event_id)


def replay(rows: Iterable[StoredEvent]) -> Replay:
    """Return what these events add up to; their order does not matter."""
    stored = [(row.seq, event_of(row)) for row in rows]
    known = {event.id: event for _, event in stored}
    world = cast(World, _Events(known))
    touches: set[TouchRow] = set()
    newest: dict[Subject, int] = {}
    for seq, event in stored:
        for event_id, about, ref in touch_rows(event, world):
            if event_id in known:
                touches.add((event_id, about, ref))
                newest[(about, ref)] = max(seq, newest.get((about, ref), 0))
    return Replay(known, touches, _folded(known, touches, newest))


def _folded(
    known: dict[str, Event], touches: set[TouchRow], newest: dict[Subject, int]
) -> dict[Subject, Projection]:
    events: dict[Subject, list[Event]] = {}
    for event_id, about, ref in touches:
        events.setdefault((about, ref), []).append(known[event_id])
    found = {}
    for subject, touching in events.items():
        latest = max(place_in_time(event.happened_at, event.id) for event in touching)
        found[subject] = make_projection(subject, fold(*subject, touching), latest, newest[subject])
    return found
