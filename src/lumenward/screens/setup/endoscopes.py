"""The fleet: which endoscopes are registered, and how one joins."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from lumenward.records.roles import actor_of, may
from lumenward.records.world import StoredWorld
from lumenward.screens.setup import house
from lumenward.screens.setup.forms import Register
from lumenward.screens.shared.desk import record_here


@may("see")
def listing(request: HttpRequest) -> HttpResponse:
    """Show every endoscope with its model, label and whereabouts."""
    world = StoredWorld()
    shelf = house.library(world)
    names = {one.id: one.name for one in (shelf.endoscopes if shelf else [])}
    rows = [(one, names.get(one.model, one.model)) for one in world.endoscopes()]
    actor = actor_of(request)
    manages = actor is not None and actor.may("manage equipment")
    return render(request, "setup/endoscopes.html", {"rows": rows, "manages": manages, "library": shelf})


@may("manage equipment")
@require_http_methods(["GET", "POST"])
def register(request: HttpRequest) -> HttpResponse:
    """Register one endoscope."""
    shelf = house.library(StoredWorld())
    if shelf is None:
        return redirect("setup:library")
    form = Register(shelf, request.POST or None)
    if request.method == "POST" and form.is_valid():
        subject = form.cleaned_data["endoscope"]
        if record_here(request, form, "endoscope_registered", subject, form.body()):
            name = form.cleaned_data["name"]
            messages.success(request, f"{name} is registered. It counts as dirty until it is processed here.")
            return redirect("setup:endoscopes")
    return render(request, "setup/register.html", {"form": form}, status=422 if form.errors else 200)
