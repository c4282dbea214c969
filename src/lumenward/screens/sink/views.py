"""The sink: choose a station, choose an endoscope, work through its plan."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone

from lumenward.equipment.fittings import Sink
from lumenward.journey.planner import make_plan
from lumenward.quantities import Refusal
from lumenward.records.errors import refused
from lumenward.records.roles import actor_of, may
from lumenward.records.world import StoredWorld
from lumenward.screens.shared import house
from lumenward.screens.sink import rows
from lumenward.screens.sink.card import CARD, picture


@may("see")
def stations(request: HttpRequest) -> HttpResponse:
    """Show the sinks of the house."""
    return render(request, "sink/stations.html", {"stations": rows.stations(StoredWorld())})


@may("reprocess")
def waiting(request: HttpRequest, station: str) -> HttpResponse:
    """Show who waits, at one station; `?scanned=` finds an endoscope by its code."""
    world = StoredWorld()
    sink = _sink(world, station)
    if sink is None:
        return refused(request, _no_station(world, station), 404)
    scanned = request.GET.get("endoscope", "")
    if scanned and world.endoscope(scanned) is not None:
        return redirect("sink:work", station=station, endoscope=scanned)
    found = rows.lists(world, station, timezone.now())
    return render(
        request, "sink/waiting.html", {"sink": sink, "lists": found, "settings": _settings(request, station)}
    )


@may("reprocess")
def work(request: HttpRequest, station: str, endoscope: str) -> HttpResponse:
    """Show the work on one endoscope: the whole plan goes to the page as data."""
    try:
        plan = make_plan(
            StoredWorld(), endoscope, station, timezone.now(), timezone.get_current_timezone_name(),
            again="again" in request.GET,
        )  # fmt: skip
    except Refusal as refusal:
        return refused(request, refusal, 404)
    sink = _sink(StoredWorld(), station)
    page = {
        "plan": plan,
        "data": plan.model_dump(mode="json"),
        "sink": sink,
        "settings": _settings(request, station),
    }
    return render(request, "sink/work.html", page)


@may("see")
def bench_card(request: HttpRequest) -> HttpResponse:
    """Show the codes that work the page without hands, to print and hang at the sink."""
    codes = [(code, words, picture(code)) for code, words in CARD]
    return render(request, "sink/bench_card.html", {"codes": codes})


def _sink(world: StoredWorld, station: str) -> Sink | None:
    return next((one for one in world.library().sinks if one.id == station), None)


def _no_station(world: StoredWorld, station: str) -> Refusal:
    known = ", ".join(one.name for one in world.library().sinks) or "none yet"
    return Refusal(
        "not-found", f"There is no sink {station[:40]!r} in this house.", "station", f"Known: {known}."
    )


def _settings(request: HttpRequest, station: str) -> dict[str, Any]:
    actor = actor_of(request)
    return {
        "person": {"id": actor.id, "name": actor.name} if actor else None,
        "station": station,
        "station_address": reverse("sink:waiting", args=[station]),
        "demo_pins": house.demo_pins(),
        "zone": timezone.get_current_timezone_name(),
    }
