"""Endoscope models: channels, ports, tubes, allowed pressures and the IFU as data."""

from __future__ import annotations

from datetime import date
from typing import Literal

from pydantic import Field

from lumenward.equipment.common import Described, Slug, Stated, Words

Family = Literal[
    "gastroscope", "colonoscope", "duodenoscope", "echoendoscope", "bronchoscope", "cystoscope",
    "ureteroscope", "rhino-laryngoscope",
]  # fmt: skip
LeakMethod = Literal["wet", "dry", "machine"]
Route = Literal["manual", "machine"]


class Port(Described):
    """An opening where a connector, a valve or a cap goes. `node` is its node in the tube graph."""

    id: Slug
    name: Words
    node: str
    capped_for_flush: bool = False


class Tube(Described):
    """A stretch of one bore between two nodes; `out` is the open distal end. `port` marks a clampable inlet."""

    id: Slug
    from_: str = Field(alias="from")
    to: str
    length_m: float = Field(gt=0, le=10)
    bore_mm: float = Field(gt=0, le=20)
    wire_mm: float = Field(default=0, ge=0)
    eccentricity: float = Field(default=0, ge=0, le=1)
    minor_loss: float = Field(default=0, ge=0)


class Brush(Described):
    """The brush a channel takes, by the IFU."""

    code: Words
    diameter_mm: float = Field(gt=0)
    passes: int = Field(ge=1)
    page: Words


class Channel(Described):
    """One channel as the trade names it: the tubes it runs through, where it is fed, how it is brushed.

    `brush` is absent where the IFU says that the channel cannot be brushed; then `unbrushable_page` says where.
    """

    id: Slug
    name: Words
    tubes: list[Slug] = Field(min_length=1)
    port: Slug
    brush: Brush | None = None
    unbrushable_page: Words | None = None
    aspirates: bool = False
    max_pressure_kpa: float | None = Field(default=None, gt=0)
    pressure_page: Words | None = None


class StepAdvice(Described):
    """The IFU's words for one step, in one-line instructions of our own wording."""

    step: Slug
    say: list[Words] = Field(min_length=1)
    page: Words


class Instructions(Described):
    """The maker's instructions for use as data: edition, date, steps, stated numbers."""

    document: Words
    edition: Words
    dated: date
    leak_methods: list[LeakMethod] = Field(min_length=1)
    routes: list[Route] = Field(min_length=1)
    chemistries: list[Slug] = Field(min_length=1)
    alcohol_allowed: bool = False
    borescope: bool = False
    advice: list[StepAdvice] = Field(default_factory=list)
    states: list[Stated] = Field(default_factory=list)

    @property
    def cited(self) -> str:
        """Document and edition, as a source is named."""
        return f"{self.document}, edition {self.edition}"


class EndoscopeModel(Described):
    """One model. `gtin` is the 14-digit device identifier on its label; `ratios` come from the IFU or measurement."""

    id: Slug
    name: Words
    maker: Words
    family: Family
    high_risk: bool
    urological: bool = False
    immersible: bool = True
    gtin: str = Field(pattern=r"^\d{14}$")
    working_length_mm: float = Field(gt=0)
    inner_volume_leak_l: float | None = Field(default=None, gt=0)
    ports: list[Port] = Field(default_factory=list)
    tubes: list[Tube] = Field(default_factory=list)
    channels: list[Channel] = Field(default_factory=list)
    ifu: Instructions

    def channel(self, channel_id: str) -> Channel | None:
        """Return the channel named, or None."""
        return next((c for c in self.channels if c.id == channel_id), None)
