"""Calculations: a list, and a page for each with its form, figures, picture and what it leaves out."""

from __future__ import annotations

import json
from types import ModuleType
from typing import Any

from django.core.files.uploadedfile import UploadedFile
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.http import urlencode
from django.views.decorators.http import require_http_methods

from lumenward.calculations.case import Chart, parse
from lumenward.interchange.strict_json import read_object, to_json
from lumenward.quantities import Refusal
from lumenward.records.errors import refused
from lumenward.records.roles import may
from lumenward.screens.calculations import catalogue, filled, results, texts
from lumenward.screens.calculations.shape import nodes_of

LONGEST_LINK = 3000
LARGEST_FILE = 1_500_000
_TYPES = {"svg": "image/svg+xml", "png": "image/png"}


@may("calculate")
def listing(request: HttpRequest) -> HttpResponse:
    """Show every calculation in its group."""
    return render(request, "calculations/list.html", {"groups": catalogue.groups()})


@may("calculate")
@require_http_methods(["GET", "POST"])
def page(request: HttpRequest, name: str) -> HttpResponse:
    """Show one calculation: its example, the case in the address (`?case=`), or what was typed."""
    try:
        module = catalogue.find(name)
    except Refusal as refusal:
        return refused(request, refusal)
    nodes = nodes_of(module.Input)
    if request.method == "POST":
        typed = _typed(request)
        found = texts.read(nodes, typed)
        return _answer(request, name, module, found.case, typed, found.errors)
    return _from_text(request, name, module, request.GET.get("case"))


@may("calculate")
@require_http_methods(["POST"])
def from_json(request: HttpRequest, name: str) -> HttpResponse:
    """Show one calculation for a case given as JSON."""
    try:
        module = catalogue.find(name)
    except Refusal as refusal:
        return refused(request, refusal)
    return _from_text(request, name, module, request.POST.get("case", ""))


@may("calculate")
@require_http_methods(["GET", "POST"])
def picture(request: HttpRequest, name: str, kind: str) -> HttpResponse:
    """Return a calculation's picture as a file: the same as `lumenward calc NAME --plot`."""
    from lumenward.interchange.pictures import render as draw

    try:
        module = catalogue.find(name)
        if kind not in _TYPES or not hasattr(module, "picture"):
            raise Refusal("not-found", "There is no such picture.", "", "Pictures are .svg or .png.")
        given = request.POST.get("case") or request.GET.get("case")
        case = parse(module.Input, read_object(given.encode()) if given else module.EXAMPLE)
        drawn = draw(module.picture(case, module.run(case)), kind)
    except Refusal as refusal:
        return refused(request, refusal)
    answer = HttpResponse(drawn, content_type=_TYPES[kind])
    answer.headers["Content-Disposition"] = f'attachment; filename="lumenward-{name}.{kind}"'
    return answer


def _typed(request: HttpRequest) -> dict[str, str]:
    """Return what was typed; the text of an uploaded file takes the place of its field."""
    typed = {key: str(value) for key, value in request.POST.items() if key != "csrfmiddlewaretoken"}
    for key, upload in request.FILES.items():
        if isinstance(upload, UploadedFile) and upload.size:
            typed[key] = upload.read(LARGEST_FILE).decode("utf-8-sig", "replace")
    return typed


def _from_text(request: HttpRequest, name: str, module: ModuleType, text: str | None) -> HttpResponse:
    nodes = nodes_of(module.Input)
    if text is None:
        return _answer(request, name, module, module.EXAMPLE, texts.texts_of(nodes, module.EXAMPLE), {})
    try:
        case = read_object(text.encode())
    except Refusal as refusal:
        errors = {"": f"{refusal.message} {refusal.hint}".strip()}
        return _answer(request, name, module, {}, {}, errors, as_json=text)
    return _answer(request, name, module, case, texts.texts_of(nodes, case), {})


def _answer(
    request: HttpRequest,
    name: str,
    module: ModuleType,
    case: dict[str, Any],
    typed: dict[str, str],
    errors: dict[str, str],
    as_json: str = "",
) -> HttpResponse:
    nodes = nodes_of(module.Input)
    context: dict[str, Any] = {}
    if not errors:
        try:
            context = _computed(module, case)
        except Refusal as refusal:
            errors = filled.place(refusal, nodes, typed)
    compact = json.dumps(case, ensure_ascii=False)
    context |= {
        "entry": catalogue.entry(name), "leaves_out": module.LEAVES_OUT, "parts": filled.fill(nodes, typed, errors),
        "errors": errors, "error": errors.get("", ""), "compact": compact,
        "case_json": as_json or json.dumps(case, ensure_ascii=False, indent=2),
        "link": f"?{urlencode({'case': compact})}" if len(compact) < LONGEST_LINK else "",
        "has_files": any(node.kind == "readings" for node in nodes), "draws": hasattr(module, "picture"),
    }  # fmt: skip
    return render(request, "calculations/page.html", context, status=422 if errors else 200)


def _computed(module: ModuleType, case: dict[str, Any]) -> dict[str, Any]:
    given = parse(module.Input, case)
    result = module.run(given)
    plain = json.loads(to_json(result.model_dump(mode="json", by_alias=True)))
    chart: Chart | None = module.picture(given, result) if hasattr(module, "picture") else None
    return {
        "result": results.show(plain, module.Output),
        "raw": json.dumps(plain, ensure_ascii=False, indent=2),
        "chart": json.loads(to_json(chart.model_dump())) if chart else None,
        "chart_table": results.chart_table(chart) if chart else None,
    }
