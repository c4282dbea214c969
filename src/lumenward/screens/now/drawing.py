"""The strip of time as lengths: from instants to per cent of the width, and the words that stand on it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta

from lumenward.journey.clocks import Clock
from lumenward.journey.strip import Row, Stretch
from lumenward.quantities import show_duration

BACK = timedelta(hours=3)
AHEAD = timedelta(hours=2)
_EDGE = timedelta(minutes=6)  # a word any nearer to the end would be cut off
_NEAR = timedelta(minutes=15)
WIDTH = 100.0  # per cent of the strip
_WORDS = {
    "in use": "in use", "waiting": "", "cleaning": "clean", "disinfecting": "disinfect", "drying": "dry",
    "stored": "", "held": "not for use",
}  # fmt: skip
_SEEN = frozenset({"in use", "cleaning", "disinfecting", "drying", "held"})
_NUMBERS = ("No", "One", "Two", "Three", "Four", "Five", "Six", "Seven", "Eight", "Nine", "Ten")


@dataclass(frozen=True)
class Window:
    """The stretch of time on the screen; x runs from 0 to WIDTH."""

    start: datetime
    now: datetime
    end: datetime

    @classmethod
    def around(cls, now: datetime) -> Window:
        """Return the window that reaches from some hours back to some hours ahead."""
        return cls(now - BACK, now, now + AHEAD)

    def x(self, at: datetime) -> float:
        """Return the place of an instant, held inside the window."""
        share = (at - self.start) / (self.end - self.start)
        return round(WIDTH * min(max(share, 0.0), 1.0), 2)

    def hours(self) -> list[tuple[float, str]]:
        """Return place and words of each full hour, on the window's own wall clock."""
        first = self.start.replace(minute=0, second=0, microsecond=0) + timedelta(hours=1)
        marks = [first + timedelta(hours=h) for h in range(8)]
        return [(self.x(m), self._words(m)) for m in marks if m < self.end - _EDGE]

    def _words(self, mark: datetime) -> str:
        """Return the words of a full hour; none where the time of now covers them."""
        return "" if abs(mark - self.now) < _NEAR else f"{mark.hour}:{mark:%M}"

    @property
    def now_words(self) -> str:
        """The time of now, as it stands on the strong line."""
        return f"{self.now.hour}:{self.now:%M}"


@dataclass(frozen=True)
class Bar:
    """One past stretch on the strip."""

    doing: str
    x: float
    width: float
    words: str


@dataclass(frozen=True)
class Limit:
    """The stretch from now to a limit, or the overrun behind it."""

    word: str  # in time, soon, late
    x: float
    width: float
    edge: float
    words: str
    fits_right: bool


def bars(stretches: Iterable[Stretch], window: Window) -> list[Bar]:
    """Return what was going on, as far as it is worth seeing."""
    return [bar for s in stretches if s.doing in _SEEN and (bar := _bar(s, window)).width >= 0.2]


def _bar(stretch: Stretch, window: Window) -> Bar:
    start = window.x(stretch.start)
    ends = window.end if stretch.doing == "held" and stretch.end is None else stretch.end or window.now
    width = round(window.x(ends) - start, 2)
    words = _WORDS[stretch.doing]
    return Bar(stretch.doing, start, width, words if width > 1.2 + 0.95 * len(words) else "")


def limit(clock: Clock | None, window: Window, words: str) -> Limit | None:
    """Return the drawing of a deadline that lies in or behind the window; None when it is far off."""
    if clock is None or clock.limit_at > window.end:
        return None
    edge, at_now = window.x(clock.limit_at), window.x(window.now)
    x, width = min(edge, at_now), abs(edge - at_now)
    return Limit(clock.word(window.now), x, round(width, 2), edge, words, max(edge, at_now) < WIDTH * 0.7)


def headline(rows: list[Row], now: datetime) -> str:
    """Return the sentence that answers the page's question: what needs hands next, and what is running out."""
    waiting = [row for row in rows if row.needs_hands]
    if not waiting:
        return "Nothing needs hands now."
    count = _NUMBERS[len(waiting)] if len(waiting) < len(_NUMBERS) else str(len(waiting))
    verb = "endoscope needs" if len(waiting) == 1 else "endoscopes need"
    return f"{count} {verb} hands. {waiting[0].name} first{_because(waiting[0].clock, now)}."


def _because(clock: Clock | None, now: datetime) -> str:
    if clock is None:
        return ""
    left = clock.left_s(now)
    if left < 0:
        return f": its time to start cleaning ended {show_duration(-left)} ago"
    return f": its time to start cleaning ends in {show_duration(left)}"
