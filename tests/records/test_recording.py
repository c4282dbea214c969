"""Recording acts: once, whole, by the right person; refusals and conflicts kept."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from lumenward.journey.event import Event
from lumenward.records import looking, projecting
from lumenward.records.check import check_all
from lumenward.records.models import Conflict, Projection, RefusedAct, StoredEvent, Touch, TreeHead
from lumenward.records.roles import Actor
from lumenward.records.service import Act, record
from lumenward.records.world import StoredWorld

MIRA = Actor("mira", "Mira Okafor", "technician")
SCOPE = "one-sanderling-28"


def said(event: Event, **changed: Any) -> dict[str, Any]:
    return event.model_dump(mode="json") | changed


def opening(house: Any, scope: str = SCOPE) -> Event:
    return house.event("patient_use_ended", scope, {"case": "case-1"}, person="mira")


def send(*events: Event, session: Actor = MIRA, badge: str = "", now: datetime | None = None) -> list[Any]:
    return record([Act(said(event), badge) for event in events], session, now or datetime.now(UTC))


def counts() -> tuple[int, ...]:
    head = TreeHead.objects.order_by("-size").first()
    return (
        StoredEvent.objects.count(),
        Touch.objects.count(),
        Projection.objects.count(),
        head.size if head else 0,
    )


def test_a_whole_cycle_is_recorded_and_verifies(house) -> None:
    acts = house.work(SCOPE)
    assert acts[-1].kind == "stored"
    assert check_all().findings == ()


def test_an_act_sent_again_is_already_recorded_and_stored_once(house) -> None:
    act = opening(house)
    assert [answer.answer for answer in send(act)] == ["recorded"]
    before = counts()
    assert [answer.answer for answer in send(act, act)] == ["already recorded", "already recorded"]
    assert counts() == before


def test_another_act_under_the_same_id_is_kept_as_a_conflict(house) -> None:
    act = opening(house)
    send(act)
    other = act.model_copy(update={"body": {"case": "case-2"}})
    answers = send(other, other)
    assert [answer.answer for answer in answers] == ["conflict", "conflict"]
    assert answers[0].error.code == "conflict"
    assert StoredWorld().event(act.id).body["case"] == "case-1"
    kept = Conflict.objects.get()
    assert '"case-2"' in kept.content and kept.sent_by == "mira"


def test_a_refused_act_is_kept_with_its_sentence(house) -> None:
    act = house.event("stored", SCOPE, {"cabinet": "cabinet-1"}, person="mira", cycle=house.new_id())
    (answer,) = send(act)
    assert answer.answer == "refused"
    kept = RefusedAct.objects.get(act=act.id)
    assert (kept.message, kept.code, kept.sent_by) == (answer.error.message, answer.error.code, "mira")
    assert not StoredEvent.objects.filter(pk=act.id).exists()


def test_one_refused_act_does_not_hold_up_the_others(house) -> None:
    first, second = opening(house), opening(house, "one-whimbrel-38")
    wrong = house.event("patient_use_ended", "one-nobody", {"case": "case-3"}, person="mira")
    assert [answer.answer for answer in send(first, wrong, second)] == ["recorded", "refused", "recorded"]


def test_a_batch_is_handled_in_the_order_in_which_it_happened(house) -> None:
    first = opening(house)
    body = {"product": "wipe", "kept_moist": True}
    second = house.event("point_of_use_treated", SCOPE, body, person="mira", cycle=first.id)
    assert [answer.answer for answer in send(second, first)] == ["recorded", "recorded"]


def test_nobody_acts_for_another_without_the_badge(house) -> None:
    act = opening(house).model_copy(update={"person": "jonas"})
    (without,) = send(act)
    assert (without.answer, without.error.code) == ("refused", "not-you")
    (with_another,) = send(act, badge="B-LENA")
    assert with_another.error.code == "not-you"
    assert [answer.answer for answer in send(act, badge="B-JONAS")] == ["recorded"]
    assert "B-JONAS" not in StoredEvent.objects.get(pk=act.id).body


def test_a_role_that_may_not_is_refused_in_words(house) -> None:
    act = opening(house).model_copy(update={"person": "vera"})
    (answer,) = send(act, session=Actor("vera", "Vera Lund", "viewer"))
    assert answer.error.code == "not-allowed"
    assert "Vera Lund (viewer) may not record patient use ended" in answer.error.message


def test_a_release_without_a_signature_is_refused(house) -> None:
    cycle = house.work(SCOPE)[0].id
    body = {"verdict": {}, "verdict_digest": "0" * 64, "ready_until": "2030-01-01T00:00:00+00:00"}
    act = house.event("released", SCOPE, body, person="mira", cycle=cycle)
    (answer,) = send(act)
    assert (answer.answer, answer.error.code) == ("refused", "needs-signature")


def test_a_fault_half_way_leaves_nothing_behind(house, monkeypatch) -> None:
    before = counts()

    def broken(self: Any) -> None:
        raise RuntimeError("the power went")

    monkeypatch.setattr(projecting.Projector, "save", broken)
    with pytest.raises(RuntimeError):
        send(opening(house))
    monkeypatch.undo()
    assert counts() == before
    assert check_all().findings == ()


def test_an_entry_recorded_late_is_marked_with_both_times(house) -> None:
    early = house.now - timedelta(seconds=1)
    act = opening(house)
    send(act, now=act.happened_at + timedelta(minutes=31))
    row = StoredEvent.objects.get(pk=act.id)
    assert looking.is_late(StoredWorld(), row)
    assert datetime.fromisoformat(row.recorded_at) - row.happened_utc == timedelta(minutes=31)
    assert early < row.happened_utc


def test_an_entry_within_the_limit_of_the_policy_is_not_late(house) -> None:
    act = opening(house)
    send(act, now=act.happened_at + timedelta(minutes=30))
    assert not looking.is_late(StoredWorld(), StoredEvent.objects.get(pk=act.id))


def test_a_station_clock_that_runs_ahead_is_seen(house) -> None:
    rows = []
    for scope, ahead in ((SCOPE, 60), ("one-whimbrel-38", 0)):
        act = opening(house, scope)
        (answer,) = send(act, now=act.happened_at - timedelta(seconds=ahead))
        assert answer.answer == "recorded"
        rows.append(StoredEvent.objects.get(pk=act.id))
    assert [looking.clock_ahead(row, by_s=30) for row in rows] == [True, False]


def test_an_act_in_the_future_is_refused(house) -> None:
    act = opening(house)
    (answer,) = send(act, now=act.happened_at - timedelta(hours=1))
    assert answer.error.code == "in-the-future"


@pytest.mark.parametrize(
    "changed",
    [
        {"id": "not-an-id"}, {"id": ""}, {"id": None}, {"kind": "nonsense"}, {"version": 2}, {"version": "x"},
        {"happened_at": "yesterday"}, {"happened_at": "2026-03-01T10:00:00"}, {"happened_at": None}, {"body": "text"},
        {"body": {"case": ""}}, {"body": {"case": "x" * 81}}, {"body": {"case": float("nan")}},
        {"body": {"case": "a\x00b"}},
        {"body": {"case": "1", "unknown": 1}}, {"subject": ""}, {"person": "x" * 41}, {"extra": 1},
        {"station": "\ud800"},
        {"body": {"case": "1", "time_known": "perhaps"}}, {"happened_at": "9999-12-31T23:59:59-23:59"},
    ],
    ids=repr,
)  # fmt: skip
def test_what_is_not_an_act_is_refused_and_kept(house, changed) -> None:
    (answer,) = record([Act(said(opening(house)) | changed)], MIRA, datetime.now(UTC))
    assert answer.answer == "refused"
    assert answer.error.message
    assert RefusedAct.objects.count() == 1


def test_emoji_and_right_to_left_text_come_back_unchanged(house) -> None:
    act = house.event("patient_use_ended", SCOPE, {"case": "🫧 שלום é"}, person="mira")
    assert send(act)[0].answer == "recorded"
    assert StoredWorld().event(act.id).body["case"] == "🫧 שלום é"
    assert check_all().findings == ()


def test_the_ledger_cannot_be_changed_through_its_own_table(house) -> None:
    row = StoredEvent.objects.first()
    for attempt in (
        row.save,
        row.delete,
        StoredEvent.objects.all().delete,
        lambda: StoredEvent.objects.update(kind="x"),
    ):
        with pytest.raises(TypeError, match="append-only"):
            attempt()


def test_an_adopted_library_must_have_its_own_digest(house) -> None:
    from lumenward.equipment.loader import as_document
    from lumenward.records.housekeeping import SHELL, decide

    body = {"digest": "0" * 64, "document": as_document(StoredWorld().library())}
    with pytest.raises(Exception, match="digest"):
        decide("library_adopted", "house", body, SHELL, datetime.now(UTC))
