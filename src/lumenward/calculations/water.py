"""Properties of water at one temperature."""

from __future__ import annotations

from pydantic import Field

from lumenward.calculations.case import CaseInput, CaseOutput, Chart, Series
from lumenward.hydraulics import water

TITLE = "Water at a temperature"
LEAVES_OUT = [
    "Detergent: at use dilution it makes water up to about 5 % more viscous (assumed) and lowers the surface "
    "tension to less than half.",
    "Concentrates, which are several to fifty times as viscous.",
    "Dissolved air and pressures far from one atmosphere.",
]
EXAMPLE = {"temperature_c": 20}


class Input(CaseInput):
    """The temperature of the water, between 0 and 100 C."""

    temperature_c: float


class Output(CaseOutput):
    """Four properties of pure water."""

    density_kg_m3: float
    viscosity_pa_s: float = Field(description="dynamic")
    surface_tension_n_m: float = Field(description="pure water against air")
    saturation_pressure_pa: float = Field(description="absolute")


def run(case: Input) -> Output:
    """Return the properties; raise Refusal `too-cold`, `too-hot` or `not-finite`.

    >>> round(run(Input(temperature_c=20)).density_kg_m3, 1)
    998.2
    """
    t = case.temperature_c
    return Output(
        density_kg_m3=water.density(t),
        viscosity_pa_s=water.viscosity(t),
        surface_tension_n_m=water.surface_tension(t),
        saturation_pressure_pa=water.saturation_pressure(t),
    )


def picture(case: Input, result: Output) -> Chart:
    """Return the viscosity against temperature: why a cold sink flushes slowly."""
    at = [float(t) for t in range(5, 66)]
    x: list[float | str] = list(at)
    return Chart(
        question="How much does a cold sink slow the flow?",
        x_label="temperature (°C)",
        y_label="viscosity (mPa s)",
        series=[
            Series(name="water", x=x, y=[water.viscosity(t) * 1e3 for t in at]),
            Series(name="asked", x=[case.temperature_c], y=[result.viscosity_pa_s * 1e3], kind="points"),
        ],
    )
