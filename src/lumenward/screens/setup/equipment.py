"""The equipment library as it is in force: every model with its channels and numbers, every fitting."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from pydantic import BaseModel

from lumenward.equipment.common import Stated
from lumenward.equipment.library import Library
from lumenward.hydraulics.assemble import channel_volumes_m3
from lumenward.quantities import Refusal
from lumenward.records.errors import refused
from lumenward.records.roles import actor_of, may
from lumenward.records.world import StoredWorld
from lumenward.screens.setup import house
from lumenward.screens.setup.words import facts_of, number_words

SHELVES = {
    "connector_sets": "Connector sets", "pumps": "Pumps", "sinks": "Sinks", "containers": "Clean containers",
    "basins": "Basins", "washers": "Washer-disinfectors", "dryers": "Drying air", "cabinets": "Places to store",
    "waters": "Waters", "brushes": "Brushes", "meters": "Meters", "kits": "Verification kits",
    "detergents": "Detergents", "disinfectants": "Disinfectants", "strips": "Test strips",
}  # fmt: skip


@dataclass(frozen=True)
class Number:
    """One stated number as the page shows it."""

    step: str
    says: str
    where: str
    page: str


@may("see")
def library(request: HttpRequest) -> HttpResponse:
    """Show the library in force, its digest, and how another one is adopted."""
    world = StoredWorld()
    found = house.library(world)
    actor = actor_of(request)
    context: dict[str, Any] = {
        "library": found, "adoptions": house.adoptions("library", world),
        "manages": actor is not None and actor.may("manage equipment"),
        "shelves": list(_shelves(found)) if found else [],
    }  # fmt: skip
    return render(request, "setup/library.html", context)


@may("see")
def model(request: HttpRequest, model: str) -> HttpResponse:
    """Show one model: channels, ports, brushes, pressures, and the IFU's numbers with their pages."""
    found = house.library(StoredWorld())
    try:
        if found is None:
            raise Refusal("not-found", "No library is in force here.", "model", "Adopt one first.")
        described = found.model(model)
    except Refusal as refusal:
        return refused(request, Refusal("not-found", refusal.message, refusal.field, refusal.hint))
    volumes = channel_volumes_m3(described) if described.channels else {}
    names = {one.id: one.name for one in described.ports}
    tubes = {one.id: one for one in described.tubes}
    channels = [
        (one, names[one.port], [tubes[name] for name in one.tubes], volumes[one.id] * 1e6)
        for one in described.channels
    ]
    context = {
        "model": described, "channels": channels, "numbers": list(numbers(described.ifu.states)),
        "advice": described.ifu.advice, "sets": [one for one in found.connector_sets if model in one.fits],
    }  # fmt: skip
    return render(request, "setup/model.html", context)


def numbers(states: list[Stated]) -> Iterator[Number]:
    """Yield stated numbers in words, in the order of the document."""
    for one in states:
        where = " ".join(part for part in (one.channel, one.method) if part).replace("-", " ")
        yield Number(one.step.replace("-", " "), number_words(one), where, one.page)


def _shelves(found: Library) -> Iterator[tuple[str, list[tuple[str, str, list[tuple[str, str]]]]]]:
    for shelf, title in SHELVES.items():
        things: list[BaseModel] = getattr(found, shelf)
        if things:
            yield title, [(_text(one, "name"), _text(one, "code"), facts_of(one)) for one in things]


def _text(thing: BaseModel, key: str) -> str:
    return str(getattr(thing, key, "") or "")
