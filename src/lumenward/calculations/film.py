"""The water film an air purge leaves in a channel: a law for slow slugs, a range for real purges."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from lumenward.calculations.case import CaseInput, CaseOutput, Chart, Limit, Series
from lumenward.hydraulics import bounds, film
from lumenward.quantities import Refusal

TITLE = "Film left by a purge"
LEAVES_OUT = [
    "Inertia: real purges run at metres a second, far beyond the law's range.",
    "Channels that water does not wet: thick and thin films stand side by side there.",
    "Drainage after the air has broken through, drops, and water in branches and cylinders.",
    "Use the range of 5 to 35 % of the channel's volume for a real purge, not the law's single number.",
]
EXAMPLE = {"velocity_m_s": 0.01, "viscosity_pa_s": 0.0010016, "surface_tension_n_m": 0.072736}
_FLOW_KEYS = ("velocity_m_s", "viscosity_pa_s", "surface_tension_n_m")


class Input(CaseInput):
    """Either the capillary number, or velocity, viscosity and surface tension; bore and density if known."""

    capillary_number: float | None = Field(None, description="mu U / sigma")
    velocity_m_s: float | None = Field(None, description="speed of the air front")
    viscosity_pa_s: float | None = None
    surface_tension_n_m: float | None = None
    bore_m: float | None = Field(
        None, description="sharpens the judgement of inertia; otherwise a wide channel"
    )
    density_kg_m3: float | None = None


class Output(CaseOutput):
    """Film by the law, whether the law holds, and the range to use for a real purge."""

    thickness_over_radius: float
    left_fraction: float = Field(description="share of the channel's volume left as film, by the law")
    in_validity_range: bool = Field(description="inertia negligible and capillary number up to 2")
    capillary_number: float
    practical_low: float = Field(film.PURGE_RANGE[0], description="share left by a real purge, low end")
    practical_high: float = Field(film.PURGE_RANGE[1], description="share left by a real purge, high end")
    confidence: Literal["solid", "fair", "weak"]
    words: str


def run(case: Input) -> Output:
    """Return the film; raise Refusal when the two ways of giving the case are mixed or incomplete.

    >>> round(run(Input(velocity_m_s=1, viscosity_pa_s=0.0010016, surface_tension_n_m=0.072736)).left_fraction, 3)
    0.125
    """
    capillary, holds = _capillary(case)
    thickness = film.thickness_over_radius(capillary)
    return Output(
        thickness_over_radius=thickness,
        left_fraction=film.left_fraction(thickness),
        in_validity_range=holds,
        capillary_number=capillary,
        confidence="fair" if holds else "weak",
        words=_WORDS_INSIDE if holds else _WORDS_OUTSIDE,
    )


_WORDS_INSIDE = "A slow slug on a wetted wall, where the law was fitted; real purges are quicker."
_WORDS_OUTSIDE = (
    "Outside the law's range: inertia shapes the film of a water-like liquid at this speed. "
    "Take 5 to 35 % of the channel's volume as a range."
)


def _capillary(case: Input) -> tuple[float, bool]:
    given = [key for key in _FLOW_KEYS if getattr(case, key) is not None]
    if case.capillary_number is not None:
        if given:
            raise _mixed(given[0])
        bounds.between(case.capillary_number, 1e-12, 1e6, "capillary_number", "A capillary number", "")
        return case.capillary_number, film.holds_for_water(case.capillary_number)
    if case.velocity_m_s is None or case.viscosity_pa_s is None or case.surface_tension_n_m is None:
        raise _incomplete(given)
    speed = bounds.between(case.velocity_m_s, 1e-9, 340.0, "velocity_m_s", "A velocity", "m/s")
    thick = bounds.between(case.viscosity_pa_s, 1e-5, 100.0, "viscosity_pa_s", "A viscosity", "Pa s")
    pull = bounds.between(
        case.surface_tension_n_m, 1e-3, 1.0, "surface_tension_n_m", "A surface tension", "N/m"
    )
    bore = (
        film.ASSUMED_BORE_M
        if case.bore_m is None
        else bounds.between(case.bore_m, 1e-5, 0.05, "bore_m", "A bore", "m")
    )
    density = (
        1000.0
        if case.density_kg_m3 is None
        else bounds.between(case.density_kg_m3, 500.0, 3000.0, "density_kg_m3", "A density", "kg/m3")
    )
    return film.capillary_number(speed, thick, pull), film.holds(speed, thick, pull, bore, density)


def _mixed(key: str) -> Refusal:
    return Refusal(
        "contradiction",
        f"Both capillary_number and {key} are given; one way is enough.",
        key,
        "Give capillary_number alone, or velocity_m_s, viscosity_pa_s and surface_tension_n_m.",
    )


def _incomplete(given: list[str]) -> Refusal:
    missing = next(key for key in _FLOW_KEYS if key not in given)
    return Refusal(
        "missing",
        f"{missing} is missing, and so is capillary_number.",
        missing if given else "capillary_number",
        "Give capillary_number alone, or velocity_m_s, viscosity_pa_s and surface_tension_n_m.",
    )


def picture(case: Input, result: Output) -> Chart:
    """Return the film left against the capillary number, with the practical range."""
    at = [10 ** (-5 + 0.1 * i) for i in range(51)]
    x: list[float | str] = list(at)
    return Chart(
        question="How much of the channel's volume does a purge leave as a film?",
        x_label="capillary number of the air front",
        y_label="share of the channel's volume left",
        series=[
            Series(name="law for slow slugs", x=x, y=[_left(ca) for ca in at]),
            Series(name="asked", x=[result.capillary_number], y=[result.left_fraction], kind="points"),
        ],
        limits=[
            Limit(label="real purges, low end (weak)", value=result.practical_low),
            Limit(label="real purges, high end (weak)", value=result.practical_high),
            Limit(label="water: inertia beyond here", value=film.WATER_CAPILLARY_LIMIT, axis="x"),
        ],
    )


def _left(capillary: float) -> float:
    return film.left_fraction(film.thickness_over_radius(capillary))
