"""What-if: survival under a disinfectant that loses strength while it works."""

from __future__ import annotations

import math

from lumenward.calculations.case import CaseInput, CaseOutput, Chart, Series
from lumenward.chemistry.kinetics import ln_survival

TITLE = "Inactivation (what-if)"
LEAVES_OUT = [
    "No instructions for use state these constants; they belong to one agent, one organism and one water.",
    "Soil, biofilm, temperature and places the solution does not reach.",
    "Never a reason to stay below a labelled contact time.",
]
EXAMPLE = {"rate": 0.2, "n": 0.9, "m": 1.2, "start": 3, "decay_per_time": 0.08, "time": 6}


class Input(CaseInput):
    """Hom's law with first-order decay; m = 1 is Chick–Watson. Units are yours, as long as they agree."""

    rate: float
    n: float
    m: float
    start: float
    decay_per_time: float
    time: float


class Output(CaseOutput):
    """Natural logarithm of the survival, and the same as decimal reductions."""

    ln_survival: float
    log10_reduction: float


def run(case: Input) -> Output:
    """Return the survival."""
    value = ln_survival(case.rate, case.n, case.m, case.start, case.decay_per_time, case.time)
    return Output(ln_survival=value, log10_reduction=-value / math.log(10))


def picture(case: Input, result: Output) -> Chart:
    """Return reductions over time, with and without decay."""
    del result
    span = case.time or 1.0
    times = [span * step / 40 for step in range(41)]
    series = []
    for name, decay in (("with decay", case.decay_per_time), ("without decay", 0.0)):
        reductions = [
            -ln_survival(case.rate, case.n, case.m, case.start, decay, t) / math.log(10) for t in times
        ]
        series.append(Series(name=name, x=list(times), y=list(reductions)))
    return Chart(
        question="How far would it go, if these constants held?",
        x_label="time, your unit",
        y_label="decimal reductions",
        series=series,
    )
