"""Ninety invented days, told act by act through the same door as real work, with some faults planted on purpose."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import UTC, datetime, time, timedelta, tzinfo
from itertools import groupby
from random import Random

from lumenward.demo import present, setting
from lumenward.demo.pen import Pen
from lumenward.demo.unit import Unit
from lumenward.journey.event import Event


def tell(seed: int, days: int, now: datetime, zone: tzinfo) -> list[tuple[Event, datetime]]:
    """Return every act of the invented house with the instant it was recorded, in the order of recording."""
    library, policy = setting.documents()
    pen = Pen(Random(seed))  # noqa: S311 # nosec B311
    first = datetime.combine((now - timedelta(days=days)).astimezone(zone).date(), time(5, 0), zone)
    setting.set_up(pen, library, policy, first, seed, days, now.astimezone(zone).date())
    unit = Unit(pen, library, policy, zone, now)
    unit.stock.morning(first + timedelta(minutes=40))
    unit.first_day(first + timedelta(hours=1))
    quiet = now - present.REACH
    day = first.date() + timedelta(days=1)
    while datetime.combine(day, time(6, 20), zone) < quiet:
        unit.day(day, quiet)
        day += timedelta(days=1)
    present.put(unit)
    return _recorded(pen)


def _recorded(pen: Pen) -> list[tuple[Event, datetime]]:
    """Acts are recorded some seconds after they happen."""
    return [
        (event, event.happened_at + timedelta(seconds=1 + pen.rng.random() * 3))
        for event in pen.world.events()
    ]


def by_day(told: Iterable[tuple[Event, datetime]]) -> Iterator[list[tuple[Event, datetime]]]:
    """Yield the acts day by day: one transaction each."""
    for _, batch in groupby(told, key=lambda one: one[0].happened_at.astimezone(UTC).date()):
        yield list(batch)
