"""The shortest schedule of settings whose flows are known already."""

from __future__ import annotations

import numpy as np
from pydantic import Field

from lumenward.calculations.case import CaseInput, CaseOutput, Chart, Series
from lumenward.hydraulics import bounds
from lumenward.hydraulics.clamps import LARGEST_M3
from lumenward.hydraulics.friction import Array
from lumenward.hydraulics.schedule import shortest, unmet
from lumenward.quantities import Refusal

TITLE = "Clamp schedule: how long in each setting, from known flows"
LEAVES_OUT = [
    "Pressures, and how the flows come about: they are taken as given and steady.",
    "The time a person needs at the clamps, unless switch_s gives it.",
    "Volume through a channel is not evidence that it is clean. The IFU decides.",
]
EXAMPLE = {
    "configurations": [
        {"name": "wide open", "flow_m3_s": {"wide": 1.1e-5, "narrow": 4e-7}},
        {"name": "narrow only", "flow_m3_s": {"narrow": 1.5e-6}},
    ],
    "required_m3": {"wide": 1e-4, "narrow": 1.2e-5},
}
MOST = 2000


class Configuration(CaseInput):
    """One setting of the clamps and what flows in it; a channel left out has no flow."""

    name: str
    flow_m3_s: dict[str, float]


class Input(CaseInput):
    """Settings with their flows, and the volume each channel needs."""

    configurations: list[Configuration]
    required_m3: dict[str, float]
    switch_s: float = Field(0.0, description="cost of each setting used")


class Step(CaseOutput):
    """One setting that is used; the order is that of the input."""

    name: str
    duration_s: float


class Output(CaseOutput):
    """The shortest schedule."""

    steps: list[Step] = Field(description="only the settings used")
    total_s: float = Field(description="running time and switch_s for each step")
    running_s: float
    shares: dict[str, float] = Field(
        description="part of the running time each channel's volume decides; sum 1"
    )
    proven: bool = Field(
        description="nothing shorter exists; false only when there were too many settings to prove"
    )


def run(case: Input) -> Output:
    """Return the shortest schedule; raise Refusal `infeasible` naming a channel that no setting serves.

    >>> result = run(Input.model_validate(EXAMPLE))
    >>> [(step.name, round(step.duration_s, 3)) for step in result.steps]
    [('wide open', 9.091), ('narrow only', 5.576)]
    """
    rates, demands = _checked(case)
    found = shortest(rates, demands, case.switch_s)
    if found is None:
        channel = list(case.required_m3)[unmet(rates, demands)[0]]
        raise Refusal(
            "infeasible",
            f"{channel} gets no flow in any of the settings.",
            f"required_m3.{channel}",
            "Add a setting that serves it, or leave it out.",
        )
    return Output(
        steps=[
            Step(name=case.configurations[k].name, duration_s=float(found.seconds[k])) for k in found.used
        ],
        total_s=found.total_s,
        running_s=found.running_s,
        shares=dict(zip(case.required_m3, map(float, found.shares), strict=True)),
        proven=found.proven,
    )


def _checked(case: Input) -> tuple[Array, Array]:
    if not case.configurations or len(case.configurations) > MOST:
        message = f"Between 1 and {MOST} settings are needed; found {len(case.configurations)}."
        raise Refusal("out-of-range", message, "configurations", "Give the settings of the clamps.")
    if not case.required_m3:
        raise Refusal("missing", "No channel is asked for.", "required_m3", "Give m3 by channel.")
    _check_names([one.name for one in case.configurations])
    for channel, volume in case.required_m3.items():
        bounds.between(volume, 0.0, LARGEST_M3, f"required_m3.{channel}", "A volume", "m3")
    bounds.between(case.switch_s, 0.0, 3600.0, "switch_s", "The cost of a change of clamps", "s")
    rates = [
        [_flow(one, channel, f"configurations[{i}].flow_m3_s.{channel}") for channel in case.required_m3]
        for i, one in enumerate(case.configurations)
    ]
    return np.array(rates, dtype=float), np.array(list(case.required_m3.values()), dtype=float)


def _check_names(names: list[str]) -> None:
    for i, name in enumerate(names):
        if name in names[:i]:
            message = f"Two settings are named {name!r}."
            raise Refusal("duplicate", message, f"configurations[{i}].name", "Name each once.")


def _flow(one: Configuration, channel: str, field: str) -> float:
    return bounds.between(one.flow_m3_s.get(channel, 0.0), 0.0, 0.1, field, "A flow", "m3/s")


def picture(case: Input, result: Output) -> Chart:
    """Return the volume each setting gives each channel, as bars beside the demand."""
    names: list[float | str] = list(case.required_m3)
    flows = {one.name: one.flow_m3_s for one in case.configurations}
    series = [Series(name="required", x=names, y=[1e6 * v for v in case.required_m3.values()], kind="bars")]
    for step in result.steps:
        given: list[float | None] = [1e6 * flows[step.name].get(str(n), 0.0) * step.duration_s for n in names]
        label = f"{step.name}, {step.duration_s:.1f} s"
        series.append(Series(name=label, x=names, y=given, kind="bars"))
    return Chart(
        question="Which setting gives how much volume to each channel?",
        x_label="channel",
        y_label="volume (mL)",
        series=series,
    )
