"""The place of an event among others, and that a copy finds its own."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

from lumenward.journey.event import Event

ID = "01890000-0000-7000-8000-000000000001"
BEFORE = datetime(2026, 10, 25, 1, 30, tzinfo=ZoneInfo("Europe/London"))


def event(at: datetime) -> Event:
    return Event(id=ID, kind="received", subject="heron-01", person="mira", station="sink-1", happened_at=at)


def test_the_hour_that_comes_twice_is_kept_in_the_order_of_real_time() -> None:
    first, second = event(BEFORE), event(BEFORE.replace(fold=1))
    assert second.order[0] - first.order[0] == timedelta(hours=1)
    assert first.order == (datetime(2026, 10, 25, 0, 30, tzinfo=UTC), ID)


def test_a_copy_with_another_instant_has_its_own_place() -> None:
    first = event(BEFORE)
    assert first.order == first.order
    later = first.model_copy(update={"happened_at": BEFORE + timedelta(days=1)})
    assert later.order > first.order
    assert later.order[0] == later.happened_at.astimezone(UTC)


def test_what_is_remembered_of_an_event_is_not_part_of_it() -> None:
    asked, unasked = event(BEFORE), event(BEFORE)
    assert asked.order
    assert asked == unasked
    assert asked.model_dump_json() == unasked.model_dump_json()
    assert Event.model_construct(**dict(asked)).order == asked.order
