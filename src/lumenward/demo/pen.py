"""Writing invented acts: seeded ids, one world to look at, everything in the order of time at the end."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from random import Random
from typing import Any

from lumenward.journey.event import Event
from lumenward.journey.kinds import check_body
from lumenward.journey.memory import MemoryWorld
from lumenward.ledger.uuid7 import make_id

SET_UP = "set-up"


@dataclass
class Pen:
    """Writes acts into a world of its own."""

    rng: Random
    world: MemoryWorld = field(default_factory=MemoryWorld)

    def write(
        self, kind: str, at: datetime, subject: str, body: dict[str, Any], *, person: str = SET_UP,
        station: str = "shell", cycle: str = "",
    ) -> Event:  # fmt: skip
        """Write one act and return it; an empty `subject` means that the act names its own subject."""
        act_id = str(make_id(int(at.timestamp() * 1000), self.rng.randbytes(10)))
        event = Event(
            id=act_id, kind=kind, subject=subject or act_id, cycle=cycle, person=person, station=station,
            happened_at=at, body=body,
        )  # fmt: skip
        event = event.model_copy(update={"body": check_body(event)})
        self.world.append(event)
        return event

    def between(self, low: float, high: float) -> float:
        """Return a draw that leans to the low side, as durations of work do."""
        return self.rng.triangular(low, high, low + (high - low) * 0.3)

    def chance(self, share: float) -> bool:
        """Return whether something happens that happens in this share of cases."""
        return self.rng.random() < share
