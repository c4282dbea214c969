"""Set-up: people, equipment, policy, endoscopes; every change is an event, every refusal stands beside its field."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from datetime import date, timedelta
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from lumenward.equipment.loader import as_document, load_library, shipped_policies
from lumenward.records import accounts
from lumenward.records.models import RefusedAct, StoredEvent
from lumenward.records.world import StoredWorld
from lumenward.screens.setup.words import decisions

SignIn = Callable[[str], Client]
DEMO = Path(str(files("lumenward.demo")))
PASSWORD = "heron at the river bend"
PERSON = {
    "person": "ada",
    "name": "Ada Brook",
    "role": "technician",
    "badge": "B-ADA",
    "password": PASSWORD,
    "pin": "2580",
}
LATER = (date.today() + timedelta(days=200)).isoformat()


def text_of(answer: Any) -> str:
    return str(answer.content.decode()).replace("\u202f", " ").replace("&#x27;", "'")


def last(kind: str) -> StoredEvent:
    found = StoredEvent.objects.filter(kind=kind).order_by("-seq").first()
    assert found is not None
    return found


def error_beside(page: str, field: str) -> str:
    found = re.search(rf'id="(?:\w+_)?{field}_error">(.*?)</ul>', page, re.DOTALL)
    return re.sub(r"<[^>]+>", "", found[1]).strip() if found else ""


def demo_files() -> list[SimpleUploadedFile]:
    return [SimpleUploadedFile(p.name, p.read_bytes()) for p in sorted((DEMO / "library").rglob("*.toml"))]


ROLES = ("technician", "lead", "infection prevention", "engineer", "viewer")
OPEN = (
    "",
    "people/",
    "people/mira/",
    "equipment/",
    "equipment/models/sanderling-28/",
    "policy/",
    "endoscopes/",
)
GUARDED = {
    "people/add/": {"lead"},
    "endoscopes/register/": {"lead", "engineer"},
    "equipment/adopt/": {"lead", "engineer"},
    "policy/preview/?profile=seven-days": {"lead", "infection prevention"},
}
POSTED = (
    "people/mira/competency/", "people/mira/role/", "people/mira/proofs/", "people/mira/leave/",
    "equipment/adopt/confirmed/", "policy/adopt/",
)  # fmt: skip


def test_everybody_who_works_here_may_look(client_as: SignIn) -> None:
    for role in ROLES:
        client = client_as(role)
        found = {address: client.get(f"/setup/{address}").status_code for address in OPEN}
        assert set(found.values()) == {200}, (role, found)


def test_only_the_right_roles_may_change(client_as: SignIn) -> None:
    for role in (*ROLES, "stranger"):
        client = client_as(role)
        for address, allowed in GUARDED.items():
            status = client.get(f"/setup/{address}").status_code
            expected = 302 if role == "stranger" else 200 if role in allowed else 403
            assert status == expected, (role, address)


def test_a_change_sent_by_somebody_else_changes_nothing(client_as: SignIn) -> None:
    before = StoredEvent.objects.count()
    for role in ("technician", "viewer", "stranger"):
        client = client_as(role)
        for address in POSTED:
            answer = client.post(f"/setup/{address}", {"role": "lead", "reason": "because"})
            assert answer.status_code == (302 if role == "stranger" else 403), (role, address)
    assert StoredEvent.objects.count() == before


def test_the_overview_of_a_furnished_house_says_that_it_is_set_up(client_as: SignIn) -> None:
    page = text_of(client_as("viewer").get("/setup/"))
    assert "This house is set up." in page
    assert "8 models, 4 sinks" in page


def test_a_new_house_says_where_to_begin(client_as: SignIn, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("lumenward.screens.setup.house.library", lambda world: None)
    page = text_of(client_as("lead").get("/setup/"))
    assert "Equipment library first." in page
    assert "do this next" in page
    assert "Adopt a library" in text_of(client_as("lead").get("/setup/equipment/"))


def test_a_person_is_added_with_an_event_and_ways_in(client_as: SignIn) -> None:
    answer = client_as("lead").post("/setup/people/add/", PERSON)
    assert answer.status_code == 302
    event = last("person_added")
    assert (event.subject, event.person) == ("ada", "lena")
    assert PASSWORD not in event.body
    assert accounts.actor_of_badge("B-ADA") is not None
    accounts.check_pin("ada", "2580", event.happened_utc)
    assert Client().post("/sign-in/", {"person": "ada", "password": PASSWORD}).status_code == 302


def test_what_is_wrong_with_a_person_stands_beside_its_field(client_as: SignIn) -> None:
    before, client = StoredEvent.objects.count(), client_as("lead")
    for field, value in (
        ("person", ""), ("person", "Ada B."), ("person", "mira"), ("name", ""), ("role", ""), ("role", "owner"),
        ("badge", "B-MIRA"), ("badge", "x"), ("password", ""), ("password", "short"), ("pin", "1234"), ("pin", "🙂"),
    ):  # fmt: skip
        answer = client.post("/setup/people/add/", PERSON | {field: value})
        page = text_of(answer)
        assert answer.status_code == 422, (field, value)
        assert error_beside(page, field), (field, value)
        assert ("Ada Brook" if field != "name" else 'value="ada"') in page
    assert StoredEvent.objects.count() == before


def test_a_competency_is_recorded_and_shown(client_as: SignIn) -> None:
    client = client_as("lead")
    body = {"model": "sanderling-28", "valid_until": LATER, "method": "observation", "assessed_by": "lena"}
    assert client.post("/setup/people/mira/competency/", body).status_code == 302
    event = last("competency_recorded")
    assert json.loads(event.body) == body
    assert "Sanderling 28" in text_of(client.get("/setup/people/mira/"))


def test_a_wrong_competency_is_refused_beside_its_field(client_as: SignIn) -> None:
    client = client_as("lead")
    body = {"model": "*", "valid_until": LATER, "method": "demonstration", "assessed_by": "lena"}
    for field, value in (
        ("valid_until", ""), ("valid_until", "2001-01-01"), ("valid_until", "soon"), ("model", "unicorn"),
        ("assessed_by", ""), ("assessed_by", "mira"),
    ):  # fmt: skip
        answer = client.post("/setup/people/mira/competency/", body | {field: value})
        assert answer.status_code == 422, (field, value)
        assert error_beside(text_of(answer), field), (field, value)


def test_a_role_changes_and_a_person_leaves(client_as: SignIn) -> None:
    client = client_as("lead")
    assert client.post("/setup/people/jonas/role/", {"role": "engineer"}).status_code == 302
    assert client.post("/setup/people/jonas/leave/", {"reason": "moved on"}).status_code == 302
    state = StoredWorld().person("jonas")
    assert state is not None
    assert (state.role, state.left) == ("engineer", True)
    assert accounts.actor_of_badge("B-JONAS") is None
    again = client.post("/setup/people/jonas/leave/", {})
    assert again.status_code == 422
    assert "does not work here any more" in text_of(again)


def test_new_proofs_are_given_and_stay_out_of_the_ledger(client_as: SignIn) -> None:
    before = StoredEvent.objects.count()
    client = client_as("lead")
    assert client.post("/setup/people/mira/proofs/", {"pin": "2580", "password": PASSWORD}).status_code == 302
    assert StoredEvent.objects.count() == before
    wrong = client.post("/setup/people/mira/proofs/", {"badge": "B-LENA", "pin": "8642"})
    assert error_beside(text_of(wrong), "badge")


def test_the_same_form_sent_twice_is_recorded_once(client_as: SignIn) -> None:
    client = client_as("lead")
    page = text_of(client.get("/setup/people/mira/"))
    act = re.search(r'name="act" value="([0-9a-f-]{36})"', page)
    assert act is not None
    before = StoredEvent.objects.count()
    for _ in range(2):
        assert client.post("/setup/people/mira/role/", {"role": "lead", "act": act[1]}).status_code == 302
    assert StoredEvent.objects.count() == before + 1


ENDOSCOPE = {
    "code": "E-77",
    "endoscope": "heron-77",
    "name": "Heron 77",
    "model": "sanderling-28",
    "serial": "S77",
    "owner": "own",
}


def test_an_endoscope_is_registered_with_its_label(client_as: SignIn) -> None:
    assert client_as("engineer").post("/setup/endoscopes/register/", ENDOSCOPE).status_code == 302
    state = StoredWorld().endoscope("heron-77")
    assert state is not None
    assert (state.code, state.stage) == ("E-77", "never processed")
    assert "Heron 77" in text_of(client_as("viewer").get("/setup/endoscopes/"))


def test_a_gs1_label_fills_model_and_serial(client_as: SignIn) -> None:
    model = StoredWorld().library().model("sanderling-28")
    body = ENDOSCOPE | {"code": f"]d201{model.gtin}21SN0042", "model": "", "serial": ""}
    assert client_as("lead").post("/setup/endoscopes/register/", body).status_code == 302
    state = StoredWorld().endoscope("heron-77")
    assert state is not None
    assert (state.model, state.serial) == ("sanderling-28", "SN0042")


def test_a_wrong_endoscope_is_refused_beside_its_field(client_as: SignIn) -> None:
    client = client_as("lead")
    for field, value in (
        ("code", ""), ("code", "E-sanderling-28"), ("endoscope", "Heron 77"), ("endoscope", "one-sanderling-28"),
        ("name", ""), ("model", ""), ("model", "unicorn"), ("serial", ""),
    ):  # fmt: skip
        answer = client.post("/setup/endoscopes/register/", ENDOSCOPE | {field: value})
        assert answer.status_code == 422, (field, value)
        assert error_beside(text_of(answer), field), (field, value)
    assert StoredWorld().endoscope("heron-77") is None


def test_a_label_that_contradicts_the_form_is_said(client_as: SignIn) -> None:
    gtin = StoredWorld().library().model("dunlin-22").gtin
    body = ENDOSCOPE | {"code": f"]d201{gtin}21SN0042"}
    page = text_of(client_as("lead").post("/setup/endoscopes/register/", body))
    assert "The label says dunlin-22." in error_beside(page, "model")


def test_a_library_is_checked_shown_and_adopted(client_as: SignIn) -> None:
    client = client_as("engineer")
    shown = text_of(client.post("/setup/equipment/adopt/", {"files": demo_files()}))
    assert "Nothing is wrong with these files" in shown
    assert StoredEvent.objects.filter(kind="library_adopted").count() == 1
    document = json.dumps(as_document(load_library(DEMO / "library")))
    assert client.post("/setup/equipment/adopt/confirmed/", {"document": document}).status_code == 302
    assert last("library_adopted").person == "egon"
    assert "2 adoptions so far" in text_of(client.get("/setup/equipment/"))


def test_every_finding_of_a_wrong_library_is_listed_with_file_and_line(client_as: SignIn) -> None:
    wrong = [
        SimpleUploadedFile("pumps.toml", b'[[pumps]]\nid = "p"\nname = "P"\nflow_ml_min = -3\n'),
        *demo_files()[:1],
    ]
    answer = client_as("lead").post("/setup/equipment/adopt/", {"files": wrong})
    page = text_of(answer)
    assert answer.status_code == 422
    assert "pumps.toml:4" in page
    assert "nothing was adopted" in page


@pytest.mark.parametrize("name", ["notes.txt", "..toml", "a b.toml", "x" * 99 + ".toml"])
def test_other_files_are_no_library(client_as: SignIn, name: str) -> None:
    answer = client_as("lead").post(
        "/setup/equipment/adopt/", {"files": [SimpleUploadedFile(name, b"x = 1")]}
    )
    assert answer.status_code == 422


def test_no_file_at_all_is_said(client_as: SignIn) -> None:
    assert "No file was chosen" in text_of(client_as("lead").post("/setup/equipment/adopt/", {}))


def test_a_document_that_was_changed_on_the_way_is_refused(client_as: SignIn) -> None:
    for document in ("", "{", "[]", '{"endoscopes": 3}'):
        answer = client_as("lead").post("/setup/equipment/adopt/confirmed/", {"document": document})
        assert answer.status_code == 422, document
    assert StoredEvent.objects.filter(kind="library_adopted").count() == 1


def test_a_shipped_profile_is_shown_beside_what_is_in_force_and_adopted_with_its_reason(
    client_as: SignIn,
) -> None:
    client = client_as("infection prevention")
    page = text_of(client.get("/setup/policy/preview/?profile=half-hour"))
    assert re.search(r"<del>at most 60 min, loud from 45 min</del>", page)
    document = json.dumps(as_document(shipped_policies()["half-hour"]))
    missing = client.post("/setup/policy/adopt/", {"document": document, "reason": ""})
    assert error_beside(text_of(missing), "reason")
    done = client.post("/setup/policy/adopt/", {"document": document, "reason": "agreed on Monday"})
    assert done.status_code == 302
    assert StoredWorld().policy().id == "half-hour"
    assert "agreed on Monday" in text_of(client.get("/setup/policy/"))


def test_an_uploaded_policy_is_checked(client_as: SignIn) -> None:
    client = client_as("lead")
    good = SimpleUploadedFile("ours.toml", (DEMO / "policy.toml").read_bytes())
    assert "This policy decides the same" in text_of(client.post("/setup/policy/preview/", {"file": good}))
    bad = SimpleUploadedFile(
        "ours.toml", (DEMO / "policy.toml").read_bytes().replace(b"limit_min = 60", b"limit_min = -1")
    )
    answer = client.post("/setup/policy/preview/", {"file": bad})
    assert answer.status_code == 422
    assert "ours.toml:" in text_of(answer)
    assert client.post("/setup/policy/preview/", {}).status_code == 422
    assert client.get("/setup/policy/preview/?profile=none").status_code == 422


def test_every_decision_of_every_profile_has_words_and_its_source() -> None:
    for policy in shipped_policies().values():
        for one in decisions(policy):
            assert one.then
        sourced = [one for one in decisions(policy) if one.source]
        assert len(sourced) > 10
        assert not [one for one in decisions(policy, policy) if one.changes]


def test_a_model_shows_each_stated_number_with_its_page(client_as: SignIn) -> None:
    page = text_of(client_as("viewer").get("/setup/equipment/models/sanderling-28/"))
    assert "at most 160 kPa" in page
    assert "p. 52" in page
    assert "BR-50" in page
    assert client_as("viewer").get("/setup/equipment/models/unicorn/").status_code == 404


def test_a_person_nobody_knows_is_refused_in_words(client_as: SignIn) -> None:
    for address in ("/setup/people/nemo/", "/setup/people/nemo/role/"):
        answer = (
            client_as("lead").get(address) if address.endswith("nemo/") else client_as("lead").post(address)
        )
        assert answer.status_code == 404
        assert "Nobody called nemo" in text_of(answer)


def test_what_was_refused_is_kept_for_those_who_look_after_it(client_as: SignIn) -> None:
    client_as("lead").post("/setup/people/jonas/leave/", {})
    client_as("lead").post("/setup/people/jonas/leave/", {})
    assert RefusedAct.objects.filter(kind="person_left", code="person-left").exists()
