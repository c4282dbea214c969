"""Mixing the detergent: the sink, and a clean container where the policy asks for one."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from lumenward.equipment.fittings import Vessel
from lumenward.journey.plan import Choice, Entry, PlannedStep, Trouble
from lumenward.journey.planner import doses, usable, words
from lumenward.journey.planner.bench import Bench
from lumenward.journey.target import Target


def build(bench: Bench) -> list[PlannedStep]:
    """Return the dosing of the sink and, by policy, of the first clean container."""
    steps = [_dose(bench, "dose-sink", [bench.sink], "sink")]
    if bench.policy.second_container and bench.library.containers:
        steps.append(_dose(bench, "dose-container", bench.library.containers, "container"))
    return steps


def _dose(
    bench: Bench, key: str, vessels: Sequence[Vessel], role: Literal["sink", "container"]
) -> PlannedStep:
    one = len(vessels) == 1
    where = vessels[0].name if one else "a clean container"
    return PlannedStep(
        key=key,
        group="Detergent",
        title=f"Mix fresh detergent in {where}",
        say=_say(vessels, role) + (bench.advice("detergent") if role == "sink" else []),
        cautions=["Fresh for each endoscope: what is left from another is poured away.", words.EYES],
        targets=_targets(bench),
        entries=([] if one else [_vessel(vessels)]) + _entries(bench),
        kind="detergent_dosed",
        body={"role": role} | ({"vessel": vessels[0].id} if one else {}),
        match=["role"],
        confirm="This dose is in this water",
        troubles=[_off(key), words.damaged(key)],
        dosings=[table for vessel in vessels for table in doses.tables(bench, vessel)],
        drawing={
            "show": "vessel",
            "name": vessels[0].name if one else "",
            "marks": [mark.model_dump() for mark in vessels[0].marks] if one else [],
        },
    )


def _vessel(vessels: Sequence[Vessel]) -> Entry:
    choices = [Choice(value=one.id, label=one.name, code=one.code) for one in vessels]
    return Entry(key="vessel", label="Container", kind="scan", scans="vessel", choices=choices, remember=True)


def _say(vessels: Sequence[Vessel], role: str) -> list[str]:
    lines = []
    if len(vessels) == 1:
        marks = " or ".join(f"“{mark.name}”" for mark in vessels[0].marks)
        lines.append(f"Fill to a mark: {marks}.")
    else:
        lines.append("Fill to its mark.")
    lines.append("Measure the temperature in the middle.")
    if role == "container":
        lines.append("The second vessel has its own water and its own dose.")
    return [*lines, "Measure the dose shown. A splash more is not a better clean."]


def _targets(bench: Bench) -> list[Target]:
    one = bench.detergents[0] if len(bench.detergents) == 1 else None
    return bench.targets("detergent", label=one)


def _entries(bench: Bench) -> list[Entry]:
    products = bench.detergents
    low = min((p.temperature_low_c for p in products), default=None)
    high = max((p.temperature_high_c for p in products), default=None)
    return [
        Entry(
            key="lot", label="Detergent, its lot", kind="scan", scans="lot", choices=usable.detergents(bench),
            remember=True,
        ),
        Entry(key="fill", label="Filled to", kind="fill", record=False, remember=True),
        words.temperature(
            low, high, "The label's window", "Add hot water, stir, measure again.",
            "Enzymes fail in the heat. Add cold water, stir, measure again.",
        ),
        Entry(
            key="dose_ml", label="Detergent measured in", kind="number", unit="mL",
            required=False,
            hint="as shown for this fill; change it if you measured another",
        ),
    ]  # fmt: skip


def _off(key: str) -> Trouble:
    return Trouble(
        key=f"{key}-off",
        label="Too much, too little, or the wrong product went in",
        say=[
            "Do not correct it by guess. Pour it away.",
            "Rinse the vessel and mix again.",
        ],
        kind="work_interrupted",
        body={"step": key, "reason": "the mix was wrong and was poured away"},
        back_to=key,
        confirm="Poured away: mix again",
    )
