"""How much hot and how much cold water, and what the sink itself takes."""

from __future__ import annotations

from pydantic import Field

from lumenward.calculations.case import CaseInput, CaseOutput, Chart, Limit, Series
from lumenward.chemistry.temperature import Vessel, hot_fraction, water_for_target, with_vessel
from lumenward.quantities import Refusal, require_between, require_celsius

TITLE = "Hot and cold water"
LEAVES_OUT = [
    "Heat lost to the room while the sink fills.",
    "Hot water whose temperature falls while it runs.",
]
EXAMPLE = {
    "hot_c": 60,
    "cold_c": 10,
    "target_c": 38,
    "mass_kg": 10,
    "vessel_kg": 4,
    "vessel_c": 20,
    "vessel_cp_j_kg_k": 500,
}
_VESSEL = ("mass_kg", "vessel_kg", "vessel_c", "vessel_cp_j_kg_k")


class Input(CaseInput):
    """Temperatures of the taps and of the wish; mass of the water and the vessel, all four or none."""

    hot_c: float
    cold_c: float
    target_c: float
    mass_kg: float | None = None
    vessel_kg: float | None = None
    vessel_c: float | None = None
    vessel_cp_j_kg_k: float | None = None


class Output(CaseOutput):
    """Share of hot water for the target, and the temperature after the vessel has taken its part.

    `hot_fraction_for_vessel` makes up for the vessel; null where the hot tap cannot.
    """

    hot_fraction: float
    final_c: float
    hot_fraction_for_vessel: float | None
    hot_kg: float | None = Field(None, description="Hot water for `mass_kg`, without the vessel.")


def run(case: Input) -> Output:
    """Return the mixture."""
    share = hot_fraction(case.hot_c, case.cold_c, case.target_c)
    hot_kg = None if case.mass_kg is None else share * _mass(case.mass_kg)
    vessel = _vessel(case)
    if vessel is None or case.mass_kg is None:
        return Output(hot_fraction=share, final_c=case.target_c, hot_fraction_for_vessel=share, hot_kg=hot_kg)
    needed = water_for_target(case.target_c, case.mass_kg, vessel)
    within = case.cold_c <= needed <= case.hot_c
    return Output(
        hot_fraction=share,
        final_c=with_vessel(case.target_c, case.mass_kg, vessel),
        hot_fraction_for_vessel=hot_fraction(case.hot_c, case.cold_c, needed) if within else None,
        hot_kg=hot_kg,
    )


def _mass(mass_kg: float) -> float:
    return require_between(mass_kg, 0.05, 500, "mass_kg", "The mass of the water", "kg")


def _vessel(case: Input) -> Vessel | None:
    given = [key for key in _VESSEL[1:] if getattr(case, key) is not None]
    if not given:
        return None
    for key in _VESSEL:
        if getattr(case, key) is None:
            raise Refusal(
                "missing", f"{key}: the vessel needs it.", key, "Give all of " + ", ".join(_VESSEL) + "."
            )
    require_between(case.vessel_kg or 0.0, 0, 500, "vessel_kg", "The mass of a vessel", "kg")
    require_celsius(case.vessel_c or 0.0, -20, 100, "vessel_c", "The temperature of a vessel")
    require_between(case.vessel_cp_j_kg_k or 0.0, 50, 6000, "vessel_cp_j_kg_k", "A heat capacity", "J/(kg K)")
    return Vessel(case.vessel_kg or 0.0, case.vessel_c or 0.0, case.vessel_cp_j_kg_k or 0.0)


def picture(case: Input, result: Output) -> Chart:
    """Return the temperature over the share of hot water."""
    shares = [step / 20 for step in range(21)]
    mixed = [case.cold_c + share * (case.hot_c - case.cold_c) for share in shares]
    series = [Series(name="water alone", x=[100 * s for s in shares], y=list(mixed))]
    vessel = _vessel(case)
    if vessel is not None and case.mass_kg is not None:
        warmed = [with_vessel(value, case.mass_kg, vessel) for value in mixed]
        series.append(Series(name="with the vessel", x=[100 * s for s in shares], y=list(warmed)))
    return Chart(
        question="How much hot water gives the temperature?",
        x_label="hot water, %",
        y_label="temperature, °C",
        series=series,
        limits=[
            Limit(label="target", value=case.target_c),
            Limit(label="share of hot water", value=100 * result.hot_fraction, axis="x"),
        ],
    )
