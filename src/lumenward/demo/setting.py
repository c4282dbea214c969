"""The invented house before its first day: library, policy, people, fleet."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from importlib.resources import files
from itertools import count
from pathlib import Path
from typing import Any

from lumenward.demo.cast import ENGINEER, FLEET, LEAD, PEOPLE, Invented, Scope
from lumenward.demo.pen import Pen
from lumenward.equipment.library import Library
from lumenward.equipment.loader import as_document, digest, load_library, load_policy
from lumenward.equipment.policy import Policy

FOLDER = Path(str(files("lumenward.demo")))


def documents() -> tuple[Library, Policy]:
    """Return the invented equipment library and the invented policy."""
    return load_library(FOLDER / "library"), load_policy(FOLDER / "policy.toml")


def set_up(
    pen: Pen, library: Library, policy: Policy, at: datetime, seed: int, days: int, today: date
) -> None:
    """Write the acts of the house itself."""
    tick = (at + timedelta(seconds=n) for n in count())
    pen.write("demo_loaded", next(tick), "house", {"seed": seed, "days": days})
    described = {"digest": digest(library), "document": as_document(library)}
    pen.write("library_adopted", next(tick), "house", described)
    adopted = {
        "digest": digest(policy),
        "document": as_document(policy),
        "reason": "first policy of the unit",
    }
    pen.write("policy_adopted", next(tick), "house", adopted)
    for person in PEOPLE:
        pen.write("person_added", next(tick), person.id, {"name": person.name, "role": person.role})
    for person in PEOPLE:
        for model in person.competent:
            pen.write("competency_recorded", next(tick), person.id, _competent(person, model, today))
    for scope in FLEET:
        pen.write("endoscope_registered", next(tick), scope.id, _registered(scope), person=LEAD.id)


def _competent(person: Invented, model: str, today: date) -> dict[str, Any]:
    assessor = ENGINEER if person is LEAD else LEAD
    until = (today + timedelta(days=person.until_days)).isoformat()
    return {"model": model, "valid_until": until, "method": "observation", "assessed_by": assessor.id}


def _registered(scope: Scope) -> dict[str, Any]:
    return {
        "name": scope.name, "model": scope.model, "serial": scope.serial, "code": scope.code, "owner": scope.owner,
    }  # fmt: skip
