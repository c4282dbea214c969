"""When an act may have happened: not in the future, not before what it builds on, not sooner than its floor."""

from __future__ import annotations

import math

from lumenward.journey import saying
from lumenward.journey.clocks import elapsed_s
from lumenward.journey.course import channels_of
from lumenward.journey.event import Event
from lumenward.journey.legality.desk import Desk
from lumenward.journey.numbers import floor_for_channels
from lumenward.journey.target import Target
from lumenward.quantities import show_duration

FUTURE_S = 60.0  # how far a station's clock may run ahead before its times are refused

# The step whose duration an act ends, and whether each of its channels has its own floor.
TIMED: dict[str, str] = {
    "channel_brushed": "brush",
    "aspirated": "aspirate",
    "flushed": "flush",
    "purged": "purge",
    "rinsed": "rinse",
    "final_rinsed": "final-rinse",
    "dried": "dry",
}


def not_in_future(desk: Desk) -> None:
    """Refuse a time that has not come yet."""
    ahead = elapsed_s(desk.now, desk.event.happened_at)
    if ahead > FUTURE_S:
        desk.no(
            "in-the-future",
            f"This is said to happen {show_duration(ahead)} from now.",
            "happened_at",
            "Check the date and time, and this station's clock.",
        )


def not_before(desk: Desk) -> None:
    """Refuse a time before any act that this one builds on."""
    for act in desk.builds_on:
        early = elapsed_s(desk.event.happened_at, act.happened_at)
        if early > 0:
            when = saying.clock(desk.event.happened_at, act.happened_at)
            desk.no(
                "before-its-basis",
                f"{when} is before {saying.act(act.kind)}, recorded {desk.done(act)}.",
                "happened_at",
                "Check the time, and this station's clock.",
            )


def step_of(desk: Desk) -> str | None:
    """Return the step whose time this act ends, or None for an act that is not timed."""
    if desk.event.kind == "leak_tested":
        return f"leak-test-{desk.body['method']}" if desk.body["result"] == "tight" else None
    return TIMED.get(desk.event.kind)


def floor_kept(desk: Desk) -> None:
    """Refuse the end of a timed step before its floor is reached."""
    step = step_of(desk)
    if step is None or desk.body.get("result") == "moisture seen":
        return
    floor = floor_for_channels(desk.model, desk.policy, step, channels_of(desk.event))
    if floor is not None:
        _long_enough(desk, floor)


def _long_enough(desk: Desk, floor: Target) -> None:
    act = desk.event
    named = desk.body.get("started")
    if named is None:
        if act.kind == "channel_brushed" or (act.kind == "leak_tested" and desk.body["method"] == "machine"):
            return
        desk.no(
            "not-timed",
            f"{saying.act(act.kind).capitalize()} must last at least {_said(floor)}, and no start was recorded.",
            "body.started",
            "Start the clock of this step, then end it.",
        )
    start = desk.course.start_of(act)
    if start is None:
        desk.no(
            "start-unknown",
            "The start this act names is not in this cycle, or the work was interrupted since.",
            "body.started",
            "Start the clock of this step again.",
        )
    desk.builds_on.append(start)
    _not_short(desk, start, floor)


def _not_short(desk: Desk, start: Event, floor: Target) -> None:
    lasted = desk.since(start)
    if lasted < floor.value:
        missing = math.ceil(floor.value - lasted)
        desk.no(
            "too-short",
            f"{saying.act(desk.event.kind).capitalize()} has lasted {show_duration(max(lasted, 0))};"
            f" it must last at least {_said(floor)}.",
            "happened_at",
            f"Go on for {show_duration(missing)} more.",
        )


def _said(floor: Target) -> str:
    return f"{show_duration(floor.value)} ({floor.basis}: {floor.source})"
