"""Compressed air through one channel."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from lumenward.calculations.case import CaseInput, CaseOutput, Chart, Limit, Series
from lumenward.hydraulics import bounds, gas_flow
from lumenward.hydraulics.gas_flow import GasFlow, Passage
from lumenward.hydraulics.network import LARGEST_BORE_M

TITLE = "Air through a channel"
LEAVES_OUT = [
    "Cooling of the air as it expands: one temperature is taken all along.",
    "Water in the channel, which takes room from the air until it is out.",
    "Minor losses of connectors other than the one given, and the pressure lost before the channel.",
    "Never exceed the air pressure the IFU allows for this channel.",
]
EXAMPLE = {
    "inlet_pa_abs": 200000,
    "outlet_pa_abs": 101325,
    "temperature_c": 20,
    "bore_m": 0.0028,
    "length_m": 2.7,
    "minor_loss": 1.5,
}
_STEPS = 40
NARROWEST_M = 1e-6


class Input(CaseInput):
    """Two absolute pressures, one temperature, one channel."""

    inlet_pa_abs: float = Field(description="absolute: gauge plus about 101325")
    outlet_pa_abs: float
    temperature_c: float
    bore_m: float
    length_m: float
    minor_loss: float = Field(description="sum of loss coefficients on the velocity head")
    friction_factor: float | None = Field(None, description="Darcy; from the Reynolds number when left out")
    wire_m: float = Field(0.0, description="outer diameter of a wire inside; 0 for none")


class Output(CaseOutput):
    """Mass flow, the same as free air, and the state at the outlet."""

    mass_flow_kg_s: float
    free_air_l_min: float = Field(description="at the given temperature and 101325 Pa")
    mach_outlet: float
    choked: bool = Field(description="a lower outlet pressure would not bring more air")
    outlet_pa_abs: float = Field(description="pressure just inside the outlet")
    reynolds: float
    friction_factor: float | None = Field(description="Darcy; none when nothing flows")
    confidence: Literal["solid", "fair", "weak"]
    words: str


def run(case: Input) -> Output:
    """Return the air flow; raise Refusal for figures that are no channel, or an inlet below the outlet.

    >>> round(run(Input(**EXAMPLE)).free_air_l_min, 1)
    33.3
    """
    flow = _flow(case, case.outlet_pa_abs)
    transition = case.friction_factor is None and 2000.0 < flow.reynolds < 4000.0
    return Output(
        mass_flow_kg_s=flow.mass_flow_kg_s,
        free_air_l_min=gas_flow.free_air_l_min(flow.mass_flow_kg_s, case.temperature_c),
        mach_outlet=flow.mach_outlet,
        choked=flow.choked,
        outlet_pa_abs=flow.outlet_pa,
        reynolds=flow.reynolds,
        friction_factor=flow.friction_factor if flow.mass_flow_kg_s > 0.0 else case.friction_factor,
        confidence="fair" if transition or flow.choked else "solid",
        words=_words(flow, transition),
    )


def _flow(case: Input, outlet_pa: float) -> GasFlow:
    if 0.0 < case.bore_m < NARROWEST_M:
        bounds.between(case.bore_m, NARROWEST_M, LARGEST_BORE_M, "bore_m", "A channel's bore", "m")
    passage = Passage(case.bore_m, case.length_m, case.wire_m, case.minor_loss)
    return gas_flow.isothermal(
        case.inlet_pa_abs, outlet_pa, case.temperature_c, passage, case.friction_factor
    )


def _words(flow: GasFlow, transition: bool) -> str:
    if flow.choked:
        return "The outlet is choked: a lower pressure outside brings no more air."
    if transition:
        return "Between Reynolds 2000 and 4000 friction is known to about 10 % only."
    return "Isothermal flow with friction; the given minor loss is an assumption."


def picture(case: Input, result: Output) -> Chart:
    """Return free air against inlet pressure, from the outlet's pressure up to twice the drop."""
    top = case.outlet_pa_abs + 2.0 * max(case.inlet_pa_abs - case.outlet_pa_abs, 1e3)
    inlets = [case.outlet_pa_abs + (top - case.outlet_pa_abs) * i / _STEPS for i in range(_STEPS + 1)]
    inlets = [p for p in inlets if p <= 1e7]
    flows = [_flow(case.model_copy(update={"inlet_pa_abs": p}), case.outlet_pa_abs) for p in inlets]
    x: list[float | str] = [p / 1000.0 for p in inlets]
    return Chart(
        question="How much air does this channel pass at that pressure?",
        x_label="inlet pressure (kPa absolute)",
        y_label="free air (L/min)",
        series=[
            Series(
                name="this channel",
                x=x,
                y=[gas_flow.free_air_l_min(f.mass_flow_kg_s, case.temperature_c) for f in flows],
            ),
            Series(name="asked", x=[case.inlet_pa_abs / 1000.0], y=[result.free_air_l_min], kind="points"),
        ],
        limits=[Limit(label="outlet pressure", value=case.outlet_pa_abs / 1000.0, axis="x")],
    )
