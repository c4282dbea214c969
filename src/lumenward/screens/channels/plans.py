"""The clamp plan in the house's words: turns, what is open in each, what it saves, what limits it."""

from __future__ import annotations

import re
from dataclasses import dataclass

from lumenward.hydraulics import clamp_words
from lumenward.hydraulics.assemble import assemble, channel_volumes_m3, port_tube
from lumenward.hydraulics.clamps import ClampPlan, clamp_plan
from lumenward.quantities import Refusal, show_duration
from lumenward.screens.channels.question import Question

SWITCH_S = 5.0
"""What one change of the clamps is reckoned to cost: common practice, no source."""


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


def plan_for(question: Question, volumes: float) -> Plan:
    """Return the shortest plan that gives every channel its volumes within the pressures that the IFU allows."""
    model = question.model
    network = assemble(model, question.kind, question.pump, question.temperature_c)
    held = channel_volumes_m3(model)
    needs = {channel.tubes[0]: volumes * held[channel.id] for channel in model.channels}
    caps = {one.tubes[0]: one.max_pressure_kpa * 1000 for one in model.channels if one.max_pressure_kpa}
    ports = [port_tube(port) for port in question.clamps]
    try:
        found = clamp_plan(network, ports, needs, caps or None, SWITCH_S)
    except Refusal as refusal:
        return Plan(why_not=_named(question, f"{refusal.message} {refusal.hint}".strip()))
    return _in_words(question, found)


def _in_words(question: Question, found: ClampPlan) -> Plan:
    return Plan(
        turns=tuple(
            _turn(question, tuple(p for p in question.clamps if port_tube(p) in turn.open), turn.duration_s)
            for turn in found.turns
        ),
        total=show_duration(found.total_s),
        all_open=_or_never(found.all_open_s),
        one_at_a_time=_or_never(found.one_at_a_time_s),
        limits=tuple(_named(question, sentence) for sentence in clamp_words.binding(found)),
    )


def _turn(question: Question, opened: tuple[str, ...], seconds: float) -> Turn:
    names = {port.id: port.name.lower() for port in question.model.ports}
    say = (
        "Open all clamps" if opened == question.clamps else f"Open only {listed([names[p] for p in opened])}"
    )
    return Turn(say, show_duration(round(seconds)), question.only(opened).address)


def _or_never(seconds: float | None) -> str:
    return "not within the limits" if seconds is None else show_duration(round(seconds))


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
