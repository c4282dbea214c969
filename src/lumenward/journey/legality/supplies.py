"""Charges, lots, strips, connector sets, batches: opened once, used while good, discarded once."""

from __future__ import annotations

from lumenward.equipment.fittings import Basin, ConnectorSet, Disinfectant
from lumenward.journey import saying
from lumenward.journey.legality import lots
from lumenward.journey.legality.desk import Desk
from lumenward.quantities import show_in, show_number


def lot_opened(desk: Desk) -> None:
    """A product of the library, not opened before, not expired."""
    if desk.world.lot(desk.event.subject) is not None:
        desk.no("already-open", f"Lot {desk.body['lot']} is in use already.", "subject", "Nothing is lost.")
    things = getattr(desk.library, desk.body["shelf"])
    if desk.body["product"] not in (one.id for one in things):
        desk.no(
            "not-in-library",
            f"The library has no {desk.body['product']} among its {desk.body['shelf']}.",
            "body.product",
            f"Known: {saying.listed(one.id for one in things) or 'none'}.",
        )
    expires = desk.body["expires"]
    if desk.event.happened_at.date().isoformat() > expires:
        desk.no(
            "lot-expired",
            f"Lot {desk.body['lot']} expired on {expires}.",
            "body.expires",
            "Take another lot.",
        )


def lot_withdrawn(desk: Desk) -> None:
    """A known lot, once."""
    lot = desk.world.lot(desk.event.subject)
    if lot is None:
        desk.no(
            "unknown-lot", f"No lot {desk.event.subject} was opened here.", "subject", "Check the number."
        )
    if lot.withdrawn_why:
        desk.no("lot-withdrawn", f"Lot {lot.lot} was withdrawn already.", "subject", "Nothing is lost.")


def strips_checked(desk: Desk) -> None:
    """A known lot of strips."""
    lots.usable(desk, desk.event.subject, "strips", None, "subject")


def charge_poured(desk: Desk) -> None:
    """A free basin, a usable lot of that disinfectant, no more than the basin holds."""
    if desk.event.subject != desk.event.id:
        desk.no("wrong-subject", "A charge is named by its own pouring.", "subject", "Use the act's own id.")
    basin = desk.thing("basins", desk.body["basin"], Basin, "body.basin", "basin")
    full = next((one for one in desk.world.charges() if one.basin == basin.id), None)
    if full is not None and full.poured_at is not None:
        when = saying.clock(full.poured_at, desk.event.happened_at)
        desk.no(
            "basin-full", f"{basin.name} holds the charge poured at {when}.", "body.basin", "Empty it first."
        )
    label = desk.thing(
        "disinfectants", desk.body["disinfectant"], Disinfectant, "body.disinfectant", "disinfectant"
    )
    lots.usable(desk, desk.body["lot"], "disinfectants", label.id, "body.lot")
    if desk.body["volume_l"] > basin.volume_l:
        desk.no(
            "too-much",
            f"{basin.name} holds {show_in(basin.volume_l, 'L')}, not {show_in(desk.body['volume_l'], 'L')}.",
            "body.volume_l",
            "Check the volume.",
        )


def mec_tested(desk: Desk) -> None:
    """A present charge, strips that match and were proved, read in their window, a result that fits the figure."""
    charge, label = lots.charge(desk, desk.event.subject, "subject")
    if charge.tests and charge.tests[-1].result == "fail":
        failed = saying.clock(charge.tests[-1].at, desk.event.happened_at)
        desk.no("mec-failed", f"This charge failed its test at {failed}.", "subject", "Empty the basin.")
    strip = lots.strips_usable(desk, desk.body["strip_lot"], label.chemistry)
    read = desk.body["read_after_s"]
    if not strip.read_low_s <= read <= strip.read_high_s:
        desk.no(
            "read-late" if read > strip.read_high_s else "read-early",
            f"Read after {show_in(read, 's')}; {strip.name} are read after {show_in(strip.read_low_s, 's')} to"
            f" {show_in(strip.read_high_s, 's')} ({strip.page}).",
            "body.read_after_s",
            "Test again with a new strip.",
        )
    found, least = desk.body.get("percent"), label.mec_percent
    if found is not None and least is not None and (found > least) != (desk.body["result"] == "pass"):
        right = "pass" if found > least else "fail"
        desk.no(
            "wrong-result",
            f"{show_number(found)} % counts as {right}: at or below {show_number(least)} % it fails ({label.name}).",
            "body.result",
            f"Record it as {right}, or check the figure.",
        )


def charge_discarded(desk: Desk) -> None:
    """A present charge with no endoscope in it."""
    charge, _ = lots.charge(desk, desk.event.subject, "subject")
    inside = next((stay for stay in charge.stays if stay.end is None), None)
    if inside is not None:
        desk.no(
            "still-inside",
            f"{saying.endoscope(desk.world, inside.endoscope)} lies in this charge.",
            "subject",
            "End its disinfection first.",
        )


def connector_set_opened(desk: Desk) -> None:
    """A kind of the library, a set not opened before."""
    if desk.world.connector_set(desk.event.subject) is not None:
        desk.no("already-open", f"Set {desk.event.subject} is in use already.", "subject", "Nothing is lost.")
    desk.thing("connector_sets", desk.body["kind"], ConnectorSet, "body.kind", "connector set")


def connector_set_discarded(desk: Desk) -> None:
    """A known set, once."""
    found = desk.world.connector_set(desk.event.subject)
    if found is None:
        desk.no(
            "unknown-set",
            f"No connector set {desk.event.subject} was opened here.",
            "subject",
            "Check its label.",
        )
    if found.discarded_why:
        desk.no("set-discarded", f"Set {found.id} was discarded already.", "subject", "Nothing is lost.")


def batch_discarded(desk: Desk) -> None:
    """A known batch, once."""
    found = desk.world.batch(desk.event.subject)
    if found is None:
        desk.no(
            "unknown-batch", f"No detergent was dosed as {desk.event.subject}.", "subject", "Check the sink."
        )
    if found.discarded_why:
        desk.no("batch-drained", "This detergent was drained already.", "subject", "Nothing is lost.")
