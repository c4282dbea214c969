"""From a code to the thing it stands for, in words: what it is, whether it may be used, and if not why."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any, Protocol
from zoneinfo import ZoneInfo

from lumenward.interchange.codes import Code, read_code, swallowed
from lumenward.journey.states import ChargeState, EndoscopeState, LotState, World
from lumenward.quantities import Refusal, echo


class House(World, Protocol):
    """A world that can list its endoscopes."""

    def endoscopes(self) -> list[EndoscopeState]: ...


BadgeHolder = Callable[[str], tuple[str, str] | None]
"""Badge code to (person id, name), or None."""

WORDS = {
    "endoscope": "an endoscope", "person": "a badge", "lot": "a lot", "connector-set": "a connector set",
    "charge": "a basin with its charge", "basin": "a basin", "sink": "a sink", "container": "a clean container",
    "washer": "a washer-disinfector", "dryer": "a drying air source", "cabinet": "a storage place",
    "brush": "a brush", "meter": "a meter", "kit": "a test kit", "pump": "a pump", "product": "a product",
}  # fmt: skip
_SHELVES = {
    "sinks": "sink", "containers": "container", "basins": "basin", "washers": "washer", "dryers": "dryer",
    "cabinets": "cabinet", "brushes": "brush", "meters": "meter", "kits": "kit", "pumps": "pump",
}  # fmt: skip
_PRODUCTS = ("detergents", "disinfectants", "strips")
_FREE = frozenset({"case", "container"})  # codes of other systems: taken as they are


@dataclass(frozen=True)
class Scan:
    """What was scanned. `usable` and `why_not` say whether it may be used now; `warnings` what else to look at."""

    kind: str
    id: str
    label: str
    usable: bool = True
    why_not: str = ""
    parts: dict[str, str] = field(default_factory=dict)
    warnings: list[str] = field(default_factory=list)

    @property
    def sentence(self) -> str:
        """One sentence for the page and for a reading voice."""
        return f"{self.label}: {self.why_not}" if self.why_not else f"{self.label}."

    def as_dict(self) -> dict[str, Any]:
        """Return the answer for a machine."""
        return {
            "kind": self.kind, "id": self.id, "label": self.label, "sentence": self.sentence,
            "usable": self.usable, "why_not": self.why_not, "parts": self.parts, "warnings": self.warnings,
        }  # fmt: skip


@dataclass(frozen=True)
class _Desk:
    world: House
    badge: BadgeHolder
    today: date
    code: Code


def scan(text: str, expects: str, world: House, badge: BadgeHolder, now: datetime, zone: str) -> Scan:
    """Return what a code stands for. Raises a Refusal for what is unknown here or of another kind than asked for.

    `expects` is a kind of WORDS, or empty for any.
    """
    code = read_code(text)
    desk = _Desk(world, badge, now.astimezone(ZoneInfo(zone)).date(), code)
    found = list(_candidates(desk))
    fitting = [one for one in found if expects in ("", one.kind)]
    if fitting:
        return fitting[0]
    if expects in _FREE:
        return Scan(expects, code.plain, code.plain, parts=code.parts())
    if found:
        raise _wrong_kind(found[0], expects)
    raise _unknown(desk, expects)


def _candidates(desk: _Desk) -> Iterator[Scan]:
    yield from _endoscopes(desk)
    yield from _people(desk)
    yield from _lots(desk)
    yield from _sets(desk)
    yield from _charges(desk)
    yield from _things(desk)


def _endoscopes(desk: _Desk) -> Iterator[Scan]:
    for one in desk.world.endoscopes():
        if one.code == desk.code.plain or _is_labelled(desk, one):
            why = _endoscope_trouble(one)
            yield Scan("endoscope", one.id, one.name or one.id, not why, why, desk.code.parts())


def _is_labelled(desk: _Desk, one: EndoscopeState) -> bool:
    """An item number alone never names one endoscope: its serial number must be there too."""
    code = desk.code
    if not (code.gtin and code.serial) or code.serial != one.serial:
        return False
    models = {model.id: model.gtin for model in desk.world.library().endoscopes}
    return models.get(one.model) == code.gtin


def _endoscope_trouble(one: EndoscopeState) -> str:
    if one.stage == "held":
        return f"held: {one.held_why or 'no reason given'}."
    return {"away": "it is away.", "retired": "it is out of service for good."}.get(one.stage, "")


def _people(desk: _Desk) -> Iterator[Scan]:
    holder = desk.badge(desk.code.plain)
    if holder is not None:
        yield Scan("person", holder[0], holder[1])


def _lots(desk: _Desk) -> Iterator[Scan]:
    products = _products(desk)
    for lot in desk.world.lots():
        same = (
            lot.lot == desk.code.lot
            and desk.code.gtin
            and products.get(lot.product, ("", ""))[1] == desk.code.gtin
        )
        if (
            same
            or (lot.code and lot.code == desk.code.plain)
            or (not desk.code.elements and lot.id == desk.code.plain)
        ):
            name = products.get(lot.product, (lot.product, ""))[0]
            why = _lot_trouble(desk, lot)
            yield Scan("lot", lot.id, f"{name}, lot {lot.lot}", not why, why, desk.code.parts())


def _products(desk: _Desk) -> dict[str, tuple[str, str]]:
    library = desk.world.library()
    plain = {one.id: (one.name, "") for shelf in ("brushes", "kits") for one in getattr(library, shelf)}
    return plain | {one.id: (one.name, one.gtin) for shelf in _PRODUCTS for one in getattr(library, shelf)}


def _lot_trouble(desk: _Desk, lot: LotState) -> str:
    if lot.withdrawn_why:
        return f"this lot was withdrawn: {lot.withdrawn_why}. Take another."
    dates = [day for day in (lot.expires, desk.code.expiry) if day is not None]
    if dates and min(dates) < desk.today:
        return f"this lot expired on {min(dates):%-d %B %Y}. Take another."
    return ""


def _sets(desk: _Desk) -> Iterator[Scan]:
    names = {kind.id: kind.name for kind in desk.world.library().connector_sets}
    for one in desk.world.connector_sets():
        if desk.code.plain in (one.code, one.id):
            yield Scan("connector-set", one.id, f"{names.get(one.kind, one.kind)} {one.code}".strip())


def _charges(desk: _Desk) -> Iterator[Scan]:
    basins = {basin.id: basin for basin in desk.world.library().basins}
    names = {one.id: one.name for one in desk.world.library().disinfectants}
    for charge in desk.world.charges():
        basin = basins.get(charge.basin)
        if desk.code.plain == charge.id or (basin is not None and desk.code.plain == basin.code):
            where = basin.name if basin else charge.basin
            why = _charge_trouble(charge)
            yield Scan(
                "charge",
                charge.id,
                f"{where}: {names.get(charge.disinfectant, charge.disinfectant)}",
                not why,
                why,
            )


def _charge_trouble(charge: ChargeState) -> str:
    last = charge.tests[-1] if charge.tests else None
    return "its last concentration test failed. Discard it." if last and last.result == "fail" else ""


def _things(desk: _Desk) -> Iterator[Scan]:
    library = desk.world.library()
    for shelf, kind in _SHELVES.items():
        for one in getattr(library, shelf):
            if one.code == desk.code.plain:
                yield Scan(kind, one.id, one.name)
    for shelf in _PRODUCTS:
        for one in getattr(library, shelf):
            if one.code == desk.code.plain or (not desk.code.lot and desk.code.gtin == one.gtin):
                yield Scan("product", one.id, one.name, parts=desk.code.parts())


def _wrong_kind(found: Scan, expects: str) -> Refusal:
    wanted = WORDS.get(expects, expects)
    message = f"This is {found.label}, {WORDS[found.kind]}; {wanted} is asked for here."
    return Refusal("wrong-kind", message, "code", f"Scan {wanted}.")


def _unknown(desk: _Desk, expects: str) -> Refusal:
    code, wanted = desk.code, WORDS.get(expects, expects or "something known here")
    half = len(code.plain) // 2
    if len(code.plain) > 5 and code.plain[:half] == code.plain[half:]:
        return Refusal("scanned-twice", "The code came twice in one go.", "code", "Scan once more, slowly.")
    if code.plain.startswith("+") and not code.elements:
        return Refusal(
            "unread-code",
            "This is an HIBC code; it is not read here.",
            "code",
            f"Scan our label of {wanted}.",
        )
    if code.lot:
        return _unknown_lot(desk)
    if code.gtin and not code.serial:
        return _item_only(desk)
    return Refusal(
        "unknown-code", f"Nothing here carries the code {echo(code.plain)}.", "code", f"Scan {wanted}."
    )


def _unknown_lot(desk: _Desk) -> Refusal:
    code = desk.code
    names = {gtin: name for name, gtin in _products(desk).values() if gtin}
    split = swallowed(code.lot)
    if split is not None and any(lot.lot == split[0] for lot in desk.world.lots()):
        message = f"The lot reads {echo(code.lot)}: the scanner lost the separator after lot {split[0]}."
        return Refusal(
            "lost-separator", message, "code", "Set the scanner to send FNC1 as GS (ASCII 29); pick the lot."
        )
    if code.gtin not in names:
        return Refusal(
            "unknown-product", f"The library has no product with item number {code.gtin or '(none)'}.", "code",
            "Check the bottle; the lead adds products to the library.",
        )  # fmt: skip
    expired = code.expiry is not None and code.expiry < desk.today
    also = f" It expired on {code.expiry:%-d %B %Y}." if expired else ""
    message = f"Lot {code.lot} of {names[code.gtin]} was not opened here.{also}"
    return Refusal(
        "unknown-lot", message, "code", "Take another lot." if expired else "Open the lot first, at Basins."
    )


def _item_only(desk: _Desk) -> Refusal:
    model = next((m for m in desk.world.library().endoscopes if m.gtin == desk.code.gtin), None)
    if model is None:
        return Refusal(
            "unknown-product",
            f"Nothing here has the item number {desk.code.gtin}.",
            "code",
            "Check the label.",
        )
    message = f"This names the model {model.name}, not which of them."
    return Refusal("no-serial", message, "code", "Scan the label with the serial number, or our own label.")
