"""People: who works here, in which role, shown competent for what."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from lumenward.journey.states import PersonState
from lumenward.quantities import Refusal
from lumenward.records import accounts
from lumenward.records.errors import refused
from lumenward.records.housekeeping import add_person
from lumenward.records.models import Person
from lumenward.records.roles import ROLES, actor_of, may
from lumenward.records.world import StoredWorld
from lumenward.screens.setup import house
from lumenward.screens.setup.forms import AddPerson, Competency, Leave, Proofs, Role
from lumenward.screens.shared.desk import STATION, DeskForm, record_here

WHAT_FOR = {
    "technician": "works at the sinks and releases",
    "lead": "does that too, lifts holds, looks after people and equipment, adopts policies",
    "infection prevention": "looks back, holds and lifts holds, adopts policies",
    "engineer": "looks after equipment and repairs",
    "viewer": "looks, and changes nothing",
}


@may("see")
def listing(request: HttpRequest) -> HttpResponse:
    """Show everybody who works here, and who has left."""
    world = StoredWorld()
    people = sorted(world.people(), key=lambda one: (one.left, ROLES.index(one.role), one.name))
    today = timezone.localdate()
    rows = [(one, _shown(world, one, today)) for one in people]
    return render(
        request, "setup/people.html", {"rows": rows, "manages": _manages(request), "roles": WHAT_FOR}
    )


@may("manage people")
@require_http_methods(["GET", "POST"])
def add(request: HttpRequest) -> HttpResponse:
    """Add a person: the event and the account in one."""
    form = AddPerson(request.POST or None)
    if request.method == "POST" and form.is_valid():
        data, actor = form.cleaned_data, actor_of(request)
        assert actor is not None
        try:
            add_person(
                data["person"],
                data["name"],
                data["role"],
                actor,
                timezone.now(),
                station=STATION,
                **form.proofs(),
            )
        except Refusal as refusal:
            form.refuse(refusal)
        else:
            messages.success(
                request, f"{data['name']} may sign in as {data['person']}. Record a competency next."
            )
            return redirect("setup:person", person=data["person"])
    return _answer(request, "setup/add_person.html", {"form": form, "roles": WHAT_FOR})


@may("see")
def one(request: HttpRequest, person: str) -> HttpResponse:
    """Show one person with everything a lead may change."""
    found = _person(person)
    if found is None:
        return _nobody(request, person)
    return _page(request, found)


@may("manage people")
@require_http_methods(["POST"])
def competency(request: HttpRequest, person: str) -> HttpResponse:
    """Record that somebody was shown competent."""
    world = StoredWorld()
    others = [one for one in world.people() if one.id != person and not one.left]
    form = Competency(house.library(world), others, request.POST, auto_id="competency_%s")
    return _act(request, person, "competency_recorded", "competency", form, "The competency is recorded.")


@may("manage people")
@require_http_methods(["POST"])
def role(request: HttpRequest, person: str) -> HttpResponse:
    """Give another role."""
    return _act(
        request, person, "role_given", "role", Role(request.POST, auto_id="role_%s"), "The role is changed."
    )


@may("manage people")
@require_http_methods(["POST"])
def leave(request: HttpRequest, person: str) -> HttpResponse:
    """End somebody's work here; their ways in end with it."""
    words = "They work here no more: badge, PIN, password and keys are void."
    return _act(request, person, "person_left", "leave", Leave(request.POST, auto_id="leave_%s"), words)


@may("manage people")
@require_http_methods(["POST"])
def proofs(request: HttpRequest, person: str) -> HttpResponse:
    """Give a new badge, password or PIN."""
    found = _person(person)
    if found is None:
        return _nobody(request, person)
    form = Proofs(request.POST, auto_id="proofs_%s")
    if form.is_valid():
        try:
            given = _give(found, form.cleaned_data)
        except Refusal as refusal:
            form.refuse(refusal)
        else:
            messages.success(request, f"Changed: {', '.join(given) or 'nothing, all fields were empty'}.")
            return redirect("setup:person", person=person)
    return _page(request, found, {"proofs": form})


def _give(person: PersonState, data: dict[str, Any]) -> list[str]:
    if person.left:
        raise Refusal(
            "person-left", f"{person.name} does not work here any more.", "badge", "Add them again."
        )
    with transaction.atomic():
        account = accounts.open_account(person.id)
        if data["badge"]:
            accounts.give_badge(account, data["badge"])
        if data["password"]:
            accounts.set_password(account.user, data["password"])
        if data["pin"]:
            accounts.give_pin(account, data["pin"])
    return [key for key in ("badge", "password", "pin") if data[key]]


def _act(request: HttpRequest, person: str, kind: str, name: str, form: DeskForm, words: str) -> HttpResponse:
    found = _person(person)
    if found is None:
        return _nobody(request, person)
    if form.is_valid() and record_here(request, form, kind, person, form.body()):
        messages.success(request, words)
        return redirect("setup:person", person=person)
    return _page(request, found, {name: form})


def _page(request: HttpRequest, found: PersonState, forms: dict[str, DeskForm] | None = None) -> HttpResponse:
    world = StoredWorld()
    account = Person.objects.filter(id=found.id).first()
    others = [one for one in world.people() if one.id != found.id and not one.left]
    made: dict[str, DeskForm] = {
        "competency": Competency(house.library(world), others, auto_id="competency_%s"),
        "role": Role(initial={"role": found.role}, auto_id="role_%s"),
        "proofs": Proofs(auto_id="proofs_%s"), "leave": Leave(auto_id="leave_%s"),
    }  # fmt: skip
    context = {
        "person": found, "forms": made | (forms or {}), "manages": _manages(request),
        "shown": _shown(world, found, timezone.localdate()), "what_for": WHAT_FOR.get(found.role, ""),
        "trouble": [error for form in (forms or {}).values() for error in form.non_field_errors() if found.left],
        "has_badge": bool(account and account.badge), "has_pin": bool(account and account.pin_hash),
    }  # fmt: skip
    return render(request, "setup/person.html", context, status=422 if forms else 200)


def _shown(world: StoredWorld, person: PersonState, today: Any) -> list[tuple[str, Any, bool]]:
    """Return what a person was shown competent for: model in words, until when, whether that has passed."""
    shelf = house.library(world)
    names = {one.id: one.name for one in (shelf.endoscopes if shelf else [])}
    return [
        (
            "every model" if one.model == "*" else names.get(one.model, one.model),
            one.valid_until,
            one.valid_until < today,
        )
        for one in sorted(person.competencies, key=lambda one: one.model)
    ]


def _manages(request: HttpRequest) -> bool:
    actor = actor_of(request)
    return actor is not None and actor.may("manage people")


def _person(person: str) -> PersonState | None:
    return StoredWorld().person(person)


def _nobody(request: HttpRequest, person: str) -> HttpResponse:
    return refused(
        request, Refusal("not-found", f"Nobody called {person[:40]} is known here.", "person", "See People.")
    )


def _answer(request: HttpRequest, template: str, context: dict[str, Any]) -> HttpResponse:
    return render(request, template, context, status=422 if context["form"].errors else 200)
