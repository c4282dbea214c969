"""Set-up: what this house has and what it still needs."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from lumenward.records.roles import may
from lumenward.records.world import StoredWorld
from lumenward.screens.setup import house


@may("see")
def page(request: HttpRequest) -> HttpResponse:
    """Show the state of the house; in a new one, where to begin."""
    world = StoredWorld()
    needs = house.needs(world)
    missing = [need for need in needs if not need.done]
    return render(
        request,
        "setup/page.html",
        {"needs": needs, "missing": missing, "first": missing[0] if missing else None},
    )
