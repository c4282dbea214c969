"""The friction factor of a round tube."""

from __future__ import annotations

from typing import Literal

import numpy as np
from pydantic import Field

from lumenward.calculations.case import CaseInput, CaseOutput, Chart, Limit, Series
from lumenward.hydraulics import friction

TITLE = "Friction factor"
LEAVES_OUT = [
    "Between Reynolds numbers of 2000 and 4000 the laws differ, and nobody knows which is right; flows there are "
    "known to about 10 %.",
    "Entrance lengths, bends and pulsation.",
]
EXAMPLE = {"law": "colebrook", "reynolds": 100000, "relative_roughness": 0.0001}


class Input(CaseInput):
    """A law, a Reynolds number, and the roughness over the bore."""

    law: Literal["colebrook", "swamee-jain", "churchill", "epanet"]
    reynolds: float
    relative_roughness: float


class Output(CaseOutput):
    """The Darcy factor and the regime it stands for."""

    friction_factor: float = Field(description="Darcy")
    regime: Literal["laminar", "transition", "turbulent"]
    confidence: Literal["solid", "fair"]


def run(case: Input) -> Output:
    """Return the friction factor; raise Refusal for a Reynolds number or roughness outside the laws.

    >>> round(run(Input(law="epanet", reynolds=1000, relative_roughness=0)).friction_factor, 3)
    0.064
    """
    regime = regime_of(case.reynolds)
    return Output(
        friction_factor=friction.friction_factor(case.law, case.reynolds, case.relative_roughness),
        regime=regime,
        confidence="fair" if regime == "transition" else "solid",
    )


def regime_of(reynolds: float) -> Literal["laminar", "transition", "turbulent"]:
    """Return the regime's name.

    >>> regime_of(1500), regime_of(3000)
    ('laminar', 'transition')
    """
    if reynolds <= friction.LAMINAR_END:
        return "laminar"
    return "transition" if reynolds < friction.TURBULENT else "turbulent"


def picture(case: Input, result: Output) -> Chart:
    """Return the four laws around the transition."""
    at = np.geomspace(500.0, 50000.0, 81)
    x: list[float | str] = [float(re) for re in at]
    rough = np.array([case.relative_roughness])
    lines = [
        Series(
            name=law, x=x, y=[float(v) for v in friction.prepare(law, np.array([64.0]), rough)(at)[0] / at]
        )
        for law in ("colebrook", "swamee-jain", "churchill", "epanet")
    ]
    asked = Series(name="asked", x=[case.reynolds], y=[result.friction_factor], kind="points")
    return Chart(
        question="How much do the laws differ here?",
        x_label="Reynolds number",
        y_label="Darcy friction factor",
        series=[*lines, asked],
        limits=[
            Limit(label="laminar ends", value=friction.LAMINAR_END, axis="x"),
            Limit(label="turbulent", value=friction.TURBULENT, axis="x"),
        ],
        log_y=True,
    )
