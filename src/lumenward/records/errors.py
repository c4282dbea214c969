"""Saying no: the one error shape for machines, a page with the same sentence for people."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse, JsonResponse
from django.template import TemplateDoesNotExist
from django.template.loader import render_to_string
from django.utils.html import escape

from lumenward.quantities import Refusal

STATUS = {
    "not-signed-in": 401,
    "not-allowed": 403,
    "bad-csrf": 403,
    "not-found": 404,
    "unknown-calculation": 404,
    "wrong-method": 405,
    "too-large": 413,
    "locked-out": 429,
}
"""HTTP status by error code; every other refusal is 422."""

SENTENCES = {
    400: Refusal("bad-request", "The request could not be read.", "", "Send UTF-8 JSON of the documented shape."),
    403: Refusal("not-allowed", "This is not allowed.", "", "Sign in as somebody who may."),
    404: Refusal("not-found", "There is nothing at this address.", "", "Check the address."),
    405: Refusal("wrong-method", "This address does not know this method.", "", "See /api/v1/openapi.json."),
    413: Refusal("too-large", "The request is too large.", "", "Send less at once: acts may come in several batches."),
    429: Refusal(
        "locked-out", "Too many sign-ins failed; this name is locked for 15 minutes.", "", "Wait, or ask a lead."
    ),
    500: Refusal(
        "our-fault", "Something failed on our side; nothing was recorded by this request.", "",
        "Try again; if it happens again, run `lumenward check` and keep its words.",
    ),
}  # fmt: skip


def for_machines(request: HttpRequest) -> bool:
    """Return whether the answer goes to a program."""
    return request.path.startswith("/api/")


def status_of(refusal: Refusal) -> int:
    """Return the HTTP status of a refusal."""
    return STATUS.get(refusal.code, 422)


def refused(request: HttpRequest, refusal: Refusal, status: int | None = None) -> HttpResponse:
    """Answer with a refusal, as JSON under /api/ and as a page elsewhere."""
    status = status or status_of(refusal)
    if for_machines(request):
        return JsonResponse({"error": refusal.as_dict()}, status=status)
    return HttpResponse(_page(request, refusal, status), status=status)


def _page(request: HttpRequest, refusal: Refusal, status: int) -> str:
    try:
        return render_to_string("shared/refused.html", {"refusal": refusal, "status": status}, request)
    except TemplateDoesNotExist:
        sentence = escape(f"{refusal.message} {refusal.hint}".strip())
        return (
            f'<!doctype html><html lang="en"><title>Refused</title><h1>{sentence}</h1><p><a href="/">Back</a>'
        )


def bad_request(request: HttpRequest, exception: Exception) -> HttpResponse:
    """Answer for Django's 400."""
    return refused(request, SENTENCES[400], 400)


def forbidden(request: HttpRequest, exception: Exception) -> HttpResponse:
    """Answer for Django's 403."""
    return refused(request, SENTENCES[403], 403)


def not_found(request: HttpRequest, exception: Exception) -> HttpResponse:
    """Answer for Django's 404."""
    return refused(request, SENTENCES[404], 404)


def our_fault(request: HttpRequest) -> HttpResponse:
    """Answer for an error nobody foresaw."""
    return refused(request, SENTENCES[500], 500)


def no_csrf(request: HttpRequest, reason: str = "") -> HttpResponse:
    """Answer where the proof is missing that the request comes from our own page."""
    refusal = Refusal(
        "bad-csrf", "The request does not prove that it comes from our own page.", "", "Load the page again."
    )
    return refused(request, refusal, 403)


def locked_out(request: HttpRequest, response: Any = None, credentials: Any = None) -> HttpResponse:
    """Answer after too many wrong passwords."""
    return refused(request, SENTENCES[429], 429)
