"""What is asked of the channel map: which set, which pump, which water, which clamps are shut."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from urllib.parse import urlencode

from django.http import QueryDict

from lumenward.equipment.endoscope import EndoscopeModel
from lumenward.equipment.fittings import ConnectorSet, Pump
from lumenward.equipment.library import Library
from lumenward.hydraulics.water import checked_temperature
from lumenward.quantities import Refusal, parse_in

USUAL_C = 35.0


@dataclass(frozen=True)
class Question:
    """One look at one model; `shut` are ports whose clamp is closed."""

    model: EndoscopeModel
    sets: tuple[ConnectorSet, ...]
    pumps: tuple[Pump, ...]
    kind: ConnectorSet
    pump: Pump
    temperature_c: float
    typed_c: str
    shut: tuple[str, ...]
    errors: dict[str, str] = field(default_factory=dict)

    @property
    def address(self) -> str:
        """Return the question as the part of an address behind the question mark."""
        return urlencode(self.settings + [("shut", port) for port in self.shut])

    @property
    def settings(self) -> list[tuple[str, str]]:
        """Return set, pump and water as they stand in an address."""
        return [("set", self.kind.id), ("pump", self.pump.id), ("c", self.typed_c)]

    @property
    def clamps(self) -> tuple[str, ...]:
        """Return the ports that have a clamp."""
        return tuple(tube.port for tube in self.kind.tubes if tube.clamp)

    def turned(self, port: str) -> Question:
        """Return the question with one clamp the other way."""
        shut = tuple(p for p in self.clamps if (p in self.shut) != (p == port))
        return replace(self, shut=shut)

    def only(self, opened: tuple[str, ...]) -> Question:
        """Return the question with only these ports open."""
        return replace(self, shut=tuple(port for port in self.clamps if port not in opened))


def read(library: Library, model: EndoscopeModel, asked: QueryDict) -> Question | None:
    """Return the question an address asks; None where no set fits the model or the house has no pump."""
    sets = tuple(one for one in library.connector_sets if model.id in one.fits)
    if not sets or not library.pumps or not model.channels:
        return None
    kind = next((one for one in sets if one.id == asked.get("set")), sets[0])
    pump = next((one for one in library.pumps if one.id == asked.get("pump")), library.pumps[0])
    typed = asked.get("c", f"{USUAL_C:g}")[:60]
    shut = tuple(tube.port for tube in kind.tubes if tube.clamp and tube.port in asked.getlist("shut"))
    found = Question(model, sets, tuple(library.pumps), kind, pump, USUAL_C, typed, shut)
    try:
        return replace(found, temperature_c=_temperature(typed))
    except Refusal as refusal:
        return replace(found, errors={"c": f"{refusal.message} {refusal.hint}".strip()})


def _temperature(typed: str) -> float:
    found = parse_in(typed, "°C", "c")
    checked_temperature(found, "c")
    return found
