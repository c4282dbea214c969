"""Acts as lines: told in words, with their instant on the house's clock, late entries marked, corrections beside."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, tzinfo

from lumenward.interchange.record_parts import Correction, Instant, Line
from lumenward.interchange.telling import Told, tell
from lumenward.journey import saying
from lumenward.journey.course import Course
from lumenward.journey.event import Event
from lumenward.quantities import show_duration
from lumenward.records.looking import clock_ahead, is_late
from lumenward.records.models import StoredEvent
from lumenward.records.world import StoredWorld, event_of

_NEVER = frozenset({"corrected", "released", "step_started"})


@dataclass
class Lines:
    """Makes the lines of one cycle."""

    world: StoredWorld
    course: Course
    zone: tzinfo
    endoscope: str

    def of(self, rows: Sequence[StoredEvent], first: int = 1) -> list[Line]:
        """Return one line a row, numbered from `first`; each correction stands at the act it corrects as well."""
        later = self._corrections(rows)
        open_still = not any(row.kind == "released" for row in rows)
        return [
            self._line(number, row, later.get(row.id, []), open_still)
            for number, row in enumerate(rows, first)
        ]

    def _corrections(self, rows: Sequence[StoredEvent]) -> dict[str, list[StoredEvent]]:
        found: dict[str, list[StoredEvent]] = {}
        for row in rows:
            if row.kind == "corrected":
                found.setdefault(str(event_of(row).body["event"]), []).append(row)
        return found

    def _line(self, number: int, row: StoredEvent, later: list[StoredEvent], open_still: bool) -> Line:
        event = event_of(row)
        told = self._tell(event)
        corrections = [self._correction(event, one) for one in later]
        withdrawn = any(event_of(one).body.get("new_body") is None for one in later)
        return Line(
            number=number, id=row.id, kind=row.kind, at=Instant.of(event.happened_at, self.zone),
            person=saying.person(self.world, row.person), station=self._station(row.station),
            sentence=told.sentence, numbers=told.numbers, leaf_index=row.seq - 1, leaf=row.leaf,
            late_entry=self._late(row), corrections=corrections,
            correctable=open_still and not withdrawn and row.kind not in _NEVER,
        )  # fmt: skip

    def _tell(self, event: Event) -> Told:
        return tell(self.world, event, self.course, self.endoscope)

    def _correction(self, act: Event, row: StoredEvent) -> Correction:
        correction = event_of(row)
        new = correction.body.get("new_body")
        told = (
            Told("It did not happen so.") if new is None else self._tell(act.model_copy(update={"body": new}))
        )
        return Correction(
            at=Instant.of(correction.happened_at, self.zone), person=saying.person(self.world, row.person),
            reason=str(correction.body["reason"]), sentence=told.sentence, numbers=told.numbers,
            leaf_index=row.seq - 1,
        )  # fmt: skip

    def _station(self, station: str) -> str:
        library = self.world.library()
        places = (*library.sinks, *library.washers, *library.basins, *library.dryers, *library.cabinets)
        return next((one.name for one in places if one.id == station), station)

    def _late(self, row: StoredEvent) -> str:
        if clock_ahead(row):
            return "the station's clock ran ahead"
        if not is_late(self.world, row):
            return ""
        gone = (datetime.fromisoformat(row.recorded_at) - row.happened_utc).total_seconds()
        entered = Instant.of(datetime.fromisoformat(row.recorded_at), self.zone)
        return (
            f"late entry: recorded {show_duration(gone)} after it happened, on {entered.day}, {entered.clock}"
        )
