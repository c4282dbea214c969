"""The place where it waits, and how long it stays ready there."""

from __future__ import annotations

from lumenward.journey.plan import Entry, PlannedStep, Trouble
from lumenward.journey.planner import usable, words
from lumenward.journey.planner.bench import Bench
from lumenward.journey.target import Target


def build(bench: Bench) -> list[PlannedStep]:
    """Return the storage."""
    return [
        PlannedStep(
            key="store",
            group="Store",
            title="Hang it in its place",
            say=[
                "Clean gloves. Valves out, loops wide, nothing touches the floor.",
                "How long it stays ready stands beside each place.",
                *bench.advice("store"),
            ],
            cautions=[words.WET, "Dropped, touched or wet: it is processed again."],
            targets=_targets(bench),
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


def _targets(bench: Bench) -> list[Target]:
    found: dict[Target, None] = {}
    for cabinet in bench.library.cabinets:
        for target in bench.targets("hang", label=cabinet):
            found[target] = None
    return list(found)


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
