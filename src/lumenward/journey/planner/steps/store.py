"""The place where it waits, and how long it stays ready there."""

from __future__ import annotations

from lumenward.journey.plan import Entry, PlannedStep, Trouble
from lumenward.journey.planner import usable, words
from lumenward.journey.planner.bench import Bench


def build(bench: Bench) -> list[PlannedStep]:
    """Return the storage."""
    return [
        PlannedStep(
            key="store",
            group="Store",
            title="Hang it in its place",
            say=bench.say(
                "store",
                ["Clean gloves. How long it stays ready stands beside each place."],
                ["Valves out, loops wide, nothing touches the floor."],
            ),
            cautions=[words.WET, "Dropped, touched or wet: it is processed again."],
            targets=bench.targets("hang"),
            entries=[
                Entry(
                    key="cabinet", label="Place", kind="scan", scans="cabinet", choices=usable.cabinets(bench),
                    remember=True,
                ),
                Entry(key="slot", label="Slot", kind="number", low=1, high=200, required=False),
                words.tick("valves_out", "The valves are out", record=True),
                words.tick("clean_gloves", "Clean gloves were on", record=True),
            ],
            kind="stored",
            confirm="It hangs in its place",
            troubles=[_touched(), words.damaged("store")],
        )
    ]  # fmt: skip


def _touched() -> Trouble:
    return Trouble(
        key="store-touched",
        label="It was dropped or touched on the way",
        say=["It is no longer clean. Nobody hangs it up.", "It is processed again from the beginning."],
        kind="reprocessing_required",
        body={"reason": "dropped or touched"},
        new_cycle=True,
        confirm="It goes back to the dirty side",
    )
