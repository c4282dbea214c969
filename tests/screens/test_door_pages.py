"""The door: who gets in, where they are led, and that the demo's list of people is nowhere else."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client, override_settings

PASSWORD = "a heron stands in the reeds"


@pytest.fixture
def stranger(client_as: Callable[[str], Client]) -> Client:
    return client_as("stranger")


@pytest.fixture
def mira(house: Any) -> str:
    from lumenward.records import accounts

    accounts.open_account("mira", password=PASSWORD)
    return "mira"


def come_in(client: Client, person: str, password: str, **more: str) -> Any:
    return client.post("/sign-in/", {"person": person, "password": password, **more})


def test_a_stranger_is_led_to_the_door_and_back_to_where_they_wanted(stranger: Client, mira: str) -> None:
    led = stranger.get("/sink/sink-1/")
    assert led.status_code == 302
    assert led["Location"] == "/sign-in/?next=%2Fsink%2Fsink-1%2F"
    assert come_in(stranger, mira, PASSWORD, next="/sink/sink-1/")["Location"] == "/sink/sink-1/"


@pytest.mark.parametrize(
    "elsewhere", ["https://example.org/", "//example.org/", "javascript:alert(1)", "\\\\x"]
)
def test_the_door_leads_to_no_other_house(stranger: Client, mira: str, elsewhere: str) -> None:
    assert come_in(stranger, mira, PASSWORD, next=elsewhere)["Location"] == "/"


def test_a_wrong_password_is_answered_beside_its_field_and_the_name_is_kept(
    stranger: Client, mira: str
) -> None:
    answer = come_in(stranger, mira, "not this one")
    page = answer.content.decode()
    assert answer.status_code == 422
    assert "do not belong together" in page
    assert 'value="mira"' in page
    assert "not this one" not in page


def test_an_empty_form_says_what_is_missing(stranger: Client, house: Any) -> None:
    answer = come_in(stranger, "", "")
    assert answer.status_code == 422
    assert answer.content.decode().count("errorlist") == 2


def test_after_five_wrong_passwords_the_door_is_shut_for_a_while(stranger: Client, mira: str) -> None:
    answers = [come_in(stranger, mira, "wrong").status_code for _ in range(6)]
    assert answers[0] == 422
    assert answers[-1] == 429
    assert come_in(stranger, mira, PASSWORD).status_code == 429


def test_signing_out_ends_the_session(client_as: Callable[[str], Client]) -> None:
    client = client_as("technician")
    assert "Mira Okafor is signed in here" in client.get("/sign-out/").content.decode()
    assert client.post("/sign-out/")["Location"] == "/sign-in/"
    assert client.get("/sink/").status_code == 302


def test_a_real_house_has_no_list_of_people_to_be(stranger: Client, house: Any) -> None:
    for switch in (False, True):
        with override_settings(LUMENWARD_DEMO=switch):
            assert stranger.get("/people-of-the-demo/").status_code == 404
            assert stranger.post("/people-of-the-demo/", {"person": "mira"}).status_code == 404
            assert stranger.get("/sink/").status_code == 302


def a_demo(house: Any) -> None:
    from lumenward.records.roles import SET_UP

    house.do("demo_loaded", "house", {"seed": 1, "days": 90}, person=SET_UP)


def test_in_the_demo_one_of_the_invented_people_is_chosen(stranger: Client, house: Any) -> None:
    a_demo(house)
    with override_settings(LUMENWARD_DEMO=True):
        assert stranger.get("/sign-in/?next=/sink/")["Location"] == "/people-of-the-demo/?next=%2Fsink%2F"
        page = stranger.get("/people-of-the-demo/?next=/sink/").content.decode()
        assert "Mira Okafor" in page
        assert "Demo: invented people" in page
        answer = stranger.post("/people-of-the-demo/", {"person": "mira", "next": "/sink/"})
        assert answer["Location"] == "/sink/"
        assert "Which sink are you at?" in stranger.get("/sink/").content.decode()


def test_nobody_can_be_who_does_not_exist(stranger: Client, house: Any) -> None:
    a_demo(house)
    with override_settings(LUMENWARD_DEMO=True):
        assert stranger.post("/people-of-the-demo/", {"person": "nobody"}).status_code == 404
        assert stranger.get("/sink/").status_code == 302


def test_the_demo_is_marked_on_every_page_even_with_its_switch_off(
    client_as: Callable[[str], Client], house: Any
) -> None:
    client = client_as("lead")
    assert "Demo: invented" not in client.get("/sink/").content.decode()
    a_demo(house)
    assert "Demo: invented" in client.get("/sink/").content.decode()
