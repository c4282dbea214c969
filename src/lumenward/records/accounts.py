"""Accounts: who may sign in, whose badge this is, whose PIN. Name, role and leaving are in the ledger."""

from __future__ import annotations

import hashlib
import json
import secrets
from datetime import datetime, timedelta
from typing import Any

from django.conf import settings
from django.contrib.auth import authenticate, get_user_model, login
from django.contrib.auth.hashers import check_password, make_password
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.db.models import F
from django.http import HttpRequest

from lumenward.quantities import Refusal
from lumenward.records.models import Person, Projection, StoredEvent, Token
from lumenward.records.roles import SET_UP, Actor

PIN_TRIES = 5
PIN_LOCK = timedelta(minutes=15)


def actor(person_id: str) -> Actor | None:
    """Return the person as the ledger knows them now; None for a stranger and for who has left."""
    row = Projection.objects.filter(about="person", ref=person_id).values_list("state", flat=True).first()
    state: dict[str, Any] = json.loads(row) if row else {"left": True}
    return None if state["left"] else Actor(person_id, state["name"], state["role"])


def actor_of_user(user: Any) -> Actor | None:
    """Return the person behind a signed-in user."""
    return actor(user.get_username()) if user.is_authenticated else None


def actor_of_badge(code: str) -> Actor | None:
    """Return the person whose badge carries this code."""
    person_id = Person.objects.filter(badge=code).values_list("id", flat=True).first() if code else None
    return actor(person_id) if person_id else None


def actor_of_token(key: str, now: datetime) -> Actor | None:
    """Return the person for whom a machine acts with this key."""
    row = (
        Token.objects.filter(digest=_digest(key), ends_at__gt=now).values_list("person_id", flat=True).first()
    )
    return actor(row) if row else None


def sign_in(request: HttpRequest, person_id: str, password: str) -> Actor:
    """Sign a person in by password, or raise a Refusal (`wrong-sign-in`, `locked-out`)."""
    user = authenticate(request, username=person_id, password=password)
    found = actor_of_user(user) if user is not None else None
    if getattr(request, "axes_locked_out", False):
        raise Refusal(
            "locked-out", "Too many sign-ins failed; wait 15 minutes.", "password", "Or ask a lead."
        )
    if user is None or found is None:
        message = "This name and password do not belong together."
        raise Refusal("wrong-sign-in", message, "password", "Try again.")
    login(request, user)
    return found


def demo_sign_in(request: HttpRequest, person_id: str) -> Actor:
    """Sign an invented person in without a password: only where the demo is switched on and loaded."""
    found = actor(person_id)
    user = get_user_model().objects.filter(username=person_id).first()
    if not demo_open() or found is None or user is None:
        raise Refusal("not-found", "There is no such person to be.", "person", "Choose one from the list.")
    login(request, user, backend="django.contrib.auth.backends.ModelBackend")
    return found


def demo_open() -> bool:
    """Return whether people may be chosen from a list: the switch is on and this house is invented."""
    return bool(settings.LUMENWARD_DEMO) and is_demo()


def is_demo() -> bool:
    """Return whether this house is invented."""
    last = StoredEvent.objects.filter(kind__in=("demo_loaded", "demo_removed")).order_by("-seq").first()
    return last is not None and last.kind == "demo_loaded"


def open_account(person_id: str, password: str | None = None, badge: str = "", pin: str = "") -> Person:
    """Make or complete the account of a person the ledger already knows. Raises Refusal on a weak word."""
    user, _ = get_user_model().objects.get_or_create(username=person_id)
    if password:
        set_password(user, password)
    elif not user.has_usable_password() or not user.password:
        user.set_unusable_password()
        user.save(update_fields=["password"])
    account, _ = Person.objects.get_or_create(id=person_id, defaults={"user": user})
    if badge:
        give_badge(account, badge)
    if pin:
        give_pin(account, pin)
    return account


def set_password(user: Any, password: str) -> None:
    """Give a password, or raise a Refusal that says what is wrong with it."""
    try:
        validate_password(password, user)
    except ValidationError as error:
        raise Refusal("weak-password", " ".join(error.messages), "password", "Take a longer one.") from None
    user.set_password(password)
    user.save(update_fields=["password"])


def give_badge(account: Person, code: str) -> None:
    """Give a badge code to a person; a code that somebody else carries is refused."""
    if not 3 <= len(code) <= 80:
        raise Refusal("bad-badge", "A badge code has 3 to 80 characters.", "badge", "Scan the badge again.")
    if Person.objects.filter(badge=code).exclude(pk=account.pk).exists():
        raise Refusal("badge-taken", "This badge belongs to somebody else.", "badge", "Give another badge.")
    account.badge = code
    account.save(update_fields=["badge"])


def give_pin(account: Person, pin: str) -> None:
    """Give a PIN of 4 to 8 digits, no row and no repetition of one digit."""
    plain = pin.isascii() and pin.isdigit() and 4 <= len(pin) <= 8
    if not plain or pin in "01234567890" or pin in "09876543210" or len(set(pin)) == 1:
        raise Refusal(
            "weak-pin",
            "A PIN has 4 to 8 digits, not a row like 1234 and not one digit only.",
            "pin",
            "Take another.",
        )
    account.pin_hash = make_password(pin)
    account.pin_failures, account.pin_locked_until = 0, None
    account.save(update_fields=["pin_hash", "pin_failures", "pin_locked_until"])


def check_pin(person_id: str, pin: str, now: datetime) -> None:
    """Return if the PIN is this person's, or raise a Refusal; five wrong ones lock it for 15 minutes."""
    account = Person.objects.filter(id=person_id).first()
    if account is None or not account.pin_hash:
        raise Refusal(
            "no-pin", "This person has no PIN yet.", "pin", "A lead can give one: lumenward person pin."
        )
    if account.pin_locked_until and account.pin_locked_until > now:
        until = account.pin_locked_until
        raise Refusal(
            "pin-locked", f"The PIN is locked until {until:%H:%M} UTC.", "pin", "Wait, or ask a lead."
        )
    if check_password(pin, account.pin_hash):
        Person.objects.filter(pk=account.pk).update(pin_failures=0, pin_locked_until=None)
        return
    _count_failure(account, now)
    raise Refusal("wrong-pin", "This is not the PIN of this person.", "pin", "Try again.")


def _count_failure(account: Person, now: datetime) -> None:
    Person.objects.filter(pk=account.pk).update(pin_failures=F("pin_failures") + 1)
    Person.objects.filter(pk=account.pk, pin_failures__gte=PIN_TRIES).update(
        pin_failures=0, pin_locked_until=now + PIN_LOCK
    )


def close_account(person_id: str) -> None:
    """End every way in for a person who has left; the row stays, because the ledger names them."""
    get_user_model().objects.filter(username=person_id).update(is_active=False)
    Person.objects.filter(pk=person_id).update(badge=None, pin_hash="")
    Token.objects.filter(person_id=person_id).delete()


def make_token(person_id: str, name: str, now: datetime, days: int = 365) -> str:
    """Return a new key for a machine that acts for this person; it is shown once and kept as a digest."""
    key = secrets.token_urlsafe(32)
    Token.objects.create(
        person_id=person_id, name=name, digest=_digest(key), made_at=now, ends_at=now + timedelta(days=days)
    )
    return key


def reserved(person_id: str) -> bool:
    """Return whether an id cannot belong to a person."""
    return person_id == SET_UP


def _digest(key: str) -> str:
    return hashlib.sha256(key.encode()).hexdigest()
