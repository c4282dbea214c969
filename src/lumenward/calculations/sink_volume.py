"""What a sink holds at its fill."""

from __future__ import annotations

from collections.abc import Callable
from typing import Literal

from pydantic import Field

from lumenward.calculations.case import CaseInput, CaseOutput, Chart, Limit, Series
from lumenward.chemistry.vessels import Box, LyingCylinder, Stadium, Tapered, Vessel, volume
from lumenward.quantities import Refusal

TITLE = "Volume in a sink"
LEAVES_OUT = [
    "Rounded corners, the slope to the drain and what lies in the sink already.",
    "A sink that stands askew; measure the fill in its middle.",
]
EXAMPLE = {"shape": "box", "length_m": 0.6, "width_m": 0.45, "fill_m": 0.2}

SIDES: dict[str, tuple[str, ...]] = {
    "box": ("length_m", "width_m"),
    "tapered": ("bottom_length_m", "bottom_width_m", "top_length_m", "top_width_m", "height_m"),
    "stadium": ("straight_m", "width_m"),
    "lying-cylinder": ("diameter_m", "length_m"),
}
_SHAPES: dict[str, Callable[..., Vessel]] = {
    "box": Box,
    "tapered": Tapered,
    "stadium": Stadium,
    "lying-cylinder": LyingCylinder,
}


class Input(CaseInput):
    """Shape, its inner sides, and the height of the fill from the bottom."""

    shape: Literal["box", "tapered", "stadium", "lying-cylinder"]
    fill_m: float
    length_m: float | None = None
    width_m: float | None = None
    bottom_length_m: float | None = None
    bottom_width_m: float | None = None
    top_length_m: float | None = None
    top_width_m: float | None = None
    height_m: float | None = None
    straight_m: float | None = None
    diameter_m: float | None = None


class Output(CaseOutput):
    """The volume, and what one more centimetre of fill would add."""

    volume_l: float
    litres_per_cm: float = Field(description="How much a fill 1 cm higher would add here, L.")


def vessel_of(case: Input) -> Vessel:
    """Return the vessel of a case; raise Refusal for a side that is missing or belongs to another shape."""
    sides = SIDES[case.shape]
    for key in Input.model_fields:
        given = getattr(case, key) is not None
        if key in sides and not given:
            raise Refusal("missing", f"{key}: a {case.shape} needs it.", key, "Add this key.")
        if given and key not in (*sides, "shape", "fill_m"):
            raise Refusal(
                "unknown-key",
                f"{key}: a {case.shape} has no such side.",
                key,
                "Its sides: " + ", ".join(sides) + ".",
            )
    return _SHAPES[case.shape](**{side: getattr(case, side) for side in sides})


def run(case: Input) -> Output:
    """Return the volume."""
    vessel = vessel_of(case)
    held = volume(vessel, case.fill_m)
    slope = (vessel.volume_m3(case.fill_m) - vessel.volume_m3(case.fill_m * 0.999)) / (case.fill_m * 0.001)
    return Output(volume_l=1000 * held, litres_per_cm=10 * slope)


def picture(case: Input, result: Output) -> Chart:
    """Return the volume over the fill."""
    vessel = vessel_of(case)
    top = min(vessel.highest_m, 1.5 * case.fill_m)
    fills = [top * step / 40 for step in range(41)]
    line = Series(name="volume", x=[100 * f for f in fills], y=[1000 * vessel.volume_m3(f) for f in fills])
    point = Series(name="this fill", x=[100 * case.fill_m], y=[result.volume_l], kind="points")
    return Chart(
        question="How much does this sink hold at which fill?",
        x_label="fill, cm",
        y_label="volume, L",
        series=[line, point],
        limits=[Limit(label="this fill", value=100 * case.fill_m, axis="x")],
    )
