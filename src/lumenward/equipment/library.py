"""A library: every model and fitting of one house, checked as a whole, with the digest that names it."""

from __future__ import annotations

from typing import TypeVar

from pydantic import Field

from lumenward.equipment.common import Described
from lumenward.equipment.endoscope import EndoscopeModel
from lumenward.equipment.fittings import (
    Basin,
    Brushware,
    Cabinet,
    ConnectorSet,
    Detergent,
    Disinfectant,
    Dryer,
    Meter,
    Pump,
    Sink,
    TestStrip,
    VerificationKit,
    Vessel,
    Washer,
    Water,
)
from lumenward.quantities import Refusal

Thing = TypeVar("Thing")


class Library(Described):
    """Everything a house owns by description. Built only by the loader, which has checked all references."""

    endoscopes: list[EndoscopeModel] = Field(default_factory=list)
    connector_sets: list[ConnectorSet] = Field(default_factory=list)
    pumps: list[Pump] = Field(default_factory=list)
    sinks: list[Sink] = Field(default_factory=list)
    containers: list[Vessel] = Field(default_factory=list)
    basins: list[Basin] = Field(default_factory=list)
    washers: list[Washer] = Field(default_factory=list)
    dryers: list[Dryer] = Field(default_factory=list)
    cabinets: list[Cabinet] = Field(default_factory=list)
    waters: list[Water] = Field(default_factory=list)
    brushes: list[Brushware] = Field(default_factory=list)
    meters: list[Meter] = Field(default_factory=list)
    kits: list[VerificationKit] = Field(default_factory=list)
    detergents: list[Detergent] = Field(default_factory=list)
    disinfectants: list[Disinfectant] = Field(default_factory=list)
    strips: list[TestStrip] = Field(default_factory=list)

    def get(self, shelf: str, thing_id: str) -> object:
        """Return the thing `thing_id` of the list named `shelf`, or raise a Refusal that says what exists."""
        things = getattr(self, shelf)
        for thing in things:
            if thing.id == thing_id:
                found: object = thing
                return found
        known = ", ".join(thing.id for thing in things) or "none"
        raise Refusal(
            "not-in-library", f"The library has no {shelf} entry {thing_id!r}.", shelf, f"Known: {known}."
        )

    def model(self, model_id: str) -> EndoscopeModel:
        """Return one endoscope model, or raise a Refusal."""
        found = self.get("endoscopes", model_id)
        assert isinstance(found, EndoscopeModel)
        return found
