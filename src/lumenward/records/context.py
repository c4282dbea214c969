"""What every page may show."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest

from lumenward.records.roles import actor_of


def house(request: HttpRequest) -> dict[str, Any]:
    """Return who acts; everything else a page asks for itself."""
    return {"actor": actor_of(request)}
