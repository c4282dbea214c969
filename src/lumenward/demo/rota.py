"""The invented unit's lists: which models are needed when, on which kind of day."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta, tzinfo
from random import Random

# model, room, cases on a weekday (mean), minutes in use (low, high)
_LISTS = (
    ("sanderling-28", "room 1", 3.6, (9, 22)),
    ("whimbrel-38", "room 2", 2.9, (20, 48)),
    ("turnstone-42", "room 3", 0.8, (35, 75)),
    ("phalarope-37", "room 3", 0.4, (30, 60)),
    ("dunlin-22", "room 4", 1.2, (12, 35)),
    ("redshank-23", "room 5", 0.9, (8, 18)),
    ("plover-12", "room 5", 0.3, (35, 80)),
    ("wagtail-34", "room 6", 0.7, (5, 12)),
)
_NIGHT = ("sanderling-28", "dunlin-22", "sanderling-28", "whimbrel-38")


@dataclass(frozen=True)
class Case:
    """One use of one endoscope of a model."""

    model: str
    room: str
    start: datetime
    minutes: float
    reference: str

    @property
    def end(self) -> datetime:
        """When the endoscope leaves the patient."""
        return self.start + timedelta(minutes=self.minutes)


def cases(day: date, zone: tzinfo, rng: Random) -> list[Case]:
    """Return the day's cases in order: full lists on weekdays, now and then one at night or on a weekend."""
    found = list(_weekday(day, zone, rng)) if day.weekday() < 5 else []
    if rng.random() < (0.35 if day.weekday() < 5 else 0.8):
        model = rng.choice(_NIGHT)
        at = datetime.combine(day, time(rng.choice((1, 4, 19, 21, 22)), rng.randrange(60)), zone)
        found.append(
            Case(model, "ward", at, rng.triangular(12, 50, 20), _reference(day, 90 + rng.randrange(9)))
        )
    return sorted(found, key=lambda case: case.start)


def _weekday(day: date, zone: tzinfo, rng: Random) -> Iterator[Case]:
    number = 0
    for model, room, mean, (low, high) in _LISTS:
        at = datetime.combine(day, time(7, 45), zone) + timedelta(minutes=rng.triangular(5, 90, 20))
        for _ in range(int(mean + rng.random())):
            minutes = rng.triangular(low, high, low + (high - low) * 0.4)
            number += 1
            yield Case(model, room, at, minutes, _reference(day, number))
            at += timedelta(minutes=minutes + rng.triangular(15, 70, 25))


def _reference(day: date, number: int) -> str:
    return f"C{day:%y%m%d}-{number:02d}"
