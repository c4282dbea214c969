"""The house itself: endoscopes, people, competencies, library and policy in force."""

from __future__ import annotations

from datetime import date
from typing import Any, Literal

from pydantic import Field

from lumenward.journey.kinds.base import Body, Ref, Words

Role = Literal["technician", "lead", "infection prevention", "engineer", "viewer"]


class EndoscopeRegistered(Body):
    """An endoscope joined the fleet; `code` is what its own label carries."""

    name: Words
    model: Ref
    serial: Ref
    code: Ref
    owner: Literal["own", "loan"] = "own"


class PersonAdded(Body):
    """A person may work here. The subject is the person's id."""

    name: Words
    role: Role


class PersonLeft(Body):
    """A person works here no more."""

    reason: Words | None = None


class RoleGiven(Body):
    """A person's role changed."""

    role: Role


class CompetencyRecorded(Body):
    """Shown competent for a model (`*`: all) by a method, until a date."""

    model: Ref
    valid_until: date
    method: Literal[
        "demonstration", "observation", "documentation audit", "simulation", "knowledge test", "verbalisation"
    ] = "demonstration"
    assessed_by: Ref


class LibraryAdopted(Body):
    """The equipment library in force from here on; the whole document is in the record."""

    digest: str = Field(pattern=r"^[0-9a-f]{64}$")
    document: dict[str, Any]


class PolicyAdopted(Body):
    """The policy in force from here on; the whole document is in the record."""

    digest: str = Field(pattern=r"^[0-9a-f]{64}$")
    document: dict[str, Any]
    reason: Words


class DemoLoaded(Body):
    """This house is invented."""

    seed: int
    days: int


class DemoRemoved(Body):
    """The invented house was removed."""

    reason: Words
