"""The API: version 1 under /api/v1/, its OpenAPI description beside it, one shape for every error."""

from __future__ import annotations

import logging
from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.urls import path
from ninja import NinjaAPI
from ninja.errors import HttpError, ValidationError
from ninja.parser import Parser

from lumenward.api import acts, calculating, reading
from lumenward.api.doors import Key, Session
from lumenward.interchange.strict_json import read_object
from lumenward.quantities import Refusal
from lumenward.records import errors, roles

_LOG = logging.getLogger(__name__)


class StrictParser(Parser):
    """Bodies are read as strictly as everything else."""

    def parse_body(self, request: HttpRequest) -> dict[str, Any]:
        return read_object(request.body)


api = NinjaAPI(
    title="Lumenward",
    version="1",
    description="The bench computer of the room where flexible endoscopes are reprocessed.",
    urls_namespace="api-1",
    auth=[Key(), Session()],
    docs_url=None,
    parser=StrictParser(),
)
for _router in (acts.router, reading.router, calculating.router):
    api.add_router("", _router)


@api.exception_handler(Refusal)
def on_refusal(request: HttpRequest, refusal: Refusal) -> HttpResponse:
    """Answer with the refusal itself."""
    return errors.refused(request, refusal)


@api.exception_handler(ValidationError)
def on_bad_shape(request: HttpRequest, error: ValidationError) -> HttpResponse:
    """Answer with the first field that has the wrong shape."""
    first = error.errors[0]
    where = ".".join(str(part) for part in first["loc"][2:]) or ".".join(
        str(part) for part in first["loc"][-1:]
    )
    code = {"missing": "missing", "extra_forbidden": "unknown-key"}.get(first["type"], "not-valid")
    hint = "See /api/v1/openapi.json."
    return errors.refused(request, Refusal(code, f"{where}: {first['msg']}.", where, hint), 422)


@api.exception_handler(Http404)
def on_nothing(request: HttpRequest, error: Http404) -> HttpResponse:
    """Answer that nothing is there."""
    return errors.refused(request, errors.SENTENCES[404], 404)


@api.exception_handler(HttpError)
def on_http(request: HttpRequest, error: HttpError) -> HttpResponse:
    """Answer for a stranger, a missing proof of origin, and whatever else the frame refuses."""
    if error.status_code == 401:
        return errors.refused(request, roles.not_signed_in(), 401)
    if error.status_code == 403:
        return errors.no_csrf(request)
    known = errors.SENTENCES.get(error.status_code, errors.SENTENCES[400])
    return errors.refused(request, known, error.status_code)


@api.exception_handler(Exception)
def on_fault(request: HttpRequest, error: Exception) -> HttpResponse:
    """Answer for an error nobody foresaw; the log has it in full."""
    _LOG.error("%s %s", request.method, request.path, exc_info=error)
    return errors.refused(request, errors.SENTENCES[500], 500)


def nothing_here(request: HttpRequest, rest: str = "") -> HttpResponse:
    """Answer for any other address under /api/."""
    return errors.refused(request, errors.SENTENCES[404], 404)


urlpatterns = [path("v1/", api.urls), path("<path:rest>", nothing_here), path("", nothing_here)]
