"""How many endoscopes a charge of disinfectant can take before carried water has thinned it too far."""

from __future__ import annotations

import math

from pydantic import Field

from lumenward.calculations.case import CaseInput, CaseOutput, Chart, Limit, Series
from lumenward.chemistry.basin import Basin, carry_over, fall_per_cycle, percent_after
from lumenward.chemistry.basin_history import Instrument, Learned, Reading, learn
from lumenward.quantities import Refusal

TITLE = "Carry-over into a basin"
LEAVES_OUT = [
    "The carried volume is the whole uncertainty: 10 to 300 mL for an endoscope, by how well its channels were purged.",
    "Soil, splashes, evaporation and topping up.",
    "This never replaces the test of the charge before each use, nor its reuse life.",
]
EXAMPLE = {"basin_l": 10, "carry_over_ml": 100, "start_percent": 0.55, "minimum_percent": 0.30}


class ReadingInput(CaseInput):
    """One test of a charge: cycles since it was made, and a concentration or a pass/fail; charges by name."""

    cycles: float
    percent: float | None = None
    passed: bool | None = None
    charge: str = ""


class Input(CaseInput):
    """A charge and what each endoscope carries; or the basin's own history to learn that from."""

    basin_l: float
    start_percent: float
    minimum_percent: float
    carry_over_ml: float | None = None
    decay_per_day: float | None = None
    cycles_per_day: float | None = None
    history: list[ReadingInput] | None = None
    charge: str | None = Field(None, description="The charge in use; a new one where absent.")
    reading_spread: float | None = Field(None, description="Relative standard deviation of one reading.")
    start_spread: float | None = Field(None, description="Relative standard deviation of a fresh charge.")


class LearnedOutput(CaseOutput):
    """From the history: last passing cycle (low, middle, high) and the carried volume behind it."""

    low: int
    median: int
    high: int
    carry_over_ml_low: float
    carry_over_ml_median: float
    carry_over_ml_high: float
    says_little: bool


class Output(CaseOutput):
    """The last cycle that still leaves the minimum; null where nothing thins the charge.

    `learned` holds the prediction from the history, with its 95 % interval.
    """

    last_passing_cycle: int | None
    cycles_exact: float | None
    after_last_percent: float | None = Field(description="Concentration after the last passing cycle.")
    next_percent: float | None = Field(description="Concentration one cycle later.")
    fall_per_cycle: float
    learned: LearnedOutput | None = None


def run(case: Input) -> Output:
    """Return how far the charge goes."""
    basin = Basin(case.basin_l / 1000, case.start_percent, case.minimum_percent)
    learned = _learn(case)
    fall = _fall(case, learned)
    far = carry_over(basin, fall)
    return Output(
        last_passing_cycle=far.last_passing_cycle,
        cycles_exact=far.cycles_exact,
        after_last_percent=far.after_last_percent,
        next_percent=far.next_percent,
        fall_per_cycle=fall,
        learned=None if learned is None else _in_volumes(learned, case.basin_l),
    )


def _fall(case: Input, learned: Learned | None) -> float:
    if (case.decay_per_day is None) != (case.cycles_per_day is None):
        lone = "decay_per_day" if case.decay_per_day is None else "cycles_per_day"
        raise Refusal("missing", f"{lone}: ageing needs both figures.", lone, "Give both or none.")
    if case.carry_over_ml is not None:
        return fall_per_cycle(
            case.basin_l / 1000,
            case.carry_over_ml / 1e6,
            case.decay_per_day or 0.0,
            case.cycles_per_day or 0.0,
        )
    if learned is None:
        raise Refusal(
            "missing",
            "carry_over_ml: how much an endoscope carries, or a history to learn it from, is needed.",
            "carry_over_ml",
            "Add this key, or history.",
        )
    if case.decay_per_day is not None:
        raise Refusal(
            "unknown-key",
            "decay_per_day: what is learned from the history holds the ageing already.",
            "decay_per_day",
            "Leave it out, or give carry_over_ml.",
        )
    return learned.fall_median


def _learn(case: Input) -> Learned | None:
    if case.history is None:
        return None
    for key in ("reading_spread", "start_spread"):
        if getattr(case, key) is None:
            raise Refusal(
                "missing", f"{key}: learning from a history needs it.", key, "Give a relative spread."
            )
    readings = [Reading(r.cycles, r.percent, r.passed, r.charge) for r in case.history]
    instrument = Instrument(case.reading_spread or 0.0, case.start_spread or 0.0)
    return learn(readings, case.start_percent, case.minimum_percent, instrument, case.charge)


def _in_volumes(learned: Learned, basin_l: float) -> LearnedOutput:
    def carried(fall: float) -> float:
        return 1000 * basin_l * math.expm1(fall)

    return LearnedOutput(
        low=learned.low,
        median=learned.median,
        high=learned.high,
        carry_over_ml_low=carried(learned.fall_low),
        carry_over_ml_median=carried(learned.fall_median),
        carry_over_ml_high=carried(learned.fall_high),
        says_little=learned.says_little,
    )


def picture(case: Input, result: Output) -> Chart:
    """Return the concentration over the cycles with the minimum."""
    basin = Basin(case.basin_l / 1000, case.start_percent, case.minimum_percent)
    last = result.last_passing_cycle if result.last_passing_cycle is not None else 100
    far = max(10, math.ceil(1.3 * (result.learned.high if result.learned else last)))
    cycles = [far * step / 80 for step in range(81)]
    series = [_curve(basin, "concentration", "line", result.fall_per_cycle, cycles)]
    if result.learned:
        for name, kind, carried in (
            ("slowest fall", "band-high", result.learned.carry_over_ml_low),
            ("fastest fall", "band-low", result.learned.carry_over_ml_high),
        ):
            series.append(_curve(basin, name, kind, math.log1p(carried / 1000 / case.basin_l), cycles))
    measured = [r for r in case.history or [] if r.percent is not None]
    if measured:
        series.append(
            Series(
                name="readings",
                x=[r.cycles for r in measured],
                y=[r.percent for r in measured],
                kind="points",
            )
        )
    limits = [Limit(label="minimum effective concentration", value=case.minimum_percent)]
    if result.last_passing_cycle is not None:
        limits.append(Limit(label="last passing cycle", value=result.last_passing_cycle, axis="x"))
    return Chart(
        question="After how many endoscopes does this charge fail?",
        x_label="cycles",
        y_label="concentration, %",
        series=series,
        limits=limits,
    )


def _curve(basin: Basin, name: str, kind: str, fall: float, cycles: list[float]) -> Series:
    return Series(name=name, kind=kind, x=list(cycles), y=[percent_after(basin, fall, n) for n in cycles])
