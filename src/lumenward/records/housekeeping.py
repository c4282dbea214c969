"""What a house decides about itself: people, library, policy; each decision is an act in the ledger."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.db import transaction

from lumenward.equipment.library import Library
from lumenward.equipment.loader import as_document, digest
from lumenward.equipment.policy import Policy
from lumenward.ledger.uuid7 import make_id
from lumenward.quantities import Refusal
from lumenward.records import accounts, ledgering
from lumenward.records.models import (
    Conflict,
    Person,
    Projection,
    RefusedAct,
    StoredEvent,
    Token,
    Touch,
    TreeHead,
)
from lumenward.records.roles import SET_UP, Actor
from lumenward.records.service import Act, record_one

SHELL = Actor(SET_UP, "Set-up", SET_UP)
"""Whoever owns the machine: may set up people, library and policy, and may not touch an endoscope."""

HOUSE = "house"


def decide(
    kind: str, subject: str, body: dict[str, Any], actor: Actor, now: datetime, station: str = "shell"
) -> str:
    """Record one decision of the house and return its id, or raise the Refusal it was answered with."""
    event_id = str(make_id(int(now.timestamp() * 1000)))
    said = {
        "id": event_id, "kind": kind, "version": 1, "subject": subject, "person": actor.id, "station": station,
        "happened_at": now.isoformat(), "body": body,
    }  # fmt: skip
    answer = record_one(Act(said), actor, now)
    if answer.error is not None:
        raise answer.error
    return event_id


def add_person(
    person_id: str,
    name: str,
    role: str,
    actor: Actor,
    now: datetime,
    *,
    station: str = "shell",
    **proofs: str,
) -> None:
    """Add a person and their account; `proofs` are `password`, `badge`, `pin`, each optional."""
    if accounts.reserved(person_id):
        raise Refusal("reserved", f"{person_id!r} cannot be a person's id.", "person", "Take another id.")
    with transaction.atomic():
        decide("person_added", person_id, {"name": name, "role": role}, actor, now, station)
        accounts.open_account(person_id, **proofs)


def person_leaves(
    person_id: str, actor: Actor, now: datetime, reason: str = "", station: str = "shell"
) -> None:
    """End a person's work here: their account is closed in the same transaction."""
    decide("person_left", person_id, {"reason": reason} if reason else {}, actor, now, station)


def adopt_library(library: Library, actor: Actor, now: datetime, station: str = "shell") -> str:
    """Put an equipment library in force from `now`; return its digest."""
    body = {"digest": digest(library), "document": as_document(library)}
    decide("library_adopted", HOUSE, body, actor, now, station)
    return str(body["digest"])


def adopt_policy(policy: Policy, reason: str, actor: Actor, now: datetime, station: str = "shell") -> str:
    """Put a policy in force from `now`; return its digest."""
    body = {"digest": digest(policy), "document": as_document(policy), "reason": reason}
    decide("policy_adopted", HOUSE, body, actor, now, station)
    return str(body["digest"])


def is_empty() -> bool:
    """Return whether nothing was recorded here except that a demo was removed."""
    return not StoredEvent.objects.exclude(kind="demo_removed").exists()


def empty_demo(now: datetime, reason: str = "removed by the shell") -> int:
    """Remove everything of an invented house, people too; return how many events went. A real house is refused."""
    if not accounts.is_demo():
        raise Refusal(
            "not-a-demo", "This house is not invented; nothing was removed.", "", "A ledger is never emptied."
        )
    from django.contrib.auth import get_user_model
    from django.contrib.sessions.models import Session

    with ledgering.writing():
        count = StoredEvent.objects.count()
        for table in (
            Touch,
            Projection,
            TreeHead,
            Conflict,
            RefusedAct,
            Token,
            Person,
            get_user_model(),
            Session,
        ):
            table._base_manager.all().delete()
        StoredEvent._base_manager.all().delete()
        decide("demo_removed", HOUSE, {"reason": reason}, SHELL, now)
    return count
