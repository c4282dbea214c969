"""What the ledger adds up to, one state a subject. Every state is folded from the events that touch it."""

from __future__ import annotations

from datetime import date, datetime
from typing import Literal, Protocol

from pydantic import BaseModel, ConfigDict, Field

from lumenward.equipment.library import Library
from lumenward.equipment.policy import Policy
from lumenward.journey.event import Event

Stage = Literal[
    "in use",  # taken for a patient
    "waiting",  # used, cleaning not begun
    "being cleaned",  # leak test, cleaning, flush, rinse, inspection, verification
    "being disinfected",
    "disinfected",  # out of the disinfectant, not yet dry
    "dry",
    "stored",  # in its place, not released
    "ready",  # released; hang time is a clock, not a stage
    "held",
    "away",  # repair, loan ended
    "retired",
    "never processed",  # registered, nothing known: dirty
]


class State(BaseModel):
    """Base of every state."""

    model_config = ConfigDict(extra="forbid")

    id: str


class EndoscopeState(State):
    """Where one endoscope is. `stage_before_hold` is what it goes back to when a hold is lifted."""

    name: str = ""
    model: str = ""
    serial: str = ""
    code: str = ""
    owner: str = "own"
    stage: Stage = "never processed"
    stage_before_hold: str = ""
    held_why: str = ""
    cycle: str = ""
    place: str = ""
    slot: int | None = None
    since: datetime | None = None
    end_of_use: datetime | None = None
    ready_until: datetime | None = None
    uses: int = 0


class CycleState(State):
    """One cycle in brief: the acts themselves are read from the ledger."""

    endoscope: str = ""
    opened_by: str = ""
    case: str = ""
    opened_at: datetime | None = None
    time_known: bool = True
    cleaning_started_at: datetime | None = None
    stage: Stage = "waiting"
    station: str = ""
    people: list[str] = Field(default_factory=list)
    last_kind: str = ""
    last_at: datetime | None = None
    dried_at: datetime | None = None
    stored_at: datetime | None = None
    cabinet: str = ""
    released_at: datetime | None = None
    released_by: str = ""
    closed_at: datetime | None = None
    failures: int = 0


class MecTest(BaseModel):
    """One test of a charge."""

    at: datetime
    result: Literal["pass", "fail"]
    strip_lot: str
    percent: float | None = None
    temperature_c: float | None = None
    event: str


class Immersion(BaseModel):
    """One endoscope's stay in a charge."""

    cycle: str
    endoscope: str
    start: datetime
    end: datetime | None = None


class ChargeState(State):
    """One fill of one basin, from pouring to discarding."""

    basin: str = ""
    disinfectant: str = ""
    lot: str = ""
    volume_l: float = 0
    poured_at: datetime | None = None
    tests: list[MecTest] = Field(default_factory=list)
    stays: list[Immersion] = Field(default_factory=list)
    discarded_at: datetime | None = None
    discarded_why: str = ""


class LotState(State):
    """One lot in use."""

    product: str = ""
    shelf: str = ""
    lot: str = ""
    code: str = ""
    expires: date | None = None
    opened_at: datetime | None = None
    withdrawn_why: str = ""
    full_strength_passed: int = 0
    diluted_failed: int = 0


class ConnectorSetState(State):
    """One connector set in use."""

    kind: str = ""
    code: str = ""
    opened_at: datetime | None = None
    first_use_at: datetime | None = None
    uses: int = 0
    on: str = ""  # the cycle it is connected to now
    discarded_why: str = ""


class BatchState(State):
    """One mix of detergent."""

    cycle: str = ""
    endoscope: str = ""
    vessel: str = ""
    role: str = ""
    detergent: str = ""
    lot: str = ""
    mixed_at: datetime | None = None
    used_by: str = ""  # cycle
    used_at: datetime | None = None
    discarded_why: str = ""


class Competency(BaseModel):
    """Shown competent for `model` (`*`: every model) until a date."""

    model: str
    valid_until: date


class PersonState(State):
    """One person who may work here."""

    name: str = ""
    role: str = ""
    left: bool = False
    competencies: list[Competency] = Field(default_factory=list)


class World(Protocol):
    """What the plan, the legality check and the verdict may ask. Records and tests each provide one."""

    def endoscope(self, endoscope_id: str) -> EndoscopeState | None: ...
    def endoscopes(self) -> list[EndoscopeState]: ...
    def cycle(self, cycle_id: str) -> CycleState | None: ...
    def acts(self, cycle_id: str) -> list[Event]:
        """Events of one cycle, corrections included, in their order (instant, id)."""
        ...

    def event(self, event_id: str) -> Event | None: ...
    def charge(self, charge_id: str) -> ChargeState | None: ...
    def lot(self, lot_id: str) -> LotState | None: ...
    def connector_set(self, set_id: str) -> ConnectorSetState | None: ...
    def batch(self, batch_id: str) -> BatchState | None: ...
    def person(self, person_id: str) -> PersonState | None: ...
    def charges(self) -> list[ChargeState]:
        """Charges not discarded."""
        ...

    def lots(self) -> list[LotState]: ...
    def connector_sets(self) -> list[ConnectorSetState]:
        """Sets not discarded."""
        ...

    def people(self) -> list[PersonState]: ...
    def library(self, at: datetime | None = None) -> Library:
        """The library in force at an instant (now, when absent)."""
        ...

    def policy(self, at: datetime | None = None) -> Policy: ...
