"""Channels: what flows in each channel of a model, which starve, what the cups should catch, what is blocked."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from lumenward.equipment.endoscope import EndoscopeModel
from lumenward.equipment.library import Library
from lumenward.quantities import Refusal, show_in
from lumenward.records.errors import refused
from lumenward.records.roles import may
from lumenward.records.world import StoredWorld
from lumenward.screens.channels import plans
from lumenward.screens.channels.drawing import draw
from lumenward.screens.channels.figures import STARVING_SHARE, VOLUMES, Figures, work_out
from lumenward.screens.channels.finding import look_for
from lumenward.screens.channels.question import Question, read

LEAVES_OUT = (
    "Air bubbles, kinks, soft or leaking caps, the pulse of the pump, and anything in a channel but clean water.",
    "Tight bends: channels count as straight, and the tip as level with the fluid's surface.",
    "Losses in connectors and valve cylinders are assumed figures of the library, not measurements.",
    "Where a wire lies in its channel: that alone can change the flow there 2.3 times, so a range is shown.",
    "Whether a channel is clean: volume through a channel is no evidence of that.",
)


@may("see")
def models(request: HttpRequest) -> HttpResponse:
    """Show the models of the house."""
    library = _library()
    rows = [(model, *_narrowest(model)) for model in library.endoscopes] if library else []
    return render(request, "channels/list.html", {"rows": rows})


@may("see")
def page(request: HttpRequest, model: str) -> HttpResponse:
    """Show one model's map for the question in the address."""
    return _shown(request, model, "channels/page.html")


@may("see")
def figures(request: HttpRequest, model: str) -> HttpResponse:
    """Show only what changes with the question; the page asks for it when a clamp is moved."""
    return _shown(request, model, "channels/figures.html")


@may("see")
def find(request: HttpRequest, model: str) -> HttpResponse:
    """Show what the cups and the gauge say about faults."""
    found = _asked(request, model)
    if isinstance(found, Refusal):
        return refused(request, found)
    described, question = found
    context: dict[str, Any] = {"model": described, "question": question, "leaves_out": LEAVES_OUT}
    if question is not None:
        context["finding"] = look_for(question, request.GET)
    return render(request, "channels/find.html", context, status=_status(context))


def _status(context: dict[str, Any]) -> int:
    finding = context.get("finding")
    return 422 if finding is not None and finding.errors else 200


def _shown(request: HttpRequest, model: str, template: str) -> HttpResponse:
    found = _asked(request, model)
    if isinstance(found, Refusal):
        return refused(request, found)
    described, question = found
    context: dict[str, Any] = {"model": described, "question": question, "leaves_out": LEAVES_OUT}
    if question is not None:
        context |= _computed(question)
    return render(request, template, context, status=422 if question and question.errors else 200)


def _computed(question: Question) -> dict[str, Any]:
    try:
        found = work_out(question)
    except Refusal as refusal:
        return {"refusal": refusal}
    return {
        "figures": found, "map": draw(question, found), "headline": _headline(question, found),
        "plan": plans.plan_for(question, VOLUMES, StoredWorld().policy()), "volumes": VOLUMES, "share": STARVING_SHARE,
        "all_open": question.only(question.clamps),
        "over": _over(found),
    }  # fmt: skip


def _headline(question: Question, found: Figures) -> str:
    """Return the sentence that answers the page's question: which channels get too little?"""
    names = [one.name.lower() for one in found.starving]
    if not question.errors and set(question.shut) == set(question.clamps) and question.shut:
        return "Every clamp is shut: the pump works against its relief valve."
    if not names:
        return "Every open channel gets its share."
    said = plans.listed(names)
    return f"{said[0].upper()}{said[1:]} {'gets' if len(names) == 1 else 'get'} too little in this setting."


def _over(found: Figures) -> list[str]:
    """Return a sentence for each limit of the IFU that this setting exceeds, with the channels it is about."""
    about: dict[tuple[str, str, str], list[str]] = {}
    for one in found.over:
        key = (show_in(one.kpa, "kPa", 0), show_in(one.limit_kpa or 0.0, "kPa"), one.limit_page)
        about.setdefault(key, []).append(one.name.lower())
    return [
        f"{plans.listed(names).capitalize()}: {kpa} at the port, above the {limit} that the IFU allows ({page})."
        for (kpa, limit, page), names in about.items()
    ]


def _asked(request: HttpRequest, model: str) -> tuple[EndoscopeModel, Question | None] | Refusal:
    library = _library()
    try:
        if library is None:
            raise Refusal(
                "not-found", "No equipment library has been adopted here yet.", "model", "See Set-up."
            )
        described = library.model(model)
    except Refusal as refusal:
        return Refusal("not-found", refusal.message, refusal.field, refusal.hint)
    return described, read(library, described, request.GET)


def _library() -> Library | None:
    try:
        return StoredWorld().library()
    except Refusal:
        return None


def _narrowest(model: EndoscopeModel) -> tuple[int, float | None]:
    return len(model.channels), min((tube.bore_mm for tube in model.tubes), default=None)
