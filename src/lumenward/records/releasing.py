"""A release: a competent person signs with a PIN, and the verdict of that moment is in the record."""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from lumenward.ledger.canonical import canonical_json
from lumenward.quantities import Refusal
from lumenward.records import accounts, ledgering
from lumenward.records.models import StoredEvent
from lumenward.records.roles import Actor, no_right
from lumenward.records.service import Act, Answer, acting, record_one
from lumenward.records.world import StoredWorld
from lumenward.rulebook import assess
from lumenward.rulebook.verdict import Verdict


@dataclass(frozen=True)
class Signature:
    """Who signs what, where, when, and the PIN that proves it."""

    endoscope: str
    cycle: str
    station: str
    person: str
    pin: str
    act_id: str
    happened_at: datetime
    badge: str = ""


def sign_release(signature: Signature, session: Actor, now: datetime) -> tuple[dict[str, Any], Answer]:
    """Record a signed release and return the verdict it was signed on; raise a Refusal otherwise.

    Refused: no right or role, wrong or locked PIN, an endoscope that is not ready. Sent again, it is answered with
    the verdict that was signed.
    """
    signer = acting(signature.person, signature.badge, session)
    if not signer.may("release"):
        raise no_right(signer, "release")
    known = StoredEvent.objects.filter(pk=signature.act_id).first()
    if known is not None:
        return _again(known, signature)
    accounts.check_pin(signer.id, signature.pin, now)
    with ledgering.writing():
        verdict = assess(StoredWorld(), signature.endoscope, signature.cycle, now)
        document = _ready(verdict)
        answer = record_one(_act(signature, verdict, document), session, now)
    if answer.error is not None:
        raise answer.error
    return document, answer


def _ready(verdict: Verdict) -> dict[str, Any]:
    if not verdict.ready:
        first = verdict.against[0].sentence if verdict.against else "nothing was judged."
        more = f" And {len(verdict.against) - 1} more." if len(verdict.against) > 1 else ""
        raise Refusal(
            "not-ready", f"Not ready: {first}{more}", "cycle", "Read the verdict; do what it asks for."
        )
    if verdict.ready_until is None:
        raise Refusal(
            "no-hang-time", "Nobody states how long it stays ready here.", "cycle", "Add it to the policy."
        )
    found: dict[str, Any] = verdict.model_dump(mode="json")
    return found


def _act(signature: Signature, verdict: Verdict, document: dict[str, Any]) -> Act:
    body = {
        "verdict": document,
        "verdict_digest": hashlib.sha256(canonical_json(document)).hexdigest(),
        "ready_until": verdict.ready_until,
    }
    said = {
        "id": signature.act_id, "kind": "released", "version": 1, "subject": signature.endoscope,
        "cycle": signature.cycle, "person": signature.person, "station": signature.station,
        "happened_at": signature.happened_at.isoformat(), "body": body,
    }  # fmt: skip
    return Act(said, signature.badge, signed=True)


def _again(known: StoredEvent, signature: Signature) -> tuple[dict[str, Any], Answer]:
    same = (known.kind, known.subject, known.cycle, known.person)
    if same != ("released", signature.endoscope, signature.cycle, signature.person):
        raise Refusal(
            "conflict", "Another act was recorded under this id.", "act_id", "Sign again under a new id."
        )
    verdict: dict[str, Any] = json.loads(known.body)["verdict"]
    return verdict, Answer(known.id, "already recorded")
