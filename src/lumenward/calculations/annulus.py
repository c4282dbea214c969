"""Flow beside a wire in a channel."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from lumenward.calculations.case import CaseInput, CaseOutput, Chart, Series
from lumenward.hydraulics import annulus

TITLE = "Channel with a wire inside"
LEAVES_OUT = [
    "Where the wire lies is not known in practice: the flow is a range from centred to lying on the wall.",
    "Twisted or bent wires, and turbulent flow beside them.",
]
EXAMPLE = {"radius_ratio": 0.5, "eccentricity": 0.5}


class Input(CaseInput):
    """Wire over bore (0 to 1), and the wire's offset over the widest offset (0 centred, 1 on the wall)."""

    radius_ratio: float
    eccentricity: float


class Output(CaseOutput):
    """Friction of the centred annulus, and how much more passes where the wire lies off-centre."""

    laminar_f_re: float = Field(description="Darcy f times Re on the hydraulic diameter, centred")
    flow_ratio: float = Field(description="flow at this eccentricity over centred, same pressure")
    flow_ratio_on_wall: float = Field(
        description="the same with the wire lying on the wall: end of the range"
    )
    confidence: Literal["fair"] = "fair"
    words: str


def run(case: Input) -> Output:
    """Return friction and flow ratio; raise Refusal outside 0 to 1.

    >>> round(run(Input(radius_ratio=0.5, eccentricity=0.9)).flow_ratio, 3)
    2.085
    """
    widest = annulus.flow_ratio(case.radius_ratio, 1.0)
    return Output(
        laminar_f_re=annulus.laminar_f_re(case.radius_ratio),
        flow_ratio=annulus.flow_ratio(case.radius_ratio, case.eccentricity),
        flow_ratio_on_wall=widest,
        words=f"Nobody sees where the wire lies: expect between 1 and {widest:.1f} times the centred flow.",
    )


def picture(case: Input, result: Output) -> Chart:
    """Return the flow ratio against the wire's offset."""
    at = [i / 40 for i in range(41)]
    x: list[float | str] = list(at)
    return Chart(
        question="How much does the place of the wire matter?",
        x_label="offset of the wire (0 centred, 1 on the wall)",
        y_label="flow over centred flow",
        series=[
            Series(name="laminar", x=x, y=[annulus.flow_ratio(case.radius_ratio, e) for e in at]),
            Series(name="asked", x=[case.eccentricity], y=[result.flow_ratio], kind="points"),
        ],
    )
