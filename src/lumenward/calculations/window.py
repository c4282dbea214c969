"""How long a logged value was inside its window."""

from __future__ import annotations

from pydantic import Field

from lumenward.calculations.case import CaseOutput, Chart, Limit, Series
from lumenward.calculations.reading_log import LogInput, readings
from lumenward.chemistry.window import time_in_window

TITLE = "Time inside a window"
LEAVES_OUT = [
    "What happened in a gap is unknown and never counts as inside.",
    "Without a guard as wide as the sensor's uncertainty, noise at the edge counts as time inside.",
    "What lies between two readings is taken as a straight line.",
]
EXAMPLE = {"log": [[0, 30], [300, 50], [600, 30]], "low": 38, "high": 43}


class Input(LogInput):
    """Log, window, guard band on both sides, and the longest step that still counts as known."""

    low: float
    high: float
    guard: float = Field(0.0, ge=0)
    max_gap_s: float | None = Field(None, gt=0)


class Output(CaseOutput):
    """Seconds inside, outside, unknown; the longest unbroken stay; all stays as [from, to]."""

    in_s: float
    out_s: float
    unknown_s: float
    longest_in_s: float
    stays: list[list[float]]


def run(case: Input) -> Output:
    """Return the time in the window."""
    found = time_in_window(readings(case), case.low, case.high, case.guard, case.max_gap_s)
    return Output(
        in_s=found.in_s,
        out_s=found.out_s,
        unknown_s=found.unknown_s,
        longest_in_s=found.longest_in_s,
        stays=[list(stay) for stay in found.stays],
    )


def picture(case: Input, result: Output) -> Chart:
    """Return the log with its window; gaps stay open."""
    times: list[float | str] = []
    values: list[float | None] = []
    previous: float | None = None
    for time, value in readings(case):
        if previous is not None and case.max_gap_s is not None and time - previous > case.max_gap_s:
            times.append((previous + time) / 2)
            values.append(None)
        times.append(time)
        values.append(value)
        previous = time
    return Chart(
        question=f"Was it inside its window? {result.in_s:.4g} s were.",
        x_label="time, s",
        y_label="value",
        series=[Series(name="readings", x=times, y=values)],
        limits=[
            Limit(label="low", value=case.low + case.guard),
            Limit(label="high", value=case.high - case.guard),
        ],
    )
