"""Acts from the stations: recorded one by one, answered one by one; scans; signed releases."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from django.conf import settings
from django.http import HttpRequest
from ninja import Router

from lumenward.api.doors import must
from lumenward.api.shapes import Acts, Answers, ReleaseIn, ReleaseOut, ScanIn, ScanOut, Trouble
from lumenward.interchange.scanning import scan
from lumenward.records import accounts
from lumenward.records.releasing import Signature, sign_release
from lumenward.records.service import Act, record
from lumenward.records.world import StoredWorld

router = Router(tags=["acts"])
_NO = {400: Trouble, 401: Trouble, 403: Trouble, 413: Trouble, 422: Trouble}


@router.post("/acts", response={200: Answers, **_NO}, exclude_none=True)
def post_acts(request: HttpRequest, batch: Acts) -> dict[str, Any]:
    """Record acts in the order in which they happened; sending them again changes nothing."""
    actor = must(request, "record acts")
    answers = record([_act(said) for said in batch.acts], actor, datetime.now(UTC))
    return {"answers": [answer.as_dict() for answer in answers]}


@router.post("/scan", response={200: ScanOut, **_NO})
def post_scan(request: HttpRequest, sent: ScanIn) -> dict[str, Any]:
    """Say in words what a code stands for and whether it may be used now."""
    must(request, "see")
    found = scan(
        sent.code, sent.expects, StoredWorld(), _holder, now=datetime.now(UTC), zone=settings.TIME_ZONE
    )
    return found.as_dict()


@router.post("/release", response={200: ReleaseOut, **_NO}, exclude_none=True)
def post_release(request: HttpRequest, sent: ReleaseIn) -> dict[str, Any]:
    """Sign a release with the PIN; the verdict of this moment is kept with the signature."""
    actor = must(request, "release")
    signature = Signature(**sent.model_dump())
    verdict, answer = sign_release(signature, actor, datetime.now(UTC))
    return {"verdict": verdict, "answer": answer.as_dict()}


def _act(said: dict[str, Any]) -> Act:
    event = {key: value for key, value in said.items() if key != "badge"}
    return Act(event, badge=str(said.get("badge") or "")[:80])


def _holder(code: str) -> tuple[str, str] | None:
    actor = accounts.actor_of_badge(code)
    return (actor.id, actor.name) if actor else None
