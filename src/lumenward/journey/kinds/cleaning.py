"""Leak test, manual cleaning, inspection, verification."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from lumenward.journey.kinds.base import Body, Celsius, Ends, Kilopascals, Litres, Millilitres, Ref, Words


class StepStarted(Body):
    """A timed stretch began; `step` is the key of the planned step."""

    step: Ref


class LeakTested(Ends):
    """A leak test and what it showed. `released` : pressure let off before disconnecting."""

    method: Literal["wet", "dry", "machine"]
    result: Literal["tight", "leak"]
    pressure_kpa: Kilopascals | None = None
    end_pressure_kpa: Kilopascals | None = None
    knobs_moved: bool = True
    released: bool = True
    meter: Ref | None = None
    where: Words | None = None


class DetergentDosed(Body):
    """Detergent was mixed for this endoscope in one vessel; the event's id names the batch."""

    vessel: Ref
    role: Literal["sink", "container"] = "sink"
    detergent: Ref
    lot: Ref
    water_l: Litres
    temperature_c: Celsius
    dose_ml: Millilitres
    concentration_ppm: float | None = Field(default=None, gt=0)
    low_ppm: float | None = Field(default=None, ge=0)
    high_ppm: float | None = Field(default=None, gt=0)


class CleaningStarted(Body):
    """Immersed: the delay clock ends here. `batches` are ids of `detergent_dosed` events."""

    batches: list[Ref] = Field(min_length=1, max_length=4)
    protective_equipment: bool = True


class ExteriorCleaned(Body):
    """Outside, ports, valves, tip, recess in both positions of the elevator."""

    elevator_both_positions: bool | None = None
    parts_dismantled: bool = True


class ChannelBrushed(Ends):
    """One channel brushed until nothing came out."""

    channel: Ref
    brush: Ref
    brush_lot: Ref | None = None
    passes: int = Field(ge=1, le=50)
    debris: Literal["none at last pass", "still coming"] = "none at last pass"


class Connected(Body):
    """The connector set is on; `ports` those connected, `clamped` lines that lead nowhere."""

    connector_set: Ref
    ports: list[Ref] = Field(min_length=1, max_length=12)
    clamped: list[Ref] = Field(default_factory=list, max_length=12)


class Aspirated(Ends):
    """Detergent drawn through a channel, biopsy port open."""

    channel: Ref


class Flushed(Ends):
    """Detergent pumped through the channels; `seen_leaving` those where fluid was seen at the outlet."""

    channels: list[Ref] = Field(min_length=1, max_length=12)
    seen_leaving: bool
    pump: Ref | None = None
    turns: list[dict[str, float | str | list[str]]] = Field(default_factory=list, max_length=16)


class Purged(Ends):
    """Air pushed the fluid out; `after` says which fluid."""

    after: Literal["flush", "rinse", "final rinse"]
    channels: list[Ref] = Field(min_length=1, max_length=12)


class Rinsed(Ends):
    """Water pumped through the channels after the detergent; over the outside alone where there is no channel."""

    channels: list[Ref] = Field(default_factory=list, max_length=12)
    water: Ref


class Disconnected(Body):
    """The connector set is off."""

    connector_set: Ref


class Inspected(Body):
    """Looked at, by magnifier and, where asked for, by borescope."""

    tools: list[Literal["magnifier", "borescope"]] = Field(min_length=1)
    result: Literal["clean and whole", "debris seen", "damage seen"]
    findings: list[Ref] = Field(default_factory=list, max_length=20)
    note: Words | None = None


class CleaningVerified(Body):
    """A cleaning verification test with the limits of its own kit."""

    kit: Ref
    lot: Ref | None = None
    site: Words
    value: float = Field(ge=0, le=10_000_000)
    result: Literal["pass", "alert", "fail"]
