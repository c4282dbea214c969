"""Folding events into projections, in the same transaction in which they are stored."""

from __future__ import annotations

from datetime import UTC, datetime

from lumenward.journey.event import Event
from lumenward.journey.folding import advance, fold, is_known, start, touch_rows
from lumenward.journey.states import ChargeState, ConnectorSetState, State
from lumenward.records.models import Projection, Touch
from lumenward.records.world import StoredWorld, Subject

TouchRow = tuple[str, str, str]


class Projector:
    """Takes events in one by one, keeps the changed states in the world, stores them on `save`."""

    def __init__(self, world: StoredWorld) -> None:
        self.world = world
        self._touches: dict[TouchRow, Event] = {}
        self._changed: dict[Subject, int] = {}

    def take_in(self, event: Event, seq: int) -> None:
        """Fold one event into everything it touches."""
        rows = touch_rows(event, self.world)
        self.world.take_in(event, {(about, ref) for event_id, about, ref in rows if event_id == event.id})
        touching: dict[Subject, list[Event]] = {}
        for event_id, about, ref in rows:
            found = self.world.event(event_id)
            if found is not None:
                self._touches[(event_id, about, ref)] = found
                touching.setdefault((about, ref), []).append(found)
        for subject, events in touching.items():
            self._fold(subject, events)
            self._changed[subject] = seq

    def _fold(self, subject: Subject, new: list[Event]) -> None:
        latest = self.world.latest(subject)
        places = [place_in_time(event.happened_at, event.id) for event in new]
        if len(new) == 1 and new[0].kind != "corrected" and places[0] > latest:
            before = self.world.state(subject) or start(*subject)
            after = advance(subject[0], before, new[0])
        else:
            after = fold(*subject, self._events(subject))
        self.world.replace(subject, after, max(*places, latest))

    def _events(self, subject: Subject) -> list[Event]:
        unstored = (event for row, event in self._touches.items() if row[1:] == subject)
        return [*self.world.events_about(subject), *unstored]

    def save(self) -> None:
        """Store touches and projections; the events themselves must be stored already."""
        Touch.objects.bulk_create(
            (_touch(row, event) for row, event in self._touches.items()), ignore_conflicts=True
        )
        Projection.objects.bulk_create(
            [self._row(subject, seq) for subject, seq in self._changed.items()],
            update_conflicts=True,
            unique_fields=["about", "ref"],
            update_fields=["state", "latest", "active", "seq"],
        )
        self._touches.clear()
        self._changed.clear()

    def _row(self, subject: Subject, seq: int) -> Projection:
        state = self.world.state(subject)
        assert state is not None
        return make_projection(subject, state, self.world.latest(subject), seq)


def make_projection(subject: Subject, state: State, latest: str, seq: int) -> Projection:
    """Return the row of a state, not yet stored."""
    return Projection(
        about=subject[0],
        ref=subject[1],
        state=state.model_dump_json(),
        latest=latest,
        active=is_known(subject[0], state) and not _over(state),
        seq=seq,
    )


def place_in_time(happened_at: datetime, event_id: str) -> str:
    """Return a text that sorts as events do: by instant, then by id."""
    return f"{happened_at.astimezone(UTC).isoformat(timespec='microseconds')} {event_id}"


def _over(state: State) -> bool:
    if isinstance(state, ChargeState):
        return state.discarded_at is not None
    return isinstance(state, ConnectorSetState) and bool(state.discarded_why)


def _touch(row: TouchRow, event: Event) -> Touch:
    event_id, about, ref = row
    return Touch(event_id=event_id, about=about, ref=ref, happened_utc=event.happened_at)
