"""`lumenward person`: who may work here. The shell of the machine may do this; in the house a lead may."""

from __future__ import annotations

import sys
from datetime import UTC, datetime
from getpass import getpass
from typing import TYPE_CHECKING, Annotated, Literal

from cyclopts import Parameter

from lumenward.cli.shell import DONE, say, start_django
from lumenward.quantities import Refusal

if TYPE_CHECKING:
    from lumenward.records.models import Person

Json = Annotated[bool, Parameter(name="--json", negative="")]
Role = Literal["technician", "lead", "infection prevention", "engineer", "viewer"]


def add(person: str, /, *, name: str, role: Role, badge: str = "", as_json: Json = False) -> int:
    """Add a person; the password is asked for, or read from standard input when that is not a terminal.

    Example: lumenward person add mira --name "Mira Okafor" --role technician

    Parameters
    ----------
    person
        the id they sign in with: small letters, digits, dashes.
    name
        as it is shown and printed.
    role
        what they may do.
    badge
        the code their badge carries.
    """
    start_django()
    from lumenward.records.housekeeping import SHELL, add_person

    add_person(person, name, role, SHELL, _now(), password=_secret("Password"), badge=badge)
    say({"person": person}, f"{name} may sign in as {person}.", as_json)
    return DONE


def leave(person: str, /, *, reason: str = "", as_json: Json = False) -> int:
    """End a person's work here: sessions, badge, PIN and tokens end at once.

    Example: lumenward person leave mira --reason "moved on"
    """
    start_django()
    from lumenward.records.housekeeping import SHELL, person_leaves

    person_leaves(person, SHELL, _now(), reason)
    say({"person": person}, f"{person} works here no more.", as_json)
    return DONE


def password(person: str, /, *, as_json: Json = False) -> int:
    """Give a new password, asked for or read from standard input.

    Example: lumenward person password mira
    """
    start_django()
    from lumenward.records import accounts

    account = _account(person)
    accounts.set_password(account.user, _secret("Password"))
    say({"person": person}, "The password is changed.", as_json)
    return DONE


def pin(person: str, /, *, as_json: Json = False) -> int:
    """Give a PIN for signing, asked for or read from standard input.

    Example: lumenward person pin mira
    """
    start_django()
    from lumenward.records import accounts

    accounts.give_pin(_account(person), _secret("PIN"))
    say({"person": person}, "The PIN is changed.", as_json)
    return DONE


def badge(person: str, code: str, /, *, as_json: Json = False) -> int:
    """Give a badge.

    Example: lumenward person badge mira LW-P-0107
    """
    start_django()
    from lumenward.records import accounts

    accounts.give_badge(_account(person), code)
    say({"person": person}, f"The badge {code} is {person}'s.", as_json)
    return DONE


def token(person: str, name: str, /, *, days: int = 365, as_json: Json = False) -> int:
    """Make a key for a machine that acts for a person; it is shown this once.

    Example: lumenward person token mira washer-bridge
    """
    start_django()
    from lumenward.records import accounts

    key = accounts.make_token(_account(person).id, name, _now(), days)
    say({"person": person, "token": key}, key, as_json)
    return DONE


def everyone(*, as_json: Json = False) -> int:
    """List the people.

    Example: lumenward person list
    """
    start_django()
    from lumenward.records.world import StoredWorld

    people = [
        {"person": p.id, "name": p.name, "role": p.role, "left": p.left} for p in StoredWorld().people()
    ]
    lines = [f"{p['person']}  {p['name']}  {p['role']}{'  (left)' if p['left'] else ''}" for p in people]
    say({"people": people}, "\n".join(lines) or "Nobody yet.", as_json)
    return DONE


def _account(person: str) -> Person:
    from lumenward.records import accounts

    if accounts.actor(person) is None:
        raise Refusal(
            "unknown-person", f"{person!r} does not work here.", "person", "See lumenward person list."
        )
    return accounts.open_account(person)


def _secret(what: str) -> str:
    if not sys.stdin.isatty():
        return sys.stdin.readline().rstrip("\r\n")
    first = getpass(f"{what}: ")
    if getpass(f"{what} again: ") != first:
        raise Refusal("differs", f"The two differ; no {what} was changed.", what.lower(), "Type it again.")
    return first


def _now() -> datetime:
    return datetime.now(UTC)
