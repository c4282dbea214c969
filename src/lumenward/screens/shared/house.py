"""What every page says about the house it stands in."""

from __future__ import annotations

from django.http import HttpRequest

from lumenward.records import accounts
from lumenward.records.roles import actor_of


def is_demo() -> bool:
    """Say whether this house is the invented one, whatever the switch says."""
    return accounts.is_demo()


def person_name(request: HttpRequest) -> str:
    """Return the name of whoever is signed in, in words."""
    actor = actor_of(request)
    return actor.name if actor else "Nobody signed in"
