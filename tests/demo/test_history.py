"""The invented unit obeys the rules that real work obeys, and shows what it is there to show."""

from __future__ import annotations

from collections import Counter
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from lumenward.demo.cast import FLEET, PEOPLE
from lumenward.demo.history import by_day, tell
from lumenward.journey.event import Event
from lumenward.journey.legality import refuse
from lumenward.journey.memory import MemoryWorld

NOW = datetime(2026, 11, 10, 10, 40, tzinfo=UTC)
Told = list[tuple[Event, datetime]]


@pytest.fixture(scope="module")
def told() -> Told:
    return tell(3, 12, NOW, ZoneInfo("Europe/London"))


def test_no_act_of_the_history_would_be_refused(told: Told) -> None:
    world = MemoryWorld()
    for event, recorded_at in told:
        refusal = refuse(world, event, recorded_at)
        assert refusal is None, f"{event.kind} at {event.happened_at}: {refusal}"
        world.append(event)


def test_nothing_happens_after_now_and_all_is_in_order(told: Told) -> None:
    instants = [event.happened_at for event, _ in told]
    assert instants == sorted(instants)
    assert instants[-1] <= NOW


def test_the_same_seed_tells_the_same_story(told: Told) -> None:
    assert tell(3, 12, NOW, ZoneInfo("Europe/London")) == told


def test_a_day_is_one_batch(told: Told) -> None:
    batches = list(by_day(told))
    assert sum(len(batch) for batch in batches) == len(told)
    assert all(
        len({event.happened_at.astimezone(UTC).date() for event, _ in batch}) == 1 for batch in batches
    )


def test_whoever_opens_it_finds_work_at_several_stages(told: Told) -> None:
    world = MemoryWorld(event for event, _ in told)
    stages = Counter(state.stage for state in world.endoscopes())
    assert stages["waiting"] == 2 and stages["in use"] == 2 and stages["held"] >= 1
    assert sum(stages[s] for s in ("being cleaned", "being disinfected", "disinfected", "dry", "stored")) >= 2
    assert stages["ready"] >= len(FLEET) // 2


def test_the_planted_faults_are_there(told: Told) -> None:
    kinds = Counter(event.kind for event, _ in told)
    assert kinds["sent_for_repair"] == 1
    assert kinds["lot_withdrawn"] == 1
    failed = [e for e, _ in told if e.kind == "mec_tested" and e.body["result"] == "fail"]
    assert failed
    world = MemoryWorld(event for event, _ in told)
    old = [s for s in world.connector_sets() if s.first_use_at and NOW - s.first_use_at > timedelta(hours=24)]
    assert old, "one connector set past its life still lies on the bench"


def test_badges_and_pins_are_each_persons_own() -> None:
    assert len({person.badge for person in PEOPLE}) == len(PEOPLE)
    assert len({person.pin for person in PEOPLE}) == len(PEOPLE)
