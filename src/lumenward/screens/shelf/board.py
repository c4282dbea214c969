"""What the screen Shelf knows: what may be taken, until when; what stands there and may not, and why."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime
from itertools import groupby

from lumenward.journey import clocks
from lumenward.journey.clocks import Clock
from lumenward.journey.states import EndoscopeState
from lumenward.quantities import Refusal, show_duration
from lumenward.records.world import StoredWorld
from lumenward.rulebook.verdict import Finding

SHOWN = ("ready", "stored", "held")
_NUMBERS = ("No", "One", "Two", "Three", "Four", "Five", "Six", "Seven", "Eight", "Nine", "Ten")


@dataclass(frozen=True)
class Row:
    """One endoscope on the shelf, or held. `word`: "ready", "soon" (its time is nearly over), "late", "held", ""."""

    id: str
    name: str
    model: str
    family: str
    place: str
    word: str
    until: datetime | None = None
    left: str = ""
    basis: str = ""
    cycle: str = ""
    why_not: list[str] = field(default_factory=list)
    fix: str = ""


@dataclass(frozen=True)
class Board:
    """The whole screen."""

    headline: str
    families: list[tuple[str, list[Row]]]
    waiting: list[Row]
    held: list[Row]
    known: int
    asked: str

    @property
    def ready(self) -> int:
        """How many may be taken."""
        return sum(len(rows) for _, rows in self.families)


def board(now: datetime, asked: str = "") -> Board:
    """Return the shelf of this instant; `asked` narrows it to names, models, families, places and codes."""
    world = StoredWorld()
    shown = [one for one in world.endoscopes() if one.stage in SHOWN]
    rows = [row(world, one, now) for one in shown if _matches(world, one, asked)]
    ready = [one for one in rows if one.word in ("ready", "soon")]
    ready.sort(key=lambda one: (one.family, one.until or now, one.name))
    families = [(family, list(found)) for family, found in groupby(ready, key=lambda one: one.family)]
    return Board(
        headline=_headline(ready, asked, now), families=families,
        waiting=_sorted(one for one in rows if one.word in ("", "late")),
        held=_sorted(one for one in rows if one.word == "held"), known=len(world.endoscopes()), asked=asked,
    )  # fmt: skip


def _sorted(rows: Iterable[Row]) -> list[Row]:
    return sorted(rows, key=lambda one: (one.word != "late", one.name))


def row(world: StoredWorld, one: EndoscopeState, now: datetime) -> Row:
    """Return one endoscope as a row."""
    model = next((m for m in world.library().endoscopes if m.id == one.model), None)
    about = Row(
        id=one.id, name=one.name, model=model.name if model else one.model, family=model.family if model else "",
        place=_place(world, one), word="", cycle=one.cycle,
    )  # fmt: skip
    if one.stage == "held":
        return _with(about, word="held", why_not=[f"Held: {one.held_why or 'no reason given'}."])
    against = _against(world, one, now)
    clock = hang_clock(world, one)
    if one.stage == "ready":
        return _released(about, one, clock, against, now)
    why = [finding.sentence for finding in against] or ["It is stored and not released yet."]
    return _with(about, why_not=why, fix=against[0].fix if against else "Somebody who may signs the release.")


def _released(
    about: Row, one: EndoscopeState, clock: Clock | None, against: list[Finding], now: datetime
) -> Row:
    until = one.ready_until
    left_s = clocks.elapsed_s(now, until) if until else 0.0
    if left_s < 0:
        why = f"Its time on the shelf ended {show_duration(-left_s)} ago."
        return _with(about, word="late", until=until, why_not=[why], fix="Process it again.")
    if against:
        return _with(
            about, until=until, why_not=[finding.sentence for finding in against],
            fix=against[0].fix or "Hold it until that is settled.",
        )  # fmt: skip
    word = "soon" if clock is not None and clock.word(now) == "soon" else "ready"
    basis = f"{clock.basis}: {clock.source}" if clock else ""
    return _with(about, word=word, until=until, left=show_duration(left_s), basis=basis)


def _with(about: Row, **more: object) -> Row:
    return Row(**{**vars(about), **more})


def _against(world: StoredWorld, one: EndoscopeState, now: datetime) -> list[Finding]:
    """What stands against it by today's facts; a charge that failed since is among them."""
    if not one.cycle:
        return []
    from lumenward.rulebook import assess

    return assess(world, one.id, one.cycle, now).against


def hang_clock(world: StoredWorld, one: EndoscopeState) -> Clock | None:
    """Return the clock of its time on the shelf, None where nobody states one."""
    cycle = world.cycle(one.cycle) if one.cycle else None
    if cycle is None or cycle.dried_at is None:
        return None
    cabinet = next((c for c in world.library().cabinets if c.id == cycle.cabinet), None)
    try:
        model = world.library().model(one.model)
    except Refusal:
        return None
    return clocks.hang(model, world.policy(), cabinet, cycle.dried_at) if cabinet else None


def _place(world: StoredWorld, one: EndoscopeState) -> str:
    library = world.library()
    things = (*library.cabinets, *library.sinks)
    name = next((thing.name for thing in things if thing.id == one.place), one.place)
    return f"{name}, place {one.slot}" if one.slot else name


def _matches(world: StoredWorld, one: EndoscopeState, asked: str) -> bool:
    if not asked:
        return True
    model = next((m for m in world.library().endoscopes if m.id == one.model), None)
    words = [one.name, one.id, one.code, one.serial, _place(world, one)]
    words += [model.name, model.family] if model else []
    return any(asked.casefold() in text.casefold() for text in words)


def _headline(ready: list[Row], asked: str, now: datetime) -> str:
    matching = f" for {asked!r}" if asked else ""
    if not ready:
        return f"Nothing on the shelf is ready{matching}."
    count = _NUMBERS[len(ready)] if len(ready) < len(_NUMBERS) else str(len(ready))
    verb = "endoscope is" if len(ready) == 1 else "endoscopes are"
    first = min(ready, key=lambda one: one.until or now)
    return f"{count} {verb} ready{matching}. {first.name} must be used first: {first.left} left."
