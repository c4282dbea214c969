"""Who may come in: passwords, badges, PINs, tokens, leaving."""

from __future__ import annotations

import stat
from datetime import UTC, datetime, timedelta

import pytest
from django.contrib.auth import get_user_model
from django.test import RequestFactory

from lumenward.quantities import Refusal
from lumenward.records import accounts
from lumenward.records.housekeeping import SHELL, add_person, person_leaves
from lumenward.records.models import Person, StoredEvent, Token

NOW = datetime(2026, 3, 1, 12, tzinfo=UTC)
SECRET = "seven grey herons"


def refusal(action, *args, **kwargs) -> Refusal:
    with pytest.raises(Refusal) as caught:
        action(*args, **kwargs)
    return caught.value


@pytest.fixture
def ada(house) -> str:
    add_person(
        "ada", "Ada Finch", "technician", SHELL, datetime.now(UTC), password=SECRET, badge="B-ADA", pin="4711"
    )
    return "ada"


def request_with_session(client):
    request = RequestFactory().post("/sign-in/")
    request.session = client.session
    return request


def test_a_new_person_signs_in_with_their_own_password(ada, client) -> None:
    actor = accounts.sign_in(request_with_session(client), ada, SECRET)
    assert (actor.id, actor.name, actor.role) == ("ada", "Ada Finch", "technician")


def test_a_wrong_password_does_not_say_whether_the_name_exists(ada, client) -> None:
    wrong = refusal(accounts.sign_in, request_with_session(client), ada, "wrong")
    nobody = refusal(accounts.sign_in, request_with_session(client), "nobody", "wrong")
    assert wrong.as_dict() == nobody.as_dict()


def test_the_sixth_sign_in_is_refused_whatever_the_password(ada, client) -> None:
    for _ in range(5):
        refusal(accounts.sign_in, request_with_session(client), ada, "wrong")
    assert refusal(accounts.sign_in, request_with_session(client), ada, SECRET).code == "locked-out"


@pytest.mark.parametrize("password", ["short", "123456789012", "password1234", "ada"])
def test_a_weak_password_is_refused_with_what_is_wrong(house, password) -> None:
    found = refusal(add_person, "bo", "Bo Reed", "viewer", SHELL, datetime.now(UTC), password=password)
    assert found.code == "weak-password" and found.message
    assert not StoredEvent.objects.filter(subject="bo").exists()
    assert not Person.objects.filter(pk="bo").exists()


def test_passwords_and_pins_are_kept_as_argon2_only(ada) -> None:
    assert get_user_model().objects.get(username=ada).password.startswith("argon2$argon2id$")
    assert Person.objects.get(pk=ada).pin_hash.startswith("argon2$argon2id$")


@pytest.mark.parametrize("pin", ["", "1", "123", "1234", "4321", "0000", "12a4", "123456789", "１２３５"])
def test_a_weak_pin_is_refused(ada, pin) -> None:
    assert refusal(accounts.give_pin, Person.objects.get(pk=ada), pin).code == "weak-pin"


def test_five_wrong_pins_lock_it_for_a_quarter_of_an_hour(ada) -> None:
    for _ in range(5):
        assert refusal(accounts.check_pin, ada, "9999", NOW).code == "wrong-pin"
    assert refusal(accounts.check_pin, ada, "4711", NOW).code == "pin-locked"
    assert refusal(accounts.check_pin, ada, "4711", NOW + timedelta(minutes=14)).code == "pin-locked"
    accounts.check_pin(ada, "4711", NOW + timedelta(minutes=15, seconds=1))


def test_a_right_pin_forgets_the_wrong_ones(ada) -> None:
    for _ in range(4):
        refusal(accounts.check_pin, ada, "9999", NOW)
    accounts.check_pin(ada, "4711", NOW)
    assert Person.objects.get(pk=ada).pin_failures == 0


def test_nobody_signs_without_a_pin_of_their_own(house) -> None:
    assert refusal(accounts.check_pin, "vera", "4711", NOW).code == "no-pin"
    assert refusal(accounts.check_pin, "nobody", "4711", NOW).code == "no-pin"


def test_a_badge_belongs_to_one_person(ada) -> None:
    other = Person.objects.get(pk="mira")
    assert refusal(accounts.give_badge, other, "B-ADA").code == "badge-taken"
    assert accounts.actor_of_badge("B-ADA").id == "ada"
    assert accounts.actor_of_badge("") is None
    assert accounts.actor_of_badge("B-NOBODY") is None


def test_who_leaves_loses_session_badge_pin_and_key_at_once(ada, client_as) -> None:
    key = accounts.make_token(ada, "bridge", NOW, days=10_000)
    client = client_as(ada)
    assert client.get("/api/v1/now").status_code == 200
    person_leaves(ada, SHELL, datetime.now(UTC))
    assert client.get("/api/v1/now").status_code == 401
    assert accounts.actor_of_badge("B-ADA") is None
    assert accounts.actor_of_token(key, NOW) is None
    assert refusal(accounts.check_pin, ada, "4711", NOW).code == "no-pin"


def test_a_key_is_kept_as_a_digest_and_ends(ada) -> None:
    key = accounts.make_token(ada, "bridge", NOW, days=30)
    assert key not in Token.objects.get().digest
    assert accounts.actor_of_token(key, NOW + timedelta(days=29)).id == "ada"
    assert accounts.actor_of_token(key, NOW + timedelta(days=31)) is None


def test_nobody_can_be_chosen_from_a_list_in_a_real_house(ada, client, settings) -> None:
    for switched_on in (False, True):
        settings.LUMENWARD_DEMO = switched_on
        assert refusal(accounts.demo_sign_in, request_with_session(client), ada).code == "not-found"


def test_in_the_demo_a_person_is_chosen_and_only_with_the_switch_on(ada, client, settings) -> None:
    from lumenward.records.housekeeping import decide
    from lumenward.records.roles import Actor

    decide("demo_loaded", "house", {"seed": 1, "days": 1}, SHELL, datetime.now(UTC))
    settings.LUMENWARD_DEMO = False
    assert refusal(accounts.demo_sign_in, request_with_session(client), ada).code == "not-found"
    settings.LUMENWARD_DEMO = True
    assert accounts.demo_sign_in(request_with_session(client), ada) == Actor("ada", "Ada Finch", "technician")


def test_the_shell_cannot_be_added_as_a_person(house) -> None:
    assert refusal(add_person, "set-up", "Set Up", "lead", SHELL, datetime.now(UTC)).code == "reserved"


def test_the_home_is_for_its_owner_alone(tmp_path) -> None:
    from lumenward.records import environment

    folder = tmp_path / "home"
    environment.prepare(folder)
    key = environment.secret_key(folder)
    environment.prepare(folder)
    assert environment.secret_key(folder) == key and len(key) >= 50
    assert stat.S_IMODE((folder / "secret-key").stat().st_mode) == 0o600
    assert stat.S_IMODE(folder.stat().st_mode) == 0o700
