"""The screen Shelf: what is ready until when, what is not and why; taking, holding, lifting a hold."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from lumenward.quantities import Refusal
from lumenward.records.errors import refused
from lumenward.records.roles import actor_of, may
from lumenward.records.world import StoredWorld
from lumenward.screens.shared.desk import DeskForm, record_here, sent
from lumenward.screens.shelf.board import board, row
from lumenward.screens.shelf.forms import Hold, Lift, Take

_BUTTONS = (("may_take", "open and take"), ("may_hold", "hold"), ("may_lift", "lift a hold"))


@may("see")
def page(request: HttpRequest) -> HttpResponse:
    """Show the shelf; `?find=` narrows it."""
    asked = request.GET.get("find", "").strip()[:80]
    actor = actor_of(request)
    allowed = {name: actor is not None and actor.may(what) for name, what in _BUTTONS}
    return render(request, "shelf/page.html", {"board": board(timezone.now(), asked), **allowed})


@may("open and take")
@require_http_methods(["GET", "POST"])
def take(request: HttpRequest, endoscope: str) -> HttpResponse:
    """Take one for a patient; what may not be used is refused with the reason."""
    return _act(request, endoscope, Take, "taken_for_use", "shelf/take.html")


@may("hold")
@require_http_methods(["GET", "POST"])
def hold(request: HttpRequest, endoscope: str) -> HttpResponse:
    """Hold one: not for use."""
    return _act(request, endoscope, Hold, "held", "shelf/hold.html")


@may("lift a hold")
@require_http_methods(["GET", "POST"])
def lift(request: HttpRequest, endoscope: str) -> HttpResponse:
    """Lift a hold."""
    return _act(request, endoscope, Lift, "hold_lifted", "shelf/lift.html")


def _act(
    request: HttpRequest, endoscope: str, kind_of_form: type[DeskForm], kind: str, template: str
) -> HttpResponse:
    world = StoredWorld()
    found = world.endoscope(endoscope)
    if found is None:
        message = f"No endoscope {endoscope[:40]} is registered here."
        return refused(request, Refusal("not-found", message, "", "Look for it on the shelf."), 404)
    about = row(world, found, timezone.now())
    form = kind_of_form(sent(request))
    if form.is_valid() and record_here(request, form, kind, found.id, form.body(), cycle=found.cycle):
        return redirect("shelf:page")
    return render(request, template, {"form": form, "row": about}, status=422 if form.errors else 200)
