"""High-level disinfection by hand or machine, final rinse, alcohol, drying, storage, release."""

from __future__ import annotations

from typing import Any, Literal

from pydantic import Field

from lumenward.journey.kinds.base import Body, Celsius, Ends, Kilopascals, Ref, Words


class HldStarted(Body):
    """Immersed in a charge; the contact time runs from here: every channel is filled and the temperature met."""

    charge: Ref
    temperature_c: Celsius
    channels_filled: bool


class HldEnded(Body):
    """Taken out of the charge; the contact time is the difference to `hld_started`."""

    charge: Ref
    temperature_c: Celsius
    result: Literal["complete", "cut short"] = "complete"


class MachineCycleStarted(Body):
    """Loaded and started in a washer-disinfector."""

    washer: Ref
    program: Ref
    connected_all: bool


class MachineCycleEnded(Body):
    """What the machine reported."""

    washer: Ref
    program: Ref
    result: Literal["complete", "aborted"]
    contact_s: float | None = Field(default=None, gt=0, le=36000)
    temperature_c: Celsius | None = None
    dose_confirmed: bool | None = None
    report: Words | None = None


class FinalRinsed(Ends):
    """Rinsed after disinfection, `count` separate volumes of fresh water of the kind `water`."""

    count: int = Field(ge=1, le=10)
    water: Ref
    channels: list[Ref] = Field(default_factory=list, max_length=12)


class AlcoholFlushed(Body):
    """Alcohol through the channels, only where the policy says so."""

    strength_percent: float = Field(ge=60, le=95)
    channels: list[Ref] = Field(min_length=1, max_length=12)


class Dried(Ends):
    """Channels dried by filtered air, outside dried, dryness checked."""

    dryer: Ref
    pressure_kpa: Kilopascals | None = None
    channels: list[Ref] = Field(default_factory=list, max_length=12)
    check: Literal["no drops on dark paper", "indicator paper", "borescope", "no channel: outside wiped dry"]
    result: Literal["dry", "moisture seen"]


class Stored(Body):
    """Hung or laid in its place."""

    cabinet: Ref
    slot: int | None = Field(default=None, ge=1, le=200)
    valves_out: bool = True
    clean_gloves: bool = True


class Released(Body):
    """A competent person released it; the verdict of that moment is kept with the signature."""

    meaning: Literal["released for patient use"] = "released for patient use"
    verdict: dict[str, Any]
    verdict_digest: str = Field(pattern=r"^[0-9a-f]{64}$")
    ready_until: str


class TakenForUse(Body):
    """Left the shelf for a patient."""

    case: Ref
    room: Ref | None = None


class Held(Body):
    """Not for use until somebody lifts the hold."""

    reason: Literal[
        "leak found", "debris twice", "damage seen", "verification failed twice", "disinfection failed",
        "culture awaited", "recall", "outbreak", "prion risk", "no instructions", "other",
    ]  # fmt: skip
    note: Words | None = None


class HoldLifted(Body):
    """The hold is over, and why."""

    reason: Words


class SentForRepair(Body):
    """Left for repair."""

    reason: Words


class ReturnedFromRepair(Body):
    """Back from repair: dirty until processed here."""

    note: Words | None = None


class LoanEnded(Body):
    """A loaner went back."""

    note: Words | None = None


class Retired(Body):
    """Out of service for good."""

    reason: Words


class WorkInterrupted(Body):
    """Work stopped in the middle of a step; `step` is done again from its beginning."""

    step: Ref
    reason: Words


class HandedOver(Body):
    """A second person takes over; `from_person` was working before."""

    from_person: Ref


class Corrected(Body):
    """Names an earlier event and says why; `new_body` absent means the act did not happen."""

    event: Ref
    reason: Words
    new_body: dict[str, Any] | None = None
