"""The door: sign in, sign out, and in the demo alone a list of invented people to be."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import groupby

from django.contrib.auth import logout
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import require_http_methods

from lumenward.journey.states import PersonState
from lumenward.quantities import Refusal
from lumenward.records import accounts
from lumenward.records.errors import SENTENCES, refused, status_of
from lumenward.records.roles import ROLES
from lumenward.records.world import StoredWorld
from lumenward.screens.door.forms import SignIn

WHAT_FOR = {
    "technician": "works at the sinks and releases",
    "lead": "does that too, lifts holds, looks after people and equipment",
    "infection prevention": "looks back, holds, lifts holds",
    "engineer": "looks after equipment and repairs",
    "viewer": "looks, and changes nothing",
}


@require_http_methods(["GET", "POST"])
def sign_in(request: HttpRequest) -> HttpResponse:
    """Let a person in by short name and password."""
    if request.method == "GET" and accounts.demo_open():
        return redirect(f"/people-of-the-demo/?{request.GET.urlencode()}")
    form = SignIn(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            accounts.sign_in(request, form.cleaned_data["person"], form.cleaned_data["password"])
        except Refusal as refusal:
            form.add_error("password", f"{refusal.message} {refusal.hint}")
            status = 429 if refusal.code == "locked-out" else 422
            return render(request, "door/sign_in.html", {"form": form, "next": _next(request)}, status=status)
        return redirect(_next(request))
    status = 422 if request.method == "POST" else 200
    return render(request, "door/sign_in.html", {"form": form, "next": _next(request)}, status=status)


@require_http_methods(["GET", "POST"])
def sign_out(request: HttpRequest) -> HttpResponse:
    """Ask once, then sign out."""
    if request.method == "GET":
        return render(request, "door/sign_out.html")
    logout(request)
    return redirect("/sign-in/")


@require_http_methods(["GET", "POST"])
def choose(request: HttpRequest) -> HttpResponse:
    """Be one of the invented people. Outside a demo there is nothing at this address."""
    if not accounts.demo_open():
        return refused(request, SENTENCES[404], 404)
    if request.method == "POST":
        try:
            accounts.demo_sign_in(request, request.POST.get("person", "")[:40])
        except Refusal as refusal:
            return refused(request, refusal, status_of(refusal))
        return redirect(_next(request))
    people = [one for one in StoredWorld().people() if not one.left]
    return render(request, "door/choose.html", {"groups": _by_role(people), "next": _next(request)})


def _by_role(people: Iterable[PersonState]) -> list[dict[str, object]]:
    known = sorted(people, key=lambda one: (ROLES.index(one.role), one.name))
    return [
        {"role": role, "what_for": WHAT_FOR[role], "people": list(group)}
        for role, group in groupby(known, key=lambda one: one.role)
    ]


def _next(request: HttpRequest) -> str:
    """Return where to go after the door: only an address of this house."""
    wanted = request.POST.get("next") or request.GET.get("next") or "/"
    own = url_has_allowed_host_and_scheme(wanted, {request.get_host()}, require_https=request.is_secure())
    return wanted if own else "/"
