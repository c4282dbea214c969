"""What every page says about the house it stands in."""

from __future__ import annotations

from django.http import HttpRequest

from lumenward.records import accounts
from lumenward.records.roles import actor_of


def is_demo() -> bool:
    """Say whether this house is the invented one, whatever the switch says."""
    return accounts.is_demo()


def demo_pins() -> dict[str, str]:
    """Return the PINs of invented people, so that whoever tries the demo can sign; empty in a real house."""
    if not is_demo():
        return {}
    from lumenward.demo.cast import PEOPLE

    return {person.id: person.pin for person in PEOPLE}


def person_name(request: HttpRequest) -> str:
    """Return the name of whoever is signed in, in words."""
    actor = actor_of(request)
    return actor.name if actor else "Nobody signed in"
