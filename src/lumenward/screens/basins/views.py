"""The screen Basins: each charge as it stands; pouring, testing, emptying."""

from __future__ import annotations

from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from lumenward.equipment.fittings import TestStrip
from lumenward.quantities import Refusal
from lumenward.records.errors import refused
from lumenward.records.roles import actor_of, may
from lumenward.records.world import StoredWorld
from lumenward.screens.basins.board import Charge, board, charge, label_of
from lumenward.screens.basins.forms import Empty, Pour, Test
from lumenward.screens.shared.desk import DeskForm, record_here, sent


@may("see")
def page(request: HttpRequest) -> HttpResponse:
    """Show every basin with its charge."""
    actor = actor_of(request)
    tends = actor is not None and actor.may("tend supplies")
    return render(request, "basins/page.html", {"board": board(timezone.now()), "may_tend": tends})


@may("tend supplies")
@require_http_methods(["GET", "POST"])
def pour(request: HttpRequest, basin: str) -> HttpResponse:
    """Fill a basin."""
    world = StoredWorld()
    found = next((one for one in world.library().basins if one.id == basin), None)
    if found is None:
        known = ", ".join(one.name for one in world.library().basins) or "none"
        refusal = Refusal("not-found", f"There is no basin {basin[:40]!r}.", "basin", f"Known: {known}.")
        return refused(request, refusal, 404)
    form = Pour(world, sent(request))
    if form.is_valid():
        at = form.cleaned_data["when"]
        if record_here(request, form, "charge_poured", "", form.body() | {"basin": found.id}, at=at):
            return redirect("basins:page")
    return _form(request, "basins/pour.html", form, {"basin": found})


@may("tend supplies")
@require_http_methods(["GET", "POST"])
def test(request: HttpRequest, charge: UUID) -> HttpResponse:
    """Test the concentration of a charge."""
    world = StoredWorld()
    found = _charge(world, charge)
    if found is None:
        return _no_charge(request)
    form = Test(world, sent(request))
    if form.is_valid():
        at = form.cleaned_data["when"]
        if record_here(request, form, "mec_tested", found.id, form.body(), at=at):
            return redirect("basins:page")
    return _form(request, "basins/test.html", form, {"charge": found, "strips": _strips(world, found)})


@may("tend supplies")
@require_http_methods(["GET", "POST"])
def empty(request: HttpRequest, charge: UUID) -> HttpResponse:
    """Empty a basin."""
    found = _charge(StoredWorld(), charge)
    if found is None:
        return _no_charge(request)
    form = Empty(sent(request))
    if form.is_valid():
        at = form.cleaned_data["when"]
        if record_here(request, form, "charge_discarded", found.id, form.body(), at=at):
            return redirect("basins:page")
    return _form(request, "basins/empty.html", form, {"charge": found})


def _charge(world: StoredWorld, charge_id: UUID) -> Charge | None:
    return charge(world, str(charge_id), timezone.now())


def _no_charge(request: HttpRequest) -> HttpResponse:
    message = "This charge is not in a basin any more."
    return refused(
        request, Refusal("not-found", message, "charge", "Choose the basin's present charge."), 404
    )


def _strips(world: StoredWorld, found: Charge) -> TestStrip | None:
    """Return the strips that test this charge, for their reading window."""
    state = world.charge(found.id)
    label = label_of(world, state) if state else None
    return next((one for one in world.library().strips if label and one.chemistry == label.chemistry), None)


def _form(request: HttpRequest, template: str, form: DeskForm, page: dict[str, object]) -> HttpResponse:
    return render(request, template, {"form": form, **page}, status=422 if form.errors else 200)
