"""Small pieces of a step: entries, timers, cautions, troubles that several steps share."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from lumenward.journey import saying
from lumenward.journey.plan import Choice, Entry, Timer, Trouble
from lumenward.journey.planner.bench import Bench
from lumenward.journey.planner.computed import above_pressure, turns_of
from lumenward.journey.target import Target
from lumenward.quantities import show_duration, show_in

EYES = "Eye and face cover on."
SPLASH = "Keep the tip under the surface: splashes carry germs."
SHARPS = "A sharp may be left inside. Never feel for it with a finger."
CHEMICAL = "It hurts eyes, skin and lungs: gloves, face cover, lid on, exhaust running."
RESIDUE = "What is left in a channel hurts the next patient: the rinse is a safety step."
AIR_JET = "Compressed air injures eyes and throws droplets. Goggles on, cover the tip."
WET = "Germs grow in a wet channel within hours. Never store it damp."
PRESSURE = "Too much pressure bursts the sheath. Stay inside the IFU's limit."


def tick(key: str, label: str, *, record: bool = False, hint: str = "") -> Entry:
    """Return something that must be true before the step can be confirmed."""
    return Entry(key=key, label=label, kind="tick", record=record, hint=hint)


def fact(key: str, label: str, yes: str, no: str, *, no_note: str = "", yes_note: str = "") -> Entry:
    """Return a fact that may be so or not, and is recorded either way."""
    choices = [Choice(value=True, label=yes, note=yes_note), Choice(value=False, label=no, note=no_note)]
    return Entry(key=key, label=label, kind="choice", choices=choices)


def temperature(low: float | None, high: float | None, why: str, low_help: str, high_help: str) -> Entry:
    """Return the entry of a measured temperature in C; outside its bounds it says what to change."""
    return Entry(
        key="temperature_c", label="Temperature, measured", kind="number", unit="°C", low=low, high=high,
        low_why=f"{why}. {low_help}" if low is not None else "",
        high_why=f"{why}. {high_help}" if high is not None else "",
    )  # fmt: skip


def timed(bench: Bench, step: str, channels: Sequence[str], *, start: str, running: str, ends: str) -> Timer:
    """Return the timer of a step: its floor is the deciding target's, its ceiling the lowest stated one."""
    floor = bench.deciding(step, "duration", "floor", channels)
    least = floor.value if floor else 0.0
    ceiling = bench.deciding(step, "duration", "ceiling", channels)
    return Timer(
        floor_s=least,
        ceiling_s=ceiling.value if ceiling else None,
        start=start,
        running=running,
        ends=ends,
    )


def turns(bench: Bench, step: str, floor_s: float) -> list[str]:
    """Return the turns of the clamps as lines: what to shut at first, and what to change when."""
    found = turns_of(bench, step, floor_s)
    lines = [
        f"{'Then' if place else 'First'} {show_duration(round(turn['seconds']))}: {todo}."
        for place, turn in enumerate(found)
        if (todo := found[place - 1]["then"] if place else _first(turn))
    ]
    above = above_pressure(bench, step)
    return [*lines, above] if above else lines


def _first(turn: Mapping[str, Any]) -> str:
    return f"shut {turn['shut_words']}" if turn["shut"] else "leave every clamp open"


def spoken(target: Target) -> str:
    """Return a target as words: "at least 95 s (IFU, p. 41)"."""
    front = {"floor": "at least", "ceiling": "at most", "aim": "aim at"}[target.bound]
    amount = (
        show_duration(target.value)
        if target.unit == "s"
        else f"{target.value:g} times"
        if target.unit == "times"
        else show_in(target.value, "°C" if target.unit == "C" else target.unit)
    )
    return f"{front} {amount} ({target.basis}: {target.source})"


def ports(bench: Bench, *, capped: bool | None = None) -> str:
    """Return the names of the ports as a list, all or those that are (or are not) capped for the flush."""
    return saying.listed(
        saying.inside(port.name)
        for port in bench.model.ports
        if capped is None or port.capped_for_flush == capped
    )


def interrupted(step: str, back_to: str = "") -> Trouble:
    """Return the trouble "the work was interrupted": the step is done again from its beginning."""
    return Trouble(
        key=f"{step}-interrupted",
        label="The work was interrupted",
        say=["The time so far does not count.", "Do this step again from its beginning."],
        kind="work_interrupted",
        body={"step": step},
        entries=[Entry(key="reason", label="What came between", kind="words")],
        back_to=back_to or step,
        confirm="Interrupted: this step begins again",
    )


def damaged(step: str) -> Trouble:
    """Return the trouble "something is broken or does not belong": the endoscope is held by hand."""
    return Trouble(
        key=f"{step}-held",
        label="Something else is wrong: hold this endoscope",
        say=["Put it aside, tagged.", "Tell the lead. Nothing more is done until somebody lifts the hold."],
        kind="held",
        body={"reason": "other"},
        entries=[Entry(key="note", label="What is wrong", kind="words")],
        stops=True,
        confirm="It is put aside and tagged",
    )


def slow_channel(step: str) -> Trouble:
    """Return the trouble "a channel stays dry or runs slow"."""
    return Trouble(
        key=f"{step}-slow",
        label="A channel stays dry, or runs slow",
        say=[
            "Look at the clamps first: an open wide line takes the flow from the narrow ones.",
            "Check the connector of that channel: seated, not kinked, strainer clear.",
            "Close the other lines and try that channel alone.",
            "Still nothing: brush it again if it takes a brush. Never add pressure.",
            "If it stays shut, hold the endoscope.",
        ],
        kind="work_interrupted",
        body={"step": step, "reason": "a channel stayed dry or ran slow"},
        back_to=step,
        confirm="Seen to: this step begins again",
    )
