"""Water through all channels after the detergent; without channels, over the outside.

Where nobody states its time it lasts as long as the flush.
"""

from __future__ import annotations

from lumenward.journey import saying
from lumenward.journey.numbers import floor_for_channels
from lumenward.journey.plan import PlannedStep, Timer
from lumenward.journey.planner import drawing, words
from lumenward.journey.planner.bench import Bench
from lumenward.journey.target import Target


def build(bench: Bench) -> list[PlannedStep]:
    """Return the rinse: of every channel, or of the outside alone where there is none."""
    return _inside(bench) if bench.channels else _outside(bench)


def _fresh(bench: Bench) -> str:
    water = next((one for one in bench.library.waters if one.id == bench.sink.water), None)
    return f"Fresh {saying.inside(water.name) if water else bench.sink.water}, never the sink's own."


def _outside(bench: Bench) -> list[PlannedStep]:
    timer = words.timed(
        bench, "rinse", [],
        start="Clean water is running over it", running="Water over the outside",
        ends="Look for foam once more",
    )  # fmt: skip
    return [
        PlannedStep(
            key="rinse",
            group="Rinse",
            title="Rinse the outside with water",
            say=bench.say("rinse", [_fresh(bench)], ["Rinse all of it until no foam is left."]),
            cautions=["What is left outside hurts the next patient: the rinse is a safety step."],
            targets=bench.targets("rinse"),
            timer=timer if timer.floor_s else None,
            kind="rinsed",
            body={"channels": [], "water": bench.sink.water},
            confirm="The outside is rinsed",
            troubles=[words.interrupted("rinse"), words.damaged("rinse")],
        )
    ]


def _inside(bench: Bench) -> list[PlannedStep]:
    timer = _timer(bench)
    return [
        PlannedStep(
            key="rinse",
            group="Rinse",
            title="Rinse every channel with water",
            say=bench.say(
                "rinse",
                [
                    _fresh(bench),
                    *words.turns(bench, "rinse", timer.floor_s),
                ],
                [_how_long(bench, timer.floor_s)],
            ),
            cautions=[words.RESIDUE],
            targets=targets(bench),
            timer=timer,
            kind="rinsed",
            body={"channels": bench.channels, "water": bench.sink.water},
            confirm="Every channel is rinsed",
            troubles=[words.slow_channel("rinse"), words.interrupted("rinse")],
            drawing=drawing.of(bench, bench.channels, pumped="rinse", floor_s=timer.floor_s),
        )
    ]


def _how_long(bench: Bench, floor_s: float) -> str:
    flush = bench.deciding("flush", "duration", "floor", bench.channels)
    as_flush = "As long as the flush, at the least. " if flush is None or floor_s >= flush.value else ""
    return f"{as_flush}Rinse the outside too."


def targets(bench: Bench) -> list[Target]:
    """Return what is stated for the rinse; where nobody states it, it lasts as long as the flush."""
    return bench.targets("rinse", bench.channels) + _as_long_as_the_flush(bench)


def _as_long_as_the_flush(bench: Bench) -> list[Target]:
    own = floor_for_channels(bench.model, bench.policy, "rinse", bench.channels)
    flush = bench.deciding("flush", "duration", "floor", bench.channels)
    if flush is None or (own and own.basis != "default"):
        return []
    source = f"as long as the flush ({flush.basis}: {flush.source}); common practice, no source"
    change = {"step": "rinse", "basis": "default", "source": source, "channel": None}
    return [flush.model_copy(update=change)]


def _timer(bench: Bench) -> Timer:
    own = words.timed(
        bench, "rinse", bench.channels,
        start="Clean water is running through", running="Water through every channel",
        ends="Look at every outlet once more",
    )  # fmt: skip
    least = max((target.value for target in _as_long_as_the_flush(bench)), default=0.0)
    floor_s = max(own.floor_s, least)
    return own.model_copy(update={"floor_s": floor_s})
