"""Who may do what: one table, and the door that holds to it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import wraps
from typing import Any, Concatenate, ParamSpec

from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import redirect
from django.utils.http import urlencode

from lumenward.journey.kinds import KINDS
from lumenward.quantities import Refusal

P = ParamSpec("P")
ROLES = ("technician", "lead", "infection prevention", "engineer", "viewer")
_T, _L, _I, _E = ROLES[:4]

MAY: dict[str, frozenset[str]] = {
    "see": frozenset(ROLES),
    "calculate": frozenset(ROLES),
    "record acts": frozenset({_T, _L, _I, _E}),
    "reprocess": frozenset({_T, _L}),
    "open and take": frozenset({_T, _L, _I, _E}),
    "tend supplies": frozenset({_T, _L}),
    "hold": frozenset({_T, _L, _I, _E}),
    "lift a hold": frozenset({_L, _I}),
    "send away": frozenset({_L, _E}),
    "correct": frozenset({_T, _L, _I, _E}),
    "release": frozenset({_T, _L, _I}),
    "see refusals": frozenset({_L, _I, _E}),
    "manage people": frozenset({_L}),
    "manage equipment": frozenset({_L, _E}),
    "adopt a policy": frozenset({_L, _I}),
}
"""What a signed-in person may do, by role. `set-up` is the shell of the machine, not a role a person can have."""

SET_UP = "set-up"
_SET_UP_MAY = frozenset({"manage people", "manage equipment", "adopt a policy", "keep the demo"})

_SPECIAL = {
    "patient_use_ended": "open and take",
    "reprocessing_required": "open and take",
    "taken_for_use": "open and take",
    "released": "release",
    "held": "hold",
    "hold_lifted": "lift a hold",
    "sent_for_repair": "send away",
    "returned_from_repair": "send away",
    "loan_ended": "send away",
    "retired": "send away",
    "endoscope_registered": "manage equipment",
    "corrected": "correct",
    "person_added": "manage people",
    "person_left": "manage people",
    "role_given": "manage people",
    "competency_recorded": "manage people",
    "library_adopted": "manage equipment",
    "policy_adopted": "adopt a policy",
    "demo_loaded": "keep the demo",
    "demo_removed": "keep the demo",
}


@dataclass(frozen=True)
class Actor:
    """The person a request comes from."""

    id: str
    name: str
    role: str

    def may(self, what: str) -> bool:
        """Return whether this person's role allows `what` (a key of MAY)."""
        return allowed(self.role, what)


def allowed(role: str, what: str) -> bool:
    """Return whether a role allows something.

    >>> allowed("viewer", "see"), allowed("viewer", "release")
    (True, False)
    """
    return what in _SET_UP_MAY if role == SET_UP else role in MAY.get(what, frozenset())


def needed_for(kind: str) -> str:
    """Return what one must be allowed in order to record an event kind."""
    if kind in _SPECIAL:
        return _SPECIAL[kind]
    return "reprocess" if KINDS[kind].about == "endoscope" else "tend supplies"


def refuse_kind(role: str, name: str, kind: str) -> Refusal | None:
    """Return why somebody of this role may not record this kind, or None."""
    needed = needed_for(kind)
    if allowed(role, needed):
        return None
    who = ", ".join(sorted(MAY.get(needed, frozenset()))) or "the shell of this machine"
    return Refusal(
        "not-allowed",
        f"{name} ({role or 'no role'}) may not record {kind.replace('_', ' ')}.",
        "person",
        f"Allowed for: {who}.",
    )


def no_right(actor: Actor, what: str) -> Refusal:
    """Return the refusal for a signed-in person whose role does not allow `what`."""
    who = ", ".join(sorted(MAY.get(what, frozenset())))
    return Refusal("not-allowed", f"The role {actor.role!r} may not {what}.", "", f"Allowed for: {who}.")


def not_signed_in() -> Refusal:
    """Return the refusal for a stranger."""
    return Refusal("not-signed-in", "Nobody is signed in.", "", "Sign in first.")


def actor_of(request: HttpRequest) -> Actor | None:
    """Return who the request comes from; None for a stranger."""
    found: Actor | None = getattr(request, "actor", None)
    return found


View = Callable[Concatenate[HttpRequest, P], HttpResponseBase]


def may(what: str) -> Callable[[View[P]], View[P]]:
    """Guard a page: a stranger is led to the sign-in page, a person without the right is told so (403).

    A Refusal that the page does not answer itself becomes a page with its sentence.
    """
    if what not in MAY:
        raise KeyError(what)

    def guard(view: View[P]) -> View[P]:
        @wraps(view)
        def guarded(request: HttpRequest, /, *args: P.args, **kwargs: P.kwargs) -> Any:
            actor = actor_of(request)
            if actor is None:
                return redirect(f"/sign-in/?{urlencode({'next': request.get_full_path()})}")
            from lumenward.records.errors import refused

            if not actor.may(what):
                return refused(request, no_right(actor, what), 403)
            try:
                return view(request, *args, **kwargs)
            except Refusal as refusal:
                return refused(request, refusal)

        return guarded

    return guard
