"""What every page says about the house it stands in."""

from __future__ import annotations

import json

from django.http import HttpRequest

from lumenward.records.models import Projection
from lumenward.records.roles import actor_of


def is_demo() -> bool:
    """Say whether this house is the invented one, whatever the switch says."""
    row = Projection.objects.filter(about="house", ref="house").values_list("state", flat=True).first()
    return bool(row and json.loads(row).get("demo"))


def person_name(request: HttpRequest) -> str:
    """Return the name of whoever is signed in, in words."""
    actor = actor_of(request)
    return actor.name if actor else "Nobody signed in"
