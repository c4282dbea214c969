"""The screen Basins: each charge as it stands; pouring, testing, emptying, each refusal beside its field."""

from __future__ import annotations

from datetime import timedelta

import pytest

from lumenward.records.models import StoredEvent
from lumenward.records.world import StoredWorld
from lumenward.screens.basins.board import board

GLUT = "basin-2"


def charge_in(basin: str):
    return next((one for one in StoredWorld().charges() if one.basin == basin), None)


@pytest.fixture
def charge(house):
    """The charge of glutaraldehyde in basin 2, poured and never tested."""
    return charge_in(GLUT)


def good_test(**more):
    return {"strip_lot": "lot-strip-glut", "read_after_s": "80", "result": "pass", **more}


@pytest.mark.django_db
def test_each_basin_says_whether_it_may_take_the_next_endoscope(house, charge, client_as) -> None:
    page = client_as("viewer").get("/basins/").content.decode()
    assert "Basin 2: test it first" in page and "It needs a passing test before the next endoscope." in page
    assert "Glutaraldehyde 2.4 %, house label, lot A1" in page and "at or below, the test fails" in page
    assert "Not tested yet." in page and "Test Basin 2" not in page


@pytest.mark.django_db
def test_a_passing_test_makes_it_ready_and_stands_on_the_page(house, charge, client_as) -> None:
    technician = client_as("technician")
    response = technician.post(
        f"/basins/charges/{charge.id}/test/", good_test(percent="2,1", temperature_c="25 °C")
    )
    assert response.status_code == 302, response.context["form"].errors
    assert charge_in(GLUT).tests[0].percent == 2.1
    page = technician.get("/basins/").content.decode()
    assert "Basin 2: ready for the next" in page and "passed" in page and "It never replaces the test" in page


@pytest.mark.django_db
def test_a_failed_test_closes_the_charge(house, charge, client_as) -> None:
    technician = client_as("technician")
    technician.post(f"/basins/charges/{charge.id}/test/", good_test(result="fail"))
    assert "Basin 2: empty it" in technician.get("/basins/").content.decode()
    again = technician.post(f"/basins/charges/{charge.id}/test/", good_test())
    assert again.status_code == 422 and "failed its test" in again.content.decode()


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("change", "field", "sentence"),
    [
        ({"read_after_s": "40"}, "read_after_s", "Read after 40"),
        ({"read_after_s": "3 min"}, "read_after_s", "Read after 180"),
        ({"read_after_s": ""}, "read_after_s", "Say after how long it was read."),
        ({"read_after_s": "soon"}, "read_after_s", "A number is expected"),
        ({"result": ""}, "result", "Say whether it passed."),
        ({"strip_lot": "lot-strip-opa"}, "strip_lot", "test opa, not glutaraldehyde"),
        ({"strip_lot": ""}, "strip_lot", "Scan the label or choose the lot."),
        ({"percent": "1.2"}, "result", "counts as fail"),
        ({"scanned": "L-glut-24"}, "scanned", "is none of the strips"),
        ({"scanned": "🦆"}, "scanned", "Nothing here carries the code"),
        ({"when": "never"}, "when", "leave it empty for now"),
        ({"when": "2099-01-01T10:00"}, "when", "said to happen"),
    ],
)  # fmt: skip
def test_what_is_wrong_is_said_beside_its_field(house, charge, client_as, change, field, sentence) -> None:
    response = client_as("technician").post(f"/basins/charges/{charge.id}/test/", good_test(**change))
    assert response.status_code == 422
    said = " ".join(response.context["form"].errors[field]).replace("\u202f", " ")
    assert sentence in said
    assert not StoredEvent.objects.filter(kind="mec_tested").exists()


@pytest.mark.django_db
def test_a_scanned_bottle_of_strips_counts_before_the_list(house, charge, client_as) -> None:
    data = good_test(strip_lot="", scanned="L-strip-glut\r")
    response = client_as("technician").post(f"/basins/charges/{charge.id}/test/", data)
    assert response.status_code == 302 and charge_in(GLUT).tests[0].strip_lot == "lot-strip-glut"


@pytest.mark.django_db
def test_a_basin_is_emptied_with_a_reason_and_filled_anew(house, charge, client_as) -> None:
    technician = client_as("technician")
    assert technician.post(f"/basins/charges/{charge.id}/empty/", {"reason": ""}).status_code == 422
    assert technician.post(f"/basins/charges/{charge.id}/empty/", {"reason": "soiled"}).status_code == 302
    assert charge_in(GLUT) is None
    page = technician.get("/basins/").content.decode()
    assert "Basin 2: empty." in page or "Basin 2: empty" in page
    assert "Pour a charge into Basin 2" in page
    data = {"lot": "lot-glut-24", "volume_l": "14,5", "temperature_c": ""}
    response = technician.post(f"/basins/{GLUT}/pour/", data)
    assert response.status_code == 302, response.context["form"].errors
    poured = charge_in(GLUT)
    assert (poured.disinfectant, poured.volume_l, poured.lot) == ("glut-24", 14.5, "lot-glut-24")
    assert technician.get(f"/basins/charges/{charge.id}/test/").status_code == 404


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("data", "field", "sentence"),
    [
        ({"lot": "lot-glut-24", "volume_l": ""}, "volume_l", "Say how much was poured."),
        ({"lot": "lot-glut-24", "volume_l": "900 mL/L"}, "volume_l", "a volume is expected"),
        ({"lot": "", "volume_l": "10"}, "lot", "Scan the label or choose the lot."),
    ],
)
def test_a_pour_that_cannot_be_is_refused_beside_its_field(house, client_as, data, field, sentence) -> None:
    response = client_as("technician").post("/basins/basin-2/pour/", data)
    assert response.status_code == 422 and sentence in " ".join(response.context["form"].errors[field])


@pytest.mark.django_db
def test_a_full_basin_and_too_much_are_refused(house, charge, client_as) -> None:
    technician = client_as("technician")
    full = technician.post(f"/basins/{GLUT}/pour/", {"lot": "lot-glut-24", "volume_l": "10"})
    assert full.status_code == 422 and "holds the charge poured" in full.content.decode()
    technician.post(f"/basins/charges/{charge.id}/empty/", {"reason": "other"})
    much = technician.post(f"/basins/{GLUT}/pour/", {"lot": "lot-glut-24", "volume_l": "40"})
    assert "not 40" in " ".join(much.context["form"].errors["volume_l"]).replace("\u202f", " ")
    assert technician.get("/basins/basin-99/pour/").status_code == 404


@pytest.mark.django_db
def test_a_charge_past_its_reuse_life_says_so(house, charge) -> None:
    later = house.now + timedelta(days=15)
    place = next(one for one in board(later).places if one.basin.id == GLUT)
    assert place.charge.word == "late" and place.charge.sentence.startswith("Its reuse life ended")
    assert place.charge.reuse.source.startswith("Glutaraldehyde 2.4 %")


@pytest.mark.django_db
def test_an_endoscope_that_lies_in_it_is_named(house) -> None:
    house.work("one-wagtail-34", stop="hld-out")
    inside = [one for one in board(house.now).places if one.charge and one.charge.stays]
    assert inside and "Wagtail 34 01" in inside[0].charge.sentence


@pytest.mark.django_db
def test_the_prediction_says_what_it_rests_on_and_never_replaces_the_test(house, charge, client_as) -> None:
    technician = client_as("technician")
    for percent in ("2.38", "2.3"):
        technician.post(f"/basins/charges/{charge.id}/test/", good_test(percent=percent))
    place = next(one for one in board(house.now).places if one.basin.id == GLUT)
    found = place.charge.prediction
    assert found is not None and (found.tests, found.charges) == (2, 1)
    assert found.learned.low <= found.learned.median <= found.learned.high
    assert "assumed" in found.basis and "never replaces the test" in found.basis


@pytest.mark.django_db
@pytest.mark.parametrize("role", ["viewer", "engineer", "stranger"])
def test_who_does_not_tend_supplies_is_turned_away(house, charge, client_as, role: str) -> None:
    wanted = 302 if role == "stranger" else 403
    for address in (f"charges/{charge.id}/test/", f"charges/{charge.id}/empty/", f"{GLUT}/pour/"):
        assert client_as(role).post(f"/basins/{address}", good_test(reason="other")).status_code == wanted
    assert charge_in(GLUT) is not None and not StoredEvent.objects.filter(kind="mec_tested").exists()
