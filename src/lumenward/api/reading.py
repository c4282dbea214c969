"""What can be read: the plan of a cycle, verdicts, what is going on now, the shelf, any cycle's record."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Annotated, Any

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from ninja import Query, Router

from lumenward.api.doors import must
from lumenward.api.shapes import Trouble
from lumenward.interchange.strict_json import to_json
from lumenward.journey.planner import make_plan
from lumenward.records import looking
from lumenward.records.world import StoredWorld

router = Router(tags=["reading"])
_NO = {401: Trouble, 403: Trouble, 404: Trouble, 422: Trouble}
_Found = dict[str, Any]


@router.get("/stations/{station}/plan", response={200: _Found, **_NO})
def get_plan(
    request: HttpRequest, station: str, endoscope: Annotated[str, Query(max_length=80)], again: bool = False
) -> HttpResponse:
    """Return the whole plan of the endoscope's cycle at this station, with the acts so far.

    Of a ready endoscope its cycle is over; `again` asks for the plan of the next one.
    """
    must(request, "see")
    plan = make_plan(StoredWorld(), endoscope, station, datetime.now(UTC), settings.TIME_ZONE, again=again)
    return _json(plan.model_dump(mode="json"))


@router.get("/endoscopes/{endoscope}/verdict", response={200: _Found, **_NO})
def get_verdict(request: HttpRequest, endoscope: str) -> HttpResponse:
    """Return the verdict on the endoscope's present cycle, with the evidence."""
    must(request, "see")
    return _json(looking.verdict(endoscope, datetime.now(UTC)))


@router.get("/now", response={200: _Found, **_NO})
def get_now(request: HttpRequest) -> HttpResponse:
    """Return where every endoscope is, with its running clocks."""
    must(request, "see")
    return _json({"endoscopes": looking.now(StoredWorld(), datetime.now(UTC))})


@router.get("/shelf", response={200: _Found, **_NO})
def get_shelf(request: HttpRequest) -> HttpResponse:
    """Return what is stored, until when it stays ready, and why not."""
    must(request, "see")
    return _json({"endoscopes": looking.shelf(StoredWorld(), datetime.now(UTC))})


@router.get("/records/{cycle}", response={200: _Found, **_NO})
def get_record(request: HttpRequest, cycle: str) -> HttpResponse:
    """Return one cycle: its acts as recorded, each with its place in the ledger."""
    must(request, "see")
    return _json(looking.cycle_record(cycle))


@router.get("/records/{cycle}/proof", response={200: _Found, **_NO})
def get_proof(request: HttpRequest, cycle: str) -> HttpResponse:
    """Return the proof that each act of the cycle is in the ledger whose tree head is given."""
    must(request, "see")
    return _json(looking.cycle_proof(cycle))


def _json(found: dict[str, Any]) -> HttpResponse:
    return HttpResponse(to_json(found), content_type="application/json")
