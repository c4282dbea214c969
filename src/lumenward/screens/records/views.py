"""The screen Records: which cycles there are, one of them as a page, a PDF or a file, and corrections."""

from __future__ import annotations

from uuid import UUID

from django.http import Http404, HttpRequest, HttpResponse, JsonResponse, StreamingHttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.safestring import mark_safe
from django.views.decorators.http import require_http_methods

from lumenward.interchange import cycles
from lumenward.interchange.record import read_record
from lumenward.interchange.record_code import acts_covered, read_payload, tidy
from lumenward.interchange.record_json import record_json
from lumenward.interchange.record_parts import CycleRecord
from lumenward.interchange.record_pdf import PAPERS, record_pdf
from lumenward.interchange.record_sheet import sheet
from lumenward.quantities import Refusal
from lumenward.records.errors import refused, status_of
from lumenward.records.roles import actor_of, may
from lumenward.records.world import StoredWorld
from lumenward.screens.records.correcting import Correction
from lumenward.screens.records.forms import Find
from lumenward.screens.records.listing import listing as read_listing
from lumenward.screens.shared.desk import record_here, sent


@may("see")
def listing(request: HttpRequest) -> HttpResponse:
    """Show the cycles that match, newest first; a scanned print leads to its record."""
    for text in request.GET.values():
        if scanned := read_payload(str(text)):
            return redirect(f"{reverse('records:one', args=[scanned[0]])}?code={scanned[1]}")
    form = Find(request.GET)
    good = form.is_valid()
    found = read_listing(form.wanted(), request.GET, timezone.now(), timezone.get_current_timezone())
    return render(request, "records/list.html", {"form": form, "list": found}, status=200 if good else 422)


@may("see")
def export_csv(request: HttpRequest) -> HttpResponseBase:
    """All cycles that match, as CSV."""
    return _export(request, "csv")


@may("see")
def export_json(request: HttpRequest) -> HttpResponseBase:
    """All cycles that match, as JSON."""
    return _export(request, "json")


def _export(request: HttpRequest, ending: str) -> HttpResponseBase:
    form = Find(request.GET)
    if not form.is_valid():
        name, errors = next(iter(form.errors.items()))
        return refused(request, Refusal("bad-filter", str(errors[0]), name, "Correct the search."), 422)
    zone, now, world = timezone.get_current_timezone(), timezone.now(), StoredWorld()
    found = cycles.find(form.wanted(), zone, world)
    rows = cycles.rows(found, world, now, zone)
    unit = _unit(world)
    about = {
        "unit": unit,
        "made_at": timezone.localtime(now).isoformat(timespec="seconds"),
        "zone": str(zone),
    }
    text = cycles.as_csv(rows) if ending == "csv" else cycles.as_json(rows, about | {"count": found.count()})
    kind = "text/csv" if ending == "csv" else "application/json"
    name = cycles.file_name(unit, "cycles", timezone.localtime(now).date(), ending)
    return _attached(StreamingHttpResponse(text, content_type=f"{kind}; charset=utf-8"), name)


def _unit(world: StoredWorld) -> str:
    try:
        return world.policy().id
    except Refusal:
        return "lumenward"


def _attached(response: HttpResponseBase, name: str) -> HttpResponseBase:
    response.headers["Content-Disposition"] = f'attachment; filename="{name}"'
    return response


@may("see")
def one(request: HttpRequest, cycle: UUID) -> HttpResponse:
    """Show one cycle as a page that prints."""
    record = _record(request, cycle)
    actor = actor_of(request)
    corrects = reverse("records:one", args=[cycle]) + "acts/" if actor and actor.may("correct") else ""
    # The sheet's own template escapes every value.
    escaped = mark_safe(sheet(record, corrects))  # noqa: S308 # nosec
    page = {
        "record": record,
        "sheet": escaped,
        "print_words": _print_words(record, request.GET.get("code", "")),
        "code": request.GET.get("code", "")[:40],
    }
    return render(request, "records/one.html", page)


def _record(request: HttpRequest, cycle: UUID) -> CycleRecord:
    actor = actor_of(request)
    try:
        return read_record(
            str(cycle), timezone.now(), timezone.get_current_timezone(), actor.name if actor else ""
        )
    except Refusal as refusal:
        raise Http404(refusal.message) from None


def _print_words(record: CycleRecord, code: str) -> tuple[str, str]:
    """Return (word, sentence) about a print whose code was typed or scanned."""
    if not code:
        return "", ""
    leaves = [line.leaf for line in sorted(record.lines, key=lambda line: line.leaf_index)]
    covered = acts_covered(code, leaves)
    if covered is None:
        return (
            "late",
            f"The code {tidy(code[:40])} belongs to no state of this record: do not trust that print.",
        )
    if covered == len(leaves):
        return "ready", f"The print with the code {tidy(code)} shows this record as it is now."
    newer = len(leaves) - covered
    return "soon", (
        f"The print with the code {tidy(code)} is true and older: it covers the first {covered} recorded acts; "
        f"{newer} came later."
    )


@may("see")
def one_pdf(request: HttpRequest, cycle: UUID) -> HttpResponseBase:
    """Give the record as a tagged PDF; `?paper=Letter` for the other paper."""
    record = _record(request, cycle)
    paper = request.GET.get("paper", "A4")
    try:
        made = record_pdf(record, paper)
    except Refusal as refusal:
        return refused(request, refusal, 503 if refusal.code == "no-pdf" else status_of(refusal))
    day = timezone.localtime().date()
    name = cycles.file_name(_unit(StoredWorld()), f"cycle-{record.endoscope}-{record.cycle[:13]}", day, "pdf")
    response = HttpResponse(made, content_type="application/pdf")
    response.headers["Content-Disposition"] = f'inline; filename="{name}"'
    return response


@may("see")
def one_json(request: HttpRequest, cycle: UUID) -> HttpResponseBase:
    """Give everything the record holds, with the proof, as one JSON document."""
    record = _record(request, cycle)
    day = timezone.localtime().date()
    name = cycles.file_name(
        _unit(StoredWorld()), f"cycle-{record.endoscope}-{record.cycle[:13]}", day, "json"
    )
    options = {"ensure_ascii": False, "indent": 1}
    return _attached(JsonResponse(record_json(record), json_dumps_params=options), name)


@may("correct")
@require_http_methods(["GET", "POST"])
def correct(request: HttpRequest, cycle: UUID, act: UUID) -> HttpResponse:
    """Correct one act: it stays, the new value stands beside it with the reason."""
    record = _record(request, cycle)
    line = next((one for one in record.lines if one.id == str(act)), None)
    event = StoredWorld().event(str(act))
    if line is None or event is None:
        raise Http404("There is no such act in this record.")
    form = Correction(event, StoredWorld(), record.endoscope, sent(request))
    if form.is_valid():
        done = record_here(request, form, "corrected", event.id, form.body(), cycle=record.cycle)
        if done:
            return redirect(reverse("records:one", args=[cycle]) + f"#act-{line.number}")
    page = {"record": record, "line": line, "form": form, "papers": PAPERS}
    return render(request, "records/correct.html", page, status=422 if form.errors else 200)
