"""The A0 value of a temperature log."""

from __future__ import annotations

from pydantic import Field

from lumenward.calculations.case import CaseOutput, Chart, Limit, Series
from lumenward.calculations.reading_log import LogInput, readings
from lumenward.chemistry.thermal import FLOOR_C, Z_K, a0
from lumenward.chemistry.window import time_in_window

TITLE = "A0 of a temperature log"
LEAVES_OUT = [
    "A0 is for machines and heat-stable accessories; a flexible endoscope does not bear these temperatures.",
    "The coldest place: the probe must sit there. One kelvin of error is a quarter of A0.",
    "What lies between two readings is taken as a straight line.",
]
EXAMPLE = {"log": [[0, 40], [300, 85], [480, 85], [780, 40]]}


class Input(LogInput):
    """Log in s and °C; floor and z as in ISO 15883-1 unless given."""

    floor_c: float = FLOOR_C
    z_k: float = Z_K
    max_gap_s: float | None = Field(None, gt=0, description="Longer steps between readings count nothing.")


class Output(CaseOutput):
    """A0, and how long the log was at or above the floor."""

    a0_s: float
    above_floor_s: float
    highest_c: float
    meets: dict[str, bool] = Field(description="Whether A0 reaches 60, 600, 3000.")


def run(case: Input) -> Output:
    """Return A0, exact on the straight lines between readings."""
    log = readings(case)
    value = a0(log, case.floor_c, case.z_k, case.max_gap_s)
    above = time_in_window(log, case.floor_c, 1000, max_gap_s=case.max_gap_s).in_s
    highest = max(reading[1] for reading in log)
    meets = {str(level): value >= level * (1 - 1e-12) for level in (60, 600, 3000)}
    return Output(a0_s=value, above_floor_s=above, highest_c=highest, meets=meets)


def picture(case: Input, result: Output) -> Chart:
    """Return the log with its floor."""
    log = readings(case)
    return Chart(
        question=f"Was it hot enough for long enough? A0 is {result.a0_s:.4g} s.",
        x_label="time, s",
        y_label="temperature, °C",
        series=[Series(name="temperature", x=[r[0] for r in log], y=[r[1] for r in log])],
        limits=[Limit(label="counts from here", value=case.floor_c), Limit(label="reference", value=80)],
    )
