"""Adopting a library or a policy: read, checked as a whole, shown beside what is in force, then put in force."""

from __future__ import annotations

import json
import re
import tempfile
from pathlib import Path
from typing import Any

from django.contrib import messages
from django.core.files.uploadedfile import UploadedFile
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from lumenward.equipment import loader
from lumenward.equipment.library import Library
from lumenward.equipment.policy import Policy
from lumenward.quantities import Refusal
from lumenward.records.roles import actor_of, may
from lumenward.records.world import StoredWorld
from lumenward.screens.setup import house
from lumenward.screens.setup.forms import AdoptLibrary, AdoptPolicy
from lumenward.screens.setup.words import decisions
from lumenward.screens.shared.desk import record_here

MOST_FILES = 200
_SAFE = re.compile(r"^[A-Za-z0-9][A-Za-z0-9._-]{0,80}\.toml$")


@may("manage equipment")
@require_http_methods(["GET", "POST"])
def library(request: HttpRequest) -> HttpResponse:
    """Take library files, check all of them, and show what would come into force."""
    if request.method == "GET":
        return _library_page(request, {"refusals": []})
    found, refusals = read_library(
        [one for one in request.FILES.getlist("files") if isinstance(one, UploadedFile)]
    )
    if found is None:
        return _library_page(request, {"refusals": refusals}, 422)
    document = json.dumps(loader.as_document(found), ensure_ascii=False)
    form = AdoptLibrary(initial={"document": document})
    return _library_page(
        request, {"refusals": [], "found": found, "form": form, "digest": loader.digest(found)}
    )


@may("manage equipment")
@require_http_methods(["POST"])
def library_confirmed(request: HttpRequest) -> HttpResponse:
    """Put the checked library in force."""
    form = AdoptLibrary(request.POST)
    if form.is_valid():
        try:
            found = loader.library_from_document(_object(form.cleaned_data["document"]))
        except Refusal as refusal:
            return _library_page(request, {"refusals": [refusal]}, 422)
        body = {"digest": loader.digest(found), "document": loader.as_document(found)}
        if record_here(request, form, "library_adopted", "house", body):
            messages.success(request, "This library is in force now.")
            return redirect("setup:library")
    refusals = [Refusal("not-adopted", " ".join(str(e) for errors in form.errors.values() for e in errors))]
    return _library_page(request, {"refusals": refusals}, 422)


def _library_page(request: HttpRequest, context: dict[str, Any], status: int = 200) -> HttpResponse:
    files = {
        "endoscopes/*.toml": "one model a file",
        **{name: ", ".join(s) for name, s in loader.FILES.items()},
    }
    context |= {"files": files, "in_force": house.library(StoredWorld())}
    return render(request, "setup/adopt_library.html", context, status=status)


def read_library(uploads: list[UploadedFile[Any]]) -> tuple[Library | None, list[Refusal]]:
    """Return the library that uploaded files make, or every refusal there is reason for."""
    if not uploads:
        return None, [
            Refusal("empty", "No file was chosen.", "files", "Choose every .toml file of the library.")
        ]
    if len(uploads) > MOST_FILES:
        return None, [
            Refusal("too-many", f"{len(uploads)} files are too many.", "files", f"At most {MOST_FILES}.")
        ]
    with tempfile.TemporaryDirectory(prefix="lumenward-library-") as folder:
        root = Path(folder)
        (root / "endoscopes").mkdir()
        for upload in uploads:
            name = Path(str(upload.name)).name
            if not _SAFE.match(name):
                hint = "Only .toml files with letters, digits, dots and dashes."
                return None, [Refusal("bad-name", f"{name[:80]!r} is no file of a library.", "files", hint)]
            place = root / name if name in loader.FILES else root / "endoscopes" / name
            place.write_bytes(upload.read(loader.LARGEST_BYTES + 1))
        return loader.inspect_library(root)


@may("see")
def policy(request: HttpRequest) -> HttpResponse:
    """Show the policy in force, number by number, and the profiles one could begin from."""
    world = StoredWorld()
    found = house.policy(world)
    actor = actor_of(request)
    context = {
        "policy": found, "decisions": decisions(found) if found else [], "adoptions": house.adoptions("policy", world),
        "adopts": actor is not None and actor.may("adopt a policy"),
        "profiles": list(loader.shipped_policies().values()),
    }  # fmt: skip
    return render(request, "setup/policy.html", context)


@may("adopt a policy")
@require_http_methods(["GET", "POST"])
def policy_preview(request: HttpRequest) -> HttpResponse:
    """Show a profile or an uploaded file beside the policy in force."""
    try:
        found = _uploaded(request) if request.method == "POST" else _profile(request.GET.get("profile", ""))
    except Refusal as refusal:
        return render(request, "setup/policy_refused.html", {"refusal": refusal}, status=422)
    document = json.dumps(loader.as_document(found), ensure_ascii=False)
    return _preview(request, found, AdoptPolicy(initial={"document": document}))


@may("adopt a policy")
@require_http_methods(["POST"])
def policy_confirmed(request: HttpRequest) -> HttpResponse:
    """Put a policy in force, with the reason."""
    form = AdoptPolicy(request.POST)
    try:
        found = loader.policy_from_document(_object(request.POST.get("document", "")))
    except Refusal as refusal:
        return render(request, "setup/policy_refused.html", {"refusal": refusal}, status=422)
    if form.is_valid():
        body = {
            "digest": loader.digest(found), "document": loader.as_document(found),
            "reason": form.cleaned_data["reason"],
        }  # fmt: skip
        if record_here(request, form, "policy_adopted", "house", body):
            messages.success(request, f"{found.name} is in force now.")
            return redirect("setup:policy")
    return _preview(request, found, form)


def _preview(request: HttpRequest, found: Policy, form: AdoptPolicy) -> HttpResponse:
    in_force = house.policy(StoredWorld())
    rows = decisions(found, in_force)
    context = {
        "policy": found, "in_force": in_force, "form": form, "digest": loader.digest(found),
        "decisions": rows, "changes": sum(1 for row in rows if row.changes) if in_force else 0,
    }  # fmt: skip
    return render(request, "setup/policy_preview.html", context, status=422 if form.errors else 200)


def _profile(policy_id: str) -> Policy:
    shipped = loader.shipped_policies()
    if policy_id not in shipped:
        hint = f"Profiles: {', '.join(shipped)}."
        raise Refusal("not-found", f"There is no profile {policy_id[:40]!r}.", "profile", hint)
    return shipped[policy_id]


def _uploaded(request: HttpRequest) -> Policy:
    upload = request.FILES.get("file")
    if not isinstance(upload, UploadedFile):
        raise Refusal("empty", "No file was chosen.", "file", "Choose a policy file (.toml).")
    with tempfile.TemporaryDirectory(prefix="lumenward-policy-") as folder:
        place = Path(folder) / (
            Path(str(upload.name)).name if _SAFE.match(str(upload.name)) else "policy.toml"
        )
        place.write_bytes(upload.read(loader.LARGEST_BYTES + 1))
        return loader.load_policy(place)


def _object(text: str) -> dict[str, Any]:
    try:
        found = json.loads(text)
    except (ValueError, RecursionError):
        found = None
    if not isinstance(found, dict):
        raise Refusal(
            "not-json", "The checked document was lost on the way.", "document", "Choose the file again."
        )
    return found
