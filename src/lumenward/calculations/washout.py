"""What is still in a channel after some volumes of clean water, by three models of one tube."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from lumenward.calculations.case import CaseInput, CaseOutput, Chart, Series
from lumenward.hydraulics import bounds
from lumenward.hydraulics import washout as physics

TITLE = "Washout of a channel"
LEAVES_OUT = [
    "What sticks to the wall or soaks into the polymer and comes off later.",
    "Dead legs, capped branches and valve cylinders: flush them open, no figure replaces that.",
    "Changes of bore, bends and air bubbles along the channel.",
    "The maker's IFU decides how much water a rinse takes; this only shows what such a rinse can leave.",
]
EXAMPLE = {"model": "laminar-convection", "volumes": 5}
_STEPS = 60


class Diffusion(CaseInput):
    """What spreads across the channel while water runs along it."""

    diffusivity_m2_s: float = Field(description="molecular diffusivity in water: 1e-9 salt, 6e-11 protein")
    bore_m: float
    length_m: float
    velocity_m_s: float = Field(description="mean velocity of the water")


class Input(CaseInput):
    """A model, and how many channel volumes have been pumped."""

    model: Literal["laminar-convection", "closed-dispersion", "stirred"]
    volumes: float = Field(description="channel volumes pumped since clean water came in, 0 or more")
    peclet: float | None = Field(
        None, description="u L / D; needed by closed-dispersion, unused by the others"
    )
    diffusion: Diffusion | None = Field(None, description="narrows the laminar bound where that is valid")


class Output(CaseOutput):
    """Fractions of the strength before the rinse."""

    outlet_fraction: float = Field(description="strength at the distal end")
    left_fraction: float = Field(description="mean strength inside the channel")
    exited_fraction: float = Field(description="step response F, 1 less the outlet fraction")
    left_fraction_low: float | None = Field(
        None, description="with diffusion across the channel, where valid"
    )
    left_fraction_high: float | None = None
    convection_limit_volumes: float | None = Field(
        None, description="up to here pure convection is about right; beyond, it is a cautious bound"
    )
    radial_time: float | None = Field(None, description="D L / (u R^2)")
    confidence: Literal["solid", "fair", "weak"]
    words: str


def run(case: Input) -> Output:
    """Return the washout; raise Refusal for negative volumes or a missing Peclet number.

    >>> run(Input(model="laminar-convection", volumes=5)).left_fraction
    0.05
    """
    result = physics.washout(case.model, case.volumes, case.peclet)
    output = Output(
        outlet_fraction=result.outlet,
        left_fraction=result.left,
        exited_fraction=result.exited,
        confidence="weak" if case.model == "stirred" else "fair",
        words=_WORDS[case.model],
    )
    return _with_diffusion(output, case) if case.diffusion else output


_WORDS = {
    "laminar-convection": "A cautious bound: nothing mixes across the channel. A sample at the distal end "
    "under-reads what is still inside.",
    "closed-dispersion": "An idealised tube; the Peclet number carries the whole doubt.",
    "stirred": "Channels are not stirred; read it as an order of magnitude for a trap or a cylinder.",
}


def _with_diffusion(output: Output, case: Input) -> Output:
    if case.model != "laminar-convection" or case.diffusion is None:
        words = output.words + " Diffusion across the channel belongs to the laminar model and was not used."
        return output.model_copy(update={"words": words})
    tau = _radial_time(case.diffusion)
    found: dict[str, object] = {"radial_time": tau, "convection_limit_volumes": physics.convection_limit(tau)}
    if tau <= physics.RADIAL_TIME_LIMIT:
        low, high = physics.laminar_with_diffusion(case.volumes, tau)
        found |= {"left_fraction_low": low, "left_fraction_high": high}
    else:
        found["words"] = (
            f"{output.words} Diffusion is too quick for the correction here; pure convection over-reads."
        )
    return output.model_copy(update=found)


def _radial_time(diffusion: Diffusion) -> float:
    bounds.between(diffusion.bore_m, 1e-4, 0.05, "diffusion.bore_m", "A bore", "m")
    bounds.between(diffusion.length_m, 1e-3, 250.0, "diffusion.length_m", "A length", "m")
    bounds.between(diffusion.velocity_m_s, 1e-6, 50.0, "diffusion.velocity_m_s", "A velocity", "m/s")
    bounds.between(
        diffusion.diffusivity_m2_s, 1e-14, 1e-7, "diffusion.diffusivity_m2_s", "A diffusivity", "m2/s"
    )
    return physics.radial_time(
        diffusion.diffusivity_m2_s, diffusion.bore_m, diffusion.length_m, diffusion.velocity_m_s
    )


def picture(case: Input, result: Output) -> Chart:
    """Return the washout curve, outlet and inside, up to twice the asked volumes."""
    end = max(2.0 * min(case.volumes, 1e6), 3.0)
    at = [end * i / _STEPS for i in range(_STEPS + 1)]
    curve = [physics.washout(case.model, v, case.peclet) for v in at]
    x: list[float | str] = list(at)
    return Chart(
        question="How much of the old liquid is left after so many channel volumes?",
        x_label="channel volumes pumped",
        y_label="fraction of the strength before",
        series=[
            Series(name="at the distal end", x=x, y=[c.outlet for c in curve]),
            Series(name="inside the channel, mean", x=x, y=[c.left for c in curve]),
            Series(name="asked", x=[case.volumes], y=[result.left_fraction], kind="points"),
        ],
    )
