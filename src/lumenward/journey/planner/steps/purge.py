"""Air after the flush and after the rinse: it drives the fluid out, it does not dry."""

from __future__ import annotations

from typing import Literal

from lumenward.journey.plan import PlannedStep
from lumenward.journey.planner import drawing, words
from lumenward.journey.planner.bench import Bench

After = Literal["flush", "rinse"]


def after_flush(bench: Bench) -> list[PlannedStep]:
    """Return the purge that drives the detergent out."""
    return _purge(bench, "flush", "detergent")


def after_rinse(bench: Bench) -> list[PlannedStep]:
    """Return the purge that drives the rinse water out."""
    return _purge(bench, "rinse", "water")


def _purge(bench: Bench, after: After, fluid: str) -> list[PlannedStep]:
    if not bench.channels:
        return []
    key = f"purge-{after}"
    timer = words.timed(
        bench, "purge", bench.channels,
        start="The intake is out of the fluid", running=f"Air drives the {fluid} out",
        ends="Look: only air at every outlet",
    )  # fmt: skip
    return [
        PlannedStep(
            key=key,
            group="Purge",
            title=f"Drive the {fluid} out with air",
            say=bench.say(
                "purge",
                words.turns(bench, "purge", timer.floor_s) or ["Every clamp open."],
                ["Lift the intake out of the fluid. Let the pump go on."],
            ),
            cautions=_cautions(after),
            targets=bench.targets("purge", bench.channels),
            entries=[words.tick("only_air", "Only air leaves every channel")],
            timer=timer,
            kind="purged",
            body={"after": after, "channels": bench.channels},
            match=["after"],
            confirm=f"The {fluid} is out",
            troubles=[words.slow_channel(key), words.interrupted(key)],
            drawing=drawing.of(bench, bench.channels, pumped="purge", floor_s=timer.floor_s),
        )
    ]


def _cautions(after: After) -> list[str]:
    if after == "rinse":
        return ["Water left inside thins the disinfectant, a little each time.", words.AIR_JET]
    return [words.AIR_JET]
