"""Brushing: one step for each channel that takes a brush."""

from __future__ import annotations

from lumenward.equipment.endoscope import Brush, Channel
from lumenward.journey import saying
from lumenward.journey.plan import Entry, PlannedStep, Trouble
from lumenward.journey.planner import drawing, usable, words
from lumenward.journey.planner.bench import Bench


def build(bench: Bench) -> list[PlannedStep]:
    """Return one step a brushable channel, in the order of the model's description."""
    return [_brushed(bench, channel, channel.brush) for channel in bench.model.channels if channel.brush]


def _brushed(bench: Bench, channel: Channel, brush: Brush) -> PlannedStep:
    key = f"brush-{channel.id}"
    passes = bench.deciding("brush", "count", "floor", [channel.id])
    low = passes.value if passes else brush.passes
    return PlannedStep(
        key=key,
        group="Brush",
        title=f"Brush the {bench.name_of(channel.id)}",
        say=bench.say(
            "brush",
            [
                f"Brush {brush.code}, {brush.diameter_mm:g} mm. All the way through, at least {low:g} times.",
                *_unbrushable(bench, channel),
            ],
            [
                "Clean the brush tip each time it comes out, before you draw it back.",
                "Go on until nothing comes out.",
            ],
        ),
        cautions=[words.SPLASH, "A worn or kinked brush scratches the channel: throw it away."],
        targets=bench.targets("brush", [channel.id]),
        entries=[
            Entry(
                key="brush", label="Brush", kind="scan", scans="brush",
                choices=usable.brushes(bench, brush.code, brush.diameter_mm), remember=True,
            ),
            Entry(
                key="passes", label="Passes", kind="number", unit="times", low=low, high=50,
                low_why=f"The IFU asks for at least {low:g}", high_why="Count again",
            ),
            words.tick("clean_at_last", "Nothing came out at the last pass"),
        ],
        timer=words.timed(
            bench, "brush", [channel.id],
            start=f"The brush is in the {bench.name_of(channel.id)}", running="Brushing under the surface",
            ends="Go on until nothing comes out",
        ),
        kind="channel_brushed",
        body={"channel": channel.id, "debris": "none at last pass"},
        match=["channel"],
        confirm=f"The {bench.name_of(channel.id)} is brushed clean",
        troubles=[_stubborn(channel, key), _stuck(key), words.interrupted(key), words.damaged(key)],
        drawing=drawing.of(bench, [channel.id]),
    )  # fmt: skip


def _unbrushable(bench: Bench, channel: Channel) -> list[str]:
    first = next((one for one in bench.model.channels if one.brush), None)
    rest = [one for one in bench.model.channels if not one.brush]
    if channel is not first or not rest:
        return []
    pages = saying.listed(dict.fromkeys(one.unbrushable_page for one in rest if one.unbrushable_page))
    names = saying.listed(bench.name_of(one.id) for one in rest)
    return [f"No brush goes into: {names}{f' (IFU, {pages})' if pages else ''}. Those are flushed."]


def _stubborn(channel: Channel, key: str) -> Trouble:
    return Trouble(
        key=f"{key}-debris",
        label="Something still comes out",
        say=[
            "Rinse the brush, look at it, and brush again.",
            "Still dirty after several rounds: soak as the IFU says, then call a lead.",
        ],
        kind="channel_brushed",
        body={"channel": channel.id, "debris": "still coming"},
        entries=[
            Entry(key="brush", label="Brush", kind="scan", scans="brush"),
            Entry(key="passes", label="Passes so far", kind="number", unit="times", low=1, high=50),
        ],
        back_to=key,
        confirm="Still dirty: brush it again",
    )


def _stuck(key: str) -> Trouble:
    return Trouble(
        key=f"{key}-stuck",
        label="The brush does not go through",
        say=[
            "Never push. Draw it back and look at the tip.",
            "Try from the other end if the IFU allows it.",
            "Still stuck: hold the endoscope. A sharp or a torn lining may be inside.",
        ],
        kind="held",
        body={"reason": "damage seen"},
        entries=[Entry(key="note", label="Where it sticks", kind="words", required=False)],
        stops=True,
        confirm="It is put aside and tagged",
    )
