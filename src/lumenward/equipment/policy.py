"""A policy profile: what this house has decided, each number with the document that decided it.

It stands here, below the rulebook, because the plan of a cycle needs its numbers as much as the verdict does.
"""

from __future__ import annotations

from datetime import date
from typing import Literal

from pydantic import Field

from lumenward.equipment.common import Described, Slug, Stated, Words

CabinetKind = Literal["drying cabinet", "ventilated cabinet", "transport tray"]
EveryUse = Literal["each use", "each use if high-risk", "never"]


class HangTime(Described):
    """How long an endoscope may wait in one kind of place before it must be processed again."""

    cabinet: CabinetKind
    high_risk: bool
    hours: float = Field(gt=0)
    source: Words


class Delay(Described):
    """The time from the end of use to the start of cleaning; `soon_min` is when the clock grows loud."""

    limit_min: float = Field(gt=0)
    soon_min: float = Field(gt=0)
    source: Words


class Policy(Described):
    """One profile. `states` are floors, ceilings and aims by step (the `page` of each is the source)."""

    id: Slug
    name: Words
    edition: Words
    dated: date
    jurisdiction: Words
    delay: Delay
    hang_times: list[HangTime] = Field(min_length=1)
    states: list[Stated] = Field(default_factory=list)
    verification: EveryUse
    verification_source: Words
    borescope: EveryUse
    borescope_source: Words
    alcohol: bool
    alcohol_source: Words
    mec_test: Literal["each use", "each day"]
    mec_source: Words
    second_container: bool = False
    competency_required: bool = True
    competency_source: Words
    connector_set_life_h: float | None = Field(default=None, gt=0)
    connector_set_source: Words | None = None
    cleaning_attempts: int = Field(ge=1, le=5)
    cleaning_attempts_source: Words
    release_roles: list[Literal["technician", "lead", "infection prevention"]] = Field(min_length=1)
    late_entry_min: float = Field(gt=0)
