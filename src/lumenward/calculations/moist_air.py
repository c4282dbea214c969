"""Moist air: what it carries, its wet bulb and its dew point."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from lumenward.calculations.case import CaseInput, CaseOutput, Chart, Limit, Series
from lumenward.hydraulics import air, bounds
from lumenward.quantities import Refusal

TITLE = "Moist air"
LEAVES_OUT = [
    "Real-gas effects: saturated air holds 0.45 % more near one bar than computed here.",
    "Droplets and fog: moisture beyond saturation is refused, not shared out.",
    "Below 0 °C saturation is over ice; supercooled water would hold more.",
]
EXAMPLE = {"temperature_c": 25, "pressure_pa": 101325, "relative_humidity": 0.5}
_KINDS = ("relative_humidity", "dew_point_c", "humidity_ratio")


class Input(CaseInput):
    """Temperature, absolute pressure, and exactly one measure of moisture."""

    temperature_c: float
    pressure_pa: float = Field(description="absolute")
    relative_humidity: float | None = Field(None, description="0 to 1; over ice below 0 °C")
    dew_point_c: float | None = Field(None, description="at that pressure; over ice below 0 °C")
    humidity_ratio: float | None = Field(None, description="kg of vapour per kg of dry air")


class Output(CaseOutput):
    """The state of the air."""

    humidity_ratio: float
    wet_bulb_c: float
    dew_point_c: float | None = Field(description="none for air with no vapour, or below -100 °C")
    saturation_pressure_pa: float = Field(description="at the air's temperature, over ice below 0 °C")
    relative_humidity: float
    vapour_pressure_pa: float
    confidence: Literal["solid", "fair", "weak"] = "solid"
    words: str


def run(case: Input) -> Output:
    """Return the state; raise Refusal for none or several measures of moisture, or more than saturation.

    >>> result = run(Input(temperature_c=25, pressure_pa=101325, relative_humidity=0.5))
    >>> round(result.wet_bulb_c, 1), round(result.dew_point_c, 1)
    (17.9, 13.9)
    """
    bounds.temperature(case.temperature_c, -60.0, 99.0, "temperature_c", "The air")
    bounds.between(case.pressure_pa, 20e3, 2e6, "pressure_pa", "An absolute pressure", "Pa")
    full = air.saturation(case.temperature_c)
    if full >= case.pressure_pa:
        raise _boiling(case)
    vapour = _vapour(case, full)
    ratio = air.humidity_ratio(vapour, case.pressure_pa)
    dew = air.dew_point(ratio, case.pressure_pa)
    return Output(
        humidity_ratio=ratio,
        wet_bulb_c=air.wet_bulb(case.temperature_c, ratio, case.pressure_pa),
        dew_point_c=dew if case.dew_point_c is None else case.dew_point_c,
        saturation_pressure_pa=full,
        relative_humidity=vapour / full,
        vapour_pressure_pa=vapour,
        words="Bone-dry air has no dew point." if dew is None else _surface(dew),
    )


def _surface(dew_c: float) -> str:
    return "The dew point is a frost point, over ice." if dew_c < 0.0 else "The dew point is over water."


def _vapour(case: Input, full: float) -> float:
    given = [key for key in _KINDS if getattr(case, key) is not None]
    if len(given) != 1:
        raise Refusal(
            "missing" if not given else "contradiction",
            f"Exactly one measure of moisture is needed; found {', '.join(given) or 'none'}.",
            given[1] if given else "relative_humidity",
            "Give one of: " + ", ".join(_KINDS),
        )
    if case.relative_humidity is not None:
        return full * bounds.between(
            case.relative_humidity, 0.0, 1.0, "relative_humidity", "A relative humidity", ""
        )
    if case.dew_point_c is not None:
        return _from_dew_point(case.dew_point_c, case.temperature_c)
    most = air.humidity_ratio(full, case.pressure_pa)
    ratio = case.humidity_ratio or 0.0
    if 0.0 <= ratio <= most * (1.0 + 1e-9):
        return min(air.vapour_pressure(ratio, case.pressure_pa), full)
    return bounds.between(ratio, 0.0, most, "humidity_ratio", "The humidity ratio at this temperature", "")


def _from_dew_point(dew_c: float, temperature_c: float) -> float:
    if dew_c > temperature_c:
        raise Refusal(
            "too-high",
            f"A dew point of {dew_c:g} °C cannot lie above the temperature of {temperature_c:g} °C.",
            "dew_point_c",
            "Check which figure is which.",
        )
    bounds.temperature(dew_c, air.COLDEST_C, temperature_c, "dew_point_c", "A dew point")
    return air.saturation(dew_c)


def _boiling(case: Input) -> Refusal:
    return Refusal(
        "too-high",
        f"At {case.temperature_c:g} °C water boils under {case.pressure_pa:g} Pa; there is no moist air.",
        "temperature_c",
        "Pressures are absolute, in pascals.",
    )


def picture(case: Input, result: Output) -> Chart:
    """Return the most vapour air can hold against temperature, and this air."""
    low, high = -20.0, max(40.0, case.temperature_c)
    at = [low + (high - low) * i / 60 for i in range(61)]
    at = [t for t in at if air.saturation(t) < 0.5 * case.pressure_pa]
    x: list[float | str] = list(at)
    return Chart(
        question="How much water can this air still take up?",
        x_label="temperature (°C)",
        y_label="water in air (g per kg of dry air)",
        series=[
            Series(name="saturated", x=x, y=[1e3 * air.saturated_ratio(t, case.pressure_pa) for t in at]),
            Series(name="this air", x=[case.temperature_c], y=[1e3 * result.humidity_ratio], kind="points"),
        ],
        limits=[Limit(label="wet bulb", value=result.wet_bulb_c, axis="x")],
    )
