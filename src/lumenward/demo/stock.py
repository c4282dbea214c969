"""What the invented unit uses up: lots, strips, basin charges, connector sets."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from typing import Any

from lumenward.demo.cast import LEAD
from lumenward.demo.pen import Pen
from lumenward.equipment.library import Library

# product, shelf, days a lot lasts here, days until it expires when opened
_LOTS = (
    ("reedwash", "detergents", 24, 300),
    ("mereclean", "detergents", 45, 240),
    ("opa-055", "disinfectants", 20, 60),
    ("improved-20", "disinfectants", 30, 80),
    ("strip-opa", "strips", 40, 200),
    ("strip-ihp", "strips", 40, 200),
    ("br-18", "brushes", 30, 500),
    ("br-30", "brushes", 30, 500),
    ("br-50", "brushes", 20, 500),
    ("br-60", "brushes", 25, 500),
    ("kit-atp-channel", "kits", 30, 120),
)
# basin, disinfectant, litres poured, temperature, strip, MEC in per cent, strength, days a charge stays
_BASINS = (
    ("basin-1", "opa-055", 10.0, 21.5, "strip-opa", 0.3, 0.55, 13),
    ("basin-2", "improved-20", 12.0, 21.0, "strip-ihp", 1.5, 2.0, 12),
    ("basin-3", "improved-20", 7.0, 21.8, "strip-ihp", 1.5, 2.0, 12),
)


@dataclass
class Charge:
    """The present charge of one basin. `weakens` is what one stay leaves of the strength."""

    id: str
    poured: datetime
    percent: float
    weakens: float


@dataclass
class Stock:
    """Keeps the shelves full; everything it opens is an act. `now` is the day on which the history is told."""

    pen: Pen
    library: Library
    now: datetime
    lots: dict[str, str] = field(default_factory=dict)
    charges: dict[str, Charge] = field(default_factory=dict)
    sets: dict[str, list[str]] = field(default_factory=dict)
    set_free: dict[str, datetime] = field(default_factory=dict)
    set_first: dict[str, datetime] = field(default_factory=dict)
    _opened: dict[str, datetime] = field(default_factory=dict)
    _count: int = 0

    def morning(self, at: datetime) -> None:
        """Open what the day needs: lots that ran out, charges that are due, connector sets for today."""
        for product, shelf, lasts, expires in _LOTS:
            if product not in self.lots or at - self._opened[product] > timedelta(days=lasts):
                self._open_lot(product, shelf, at, at.date() + timedelta(days=expires))
        for basin, *_, days in _BASINS:
            charge = self.charges.get(basin)
            if charge is None or at - charge.poured > timedelta(days=days):
                self.pour(basin, at + timedelta(minutes=8), "reuse life over")
        for kind in (one.id for one in self.library.connector_sets if not one.single_use):
            self._new_sets(kind, at)

    def _open_lot(self, product: str, shelf: str, at: datetime, expires: date) -> None:
        self._count += 1
        number = f"{product[:2].upper()}{at:%y%m}-{self._count:03d}"
        lot_id = f"lot-{number.lower()}"
        self.pen.write(
            "lot_opened", at, lot_id,
            {"product": product, "shelf": shelf, "lot": number, "expires": expires.isoformat()},
            person=LEAD.id, station="supplies",
        )  # fmt: skip
        if shelf == "strips":
            checked = {"full_strength_passed": 3, "diluted_failed": 3}
            self.pen.write(
                "strips_checked",
                at + timedelta(minutes=5),
                lot_id,
                checked,
                person=LEAD.id,
                station="supplies",
            )
        self.lots[product], self._opened[product] = lot_id, at

    def pour(self, basin: str, at: datetime, because: str) -> None:
        """Empty a basin and fill it anew."""
        _, product, litres, warm, _, _, strength, _ = next(one for one in _BASINS if one[0] == basin)
        old = self.charges.get(basin)
        if old is not None:
            self.pen.write("charge_discarded", at, old.id, {"reason": because}, person=LEAD.id, station=basin)
        poured = self.pen.write(
            "charge_poured", at + timedelta(minutes=6), "",
            {"basin": basin, "disinfectant": product, "lot": self.lots[product], "volume_l": litres,
             "temperature_c": warm},
            person=LEAD.id, station=basin,
        )  # fmt: skip
        weak = basin == "basin-1" and 16 <= (self.now - at).days <= 34
        carried_l = self.pen.between(0.4, 0.6) if weak else self.pen.between(0.03, 0.09)
        self.charges[basin] = Charge(poured.id, poured.happened_at, strength, litres / (litres + carried_l))

    def test(self, basin: str, at: datetime, person: str, station: str) -> bool:
        """Test the charge with a strip; return whether it passed. A third of the tests are titrated to a figure."""
        _, _, _, warm, strip, mec, _, _ = next(one for one in _BASINS if one[0] == basin)
        charge = self.charges[basin]
        seen = charge.percent * self.pen.rng.gauss(1, 0.02)
        body: dict[str, Any] = {
            "strip_lot": self.lots[strip], "read_after_s": round(self.pen.between(76, 89)),
            "result": "pass" if seen > mec else "fail", "temperature_c": round(warm + self.pen.rng.gauss(0, 0.3), 1),
        }  # fmt: skip
        if self.pen.chance(0.33):
            body["percent"] = round(seen, 3)
            body["result"] = "pass" if body["percent"] > mec else "fail"
        self.pen.write("mec_tested", at, charge.id, body, person=person, station=station)
        return bool(body["result"] == "pass")

    def recall_strips(self, at: datetime) -> None:
        """The supplier's notice: these strips pass what has failed. Withdrawn, and the charge tested anew: it fails."""
        because = {"reason": "supplier's notice: this lot reads pass below the MEC"}
        self.pen.write(
            "lot_withdrawn", at, self.lots["strip-opa"], because, person=LEAD.id, station="supplies"
        )
        self._open_lot("strip-opa", "strips", at + timedelta(minutes=4), at.date() + timedelta(days=200))
        self.charges["basin-1"].percent = 0.24
        self.test("basin-1", at + timedelta(minutes=14), LEAD.id, "basin-1")
        self.pour("basin-1", at + timedelta(minutes=20), "MEC failed")

    def warmth(self, basin: str) -> float:
        """Return the temperature of a basin now."""
        warm = next(one for one in _BASINS if one[0] == basin)[3]
        return round(warm + self.pen.rng.gauss(0, 0.3), 1)

    def used(self, basin: str) -> None:
        """One more endoscope carried water in and disinfectant out."""
        self.charges[basin].percent *= self.charges[basin].weakens

    def _new_sets(self, kind: str, at: datetime) -> None:
        forgotten = kind == "set-colon" and self.now - at < timedelta(hours=20)
        for old in self.sets.get(kind, ())[1 if forgotten else 0 :]:
            gone = max(at, self.set_free[old] + timedelta(minutes=1))
            because = {"reason": "its 24 h are over"}
            self.pen.write("connector_set_discarded", gone, old, because, person=LEAD.id, station="supplies")
        self.sets[kind] = [
            self._open_set(kind, at + timedelta(minutes=2))
            for _ in range(3 if kind in ("set-gastro", "set-colon") else 1)
        ]

    def _open_set(self, kind: str, at: datetime) -> str:
        self._count += 1
        set_id = f"cs-{at:%m%d}-{kind.split('-')[1]}-{self._count}"
        self.pen.write(
            "connector_set_opened",
            at,
            set_id,
            {"kind": kind, "code": set_id.upper()},
            person=LEAD.id,
            station="supplies",
        )
        self.set_free[set_id] = at
        return set_id

    def take_set(self, model: str, at: datetime, until: datetime) -> str:
        """Return a connector set that fits and is free, and keep it until an instant."""
        kind = next(one for one in self.library.connector_sets if model in one.fits)
        if kind.single_use:
            return self._open_set(kind.id, at - timedelta(minutes=3))
        young = at - timedelta(hours=23)
        fresh = [
            one
            for one in self.sets[kind.id]
            if self.set_free[one] <= at and self.set_first.get(one, at) > young
        ]
        if not fresh:
            fresh = [self._open_set(kind.id, at - timedelta(minutes=3))]
            self.sets[kind.id].append(fresh[0])
        self.set_first.setdefault(fresh[0], at)
        self.set_free[fresh[0]] = until
        return fresh[0]
