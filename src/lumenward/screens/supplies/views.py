"""The screen Supplies: lots and sets in use; opening, proving, withdrawing, discarding."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from lumenward.quantities import Refusal
from lumenward.records.errors import refused
from lumenward.records.roles import actor_of, may
from lumenward.records.world import StoredWorld
from lumenward.screens.shared.desk import DeskForm, record_here, sent
from lumenward.screens.supplies.board import board
from lumenward.screens.supplies.forms import CheckStrips, OpenLot, OpenSet, Reason


@may("see")
def page(request: HttpRequest) -> HttpResponse:
    """Show what is in use and how long it may be."""
    actor = actor_of(request)
    tends = actor is not None and actor.may("tend supplies")
    found = board(timezone.now(), timezone.get_current_timezone())
    return render(request, "supplies/page.html", {"board": found, "may_tend": tends})


@may("tend supplies")
@require_http_methods(["GET", "POST"])
def open_lot(request: HttpRequest) -> HttpResponse:
    """Take a lot into use."""
    form = OpenLot(StoredWorld(), sent(request))
    if request.method == "POST":
        if form.is_valid() and record_here(request, form, "lot_opened", form.subject, form.body()):
            strips = form.body()["shelf"] == "strips"
            return redirect("supplies:check-strips", form.subject) if strips else redirect("supplies:page")
        _show_what_was_read(form)
    return _form(
        request, form, "Which lot comes into use?", "This lot is in use now", "No lot is opened", scans=True
    )


def _show_what_was_read(form: OpenLot) -> None:
    """Let the fields that the label filled show what it said."""
    keys = ("product", "lot", "expires")
    read = {key: form.data.get(key) or str(form.cleaned_data.get(key) or "") for key in keys}
    form.data = {**form.data.dict(), **read} if isinstance(form.data, QueryDict) else form.data


@may("tend supplies")
@require_http_methods(["GET", "POST"])
def check_strips(request: HttpRequest, lot: str) -> HttpResponse:
    """Prove a new bottle of strips."""
    found = StoredWorld().lot(lot)
    if found is None or found.shelf != "strips":
        return _unknown(request, "No such strips were opened here.")
    form = CheckStrips(sent(request))
    if form.is_valid() and record_here(request, form, "strips_checked", lot, form.body()):
        return redirect("supplies:page")
    title = f"How did the strips of lot {found.lot} come out?"
    return _form(request, form, title, "They came out so", "Not checked yet")


@may("tend supplies")
@require_http_methods(["GET", "POST"])
def withdraw(request: HttpRequest, lot: str) -> HttpResponse:
    """Take a lot out of use."""
    found = StoredWorld().lot(lot)
    if found is None:
        return _unknown(request, "No such lot was opened here.")
    form = Reason(sent(request))
    if form.is_valid() and record_here(request, form, "lot_withdrawn", lot, form.body()):
        return redirect("supplies:page")
    title = f"Why must lot {found.lot} not be used any more?"
    return _form(request, form, title, "It is out of use and put apart", "It stays in use")


@may("tend supplies")
@require_http_methods(["GET", "POST"])
def open_set(request: HttpRequest) -> HttpResponse:
    """Take a connector set into use."""
    form = OpenSet(StoredWorld(), sent(request))
    if form.is_valid() and record_here(request, form, "connector_set_opened", form.subject, form.body()):
        return redirect("supplies:page")
    title = "Which connector set comes into use?"
    return _form(request, form, title, "This set is in use now", "No set is opened", scans=True)


@may("tend supplies")
@require_http_methods(["GET", "POST"])
def discard_set(request: HttpRequest, which: str) -> HttpResponse:
    """Throw a connector set away."""
    found = StoredWorld().connector_set(which)
    if found is None:
        return _unknown(request, "No such connector set was opened here.")
    form = Reason(sent(request))
    if form.is_valid() and record_here(request, form, "connector_set_discarded", which, form.body()):
        return redirect("supplies:page")
    title = f"Why is set {found.code or found.id} discarded?"
    return _form(request, form, title, "It is thrown away", "It stays in use")


def _unknown(request: HttpRequest, message: str) -> HttpResponse:
    return refused(request, Refusal("not-found", message, "", "Choose one that is in use."), 404)


def _form(
    request: HttpRequest, form: DeskForm, title: str, done: str, not_done: str, *, scans: bool = False
) -> HttpResponse:
    page: dict[str, Any] = {"form": form, "title": title, "done": done, "not_done": not_done, "scans": scans}
    return render(request, "supplies/form.html", page, status=422 if form.errors else 200)
