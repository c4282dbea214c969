"""The second half of an endoscope's way: disinfection, drying, storage, release."""

from __future__ import annotations

import hashlib
from datetime import timedelta
from typing import Any

from lumenward.demo.cast import LEAD, Invented
from lumenward.demo.walk import WASHERS, Walk
from lumenward.equipment.fittings import Disinfectant
from lumenward.journey.numbers import floor_s
from lumenward.ledger.canonical import canonical_json
from lumenward.rulebook import assess

_BY_HAND = {"opa": "basin-1", "improved-hydrogen-peroxide": "basin-2"}
_SLOTS = {"cabinet-1": 12, "cabinet-2": 8, "cabinet-3": 10, "tray-1": 6}
_HIGH_RISK_FIRST = ("cabinet-2", "cabinet-1", "cabinet-3", "tray-1")
_OTHERS_FIRST = ("cabinet-3", "cabinet-1", "cabinet-2", "tray-1")


def disinfected(walk: Walk) -> None:
    """By machine where the walk says so and one fits, else by hand in a basin."""
    fitting = [one.id for one in walk.library.washers if walk.scope.model in one.fits and one.id in WASHERS]
    if walk.route == "machine" and fitting and "machine" in walk.model.ifu.routes:
        _by_machine(walk, fitting)
    else:
        _by_hand(walk)


def _by_machine(walk: Walk, fitting: list[str]) -> None:
    washer, free = walk.places.first_free(fitting, walk.at)
    walk.at = max(walk.at, free)
    walk.station = washer
    described = next(one for one in walk.library.washers if one.id == washer)
    program = WASHERS[washer]
    walk.do(
        "machine_cycle_started",
        {"washer": washer, "program": program, "connected_all": True},
        walk.pen.between(2, 4),
    )
    lasts = walk.pen.between(24, 33)
    walk.places.busy[washer] = walk.at + timedelta(minutes=lasts + 4)
    body = {
        "washer": washer, "program": program, "result": "complete", "dose_confirmed": True,
        "contact_s": described.contact_s + walk.pen.rng.randint(0, 20),
        "temperature_c": round(described.contact_c + walk.pen.between(0.4, 2.2), 1),
    }  # fmt: skip
    walk.do("machine_cycle_ended", body, lasts)


def _by_hand(walk: Walk) -> None:
    opa = "opa" in walk.model.ifu.chemistries and not walk.model.urological
    basin = "basin-3" if walk.model.urological else _BY_HAND["opa" if opa else "improved-hydrogen-peroxide"]
    walk.at = max(walk.at, walk.places.busy.get(basin, walk.at)) + timedelta(minutes=walk.pen.between(1, 3))
    if walk.at > walk.until:
        walk.do("hld_started", {}, 0)
    if not walk.stock.test(basin, walk.at, walk.person.id, basin):
        walk.stock.pour(basin, walk.at + timedelta(minutes=2), "MEC failed")
        walk.at += timedelta(minutes=12)
        walk.stock.test(basin, walk.at, walk.person.id, basin)
    walk.station = basin
    charge, warm = walk.stock.charges[basin].id, walk.stock.warmth(basin)
    contact = _contact_s(walk, charge, warm)
    walk.places.busy[basin] = walk.at + timedelta(seconds=contact + 300)
    walk.do(
        "hld_started",
        {"charge": charge, "temperature_c": warm, "channels_filled": True},
        walk.pen.between(1, 2.5),
    )
    body = {"charge": charge, "temperature_c": warm, "result": "complete"}
    walk.do("hld_ended", body, (contact + walk.pen.between(5, 90)) / 60)
    walk.stock.used(basin)
    label = _label(walk, charge)
    body = {"count": label.rinses or 1, "water": "critical", "channels": walk.channels}
    walk.timed(
        "final-rinse",
        "final_rinsed",
        body,
        max(60.0 * (label.rinses or 1), walk.floor("final-rinse")),
        (5, 60),
    )


def _label(walk: Walk, charge: str) -> Disinfectant:
    known = walk.pen.world.charge(charge)
    return next(one for one in walk.library.disinfectants if known and one.id == known.disinfectant)


def _contact_s(walk: Walk, charge: str, warm: float) -> float:
    found = floor_s(walk.model, walk.policy, "hld", label=_label(walk, charge), temperature_c=warm)
    return found.value if found else 0.0


def dried(walk: Walk) -> None:
    """Filtered air below the IFU's highest pressure, at least its floor, and a look for drops."""
    body: dict[str, Any] = {
        "dryer": "dryer-2",
        "channels": walk.channels,
        "result": "dry",
        "check": "no drops on dark paper",
    }
    if walk.channels:
        lowest = min((c.max_pressure_kpa or 100) for c in walk.model.channels)
        body["pressure_kpa"] = min(90.0, lowest - 5)
    else:
        body["check"] = "no channel: outside wiped dry"
    walk.timed("dry", "dried", body, max(600.0, walk.floor("dry")), (5, 200))


def stored(walk: Walk) -> None:
    """Hung in the cabinet where its class may wait longest; the trays only when all are full."""
    hanging = walk.places.hanging
    hanging.pop(walk.scope.id, None)
    order = _HIGH_RISK_FIRST if walk.model.high_risk else _OTHERS_FIRST
    cabinet = next(name for name in order if sum(v == name for v in hanging.values()) < _SLOTS[name])
    walk.do("stored", {"cabinet": cabinet, "valves_out": True, "clean_gloves": True}, walk.pen.between(1, 4))
    hanging[walk.scope.id] = cabinet


def released(walk: Walk) -> bool:
    """Signed when the verdict finds nothing against it; return whether it was."""
    signer: Invented = LEAD if walk.pen.chance(0.2) else walk.person
    walk.at += timedelta(minutes=walk.pen.between(1, 12))
    verdict = assess(walk.pen.world, walk.scope.id, walk.cycle, walk.at)
    if not verdict.ready:
        return False
    document = verdict.model_dump(mode="json")
    digest = hashlib.sha256(canonical_json(document)).hexdigest()
    body = {"verdict": document, "verdict_digest": digest, "ready_until": verdict.ready_until}
    walk.do("released", body, 0, who=signer.id)
    return True
