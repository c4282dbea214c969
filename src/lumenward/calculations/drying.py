"""Bounds of the time in which compressed air dries one channel, and of what it can carry off in ten minutes."""

from __future__ import annotations

from typing import Any, Literal

from pydantic import Field, model_validator

from lumenward.calculations.case import CaseInput, CaseOutput, Chart, Limit, Series
from lumenward.hydraulics import bounds, drying
from lumenward.hydraulics.film import PURGE_RANGE
from lumenward.hydraulics.gas_flow import Passage, free_air_l_min
from lumenward.quantities import Refusal

TITLE = "Drying a channel with air"
LEAVES_OUT = [
    "Where water is trapped: branches, valve cylinders and caps decide, and only their volume is in this model.",
    "The pressure lost before the channel, and channels that share one supply.",
    "Alcohol, which dries otherwise, and water that only looks dry on polymers.",
    "No published measurement gives bore, pressure and remaining water together, so the model is not calibrated.",
    "Never exceed the air pressure of the IFU; ten minutes at least, whatever this computes.",
]
EXAMPLE = {
    "bore_m": 0.0012,
    "length_m": 2.7,
    "air": {"gauge_pa": 100000, "temperature_c": 20, "dew_point_c": -40},
    "trapped_ml": 0.05,
}
MINOR_LOSS = 1.5
WORST_TRAPPED_ML = 100.0
_STEPS = 60


class Air(CaseInput):
    """The air as it stands at the regulator; nothing here has a default."""

    gauge_pa: float = Field(description="above the room's pressure, at the channel's inlet")
    temperature_c: float
    dew_point_c: float = Field(description="of the air let out to the room; over ice below 0 °C")


class Input(CaseInput):
    """One channel and its air; a film share and trapped water if known."""

    bore_m: float
    length_m: float
    wire_m: float = Field(0.0, description="outer diameter of a wire inside; 0 for none")
    air: Air
    film_fraction: float | None = Field(
        None, description="share of the bore left as film by the purge; 0.05 to 0.35 as a range when left out"
    )
    trapped_ml: float | None = Field(None, description="water trapped in branches; none when left out")
    minor_loss: float = Field(MINOR_LOSS, description="sum of loss coefficients")

    @model_validator(mode="before")
    @classmethod
    def _air_is_known(cls, data: Any) -> Any:
        if isinstance(data, dict) and data.get("air") is None:
            raise Refusal(
                "missing",
                "Drying depends on the air: pressure, temperature and dew point are needed and none is assumed.",
                "air",
                'Add "air": {"gauge_pa": ..., "temperature_c": ..., "dew_point_c": ...} as read at the regulator.',
            )
        return data


class Output(CaseOutput):
    """Bounds, never a single number."""

    time_low_s: float
    time_high_s: float
    capacity_ml_10_min_low: float = Field(
        description="water carried off as vapour in ten minutes, no heat from the wall"
    )
    capacity_ml_10_min_high: float = Field(
        description="the same when the wall keeps the air at its temperature"
    )
    free_air_l_min: float
    trapped_low_s_per_ml: float = Field(description="each trapped mL adds at least so much")
    trapped_high_s_per_ml: float
    against_floor: str
    planned_s: float = Field(description="the upper bound, never below the ten-minute floor")
    confidence: Literal["solid", "fair", "weak"] = "weak"
    words: str


def run(case: Input) -> Output:
    """Return the bounds; raise Refusal for a missing air, a dew point above the temperature, a mixed-up unit.

    >>> result = run(Input(bore_m=0.0012, length_m=2.7, film_fraction=0.2,
    ...     air=Air(gauge_pa=100e3, temperature_c=20, dew_point_c=-40)))
    >>> round(result.time_low_s), round(result.time_high_s), result.planned_s
    (53, 86, 600.0)
    """
    supply, passage, films, trapped = _physical(case)
    rate = drying.evaporation(supply, passage)
    times = drying.drying_time(supply, passage, films, trapped)
    planned, comparison = drying.against_floor(times)
    flow = drying.air_flow(supply, passage)
    return Output(
        time_low_s=times.low,
        time_high_s=times.high,
        capacity_ml_10_min_low=rate.low * 600e6,
        capacity_ml_10_min_high=rate.high * 600e6,
        free_air_l_min=free_air_l_min(flow.mass_flow_kg_s, supply.temperature_c),
        trapped_low_s_per_ml=1e-6 / rate.high,
        trapped_high_s_per_ml=1e-6 / rate.low,
        against_floor=comparison,
        planned_s=planned,
        words=_words(case, 0.05e-6 / rate.high, 0.05e-6 / rate.low),
    )


def _physical(case: Input) -> tuple[drying.DryingAir, Passage, tuple[float, float], float]:
    bounds.between(case.bore_m, 1e-4, 0.05, "bore_m", "A channel's bore", "m")
    bounds.between(case.length_m, 1e-2, 20.0, "length_m", "A channel's length", "m")
    bounds.between(case.air.gauge_pa, 1e3, 1e6, "air.gauge_pa", "A drying air's gauge pressure", "Pa")
    bounds.temperature(case.air.temperature_c, 1.0, 90.0, "air.temperature_c", "The air")
    bounds.temperature(case.air.dew_point_c, -100.0, 90.0, "air.dew_point_c", "A dew point")
    supply = drying.DryingAir(case.air.gauge_pa, case.air.temperature_c, case.air.dew_point_c)
    passage = Passage(case.bore_m, case.length_m, case.wire_m, case.minor_loss)
    return supply, passage, _films(case.film_fraction), _trapped(case.trapped_ml)


def _films(film_fraction: float | None) -> tuple[float, float]:
    if film_fraction is None:
        return PURGE_RANGE
    bounds.between(film_fraction, 0.0, 1.0, "film_fraction", "A film's share of the bore", "")
    return film_fraction, film_fraction


def _trapped(trapped_ml: float | None) -> float:
    if trapped_ml is None:
        return 0.0
    return 1e-6 * bounds.between(trapped_ml, 0.0, WORST_TRAPPED_ML, "trapped_ml", "Trapped water", "mL")


def _words(case: Input, low_s: float, high_s: float) -> str:
    added = f"each 0.05 mL trapped in a branch adds {low_s:.0f} to {high_s:.0f} s"
    if case.trapped_ml is None:
        return f"Bounds without trapped water; {added}. The model is not calibrated."
    return f"Bounds with {case.trapped_ml:g} mL trapped; {added}. The model is not calibrated."


def picture(case: Input, result: Output) -> Chart:
    """Return the water left against time at both bounds, with the ten-minute floor."""
    supply, passage, films, trapped = _physical(case)
    rate = drying.evaporation(supply, passage)
    end = max(1.1 * result.time_high_s, 1.1 * drying.FLOOR_S)
    at = [end * (i / _STEPS) ** 2 for i in range(_STEPS + 1)]
    x: list[float | str] = [t / 60.0 for t in at]

    def left(evaporated: float, share: float) -> list[float | None]:
        first = drying.film_time(evaporated, supply, passage, share)
        return [1e6 * _left_at(t, first, evaporated, supply, passage, share, trapped) for t in at]

    return Chart(
        question="How much water is still in the channel after so many minutes of air?",
        x_label="minutes of air",
        y_label="water left (mL)",
        series=[
            Series(name="quick bound: wall supplies heat", x=x, y=left(rate.high, films[0])),
            Series(name="slow bound: no heat from the wall", x=x, y=left(rate.low, films[1])),
        ],
        limits=[Limit(label="floor of ten minutes", value=drying.FLOOR_S / 60.0, axis="x")],
    )


def _left_at(
    seconds: float,
    film_s: float,
    evaporated: float,
    supply: drying.DryingAir,
    passage: Passage,
    share: float,
    trapped: float,
) -> float:
    film = drying.film_left(seconds, evaporated, supply, passage, share) if seconds < film_s else 0.0
    return film + max(trapped - evaporated * max(seconds - film_s, 0.0), 0.0)
