"""The screen Records as a browser sees it: the list, a record, its files, a correction."""

from __future__ import annotations

import json

import pytest
from django.urls import reverse

from lumenward.records.models import RefusedAct, StoredEvent
from lumenward.records.world import StoredWorld

RHINO = "one-wagtail-34"
LIST = "/records/"


def text(response) -> str:
    return b"".join(response).decode() if response.streaming else response.content.decode()


@pytest.fixture
def opened(house):
    """A cycle that has come as far as the leak test."""
    acts = house.work(RHINO, stop="exterior")
    return house, next(act.cycle for act in acts if act.cycle), acts


def correction(opened, key, value, **more):
    _, cycle, acts = opened
    act = next(one for one in acts if one.kind == "leak_tested")
    address = reverse("records:correct", args=[cycle, act.id])
    return act, address, {key: value, "how": "mend", "reason": "read wrongly", **more}


def filled(client, address) -> dict[str, str]:
    """Return what the form would send if nothing was changed."""
    form = client.get(address).context["form"]
    found = {}
    for field in form:
        value = field.value()
        if value not in (None, [], ""):
            found[field.html_name] = value
    return found


@pytest.mark.django_db
def test_an_empty_list_teaches(client_as) -> None:
    page = text(client_as("viewer").get(LIST))
    assert "No cycle is recorded yet." in page and "every act at the sink is a line of its record" in page


@pytest.mark.django_db
def test_the_first_line_answers_and_the_count_is_said(house, client_as, monkeypatch) -> None:
    monkeypatch.setattr("lumenward.screens.records.listing.PAGE", 3)
    for model in ("sanderling-28", "whimbrel-38", "dunlin-22", "plover-12", "wagtail-34"):
        house.do("reprocessing_required", f"one-{model}", {"reason": "dropped or touched"}, person="lena")
    viewer = client_as("viewer")
    page = text(viewer.get(LIST))
    assert "5 cycles are recorded. The newest: Wagtail 34 01" in page
    assert "These 3 of 5, newest first: 1 to 3." in page and "All 5 as" in page
    second = text(viewer.get(f"{LIST}?page=2"))
    assert "These 2 of 5, newest first: 4 to 5." in second and "Newer ones" in second
    assert "1 of 5 cycles matches." in text(viewer.get(f"{LIST}?endoscope=wagtail"))
    assert "None of 5 cycles matches." in text(viewer.get(f"{LIST}?case=nobody"))


@pytest.mark.django_db
def test_a_day_that_cannot_be_read_is_said_beside_its_field_and_kept(house, client_as) -> None:
    house.do("reprocessing_required", RHINO, {"reason": "new"}, person="lena")
    response = client_as("viewer").get(f"{LIST}?first=yesterday&case=x")
    assert response.status_code == 422
    page = text(response)
    assert "Write a day as 2031-05-07." in page and 'value="yesterday"' in page and 'value="x"' in page
    turned = text(client_as("viewer").get(f"{LIST}?first=2026-05-02&last=2026-05-01"))
    assert "2026-05-01 is before 2026-05-02." in turned


@pytest.mark.django_db
def test_exports_carry_unit_what_and_date_in_their_names(house, client_as) -> None:
    house.do("reprocessing_required", RHINO, {"reason": "new"}, person="lena")
    for ending in ("csv", "json"):
        response = client_as("viewer").get(f"{LIST}all.{ending}")
        name = response.headers["Content-Disposition"]
        assert name.startswith('attachment; filename="reedmarsh_cycles_20') and name.endswith(f'.{ending}"')
        assert "wagtail-34" in text(response)
    assert client_as("viewer").get(f"{LIST}all.csv?first=never").status_code == 422


@pytest.mark.django_db
def test_a_record_is_one_page_with_its_code_and_a_scanned_print_leads_to_it(opened, client_as) -> None:
    _, cycle, acts = opened
    viewer = client_as("viewer")
    response = viewer.get(f"{LIST}{cycle}/")
    record = response.context["record"]
    page = text(response)
    assert record.code in page and "Leak test" in page and len(record.lines) == len(acts)
    assert "Correct act" not in page
    assert "Correct act" in text(client_as("technician").get(f"{LIST}{cycle}/"))
    scanned = viewer.get(LIST, {"case": record.code_text})
    assert scanned.status_code == 302 and scanned.url == f"{LIST}{cycle}/?code={record.code}"
    assert "shows this record as it is now" in text(viewer.get(scanned.url))
    assert "do not trust that print" in text(viewer.get(f"{LIST}{cycle}/?code=0000-0000-0000-0000"))


@pytest.mark.django_db
def test_the_json_file_holds_the_proof(opened, client_as) -> None:
    _, cycle, acts = opened
    response = client_as("viewer").get(f"{LIST}{cycle}.json")
    plain = json.loads(text(response))
    assert plain["cycle"] == cycle and len(plain["acts"]) == len(acts)
    assert all(act["path"] and act["leaf_data"] for act in plain["acts"])


@pytest.mark.django_db
def test_the_pdf_is_served_and_a_machine_that_cannot_make_one_says_so(opened, client_as, monkeypatch) -> None:
    import sys

    _, cycle, _ = opened
    response = client_as("viewer").get(f"{LIST}{cycle}.pdf")
    assert response.headers["Content-Type"] == "application/pdf" and response.content.startswith(b"%PDF")
    assert "reedmarsh_cycle-one-wagtail-34-" in response.headers["Content-Disposition"]
    monkeypatch.setitem(sys.modules, "weasyprint", None)
    refused = client_as("viewer").get(f"{LIST}{cycle}.pdf")
    assert refused.status_code == 503 and "This machine cannot make PDF files" in text(refused)
    assert client_as("viewer").get(f"{LIST}{cycle}.pdf?paper=A0").status_code == 422


@pytest.mark.django_db
def test_a_cycle_that_is_not_there_is_a_page_not_a_crash(client_as) -> None:
    missing = "01a20fbb-dd4d-7028-b51d-4532fe318027"
    for address in (
        f"{missing}/",
        f"{missing}.pdf",
        f"{missing}.json",
        f"{missing}/acts/{missing}/",
        "heron/",
    ):
        assert client_as("lead").get(LIST + address).status_code == 404


@pytest.mark.django_db
def test_a_correction_keeps_the_old_value_beside_the_new_one(opened, client_as) -> None:
    _, cycle, _ = opened
    technician = client_as("technician")
    act, address, changed = correction(opened, "new_pressure_kpa", "19,5 kPa")
    response = technician.post(address, filled(technician, address) | changed)
    assert response.status_code == 302, response.context["form"].errors
    recorded = StoredEvent.objects.get(kind="corrected")
    body = json.loads(recorded.body)
    assert body["new_body"] == act.body | {"pressure_kpa": 19.5} and body["reason"] == "read wrongly"
    page = text(technician.get(f"{LIST}{cycle}/"))
    assert "<del>Leak test" in page and "read wrongly" in page


@pytest.mark.django_db
def test_the_same_correction_sent_twice_is_recorded_once(opened, client_as) -> None:
    technician = client_as("technician")
    _, address, changed = correction(opened, "new_pressure_kpa", "19")
    data = filled(technician, address) | changed
    assert technician.post(address, data).status_code == 302
    assert technician.post(address, data).status_code == 302
    assert StoredEvent.objects.filter(kind="corrected").count() == 1


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("value", "sentence"),
    [
        ("nineteen", "A number is expected"), ("20 °C", "a pressure is expected"), ("-4", "above 0"),
        ("1e400", "too large"), ("NaN", "A number is expected"), ("🦆", "A number is expected"), ("5000", "1000"),
    ],
)  # fmt: skip
def test_a_value_that_cannot_be_is_refused_beside_its_field_and_kept(
    opened, client_as, value, sentence
) -> None:
    technician = client_as("technician")
    _, address, changed = correction(opened, "new_pressure_kpa", value)
    response = technician.post(address, filled(technician, address) | changed)
    assert response.status_code == 422
    assert sentence in " ".join(response.context["form"].errors["new_pressure_kpa"])
    assert f'value="{value}"' in text(response)
    assert not StoredEvent.objects.filter(kind="corrected").exists()


@pytest.mark.django_db
def test_a_correction_needs_a_reason_and_a_change(opened, client_as) -> None:
    technician = client_as("technician")
    _, address, _ = correction(opened, "new_pressure_kpa", "19")
    nothing = technician.post(address, filled(technician, address) | {"how": "mend", "reason": "no reason"})
    assert "Nothing was changed" in text(nothing)
    silent = technician.post(address, filled(technician, address) | {"how": "withdraw", "reason": " "})
    assert "Say why" in text(silent)


@pytest.mark.django_db
def test_an_act_that_did_not_happen_is_withdrawn_and_stays_readable(opened, client_as) -> None:
    _, cycle, acts = opened
    technician = client_as("technician")
    sent = next(act for act in acts if act.kind == "sent")
    address = reverse("records:correct", args=[cycle, sent.id])
    assert technician.post(address, {"how": "withdraw", "reason": "carried by hand"}).status_code == 302
    page = text(technician.get(f"{LIST}{cycle}/"))
    assert "It did not happen so." in page and "carried by hand" in page
    again = technician.post(address, {"how": "withdraw", "reason": "twice"})
    assert again.status_code == 422 and "withdrawn" in text(again)
    assert RefusedAct.objects.filter(kind="corrected").exists()


@pytest.mark.django_db
def test_a_corrected_act_counts_from_then_on(opened, client_as) -> None:
    _, cycle, acts = opened
    technician = client_as("technician")
    opening = next(act for act in acts if act.kind == "patient_use_ended")
    address = reverse("records:correct", args=[cycle, opening.id])
    data = filled(technician, address) | {"new_case": "C-31", "reason": "label of the next case"}
    assert technician.post(address, data).status_code == 302
    assert StoredWorld().cycle(cycle).case == "C-31"


@pytest.mark.django_db
@pytest.mark.parametrize("role", ["viewer", "stranger"])
def test_who_may_not_correct_is_turned_away(opened, client_as, role: str) -> None:
    _, address, changed = correction(opened, "new_pressure_kpa", "19")
    response = client_as(role).post(address, changed)
    assert response.status_code == (302 if role == "stranger" else 403)
    assert not StoredEvent.objects.filter(kind="corrected").exists()


@pytest.mark.django_db
def test_a_stranger_sees_no_record(opened, client_as) -> None:
    _, cycle, _ = opened
    stranger = client_as("stranger")
    for address in ("", "all.csv", "all.json", f"{cycle}/", f"{cycle}.pdf", f"{cycle}.json"):
        response = stranger.get(LIST + address)
        assert response.status_code == 302 and response.url.startswith("/sign-in/")
