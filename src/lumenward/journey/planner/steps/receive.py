"""The endoscope is at the sink."""

from __future__ import annotations

from lumenward.journey.plan import PlannedStep
from lumenward.journey.planner import words
from lumenward.journey.planner.bench import Bench


def build(bench: Bench) -> list[PlannedStep]:
    """Return the arrival at this sink."""
    return [
        PlannedStep(
            key="receive",
            group="Receive",
            title=f"Take it in at {bench.sink.name}",
            say=bench.say(
                "receive",
                ["Gown, long gloves, eye and face cover first.", "Match its label with the screen."],
            ),
            cautions=["Dirty goes one way only: nothing from this side crosses to the clean side."],
            entries=[words.tick("label_matches", f"The label says {bench.endoscope.name}")],
            kind="received",
            body={"place": bench.sink.id},
            confirm="It is here",
            troubles=[words.damaged("receive")],
        )
    ]
