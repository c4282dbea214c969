"""The screen Supplies: lots opened from their labels, strips proved, lots and sets taken out of use."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from lumenward.records.models import StoredEvent
from lumenward.records.world import StoredWorld
from lumenward.screens.supplies.board import board

STRIP_GTIN = "09501101533011"
OPEN = "/supplies/lots/open/"
IN_A_YEAR = (datetime.now(UTC) + timedelta(days=365)).date()


def label(lot: str = "S77", day=IN_A_YEAR, gtin: str = STRIP_GTIN) -> str:
    return f"]d201{gtin}17{day:%y%m%d}10{lot}\r"


@pytest.mark.django_db
def test_a_scanned_label_opens_a_lot_and_strips_are_proved_next(house, client_as) -> None:
    technician = client_as("technician")
    response = technician.post(OPEN, {"code": label()})
    assert response.status_code == 302 and response.url == "/supplies/lots/strip-opa-s77/strips/"
    lot = StoredWorld().lot("strip-opa-s77")
    assert (lot.product, lot.shelf, lot.lot, lot.expires) == ("strip-opa", "strips", "S77", IN_A_YEAR)
    assert "1 bottle of strips must be checked first" in technician.get("/supplies/").content.decode()
    good = {"full_strength_passed": "3", "diluted_failed": "3"}
    assert technician.post(response.url, good).status_code == 302
    assert StoredWorld().lot("strip-opa-s77").diluted_failed == 3
    assert "must be checked first" not in technician.get("/supplies/").content.decode()


@pytest.mark.django_db
def test_a_lot_typed_by_hand_opens_too(house, client_as) -> None:
    data = {"product": "reedwash", "lot": "R/2-a", "expires": IN_A_YEAR.isoformat()}
    assert client_as("technician").post(OPEN, data).status_code == 302
    assert StoredWorld().lot("reedwash-r-2-a").lot == "R/2-a"


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("data", "field", "sentence"),
    [
        ({}, "product", "Choose the product."),
        ({}, "lot", "Type the lot."),
        ({"expires": "soon"}, "expires", "Write the day as 2031-05-07."),
        ({"code": label(), "lot": "other"}, "lot", "The label says S77."),
        ({"code": label(gtin="09501101539990")}, "code", "no product with the item number"),
        ({"code": label(gtin="09501101533012")}, "code", "wrong check digit"),
        ({"code": label(day=datetime(2020, 1, 31))}, "expires", "expired on 2020-01-31"),
    ],
)  # fmt: skip
def test_what_is_wrong_with_a_label_is_said_beside_its_field(house, client_as, data, field, sentence) -> None:
    response = client_as("technician").post(OPEN, data)
    assert response.status_code == 422
    assert sentence in " ".join(response.context["form"].errors[field])


@pytest.mark.django_db
def test_what_the_label_said_and_what_was_typed_stay_in_the_form(house, client_as) -> None:
    response = client_as("technician").post(OPEN, {"code": label(), "lot": "other"})
    page = response.content.decode()
    assert 'value="other"' in page and f'value="{IN_A_YEAR.isoformat()}"' in page
    assert '<option value="strip-opa" selected>' in page


@pytest.mark.django_db
def test_a_lot_is_opened_once(house, client_as) -> None:
    technician = client_as("technician")
    assert technician.post(OPEN, {"code": label()}).status_code == 302
    again = technician.post(OPEN, {"code": label()})
    assert again.status_code == 422 and "is in use already" in again.content.decode()


@pytest.mark.django_db
@pytest.mark.parametrize("wrong", ["-1", "2.5", "11", "three", ""])
def test_strips_are_counted_in_whole_numbers(house, client_as, wrong: str) -> None:
    data = {"full_strength_passed": "3", "diluted_failed": wrong}
    response = client_as("technician").post("/supplies/lots/lot-strip-opa/strips/", data)
    assert response.status_code == 422 and response.context["form"].errors["diluted_failed"]


@pytest.mark.django_db
def test_a_lot_is_withdrawn_with_a_reason(house, client_as) -> None:
    technician = client_as("technician")
    address = "/supplies/lots/lot-reedwash/withdraw/"
    assert technician.post(address, {"reason": ""}).status_code == 422
    assert technician.post(address, {"reason": "recalled by the maker"}).status_code == 302
    assert StoredWorld().lot("lot-reedwash").withdrawn_why == "recalled by the maker"
    assert technician.get("/supplies/lots/nothing/withdraw/").status_code == 404


@pytest.mark.django_db
def test_a_connector_set_is_opened_and_discarded(house, client_as) -> None:
    technician = client_as("technician")
    assert technician.post("/supplies/sets/open/", {"kind": "set-colon", "code": ""}).status_code == 422
    assert technician.post("/supplies/sets/open/", {"kind": "set-colon", "code": "CSK-9"}).status_code == 302
    assert StoredWorld().connector_set("csk-9").code == "CSK-9"
    twice = technician.post("/supplies/sets/open/", {"kind": "set-colon", "code": "CSK-9"})
    assert "is in use already" in " ".join(twice.context["form"].errors["code"])
    assert technician.post("/supplies/sets/csk-9/discard/", {"reason": "torn"}).status_code == 302
    assert "csk-9" not in [one.id for one in StoredWorld().connector_sets()]


@pytest.mark.django_db
def test_lives_are_said_in_words_and_what_is_over_comes_first(house) -> None:
    found = board(house.now + timedelta(days=301), ZoneInfo("Europe/London"))
    strips = next(shelf for shelf in found.shelves if shelf.title == "Test strips").rows
    assert strips[0].word == "late" and strips[0].says.startswith("over since")
    assert "must not be used any more" in found.headline
    assert board(house.now, ZoneInfo("Europe/London")).headline == "Everything in use may be used."


@pytest.mark.django_db
@pytest.mark.parametrize("role", ["viewer", "engineer", "stranger"])
def test_who_does_not_tend_supplies_may_look_and_not_touch(house, client_as, role: str) -> None:
    before = StoredEvent.objects.count()
    wanted = 302 if role == "stranger" else 403
    for address in ("lots/open/", "sets/open/", "lots/lot-reedwash/withdraw/", "sets/cs-set-colon/discard/"):
        assert client_as(role).post(f"/supplies/{address}", {"reason": "x"}).status_code == wanted
    assert client_as(role).get("/supplies/").status_code == (302 if role == "stranger" else 200)
    assert StoredEvent.objects.count() == before
