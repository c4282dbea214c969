"""Who stands where and who waits: the rows from which a person at a sink chooses."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime

from lumenward.equipment.fittings import Sink
from lumenward.journey import clocks
from lumenward.journey.states import EndoscopeState, World
from lumenward.quantities import show_duration

AT_WORK = ("being cleaned", "being disinfected", "disinfected", "dry", "stored")
GONE = ("away", "retired")
_OVER = "its time on the shelf is over"
_NEW = "not processed here yet"
_RANK = {words: place for place, words in enumerate(("in use", _OVER, _NEW))}


@dataclass(frozen=True)
class Station:
    """One sink as a row: who is on it now."""

    id: str
    name: str
    place: str
    sentence: str


@dataclass(frozen=True)
class Waiting:
    """One endoscope as a row: what it waits for, and how its clock stands."""

    id: str
    name: str
    model: str
    sentence: str
    word: str = ""
    clock: str = ""


@dataclass
class Lists:
    """The rows of one station, by what they need."""

    here: list[Waiting] = field(default_factory=list)
    used: list[Waiting] = field(default_factory=list)
    elsewhere: list[Waiting] = field(default_factory=list)
    others: list[Waiting] = field(default_factory=list)
    held: list[Waiting] = field(default_factory=list)


def stations(world: World) -> list[Station]:
    """Return every sink with the endoscopes that are worked on there."""
    at_work = [one for one in world.endoscopes() if one.stage in AT_WORK]
    return [_station(world, sink, at_work) for sink in world.library().sinks]


def _station(world: World, sink: Sink, at_work: list[EndoscopeState]) -> Station:
    here = [
        one.name for one in at_work if _station_of(world, one) == sink.id and one.stage == "being cleaned"
    ]
    sentence = f"{' and '.join(here)} being cleaned" if here else "free"
    return Station(sink.id, sink.name, sink.place, sentence)


def _station_of(world: World, one: EndoscopeState) -> str:
    cycle = world.cycle(one.cycle) if one.cycle else None
    return cycle.station if cycle else ""


def lists(world: World, station: str, now: datetime) -> Lists:
    """Return the endoscopes a person at this station may take up, the most pressing first."""
    found = Lists()
    for one in sorted(world.endoscopes(), key=lambda one: (one.end_of_use or now, one.name)):
        if one.stage not in GONE:
            _place(world, station, now, one, found)
    found.others.sort(key=lambda row: _RANK.get(row.sentence, len(_RANK)))
    return found


def _place(world: World, station: str, now: datetime, one: EndoscopeState, found: Lists) -> None:
    row = _row(world, one, now)
    if one.stage == "held":
        found.held.append(row)
    elif one.stage == "waiting":
        found.used.append(row)
    elif one.stage in AT_WORK:
        (found.here if _station_of(world, one) == station else found.elsewhere).append(row)
    else:
        found.others.append(row)


def _row(world: World, one: EndoscopeState, now: datetime) -> Waiting:
    model = world.library().model(one.model)
    about = f"{model.family} {model.name}"
    if one.stage == "waiting":
        return _used(world, one, about, now)
    if one.stage == "held":
        return Waiting(one.id, one.name, about, f"held: {one.held_why or 'no reason given'}", "held")
    return Waiting(one.id, one.name, about, _stage_words(one, now))


def _used(world: World, one: EndoscopeState, about: str, now: datetime) -> Waiting:
    cycle = world.cycle(one.cycle) if one.cycle else None
    if one.end_of_use is None or (cycle and not cycle.time_known):
        return Waiting(one.id, one.name, about, "end of use not known: treated as late", "late", "late")
    clock = clocks.delay(world.library().model(one.model), world.policy(), one.end_of_use)
    left = clock.left_s(now)
    word = clock.word(now)
    since = f"{show_duration(max(0.0, clocks.elapsed_s(one.end_of_use, now)))} after the case"
    said = f"{show_duration(left)} left to start" if left >= 0 else f"late by {show_duration(-left)}"
    return Waiting(one.id, one.name, about, since, word if word in ("late", "soon") else "", said)


def _stage_words(one: EndoscopeState, now: datetime) -> str:
    if one.stage == "ready" and one.ready_until:
        over = clocks.elapsed_s(one.ready_until, now) > 0
        return _OVER if over else "ready"
    return {"never processed": _NEW}.get(one.stage, one.stage)
