"""The clamp plan in the house's words: turns, what is open in each, what it saves, what limits it."""

from __future__ import annotations

import re
from dataclasses import dataclass

from lumenward.equipment.policy import Policy
from lumenward.hydraulics import clamp_words
from lumenward.hydraulics.assemble import port_tube
from lumenward.hydraulics.clamps import ClampPlan
from lumenward.journey import needs
from lumenward.journey.numbers import floor_for_channels
from lumenward.journey.planner.turning import SWITCH_S, Pumping, Turning, turning
from lumenward.quantities import show_duration
from lumenward.screens.channels.question import Question


@dataclass(frozen=True)
class Turn:
    """One setting of the clamps in words, and the address of the map that shows it."""

    say: str
    duration: str
    address: str


@dataclass(frozen=True)
class Plan:
    """The plan, or the sentence why there is none."""

    turns: tuple[Turn, ...] = ()
    total: str = ""
    all_open: str = ""
    one_at_a_time: str = ""
    limits: tuple[str, ...] = ()
    why_not: str = ""
    switch_s: float = SWITCH_S


def plan_for(question: Question, volumes: float, policy: Policy | None = None) -> Plan:
    """Return the turns that the sink's flush shows for the same question, within the pressures that the IFU allows.

    Without a policy only the channels' own volumes count, and no floor.
    """
    model, c = question.model, question.temperature_c
    found = turning(model, question.kind, question.pump, c, volumes, "flush", policy)
    if found.refusal is not None:
        return Plan(why_not=_named(question, f"{found.refusal.message} {found.refusal.hint}".strip()))
    floor = floor_for_channels(model, policy, "flush", needs.channels(model)) if policy else None
    return _in_words(question, found, floor.value if floor else 0.0)


def _in_words(question: Question, found: Turning, floor_s: float) -> Plan:
    turns, plan = found.lasting(floor_s), found.plan
    return Plan(
        turns=tuple(_turn(question, turn) for turn in turns),
        total=show_duration(sum(turn.seconds for turn in turns)),
        all_open=_instead(plan, plan.all_open_s if plan else None),
        one_at_a_time=_instead(plan, plan.one_at_a_time_s if plan else None),
        limits=tuple(_named(question, sentence) for sentence in clamp_words.binding(plan)) if plan else (),
    )


def _turn(question: Question, turn: Pumping) -> Turn:
    opened = tuple(port for port in question.clamps if port in turn.open)
    names = {port.id: port.name.lower() for port in question.model.ports}
    say = (
        "Open all clamps" if opened == question.clamps else f"Open only {listed([names[p] for p in opened])}"
    )
    return Turn(say, show_duration(round(turn.seconds)), question.only(opened).address)


def _instead(plan: ClampPlan | None, seconds: float | None) -> str:
    """Return what another way takes; the clamp plan counts its first setting of the clamps too, the sink does not."""
    if plan is None:
        return "not reckoned"
    return (
        "not within the limits" if seconds is None else show_duration(round(seconds - plan.schedule.switch_s))
    )


def listed(names: list[str]) -> str:
    """Return names as a list in words.

    >>> listed(["air", "water", "jet"])
    'air, water and jet'
    """
    return names[0] if len(names) == 1 else ", ".join(names[:-1]) + " and " + names[-1]


def _named(question: Question, sentence: str) -> str:
    """Return a sentence of the planner with channels and ports by their names."""
    names = {channel.tubes[0]: channel.name.lower() for channel in question.model.channels}
    names |= {port_tube(port.id): port.name.lower() for port in question.model.ports}
    for tube in sorted(names, key=len, reverse=True):
        sentence = re.sub(rf"(?<![\w-])'?{re.escape(tube)}'?(?![\w-])", names[tube], sentence)
    return sentence[:1].upper() + sentence[1:]
