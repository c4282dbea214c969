"""What is used up: lots, strips, detergent batches, charges, connector sets."""

from __future__ import annotations

from datetime import datetime

from lumenward.equipment.fittings import ConnectorSet, Disinfectant, TestStrip
from lumenward.journey import clocks, saying
from lumenward.journey.legality.desk import Desk
from lumenward.journey.states import BatchState, ChargeState, ConnectorSetState, LotState
from lumenward.quantities import show_duration

ENOUGH_STRIPS = 3  # in full strength all pass, in diluted all fail: the usual label pattern of a new bottle


def usable(desk: Desk, lot_id: str, shelf: str, product: str | None, key: str) -> LotState:
    """Return the lot, or refuse one that is unknown, of another product, withdrawn or expired."""
    lot = desk.world.lot(lot_id)
    if lot is None or lot.shelf != shelf:
        desk.no(
            "unknown-lot", f"No lot {lot_id} of the {shelf} was opened here.", key, "Scan the lot in first."
        )
    if product is not None and lot.product != product:
        desk.no(
            "wrong-lot",
            f"Lot {lot.lot} is {lot.product}, not {product}.",
            key,
            "Scan the bottle you pour from.",
        )
    if lot.withdrawn_why:
        desk.no(
            "lot-withdrawn", f"Lot {lot.lot} was withdrawn: {lot.withdrawn_why}.", key, "Take another lot."
        )
    _not_expired(desk, lot, key)
    return lot


def _not_expired(desk: Desk, lot: LotState, key: str) -> None:
    if lot.expires is not None and desk.event.happened_at.date() > lot.expires:
        desk.no(
            "lot-expired", f"Lot {lot.lot} expired on {saying.day(lot.expires)}.", key, "Take another lot."
        )


def strips_usable(desk: Desk, lot_id: str, chemistry: str) -> TestStrip:
    """Return the strip, or refuse a bottle of another chemistry, not proved, or open for too long."""
    key = "body.strip_lot"
    lot = usable(desk, lot_id, "strips", None, key)
    strip = desk.thing("strips", lot.product, TestStrip, key, "strip")
    if strip.chemistry != chemistry:
        desk.no(
            "wrong-strip",
            f"{strip.name} test {strip.chemistry}, not {chemistry}.",
            key,
            "Take the strips that match.",
        )
    if not proved(lot):
        desk.no(
            "strips-not-checked",
            f"Strip lot {lot.lot} was not proved: {ENOUGH_STRIPS} strips must pass in full strength and"
            f" {ENOUGH_STRIPS} must fail in diluted disinfectant.",
            key,
            "Check the new bottle first.",
        )
    _strips_young(desk, lot, strip)
    return strip


def proved(lot: LotState) -> bool:
    """Return whether a bottle of strips was shown to pass and to fail where it must."""
    return lot.full_strength_passed >= ENOUGH_STRIPS and lot.diluted_failed >= ENOUGH_STRIPS


def _strips_young(desk: Desk, lot: LotState, strip: TestStrip) -> None:
    if lot.opened_at is None:
        return
    age = clocks.elapsed_s(lot.opened_at, desk.event.happened_at)
    if age > strip.open_d * 86400:
        desk.no(
            "strips-too-old",
            f"Strip lot {lot.lot} was opened {show_duration(age)} ago; it lasts {strip.open_d:g} days"
            f" after opening ({strip.name}, {strip.page}).",
            "body.strip_lot",
            "Open a new bottle.",
        )


def batch(desk: Desk, batch_id: str) -> BatchState:
    """Return the detergent batch, or refuse one that is unknown, drained, or another endoscope's."""
    key = "body.batches"
    found = desk.world.batch(batch_id)
    if found is None:
        desk.no("unknown-batch", f"No detergent was dosed as {batch_id}.", key, "Dose the detergent first.")
    if found.endoscope != desk.event.subject or found.cycle != desk.event.cycle:
        other = saying.endoscope(desk.world, found.endoscope)
        whose = f"for {other}" if other != desk.name else "for another cycle of this endoscope"
        desk.no("used-batch", f"This detergent was mixed {whose}.", key, "Drain it and dose fresh detergent.")
    if found.discarded_why:
        desk.no("batch-drained", "This detergent was drained.", key, "Dose fresh detergent.")
    if found.used_by and found.used_at and any(s.happened_at > found.used_at for s in desk.course.setbacks):
        desk.no(
            "used-batch",
            "This detergent served before the endoscope was sent back to cleaning.",
            key,
            "Drain it and dose fresh detergent.",
        )
    return found


def connector_set(desk: Desk, set_id: str) -> ConnectorSetState:
    """Return the set, or refuse one that is unknown, discarded, on another endoscope, of another kind or too old."""
    key = "body.connector_set"
    found = desk.world.connector_set(set_id)
    if found is None:
        desk.no("unknown-set", f"No connector set {set_id} was opened here.", key, "Scan the set in first.")
    if found.discarded_why:
        desk.no(
            "set-discarded", f"Set {set_id} was discarded: {found.discarded_why}.", key, "Take another set."
        )
    if found.on and found.on != desk.event.cycle:
        other = desk.world.cycle(found.on)
        whose = saying.endoscope(desk.world, other.endoscope) if other else "another endoscope"
        desk.no("set-in-use", f"Set {set_id} is connected to {whose}.", key, "Disconnect it there first.")
    kind = desk.thing("connector_sets", found.kind, ConnectorSet, key, "connector set")
    if desk.model.id not in kind.fits:
        desk.no(
            "wrong-set", f"{kind.name} does not fit the {desk.model.name}.", key, "Take the set that fits."
        )
    _set_young(desk, found, kind)
    return found


def _set_young(desk: Desk, found: ConnectorSetState, kind: ConnectorSet) -> None:
    key = "body.connector_set"
    if kind.single_use and found.uses:
        desk.no("set-used", f"{kind.name} is for single use and was used.", key, "Take a new set.")
    if found.first_use_at is None:
        return
    clock = clocks.connector_set(desk.model, desk.policy, kind, found.first_use_at)
    if clock is not None and clock.word(desk.event.happened_at) == "late":
        over = saying.clock(clock.limit_at, desk.event.happened_at)
        desk.no(
            "set-too-old",
            f"The life of set {found.id} ended at {over} ({clock.basis}: {clock.source}).",
            key,
            "Discard it and take a new set.",
        )


def charge(desk: Desk, charge_id: str, key: str = "body.charge") -> tuple[ChargeState, Disinfectant]:
    """Return the charge and its label, or refuse one that is unknown or was emptied."""
    found = desk.world.charge(charge_id)
    if found is None:
        desk.no(
            "unknown-charge",
            f"No basin was filled as {charge_id}.",
            key,
            "Choose the basin's present charge.",
        )
    if found.discarded_at is not None:
        when = saying.clock(found.discarded_at, desk.event.happened_at)
        desk.no(
            "charge-discarded",
            f"This charge of {found.basin} was emptied at {when}: {found.discarded_why}.",
            key,
            "Choose the basin's present charge.",
        )
    label = desk.thing("disinfectants", found.disinfectant, Disinfectant, key, "disinfectant")
    return found, label


def charge_young(desk: Desk, found: ChargeState, label: Disinfectant) -> None:
    """Refuse a charge at or past the end of its reuse life, or a single-use one that served."""
    if label.single_use and found.stays:
        desk.no(
            "charge-used",
            f"{label.name} is for single use and this charge served.",
            "body.charge",
            "Pour anew.",
        )
    if found.poured_at is None:
        return
    clock = clocks.reuse(label, found.poured_at)
    if clock is not None and clock.word(desk.event.happened_at) == "late":
        desk.no(
            "charge-too-old",
            f"The reuse life of this charge ended at {saying.clock(clock.limit_at, desk.event.happened_at)}"
            f" ({clock.basis}: {clock.source}).",
            "body.charge",
            "Empty the basin and pour a new charge.",
        )


def charge_proved(desk: Desk, found: ChargeState, label: Disinfectant) -> None:
    """Refuse a charge whose last test failed, or without a passing test within policy."""
    if label.mec_percent is None:
        return
    at = clocks.utc(desk.event.happened_at)
    tests = [test for test in found.tests if clocks.utc(test.at) <= at]
    if tests and tests[-1].result == "fail":
        desk.no(
            "mec-failed",
            f"This charge failed its concentration test at {saying.clock(tests[-1].at, desk.event.happened_at)}.",
            "body.charge",
            "Empty the basin and pour a new charge.",
        )
    if not recent_pass(desk.policy.mec_test, found, desk.event.happened_at):
        since = "this load" if desk.policy.mec_test == "each use" else "today"
        desk.no(
            "mec-not-tested",
            f"There is no passing concentration test of this charge for {since} (policy: {desk.policy.mec_source}).",
            "body.charge",
            "Test it with a strip, then immerse.",
        )


def recent_pass(rule: str, found: ChargeState, begun: datetime) -> str | None:
    """Return the id of the passing test that covers an immersion begun at that instant, or None.

    "each use": later than the start of the immersion before this one. "each day": on the same day of the
    station's wall clock. A failed test after the passing one leaves nothing.
    """
    start = clocks.utc(begun)
    tests = [test for test in found.tests if clocks.utc(test.at) <= start]
    if not tests or tests[-1].result != "pass":
        return None
    last = tests[-1]
    if rule == "each day":
        return last.event if last.at.astimezone(begun.tzinfo).date() == begun.date() else None
    before = [clocks.utc(stay.start) for stay in found.stays if clocks.utc(stay.start) < start]
    return last.event if not before or clocks.utc(last.at) > max(before) else None
