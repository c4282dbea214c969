"""The rinse after disinfection by hand: as many fresh volumes as the disinfectant's label says."""

from __future__ import annotations

from lumenward.journey.plan import Choice, Entry, PlannedStep
from lumenward.journey.planner import drawing, words
from lumenward.journey.planner.bench import Bench
from lumenward.journey.planner.steps import hld_by_hand
from lumenward.journey.target import Target

_PURE = ("critical", "sterile")


def build(bench: Bench) -> list[PlannedStep]:
    """Return the rinse of the manual way; a machine rinses by itself."""
    if "manual" not in bench.model.ifu.routes:
        return []
    count = max((t.value for t in targets(bench) if t.quantity == "count" and t.bound == "floor"), default=1)
    return [
        PlannedStep(
            key="final-rinse",
            group="Final rinse",
            title="Rinse the disinfectant off",
            say=_say(bench, count),
            cautions=[words.RESIDUE],
            targets=targets(bench),
            entries=[
                Entry(
                    key="count", label="Fresh volumes", kind="number", unit="times", low=count, high=10,
                    low_why="The label asks for more", high_why="Count again",
                ),
                Entry(key="water", label="Water", kind="choice", choices=_waters(bench), remember=True),
            ],
            timer=words.timed(
                bench, "final-rinse", bench.channels,
                start="Fresh water runs over and through it", running="Rinsing the disinfectant off",
                ends="Let the last water run off",
            ),
            kind="final_rinsed",
            body={"channels": bench.channels},
            confirm="No disinfectant is left on it",
            troubles=[words.interrupted("final-rinse"), words.damaged("final-rinse")],
            route=hld_by_hand.ROUTE,
            drawing=drawing.of(bench, bench.channels),
        )
    ]  # fmt: skip


def targets(bench: Bench) -> list[Target]:
    """Return what IFU and policy state, and each label's number of rinses that may apply here."""
    found: dict[Target, None] = dict.fromkeys(bench.targets("final-rinse", bench.channels))
    for label in hld_by_hand.labels(bench):
        found.update(dict.fromkeys(bench.targets("final-rinse", bench.channels, label)))
    return list(found)


def _say(bench: Bench, count: float) -> list[str]:
    stated = any(t.quantity == "count" for t in targets(bench))
    lines = [
        f"{count:g} fresh volumes, each poured away. Outside and every channel."
        if stated
        else "The label's number of rinses is not entered here. Read it on the label."
    ]
    return bench.say("final-rinse", lines, ["Water of the last rinse must be pure: critical water."])


def _waters(bench: Bench) -> list[Choice]:
    return [
        Choice(
            value=water.id,
            label=water.name,
            note=water.kind,
            why_not=""
            if water.kind in _PURE
            else "Utility water carries germs: it cleans, it does not rinse last.",
        )
        for water in bench.library.waters
    ]
