"""How much concentrate for this fill, and how sure the concentration is."""

from __future__ import annotations

from pydantic import Field

from lumenward.calculations import sink_volume
from lumenward.calculations.case import CaseInput, CaseOutput, Chart, Series
from lumenward.chemistry.dosing import Dilution, Fill, Kind, Spread, concentration_spread, dose_m3
from lumenward.chemistry.fill_spread import volume_spread
from lumenward.chemistry.vessels import volume
from lumenward.quantities import Refusal, require_between

TITLE = "Dose of concentrate"
LEAVES_OUT = [
    "How much active substance the concentrate still holds; use it inside its expiry.",
    "Mixing: the figures hold for a solution stirred through.",
    "Water already in the sink, on the endoscope or in its channels.",
    "The label decides which way of stating a dilution it means; the seven ways differ by up to a quarter.",
]
EXAMPLE = {
    "sink": {"shape": "box", "length_m": 0.6, "width_m": 0.45, "fill_m": 0.2},
    "dilution": {"kind": "ml_per_l_solution", "value": 2.5},
    "tolerances": {"dose_ml": 2, "length_m": 0.003, "width_m": 0.003, "fill_m": 0.005},
}


class DilutionInput(CaseInput):
    """What the label says."""

    kind: Kind
    value: float


class Tolerances(CaseInput):
    """Half widths, each value anywhere inside with equal chance (rectangular)."""

    dose_ml: float | None = Field(None, ge=0)
    fill_m: float | None = Field(None, ge=0)
    length_m: float | None = Field(None, ge=0)
    width_m: float | None = Field(None, ge=0)
    water_l: float | None = Field(None, ge=0)


class Input(CaseInput):
    """Water or sink, dilution; tolerances give the interval.

    A sink's fill is the water before dosing where the label counts water (`ml_per_l_water`, `one_to_n`,
    `…_oz_per_gal`) and the finished solution where the label counts solution (`ml_per_l_solution`, `percent_v_v`,
    `one_in_n`). `water_l` is always water.
    """

    dilution: DilutionInput
    water_l: float | None = None
    sink: sink_volume.Input | None = None
    tolerances: Tolerances | None = None
    dispensed_ml: float | None = Field(None, description="What was really dispensed; the dose where absent.")


class Output(CaseOutput):
    """Dose and concentration (v/v of the finished solution); no tolerances, no interval."""

    dose_ml: float
    concentration_ppm: float
    concentration_percent: float
    target_ppm: float
    u_ppm: float | None
    interval_95_ppm: list[float] | None
    shares: dict[str, float]
    volume_l: float
    volume_is: str = Field(description="`water` or `solution`: what the volume was taken to be.")
    dilution_in_words: str


def run(case: Input) -> Output:
    """Return dose, concentration and its interval (GUM, k = 2)."""
    dilution = Dilution(case.dilution.kind, case.dilution.value)
    fill = _fill(case, dilution)
    dose = dose_m3(dilution, fill)
    dispensed = dose if case.dispensed_ml is None else _dispensed(case.dispensed_ml, fill)
    spread = concentration_spread(dispensed, fill, *_tolerances(case, dispensed))
    known = bool(case.tolerances and case.tolerances.model_dump(exclude_none=True))
    return Output(
        dose_ml=1e6 * dose,
        concentration_ppm=1e6 * spread.value,
        concentration_percent=100 * spread.value,
        target_ppm=1e6 * dilution.fraction,
        u_ppm=1e6 * spread.u if known else None,
        interval_95_ppm=[1e6 * spread.low, 1e6 * spread.high] if known else None,
        shares=_shares(spread) if known else {},
        volume_l=1000 * fill.volume_m3,
        volume_is="solution" if fill.is_solution else "water",
        dilution_in_words=dilution.sentence(),
    )


def _fill(case: Input, dilution: Dilution) -> Fill:
    if (case.water_l is None) == (case.sink is None):
        code = "missing" if case.sink is None else "two-volumes"
        raise Refusal(
            code, "Either water_l or sink is needed, one of the two.", "water_l", "Give one of the two."
        )
    if case.sink is None:
        water = case.water_l or 0.0
        return Fill(require_between(water, 0.05, 500, "water_l", "The water in a sink", "L") / 1000)
    try:
        held = volume(sink_volume.vessel_of(case.sink), case.sink.fill_m)
    except Refusal as refusal:
        refusal.field = f"sink.{refusal.field}"
        raise
    return Fill(held, is_solution=dilution.counts_solution)


def _dispensed(dispensed_ml: float, fill: Fill) -> float:
    most = 1e6 * fill.volume_m3 * (1 if fill.is_solution else 10)
    return 1e-6 * require_between(dispensed_ml, 0, most, "dispensed_ml", "What was dispensed", "mL")


def _tolerances(case: Input, dispensed: float) -> tuple[float, dict[str, float]]:
    given = case.tolerances or Tolerances()
    _refuse_idle(case, given)
    half = 1e-6 * (given.dose_ml or 0.0)
    if half and half >= dispensed:
        raise Refusal(
            "too-high",
            "The tolerance of the dose is as large as the dose.",
            "tolerances.dose_ml",
            "Measure finer.",
        )
    if case.sink is None:
        water, width = case.water_l or 0.0, given.water_l or 0.0
        require_between(width, 0, water / 2, "tolerances.water_l", "A tolerance of the water", "L")
        return half, {"water_l": width / 1000 / 3**0.5}
    widths = {key: getattr(given, key) or 0.0 for key in ("fill_m", "length_m", "width_m")}
    return half, volume_spread(sink_volume.vessel_of(case.sink), case.sink.fill_m, widths)


def _refuse_idle(case: Input, given: Tolerances) -> None:
    idle = ("fill_m", "length_m", "width_m") if case.sink is None else ("water_l",)
    for key in idle:
        if getattr(given, key) is not None:
            raise Refusal(
                "unknown-key",
                f"tolerances.{key} does not belong to this way of giving the volume.",
                f"tolerances.{key}",
                "With water_l give its own tolerance, with sink those of its sides and fill.",
            )


def _shares(spread: Spread) -> dict[str, float]:
    return {name: share for name, share in spread.shares.items() if share > 0}


def picture(case: Input, result: Output) -> Chart:
    """Return where the uncertainty comes from."""
    del case
    names = {
        "dose_ml": "dose",
        "fill_m": "fill",
        "length_m": "length",
        "width_m": "width",
        "water_l": "water",
    }
    ordered = sorted(result.shares.items(), key=lambda pair: -pair[1])
    bars = Series(
        name="share",
        x=[names[key] for key, _ in ordered],
        y=[100 * share for _, share in ordered],
        kind="bars",
    )
    return Chart(
        question="Where does the doubt about the concentration come from?",
        x_label="measured by hand",
        y_label="share of the variance, %",
        series=[bars],
    )
