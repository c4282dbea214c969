"""The screen Shelf: what is ready, until when, why not; taking, holding, lifting a hold."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta

import pytest

from lumenward.records import accounts
from lumenward.records.models import StoredEvent
from lumenward.records.releasing import Signature, sign_release
from lumenward.records.roles import Actor
from lumenward.records.service import record_many
from lumenward.records.world import StoredWorld
from lumenward.screens.shelf.board import board

RHINO = "one-wagtail-34"
MIRA = Actor("mira", "Mira Okafor", "technician")


@pytest.fixture
def stored(house):
    """An endoscope in its cabinet, dry, not released."""
    cycle = ""
    for act in house.acts_until(RHINO):
        if act.kind == "point_of_use_treated":
            act = act.model_copy(update={"body": act.body | {"alcohol_used": False}})
        record_many([[(act, act.happened_at + timedelta(seconds=2))]])
        cycle = cycle or act.cycle
    return house, cycle


@pytest.fixture
def ready(stored):
    """The same, released."""
    house, cycle = stored
    accounts.give_pin(accounts.open_account("mira", badge="B-MIRA"), "4711")
    house.now += timedelta(seconds=5)
    sign_release(
        Signature(RHINO, cycle, "sink-1", "mira", "4711", house.new_id(), house.now), MIRA, house.now
    )
    return house, cycle


def stage(endoscope=RHINO):
    return StoredWorld().endoscope(endoscope).stage


@pytest.mark.django_db
def test_an_empty_shelf_teaches(client_as) -> None:
    page = client_as("viewer").get("/shelf/").content.decode()
    assert "Nothing on the shelf is ready." in page and "signed its release" in page


@pytest.mark.django_db
def test_what_is_stored_and_not_released_says_why(stored, client_as) -> None:
    page = client_as("technician").get("/shelf/").content.decode()
    assert "Here, and not for use" in page and "It is stored and not released yet." in page
    assert "Take Wagtail" not in page


@pytest.mark.django_db
def test_what_is_ready_says_until_when_by_whose_word(ready, client_as) -> None:
    house, _ = ready
    found = board(house.now)
    assert found.headline.startswith("One endoscope is ready. Wagtail 34 01 must be used first:")
    [(family, [row])] = found.families
    assert family == "rhino-laryngoscope" and row.word == "ready"
    assert row.basis.split(":")[0] in ("policy", "label", "IFU")
    page = client_as("viewer").get("/shelf/").content.decode()
    assert "ready until" in page and "Take Wagtail 34 01" not in page
    assert "Take Wagtail 34 01" in client_as("technician").get("/shelf/").content.decode()


@pytest.mark.django_db
def test_the_shelf_can_be_searched(ready) -> None:
    house, _ = ready
    assert board(house.now, "wagtail").ready == board(house.now, "CABINET").ready == 1
    assert board(house.now, "colonoscope").ready == 0


@pytest.mark.django_db
def test_one_is_taken_for_a_case(ready, client_as) -> None:
    technician = client_as("technician")
    assert "ready until" in technician.get(f"/shelf/{RHINO}/take/").content.decode()
    response = technician.post(f"/shelf/{RHINO}/take/", {"case": "C-77", "room": "3"})
    assert response.status_code == 302 and stage() == "in use"
    body = json.loads(StoredEvent.objects.get(kind="taken_for_use").body)
    assert body == {"case": "C-77", "room": "3"}


@pytest.mark.django_db
def test_taking_without_a_case_is_refused_and_the_room_is_kept(ready, client_as) -> None:
    response = client_as("technician").post(f"/shelf/{RHINO}/take/", {"case": " ", "room": "Theatre 9"})
    page = response.content.decode()
    assert (
        response.status_code == 422
        and "Say for which case it is taken." in page
        and 'value="Theatre 9"' in page
    )
    assert stage() == "ready"


@pytest.mark.django_db
def test_one_whose_time_is_over_is_refused_with_the_sentence(ready, client_as, monkeypatch) -> None:
    late = datetime.now(UTC) + timedelta(days=9)
    monkeypatch.setattr("django.utils.timezone.now", lambda: late)
    technician = client_as("technician")
    page = technician.get(f"/shelf/{RHINO}/take/").content.decode()
    assert "may not be used" in page and "Its time on the shelf ended" in page
    refused = technician.post(f"/shelf/{RHINO}/take/", {"case": "C-77"})
    assert refused.status_code == 422 and "Its time on the shelf ended" in refused.content.decode()
    assert stage() == "ready" and not StoredEvent.objects.filter(kind="taken_for_use").exists()
    assert "Process it again" in technician.get("/shelf/").content.decode()


@pytest.mark.django_db
def test_one_that_was_not_released_is_refused(stored, client_as) -> None:
    refused = client_as("technician").post(f"/shelf/{RHINO}/take/", {"case": "C-77"})
    assert refused.status_code == 422 and "was not released" in refused.content.decode()


@pytest.mark.django_db
def test_a_hold_names_its_reason_and_its_lifting_too(ready, client_as) -> None:
    technician, lead = client_as("technician"), client_as("lead")
    assert technician.post(f"/shelf/{RHINO}/hold/", {"reason": ""}).status_code == 422
    held = technician.post(f"/shelf/{RHINO}/hold/", {"reason": "culture awaited", "note": "taken at 9"})
    assert held.status_code == 302 and stage() == "held"
    page = lead.get("/shelf/").content.decode()
    assert "Held: culture awaited." in page and "Lift the hold" in page
    assert "Lift the hold" not in technician.get("/shelf/").content.decode()
    assert technician.post(f"/shelf/{RHINO}/take/", {"case": "C-1"}).status_code == 422
    assert lead.post(f"/shelf/{RHINO}/lift/", {"reason": ""}).status_code == 422
    assert lead.post(f"/shelf/{RHINO}/lift/", {"reason": "no growth"}).status_code == 302
    assert stage() == "ready"


@pytest.mark.django_db
def test_an_unknown_endoscope_is_said_to_be_unknown(house, client_as) -> None:
    response = client_as("lead").get("/shelf/nobody/take/")
    assert (
        response.status_code == 404 and "No endoscope nobody is registered here." in response.content.decode()
    )


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("role", "address", "status"),
    [
        ("viewer", "take", 403), ("viewer", "hold", 403), ("technician", "lift", 403), ("stranger", "take", 302),
        ("stranger", "hold", 302), ("stranger", "lift", 302),
    ],
)  # fmt: skip
def test_who_may_not_is_turned_away(house, client_as, role: str, address: str, status: int) -> None:
    assert (
        client_as(role).post(f"/shelf/{RHINO}/{address}/", {"case": "C", "reason": "other"}).status_code
        == status
    )
    assert client_as("stranger").get("/shelf/").status_code == 302


@pytest.mark.django_db
def test_one_against_which_something_came_up_after_its_release_is_refused(ready, client_as) -> None:
    house, cycle = ready
    world = StoredWorld()
    act = next(a for a in world.acts(cycle) if a.kind == "detergent_dosed")
    house.do("lot_withdrawn", act.body["lot"], {"reason": "supplier's notice"})
    refused = client_as("technician").post(f"/shelf/{RHINO}/take/", {"case": "C-77"})
    assert refused.status_code == 422 and "came up after its release" in refused.content.decode()
    assert stage() == "ready" and not StoredEvent.objects.filter(kind="taken_for_use").exists()
