"""The alcohol flush: only where the policy wants it and the IFU allows it."""

from __future__ import annotations

from lumenward.journey.plan import Entry, PlannedStep
from lumenward.journey.planner import words
from lumenward.journey.planner.bench import Bench


def build(bench: Bench) -> list[PlannedStep]:
    """Return the flush, or nothing."""
    if not (bench.policy.alcohol and bench.model.ifu.alcohol_allowed and bench.channels):
        return []
    low = bench.deciding("alcohol", "concentration", "floor")
    high = bench.deciding("alcohol", "concentration", "ceiling")
    return [
        PlannedStep(
            key="alcohol",
            group="Alcohol",
            title="Flush the channels with alcohol",
            say=bench.say(
                "alcohol", [f"Why: {bench.policy.alcohol_source}."], ["Through every channel, then air."]
            ),
            cautions=["It burns: no flame, no hot air, good ventilation.", "What stays in a channel irritates."],
            targets=bench.targets("alcohol"),
            entries=[
                Entry(
                    key="strength_percent", label="Strength on the bottle", kind="number", unit="%",
                    low=_percent(low.value) if low else 60, high=_percent(high.value) if high else 95,
                    low_why="Weaker alcohol does not work", high_why="Stronger alcohol dries too fast to work",
                ),
            ],
            kind="alcohol_flushed",
            body={"channels": bench.channels},
            confirm="Alcohol went through every channel",
            troubles=[words.damaged("alcohol")],
        )
    ]  # fmt: skip


def _percent(ppm: float) -> float:
    return ppm / 10_000
