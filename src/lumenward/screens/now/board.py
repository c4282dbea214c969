"""What the screen Now knows: every endoscope's row, read from the records."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.utils import timezone

from lumenward.journey import clocks
from lumenward.journey.clocks import Clock
from lumenward.journey.event import Event
from lumenward.journey.states import EndoscopeState, World
from lumenward.journey.strip import Row, by_urgency, row
from lumenward.quantities import Refusal, show_duration
from lumenward.records.models import StoredEvent
from lumenward.records.world import StoredWorld, event_of
from lumenward.screens.now.drawing import Bar, Limit, Window, bars, headline, limit

_LOOK_BACK = timedelta(hours=12)
_OUT_OF_SIGHT = frozenset({"away", "retired"})


@dataclass(frozen=True)
class Line:
    """One line of the screen."""

    row: Row
    says: str
    bars: list[Bar]
    limit: Limit | None
    late: str  # "", "soon" or "late"
    station: str  # where its work goes on, empty while nobody has begun


@dataclass(frozen=True)
class Board:
    """The whole screen at one instant."""

    headline: str
    window: Window
    hours: list[tuple[float, str]]
    at_now: float
    hands: list[Line]
    others: list[Line]
    shelf: int
    over: list[str]  # names of those whose time on the shelf ended unnoticed


def board(now: datetime) -> Board:
    """Return the board of this instant, in the house's zone."""
    window = Window.around(timezone.localtime(now))
    world = StoredWorld()
    rows = by_urgency(_rows(world, now), now)
    ready = [state for state in world.endoscopes() if state.stage == "ready" and state.ready_until]
    lines = [_line(one, window) for one in rows]
    shown = [line for line in lines if _worth_a_line(line)]
    return Board(
        headline=headline(rows, now), window=window, hours=window.hours(), at_now=window.x(window.now),
        hands=[line for line in shown if line.row.needs_hands],
        others=[line for line in shown if not line.row.needs_hands],
        shelf=sum(1 for state in ready if state.ready_until and state.ready_until > now),
        over=sorted(state.name for state in ready if state.ready_until and state.ready_until <= now),
    )  # fmt: skip


def _rows(world: World, now: datetime) -> list[Row]:
    acts = _recent_acts(now - _LOOK_BACK)
    since = now - _LOOK_BACK
    return [
        row(state, acts[state.id], _clock(world, state), since)
        for state in world.endoscopes()
        if state.stage not in _OUT_OF_SIGHT
    ]


def _recent_acts(since: datetime) -> dict[str, list[Event]]:
    found: dict[str, list[Event]] = defaultdict(list)
    for stored in StoredEvent.objects.filter(happened_utc__gte=since).order_by("happened_utc", "id"):
        found[stored.subject].append(event_of(stored))
    return found


def _clock(world: World, state: EndoscopeState) -> Clock | None:
    if state.stage != "waiting" or state.end_of_use is None:
        return None
    try:
        return clocks.delay(world.library().model(state.model), world.policy(), state.end_of_use)
    except Refusal:
        return None


def _worth_a_line(line: Line) -> bool:
    """The shelf has its own screen: of what is ready only what moved lately stands here."""
    return line.row.stage not in ("ready", "never processed") or bool(line.bars)


def _line(one: Row, window: Window) -> Line:
    now = window.now
    word = one.clock.word(now) if one.clock else ""
    words = _limit_words(one.clock, now) if one.clock else ""
    return Line(
        row=one, says=_says(one, now), bars=bars(one.stretches, window), limit=limit(one.clock, window, words),
        late=word if word in ("soon", "late") else "",
        station=one.place if one.stage in ("being cleaned", "being disinfected", "disinfected", "dry") else "",
    )  # fmt: skip


def _limit_words(clock: Clock, now: datetime) -> str:
    at = clock.limit_at.astimezone(now.tzinfo)
    when = f"{at.hour}:{at:%M}"
    if clock.word(now) == "late":
        return f"late: should have started by {when}"
    return f"{'cleaning must start' if clock.word(now) == 'soon' else 'start'} by {when}"


_SAYS = {
    "in use": "in use", "waiting": "waiting", "being cleaned": "being cleaned",
    "being disinfected": "in disinfection", "disinfected": "to be dried", "dry": "to be stored",
    "stored": "to be released", "held": "not for use", "ready": "ready",
    "never processed": "dirty until processed here",
}  # fmt: skip


def _says(one: Row, now: datetime) -> str:
    says = f"held: {one.held_why}" if one.held_why else _SAYS.get(one.stage, one.stage)
    if one.since is None or one.stage == "ready":
        return says
    return f"{says}, {show_duration(max(0.0, (now - one.since).total_seconds()))}"
