"""The detergent flush of all channels. Its floor: `bench.deciding("flush", "duration", "floor", channels)`.

What is stated comes from `journey/numbers.py` (IFU, label, policy, default), what is computed from
`planner/computed.py`; the strictest decides.
"""

from __future__ import annotations

from lumenward.journey.plan import PlannedStep
from lumenward.journey.planner import drawing, words
from lumenward.journey.planner.bench import Bench


def build(bench: Bench) -> list[PlannedStep]:
    """Return the flush; nothing for a model without channels."""
    if not bench.channels:
        return []
    timer = words.timed(
        bench, "flush", bench.channels,
        start="The pump is running", running="Detergent through every channel",
        ends="Look at every outlet once more",
    )  # fmt: skip
    return [
        PlannedStep(
            key="flush",
            group="Flush",
            title="Flush every channel with detergent",
            say=_say(bench, timer.floor_s),
            cautions=[words.PRESSURE, words.SPLASH],
            targets=bench.targets("flush", bench.channels),
            entries=[
                words.tick(
                    "seen_leaving",
                    "Fluid is seen leaving every channel",
                    record=True,
                    hint="hold each outlet where you can see it",
                ),
                words.tick("strainer_clear", "The intake strainer is clear"),
            ],
            timer=timer,
            kind="flushed",
            body={"channels": bench.channels, "pump": bench.pump.id},
            confirm="Every channel was flushed",
            troubles=[words.slow_channel("flush"), words.interrupted("flush"), words.damaged("flush")],
            drawing=drawing.of(bench, bench.channels, pumped="flush", floor_s=timer.floor_s),
        )
    ]


def _say(bench: Bench, floor_s: float) -> list[str]:
    capped = words.ports(bench, capped=True)
    lines = [f"Capped: {capped}."] if capped else []
    lines += words.turns(bench, "flush", floor_s)
    if bench.has_elevator:
        lines.append("Look at the elevator wire channel by itself: it fails most often.")
    return bench.say(
        "flush", lines, ["Lines that lead nowhere stay clamped.", "See fluid leave every channel."]
    )
