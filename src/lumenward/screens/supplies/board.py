"""What the screen Supplies knows: each lot and set in use, how long it may still be used, and what it lacks."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, tzinfo
from typing import Any

from lumenward.equipment.fittings import ConnectorSet, TestStrip
from lumenward.journey import clocks, saying
from lumenward.journey.clocks import Clock
from lumenward.journey.legality.lots import proved
from lumenward.journey.states import ConnectorSetState, LotState
from lumenward.quantities import show_duration
from lumenward.records.world import StoredWorld

SHELVES = {
    "detergents": "Detergents", "disinfectants": "Disinfectants", "strips": "Test strips", "brushes": "Brushes",
    "kits": "Test kits",
}  # fmt: skip

SHOWN_OVER = 4  # of each kind, the last opened of those that must not be used any more


@dataclass(frozen=True)
class Row:
    """One lot or set. `word`: "ready", "soon", "late", or "" where nothing runs out."""

    id: str
    name: str
    what: str
    opened_at: datetime | None
    word: str
    says: str
    basis: str
    lacks_check: bool = False
    uses: int | None = None


@dataclass(frozen=True)
class Shelf:
    """One kind of supplies; `older` are those over for longest, put apart so that the rest can be read."""

    title: str
    rows: list[Row]
    older: list[Row]


@dataclass(frozen=True)
class Board:
    """The whole screen."""

    headline: str
    shelves: list[Shelf]
    sets: Shelf


def board(now: datetime, zone: tzinfo) -> Board:
    """Return every lot and set in use, what runs out first on top."""
    world = StoredWorld()
    lots = [one for one in world.lots() if not one.withdrawn_why]
    shelves = [
        _shelf(title, [_lot(world, one, now, zone) for one in lots if one.shelf == shelf])
        for shelf, title in SHELVES.items()
    ]
    sets = _shelf("Connector sets", [_set(world, one, now) for one in world.connector_sets()])
    found = [shelf for shelf in shelves if shelf.rows]
    return Board(
        _headline([row for shelf in (*found, sets) for row in (*shelf.rows, *shelf.older)]), found, sets
    )


def _shelf(title: str, rows: list[Row]) -> Shelf:
    over = sorted((one for one in rows if one.word == "late"), key=_opened, reverse=True)
    shown = [one for one in rows if one.word != "late"] + over[:SHOWN_OVER]
    return Shelf(title, _sorted(shown), over[SHOWN_OVER:])


def _opened(row: Row) -> float:
    return row.opened_at.timestamp() if row.opened_at else 0.0


def _sorted(rows: list[Row]) -> list[Row]:
    order = {"late": 0, "soon": 1}
    return sorted(rows, key=lambda one: (order.get(one.word, 2), not one.lacks_check, one.name, one.what))


def _lot(world: StoredWorld, lot: LotState, now: datetime, zone: tzinfo) -> Row:
    product = _product(world, lot)
    lacks = lot.shelf == "strips" and not proved(lot)
    clock = _lot_clock(lot, product, zone)
    word, says = _clock_words(clock, now, zone)
    basis = f"{clock.basis}: {clock.source}" if clock else ""
    if lacks and word != "late":
        word, says = "soon", f"to be checked first, 3 and 3; {says}"
    name = product.name if product else lot.product
    return Row(lot.id, name, f"lot {lot.lot}", lot.opened_at, word, says, basis, lacks)


def _product(world: StoredWorld, lot: LotState) -> Any:
    return next((one for one in getattr(world.library(), lot.shelf, []) if one.id == lot.product), None)


def _lot_clock(lot: LotState, product: Any, zone: tzinfo) -> Clock | None:
    if lot.expires is None or lot.opened_at is None:
        return None
    if isinstance(product, TestStrip):
        return clocks.strips(product, lot.expires, lot.opened_at, zone)
    return clocks.expiry(lot.expires, lot.opened_at, zone)


def _clock_words(clock: Clock | None, now: datetime, zone: tzinfo) -> tuple[str, str]:
    if clock is None:
        return "", "no limit is stated"
    left = clock.left_s(now)
    day = saying.day(clocks.after(clock.limit_at, -1).astimezone(zone))
    if left < 0:
        return "late", f"over since {day}: not to be used"
    word = "soon" if clock.word(now) == "soon" else "ready"
    return word, f"to be used by {day}, {show_duration(left)} left"


def _set(world: StoredWorld, one: ConnectorSetState, now: datetime) -> Row:
    kind = next((k for k in world.library().connector_sets if k.id == one.kind), None)
    word, says, basis = _set_words(world, one, kind, now)
    name = kind.name if kind else one.kind
    return Row(one.id, name, one.code or one.id, one.opened_at, word, says, basis, uses=one.uses)


def _set_words(
    world: StoredWorld, one: ConnectorSetState, kind: ConnectorSet | None, now: datetime
) -> tuple[str, str, str]:
    on = world.cycle(one.on) if one.on else None
    where = f"connected to {saying.endoscope(world, on.endoscope)}; " if on else ""
    if kind is not None and kind.single_use:
        if one.uses and not on:
            return "late", "for single use, and used: discard it", "label"
        return (
            ("", f"{where}for single use", "label")
            if one.uses
            else ("ready", "not used yet, single use", "label")
        )
    if one.first_use_at is None:
        return "ready", "not used yet: its life runs from its first use", ""
    clock = _set_clock(world, one, kind)
    if clock is None:
        return "", f"{where}nobody states its life", ""
    left = clock.left_s(now)
    basis = f"{clock.basis}: {clock.source}"
    if left < 0:
        return "late", f"{where}its life ended {show_duration(-left)} ago: discard it", basis
    return ("soon" if clock.word(now) == "soon" else "ready"), f"{where}{show_duration(left)} left", basis


def _set_clock(world: StoredWorld, one: ConnectorSetState, kind: ConnectorSet | None) -> Clock | None:
    if kind is None or one.first_use_at is None:
        return None
    models = [model for model in world.library().endoscopes if model.id in kind.fits]
    found = [clocks.connector_set(model, world.policy(), kind, one.first_use_at) for model in models]
    known = [clock for clock in found if clock is not None]
    return clocks.earliest(known) if known else None


def _headline(rows: list[Row]) -> str:
    if not rows:
        return "Nothing is in use yet."
    late = sum(1 for one in rows if one.word == "late")
    lacks = sum(1 for one in rows if one.lacks_check and one.word != "late")
    told = []
    if late:
        told.append(f"{late} must not be used any more")
    if lacks:
        told.append(f"{lacks} {'bottle' if lacks == 1 else 'bottles'} of strips must be checked first")
    words = saying.listed(told)
    return f"{words[0].upper()}{words[1:]}." if words else "Everything in use may be used."
