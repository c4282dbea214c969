"""Calculations: the same objects as `lumenward calc` takes and gives."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from ninja import Router

from lumenward import calculations
from lumenward.api.doors import must
from lumenward.api.shapes import Trouble
from lumenward.interchange.strict_json import read_object, to_json

router = Router(tags=["calculations"])
_NO = {400: Trouble, 401: Trouble, 403: Trouble, 404: Trouble, 413: Trouble, 422: Trouble}
_CASE = {"requestBody": {"required": True, "content": {"application/json": {"schema": {"type": "object"}}}}}


@router.get("/calc", response={200: dict[str, Any], 401: Trouble})
def get_names(request: HttpRequest) -> dict[str, Any]:
    """List the calculations by name."""
    must(request, "calculate")
    return {"calculations": list(calculations.NAMES)}


@router.post("/calc/{name}", response={200: dict[str, Any], **_NO}, openapi_extra=_CASE)
def post_case(request: HttpRequest, name: str) -> HttpResponse:
    """Run one calculation on the case in the body."""
    must(request, "calculate")
    calculations.find(name)
    result = calculations.run(name, read_object(request.body))
    return HttpResponse(to_json(result), content_type="application/json")


@router.get("/calc/{name}/schema", response={200: dict[str, Any], **_NO})
def get_schema(request: HttpRequest, name: str) -> dict[str, Any]:
    """Return the JSON Schemas of input and output of one calculation."""
    must(request, "calculate")
    return calculations.schema(name)
