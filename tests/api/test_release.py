"""A release: a competent person, a PIN, a verdict with nothing against it; the tool never releases by itself."""

from __future__ import annotations

import hashlib
import json
from datetime import UTC, datetime
from typing import Any

import pytest

from lumenward.ledger.canonical import canonical_json
from lumenward.records import accounts
from lumenward.records.check import check_all
from lumenward.records.models import Person, StoredEvent

SCOPE = "one-sanderling-28"


@pytest.fixture
def stored(house) -> dict[str, Any]:
    """A cycle that ends in the cabinet, and what the page would send to release it."""
    cycle = house.work(SCOPE)[0].id
    for person in ("mira", "jonas"):
        accounts.give_pin(Person.objects.get(pk=person), "4711")
    return {
        "endoscope": SCOPE, "cycle": cycle, "station": "sink-1", "person": "mira", "pin": "4711",
        "act_id": house.new_id(datetime.now(UTC)), "happened_at": datetime.now(UTC).isoformat(),
    }  # fmt: skip


def release(client: Any, sent: dict[str, Any], **changed: Any) -> Any:
    return client.post("/api/v1/release", json.dumps(sent | changed), content_type="application/json")


def code(response: Any) -> str:
    assert response.status_code in (403, 422), response.content
    return response.json()["error"]["code"]


def test_a_signed_release_makes_it_ready_and_keeps_the_verdict_of_the_moment(stored, client_as) -> None:
    client = client_as("technician")
    before = client.get(f"/api/v1/endoscopes/{SCOPE}/verdict").json()
    assert before["ready"], [
        f["sentence"] for f in before["findings"] if f["answer"] in ("broken", "unknown")
    ]
    response = release(client, stored)
    assert response.status_code == 200, response.content
    assert response.json()["answer"] == {"id": stored["act_id"], "answer": "recorded"}
    row = StoredEvent.objects.get(pk=stored["act_id"])
    body = json.loads(row.body)
    assert (row.person, body["meaning"]) == ("mira", "released for patient use")
    assert body["verdict"] == response.json()["verdict"]
    assert body["verdict_digest"] == hashlib.sha256(canonical_json(body["verdict"])).hexdigest()
    assert "4711" not in row.body
    shelf = {row["id"]: row for row in client.get("/api/v1/shelf").json()["endoscopes"]}
    assert shelf[SCOPE]["ready"] and shelf[SCOPE]["why_not"] == "" and shelf[SCOPE]["ready_until"]
    assert check_all().findings == ()


def test_a_release_sent_again_is_one_release(stored, client_as) -> None:
    client = client_as("technician")
    first, second = release(client, stored), release(client, stored)
    assert second.json()["answer"]["answer"] == "already recorded"
    assert second.json()["verdict"] == first.json()["verdict"]
    assert StoredEvent.objects.filter(kind="released").count() == 1
    assert code(release(client, stored, cycle=stored["act_id"])) == "conflict"


def test_a_wrong_pin_releases_nothing_and_locks_after_five(stored, client_as) -> None:
    client = client_as("technician")
    assert [code(release(client, stored, pin="9999")) for _ in range(5)] == ["wrong-pin"] * 5
    assert code(release(client, stored)) == "pin-locked"
    assert not StoredEvent.objects.filter(kind="released").exists()


def test_a_colleague_signs_with_badge_and_own_pin(stored, client_as) -> None:
    client = client_as("technician")
    assert code(release(client, stored, person="jonas")) == "not-you"
    assert code(release(client, stored, person="jonas", badge="B-JONAS", pin="0815")) == "wrong-pin"
    assert release(client, stored, person="jonas", badge="B-JONAS").status_code == 200
    assert StoredEvent.objects.get(kind="released").person == "jonas"


@pytest.mark.parametrize("role", ["engineer", "viewer"])
def test_roles_that_may_not_release_are_told_so(stored, client_as, role) -> None:
    assert code(release(client_as(role), stored)) == "not-allowed"
    assert code(release(client_as("technician"), stored, person="vera", badge="B-VERA")) == "not-allowed"


def test_what_is_not_ready_is_not_released_and_the_reason_is_said(house, client_as) -> None:
    cycle = house.work(SCOPE, stop="dry")[0].id
    accounts.give_pin(Person.objects.get(pk="mira"), "4711")
    sent = {
        "endoscope": SCOPE, "cycle": cycle, "station": "sink-1", "person": "mira", "pin": "4711",
        "act_id": house.new_id(datetime.now(UTC)), "happened_at": datetime.now(UTC).isoformat(),
    }  # fmt: skip
    response = release(client_as("technician"), sent)
    assert code(response) == "not-ready"
    assert response.json()["error"]["message"].startswith("Not ready: ")
    assert not StoredEvent.objects.filter(kind="released").exists()
