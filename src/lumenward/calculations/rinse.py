"""How many fills of clean water, each followed by a purge, bring a channel down to a strength."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from lumenward.calculations.case import CaseInput, CaseOutput, Chart, Limit, Series
from lumenward.hydraulics import rinse

TITLE = "Fills of a rinse"
LEAVES_OUT = [
    "Whatever sticks to the polymer and leaves later, such as OPA.",
    "Poor mixing in a fill: a film that the next fill does not reach stays as strong as it was.",
    "Branches and cylinders that the rinse does not pass.",
    "The IFU's number of rinses and volumes stands; this never lowers it.",
]
EXAMPLE = {"start_ppm": 5000, "left_fraction": 0.2, "target_ppm": 10}


class Input(CaseInput):
    """Strength before, what each purge leaves (5 to 35 % in practice), and the strength wanted."""

    start_ppm: float
    left_fraction: float = Field(
        description="share of the channel's volume left by each purge, between 0 and 1"
    )
    target_ppm: float


class Output(CaseOutput):
    """Fills with purges, and what it would take without purges."""

    fills: int
    after_ppm: float = Field(description="strength after those fills")
    volumes_stirred: float = Field(description="channel volumes without purges, stirred")
    volumes_laminar_outlet: float = Field(description="until a sample at the distal end meets the target")
    volumes_laminar_left: float = Field(description="until the mean inside meets it: a cautious bound")
    confidence: Literal["solid", "fair", "weak"] = "weak"
    words: str = "Perfect mixing in every fill is assumed; what a purge leaves is known as a range only."


def run(case: Input) -> Output:
    """Return the fills; raise Refusal `target-above-start`, `out-of-range` or `too-low`.

    >>> run(Input(start_ppm=5000, left_fraction=0.2, target_ppm=10)).fills
    4
    """
    fills = rinse.fills_to(case.start_ppm, case.left_fraction, case.target_ppm)
    through = rinse.flow_through(case.start_ppm, case.target_ppm)
    return Output(
        fills=fills,
        after_ppm=rinse.after_fills(case.start_ppm, case.left_fraction, fills),
        volumes_stirred=through.stirred,
        volumes_laminar_outlet=through.laminar_outlet,
        volumes_laminar_left=through.laminar_left,
    )


def picture(case: Input, result: Output) -> Chart:
    """Return the strength after each fill, for this purge and for the ends of the practical range."""
    count = min(max(result.fills + 2, 6), 60)
    x: list[float | str] = [float(n) for n in range(count + 1)]
    purges = [("this purge", case.left_fraction), ("5 % left", 0.05), ("35 % left", 0.35)]
    return Chart(
        question="After how many fills is the target met?",
        x_label="fills with a purge after each",
        y_label="strength in the channel (ppm)",
        series=[
            Series(
                name=name,
                x=x,
                y=[rinse.after_fills(case.start_ppm, left, n) for n in range(count + 1)],
                kind="points" if name == "this purge" else "line",
            )
            for name, left in purges
        ],
        limits=[Limit(label="target", value=case.target_ppm)],
        log_y=True,
    )
