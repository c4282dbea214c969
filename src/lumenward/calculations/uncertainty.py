"""Combining standard uncertainties."""

from __future__ import annotations

from pydantic import Field

from lumenward.calculations.case import CaseInput, CaseOutput, Chart, Series
from lumenward.chemistry.uncertainty import Component, combine, shares

TITLE = "Combined uncertainty"
LEAVES_OUT = [
    "Correlation between components: they are taken as independent.",
    "Strongly bent relations, for which a first-order sum is too simple.",
]
EXAMPLE = {
    "components": [
        {"u": 25, "dof": 18},
        {"u": 9.7, "dof": 25.6},
        {"u": 2.9, "dof": 50},
        {"u": 16.6, "dof": 2},
    ],
    "coverage": 0.99,
}


class ComponentInput(CaseInput):
    """One standard uncertainty in the unit of the result; no `dof` means infinitely many."""

    u: float
    dof: float | None = None


class Input(CaseInput):
    """Components and the coverage wanted."""

    components: list[ComponentInput]
    coverage: float = 0.95


class Output(CaseOutput):
    """`dof_effective` is null where infinite; `k` is taken at the whole number below it."""

    u_c: float
    dof_effective: float | None
    k: float
    expanded: float
    shares: list[float] = Field(description="Share of the variance of each component.")


def run(case: Input) -> Output:
    """Return combined and expanded uncertainty (GUM)."""
    found = combine([Component(part.u, part.dof) for part in case.components], case.coverage)
    parts = shares({str(index): part.u for index, part in enumerate(case.components)})
    return Output(
        u_c=found.u_c,
        dof_effective=found.dof_effective,
        k=found.k,
        expanded=found.expanded,
        shares=list(parts.values()),
    )


def picture(case: Input, result: Output) -> Chart:
    """Return the shares."""
    names: list[float | str] = [f"{index + 1}" for index in range(len(case.components))]
    bars = Series(name="share", x=names, y=[100 * share for share in result.shares], kind="bars")
    return Chart(
        question="Which component decides?",
        x_label="component",
        y_label="share of the variance, %",
        series=[bars],
    )
