"""What is adopted here, since when, by whom; and what this house still needs."""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import datetime

from lumenward.equipment.library import Library
from lumenward.equipment.policy import Policy
from lumenward.quantities import Refusal
from lumenward.records.models import StoredEvent
from lumenward.records.world import StoredWorld


@dataclass(frozen=True)
class Adopted:
    """One adoption: the digest that names the document, when and by whom it came into force."""

    digest: str
    since: datetime
    by: str
    reason: str


@dataclass(frozen=True)
class Need:
    """One thing a house needs before anybody can work: what, whether it is there, where it is done."""

    what: str
    done: bool
    says: str
    address: str


def library(world: StoredWorld) -> Library | None:
    """Return the library in force, or None."""
    try:
        return world.library()
    except Refusal:
        return None


def policy(world: StoredWorld) -> Policy | None:
    """Return the policy in force, or None."""
    try:
        return world.policy()
    except Refusal:
        return None


def adoptions(what: str, world: StoredWorld) -> list[Adopted]:
    """Return every adoption of `library` or `policy`, the one in force first."""
    rows = StoredEvent.objects.filter(kind=f"{what}_adopted").order_by("-happened_utc", "-id")
    found = []
    for row in rows:
        body = json.loads(row.body)
        person = world.person(row.person)
        by = person.name if person else "the shell of this machine"
        found.append(Adopted(body["digest"], row.happened_utc, by, body.get("reason", "")))
    return found


def needs(world: StoredWorld) -> list[Need]:
    """Return what a house needs, in the order in which it is done."""
    shelf, decided = library(world), policy(world)
    people = [one for one in world.people() if not one.left]
    shown = [one for one in people if one.competencies]
    fleet = world.endoscopes()
    return [
        Need("Equipment library", shelf is not None, _models(shelf), "setup:library"),
        Need("Policy", decided is not None, f"{decided.name}, edition {decided.edition}" if decided else
             "none adopted yet", "setup:policy"),
        Need("People", len(people) > 1, _count(len(people), "person", "people"), "setup:people"),
        Need("Competencies", bool(shown), f"{len(shown)} of {len(people)} shown competent", "setup:people"),
        Need("Endoscopes", bool(fleet), f"{_count(len(fleet), 'endoscope', 'endoscopes')} registered",
             "setup:endoscopes"),
    ]  # fmt: skip


def _models(found: Library | None) -> str:
    if found is None:
        return "none adopted yet"
    return f"{_count(len(found.endoscopes), 'model', 'models')}, {_count(len(found.sinks), 'sink', 'sinks')}"


def _count(number: int, one: str, many: str) -> str:
    return f"{number} {one if number == 1 else many}"
