"""Detergent drawn through the channels that are made for suction."""

from __future__ import annotations

from lumenward.equipment.endoscope import Channel
from lumenward.journey.plan import PlannedStep
from lumenward.journey.planner import drawing, words
from lumenward.journey.planner.bench import Bench


def build(bench: Bench) -> list[PlannedStep]:
    """Return one step a channel that aspirates."""
    return [_aspirated(bench, channel) for channel in bench.model.channels if channel.aspirates]


def _aspirated(bench: Bench, channel: Channel) -> PlannedStep:
    key = f"aspirate-{channel.id}"
    return PlannedStep(
        key=key,
        group="Aspirate",
        title=f"Draw detergent through the {bench.name_of(channel.id)}",
        say=bench.say(
            "aspirate", ["Turn the pump round. Tip under the surface."], ["Biopsy port open until the time is up."]
        ),
        cautions=[words.SPLASH],
        targets=bench.targets("aspirate", [channel.id]),
        timer=words.timed(
            bench, "aspirate", [channel.id],
            start="Fluid is coming through", running="Drawing detergent, biopsy port open",
            ends="Close the biopsy port",
        ),
        kind="aspirated",
        body={"channel": channel.id},
        match=["channel"],
        confirm="Detergent came through",
        troubles=[words.slow_channel(key), words.interrupted(key)],
        drawing=drawing.of(bench, [channel.id]),
    )  # fmt: skip
