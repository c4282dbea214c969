"""Where an endoscope stands that is not being worked on, and what can be done with it: one or two plain sentences."""

from __future__ import annotations

from lumenward.journey.planner.bench import Bench
from lumenward.journey.planner.usable import moment

_GONE = {
    "away": "is away: out for repair, or its loan has ended. Record its return first.",
    "retired": "is retired. It is not processed any more.",
}


def held(bench: Bench) -> str:
    """Return why no step may be done and who can change that; nothing where work may go on."""
    endoscope = bench.endoscope
    if endoscope.stage == "held":
        why = endoscope.held_why or "no reason given"
        return f"{endoscope.name} is held: {why}. Put it aside, tagged. A lead lifts the hold, or it goes to repair."
    gone = _GONE.get(endoscope.stage)
    return f"{endoscope.name} {gone}" if gone else ""


def said(bench: Bench) -> str:
    """Return how it stands between two cycles, and what can be done; nothing while it is held or worked on."""
    endoscope = bench.endoscope
    if endoscope.stage == "ready":
        return _ready(bench)
    if endoscope.stage == "in use":
        since = f" since {moment(bench, endoscope.since)}" if endoscope.since else ""
        return f"{endoscope.name} is with a patient{since}. The end of that use begins its next cycle."
    if endoscope.stage == "never processed":
        return f"{endoscope.name} was never processed here: it counts as dirty until it is."
    return ""


def _ready(bench: Bench) -> str:
    name, until = bench.endoscope.name, bench.endoscope.ready_until
    begin = "If it was used or touched, begin its next cycle."
    if until is None:
        return f"{name} is released. Take it on the Shelf when it goes to a patient. {begin}"
    if bench.now >= until:
        return f"{name} was ready until {moment(bench, until)}: it is not for a patient any more. Begin its next cycle."
    return f"{name} is ready until {moment(bench, until)}. Take it on the Shelf when it goes to a patient. {begin}"
