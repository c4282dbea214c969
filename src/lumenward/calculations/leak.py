"""Pressure decay of a closed endoscope, and what this gauge can see in this time."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from lumenward.calculations.case import CaseInput, CaseOutput, Chart, Limit, Series
from lumenward.hydraulics import bounds, leak

TITLE = "Leak by pressure decay"
LEAVES_OUT = [
    "The sheath stretches under pressure: the first half minute falls without any leak. Wait before reading.",
    "The volume inside is poorly known; the leak is in proportion to it.",
    "A leak that opens only when the tip is bent, or only at another pressure.",
    "The IFU's leak test decides; a figure below the limit is not proof of tightness.",
]
EXAMPLE = {
    "volume_m3": 0.00035,
    "start_pa_abs": 126000,
    "end_pa_abs": 125000,
    "start_c": 20,
    "end_c": 20,
    "duration_s": 60,
    "pressure_u_pa": 29,
    "temperature_u_k": 0.05,
}


class Input(CaseInput):
    """One hold: absolute pressures and gas temperatures at start and end; standard uncertainties of one reading."""

    volume_m3: float = Field(description="gas volume under test")
    start_pa_abs: float
    end_pa_abs: float
    start_c: float
    end_c: float
    duration_s: float
    pressure_u_pa: float | None = Field(
        None, description="standard uncertainty; a digit of width d gives d/sqrt(12)"
    )
    temperature_u_k: float | None = None


class Output(CaseOutput):
    """The leak in three units, its uncertainty, and the smallest leak this hold could have seen."""

    leak_pa_m3_s: float = Field(
        description="temperature-compensated, at the start temperature; negative if rising"
    )
    leak_ml_min: float = Field(description="gas at the start temperature, 101325 Pa")
    leak_sccm_0c: float
    uncertainty_pa_m3_s: float | None = Field(description="standard; none without a reading uncertainty")
    detection_limit_pa_m3_s: float | None = Field(description="3.29 times the uncertainty")
    detection_limit_ml_min: float | None
    pressure_change_pa: float = Field(description="end less start as read; does not depend on the volume")
    compensated_change_pa: float = Field(description="end referred to the start temperature, less start")
    seen: bool | None = Field(description="whether the leak lies above the detection limit")
    confidence: Literal["solid", "fair", "weak"]
    words: str


def run(case: Input) -> Output:
    """Return the leak; raise Refusal for gauge pressures, litres or kelvins in the wrong place.

    >>> round(run(Input(**EXAMPLE)).leak_ml_min, 3)
    3.454
    """
    decay = _decay(case)
    rate = leak.leak_rate(decay)
    limit = _limit(case, decay)
    smallest = None if limit is None else leak.as_ml_min(limit)
    return Output(
        leak_pa_m3_s=rate,
        leak_ml_min=leak.as_ml_min(rate),
        leak_sccm_0c=leak.as_sccm(rate, decay.start_k),
        uncertainty_pa_m3_s=None if limit is None else limit / leak.DETECTION_FACTOR,
        detection_limit_pa_m3_s=limit,
        detection_limit_ml_min=smallest,
        pressure_change_pa=case.end_pa_abs - case.start_pa_abs,
        compensated_change_pa=-rate * case.duration_s / case.volume_m3,
        seen=None if limit is None else rate > limit,
        confidence="fair" if limit is None else "solid",
        words=_words(case, rate, limit),
    )


def _decay(case: Input) -> leak.Decay:
    bounds.between(case.volume_m3, 1e-6, 0.1, "volume_m3", "A volume under test", "m3")
    for key in ("start_pa_abs", "end_pa_abs"):
        bounds.between(getattr(case, key), 10e3, 2e6, key, "An absolute pressure", "Pa")
    for key in ("start_c", "end_c"):
        bounds.temperature(getattr(case, key), -30.0, 100.0, key, "The gas")
    bounds.between(case.duration_s, 1e-3, 7 * 86400.0, "duration_s", "A hold", "s")
    return leak.Decay(
        volume_m3=case.volume_m3,
        start_pa=case.start_pa_abs,
        end_pa=case.end_pa_abs,
        start_k=case.start_c + leak.KELVIN,
        end_k=case.end_c + leak.KELVIN,
        duration_s=case.duration_s,
    )


def _limit(case: Input, decay: leak.Decay) -> float | None:
    if case.pressure_u_pa is None and case.temperature_u_k is None:
        return None
    uncertainty = leak.rate_uncertainty(decay, case.pressure_u_pa or 0.0, case.temperature_u_k or 0.0)
    return leak.detection_limit(uncertainty)


def _words(case: Input, rate: float, limit: float | None) -> str:
    if limit is None:
        return "Without the uncertainty of gauge and thermometer nothing can be said about the smallest visible leak."
    text = (
        f"This gauge cannot see a leak below {leak.as_ml_min(limit):.2g} mL/min in {case.duration_s:g} s. "
        + _verdict(rate, limit)
    )
    missing = [k for k in ("pressure_u_pa", "temperature_u_k") if getattr(case, k) is None]
    return text + f" {missing[0]} was not given, so the true limit is higher." if missing else text


def _verdict(rate: float, limit: float) -> str:
    if rate > limit:
        return "The fall is larger than that: a leak is seen."
    if rate < -limit:
        return "Pressure rose: the gas warmed or air came in; repeat the test."
    return "The change is within what gauge and thermometer can tell: no leak seen, none excluded."


def picture(case: Input, result: Output) -> Chart:
    """Return pressure against time: the fall as read, and the fall that this gauge could just see."""
    ends: list[float | str] = [0.0, case.duration_s]
    start = case.start_pa_abs / 1000.0
    series = [
        Series(name="as read", x=ends, y=[start, case.end_pa_abs / 1000.0]),
        Series(
            name="temperature taken out", x=ends, y=[start, start + result.compensated_change_pa / 1000.0]
        ),
    ]
    limits = []
    if result.detection_limit_pa_m3_s is not None:
        fall = result.detection_limit_pa_m3_s * case.duration_s / case.volume_m3 / 1000.0
        limits.append(Limit(label="smallest fall this gauge can see", value=start - fall))
    return Chart(
        question="Does the pressure fall by more than this gauge and warmth can explain?",
        x_label="time of hold (s)",
        y_label="pressure (kPa absolute)",
        series=series,
        limits=limits,
    )
