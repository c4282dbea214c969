"""Two people, one step, the same instant: exactly one is recorded, the other reads why not."""

from __future__ import annotations

import threading
from datetime import UTC, datetime
from typing import Any

from django.db import connection

from lumenward.records.check import check_all
from lumenward.records.models import RefusedAct, StoredEvent
from lumenward.records.roles import Actor
from lumenward.records.service import Act, record_one

MIRA = Actor("mira", "Mira Okafor", "technician")
JONAS = Actor("jonas", "Jonas Weir", "technician")


def at_once(jobs: list[Any]) -> list[Any]:
    """Run every job in its own thread, started together; return what they gave."""
    ready, found = threading.Barrier(len(jobs)), [None] * len(jobs)

    def run(place: int) -> None:
        try:
            ready.wait(timeout=20)
            found[place] = jobs[place]()
        finally:
            connection.close()

    threads = [threading.Thread(target=run, args=(place,)) for place in range(len(jobs))]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=60)
    return found


def sending(event: Any, actor: Actor) -> Any:
    return lambda: record_one(Act(event.model_dump(mode="json")), actor, datetime.now(UTC))


def test_two_tablets_opening_one_cycle_make_one_cycle(shared_house) -> None:
    body = {"case": "case-1"}
    acts = [
        shared_house.event("patient_use_ended", "one-sanderling-28", body, person=p)
        for p in ("mira", "jonas")
    ]
    answers = at_once([sending(acts[0], MIRA), sending(acts[1], JONAS)])
    assert sorted(answer.answer for answer in answers) == ["recorded", "refused"]
    assert StoredEvent.objects.filter(kind="patient_use_ended").count() == 1
    refused = next(answer for answer in answers if answer.answer == "refused")
    assert RefusedAct.objects.get().message == refused.error.message
    assert check_all().findings == ()


def test_the_same_act_sent_eight_times_at_once_is_stored_once(shared_house) -> None:
    act = shared_house.event("patient_use_ended", "one-sanderling-28", {"case": "case-1"}, person="mira")
    answers = at_once([sending(act, MIRA)] * 8)
    assert sorted(answer.answer for answer in answers) == ["already recorded"] * 7 + ["recorded"]
    assert StoredEvent.objects.filter(pk=act.id).count() == 1
    assert check_all().findings == ()


def test_twelve_endoscopes_and_lots_at_once_leave_one_unbroken_ledger(shared_house) -> None:
    scopes = [
        "sanderling-28",
        "whimbrel-38",
        "dunlin-22",
        "plover-12",
        "redshank-23",
        "turnstone-42",
        "wagtail-34",
    ]
    acts = [
        shared_house.event("patient_use_ended", f"one-{scope}", {"case": f"case-{scope}"}, person="mira")
        for scope in scopes
    ]
    before = StoredEvent.objects.count()
    answers = at_once([sending(act, MIRA) for act in acts])
    assert [answer.answer for answer in answers] == ["recorded"] * len(acts)
    numbers = list(StoredEvent.objects.order_by("seq").values_list("seq", flat=True))
    assert numbers == list(range(1, before + len(acts) + 1))
    assert check_all().findings == ()
