"""Projections are a pure function of the ledger: any order, any doubling, the same state."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import timedelta
from typing import Any

import pytest
from django.db import transaction
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from lumenward.journey.event import Event
from lumenward.journey.kinds import check_body
from lumenward.records import ledgering
from lumenward.records.check import check_all
from lumenward.records.models import Projection, StoredEvent, Touch
from lumenward.records.projecting import Projector
from lumenward.records.rebuild import rebuild
from lumenward.records.replaying import replay
from lumenward.records.roles import Actor
from lumenward.records.service import Act, record
from lumenward.records.world import StoredWorld, event_of

MIRA = Actor("mira", "Mira Okafor", "technician")
SCOPE = "one-sanderling-28"
QUIET = settings(
    max_examples=15,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)


@contextmanager
def undone() -> Iterator[None]:
    with transaction.atomic():
        yield
        transaction.set_rollback(True)


def states() -> dict[tuple[str, str], tuple[Any, ...]]:
    return {
        (row.about, row.ref): (row.state, row.latest, row.active, row.seq) for row in Projection.objects.all()
    }


def replayed() -> dict[tuple[str, str], tuple[Any, ...]]:
    found = replay(StoredEvent.objects.order_by("seq")).projections
    return {subject: (row.state, row.latest, row.active, row.seq) for subject, row in found.items()}


def without_number(found: dict[tuple[str, str], tuple[Any, ...]]) -> dict[tuple[str, str], tuple[Any, ...]]:
    return {subject: facts[:3] for subject, facts in found.items()}


@pytest.fixture
def cycle(house) -> list[Event]:
    """A cycle with a correction in it, recorded once and undone."""
    with undone():
        acts = house.work(SCOPE)
        brushed = next(act for act in acts if act.kind == "channel_brushed")
        body = {"event": brushed.id, "reason": "counted wrongly", "new_body": brushed.body | {"passes": 9}}
        acts.append(house.do("corrected", brushed.id, body, person="mira"))
    return acts


def test_rebuilding_gives_the_projections_that_were_there(house) -> None:
    house.work(SCOPE)
    before, touches = states(), set(Touch.objects.values_list("event_id", "about", "ref"))
    events, made = rebuild()
    assert states() == before
    assert set(Touch.objects.values_list("event_id", "about", "ref")) == touches
    assert (events, made) == (StoredEvent.objects.count(), len(before))


def test_rebuilding_cures_a_projection_that_was_spoilt(house) -> None:
    house.work(SCOPE, stop="immerse")
    Projection.objects.filter(about="endoscope").update(state='{"id":"x","stage":"ready"}')
    Touch.objects.filter(about="cycle").delete()
    assert {finding.code for finding in check_all().findings} == {"touches", "state"}
    rebuild()
    assert check_all().findings == ()


@QUIET
@given(data=st.data())
def test_events_in_any_order_end_in_the_same_states(cycle, data) -> None:
    corrected = [act for act in cycle if act.kind == "corrected"]
    others = [act for act in cycle if act.kind != "corrected"]
    order = data.draw(st.permutations(others)) + corrected
    with undone():
        take_in(cycle)
        expected = without_number(states())
    with undone():
        take_in(order)
        assert without_number(states()) == expected
        assert states() == replayed()


def take_in(events: list[Event]) -> None:
    projector = Projector(StoredWorld())
    size = ledgering.load_frontier().size
    rows = []
    for seq, event in enumerate(events, start=size + 1):
        checked = event.model_copy(update={"body": check_body(event)})
        rows.append(ledgering.make_row(checked, ledgering.body_text(checked.body), event.happened_at, seq))
        projector.take_in(event_of(rows[-1]), seq)
    ledgering.store(rows)
    projector.save()


@QUIET
@given(data=st.data())
def test_batches_in_any_order_and_doubled_are_stored_once_and_add_up(cycle, data) -> None:
    size = data.draw(st.integers(1, 12))
    batches = [cycle[start : start + size] for start in range(0, len(cycle), size)]
    order = data.draw(st.permutations(batches + data.draw(st.lists(st.sampled_from(batches), max_size=3))))
    late = max(act.happened_at for act in cycle) + timedelta(minutes=1)
    with undone():
        answers: dict[str, str] = {}
        for batch in [*order, *batches]:
            for answer in record([Act(act.model_dump(mode="json")) for act in batch], MIRA, late):
                assert answers.get(answer.id) in (None, "refused") or answer.answer == "already recorded"
                answers[answer.id] = "stored" if answer.answer != "refused" else "refused"
        stored = {answer_id for answer_id, answer in answers.items() if answer == "stored"}
        assert set(StoredEvent.objects.filter(pk__in=answers).values_list("id", flat=True)) == stored
        assert states() == replayed()
        assert check_all().findings == ()
