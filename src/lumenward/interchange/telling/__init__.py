"""Every act as a sentence that can be read years later, with its numbers and who asked for them."""

from __future__ import annotations

from lumenward.interchange.telling import bedside, cleaning, finishing, tending
from lumenward.interchange.telling.told import Number, Tell, Teller, Told
from lumenward.journey import saying
from lumenward.journey.course import Course
from lumenward.journey.event import Event
from lumenward.journey.states import World

TELLERS: dict[str, Tell] = {
    "patient_use_ended": bedside.use_ended,
    "reprocessing_required": bedside.required,
    "point_of_use_treated": bedside.treated,
    "sent": bedside.sent,
    "received": bedside.received,
    "delay_branch_taken": bedside.delay_branch,
    "step_started": bedside.step_started,
    "leak_tested": cleaning.leak_tested,
    "detergent_dosed": cleaning.dosed,
    "cleaning_started": bedside.cleaning_started,
    "exterior_cleaned": cleaning.exterior_cleaned,
    "channel_brushed": cleaning.brushed,
    "connected": cleaning.connected,
    "aspirated": cleaning.aspirated,
    "flushed": cleaning.flushed,
    "purged": cleaning.purged,
    "rinsed": cleaning.rinsed,
    "disconnected": cleaning.disconnected,
    "inspected": cleaning.inspected,
    "cleaning_verified": cleaning.verified,
    "hld_started": finishing.hld_started,
    "hld_ended": finishing.hld_ended,
    "machine_cycle_started": finishing.machine_started,
    "machine_cycle_ended": finishing.machine_ended,
    "final_rinsed": finishing.final_rinsed,
    "alcohol_flushed": finishing.alcohol_flushed,
    "dried": finishing.dried,
    "stored": finishing.stored,
    "released": finishing.released,
    "taken_for_use": finishing.taken,
    "held": finishing.held,
    "hold_lifted": finishing.lifted,
    "work_interrupted": bedside.interrupted,
    "handed_over": bedside.handed_over,
    "sent_for_repair": finishing.moved("Sent for repair."),
    "returned_from_repair": finishing.moved("Came back from repair."),
    "loan_ended": finishing.moved("The loan ended."),
    "retired": finishing.moved("Taken out of service for good."),
    "corrected": tending.corrected,
    "charge_poured": tending.poured,
    "mec_tested": tending.tested,
    "charge_discarded": tending.discarded,
    "lot_opened": tending.lot_opened,
    "lot_withdrawn": tending.given_up("The lot was withdrawn"),
    "strips_checked": tending.strips_checked,
    "connector_set_opened": tending.set_opened,
    "connector_set_discarded": tending.given_up("The set was discarded"),
    "batch_discarded": tending.given_up("The detergent was drained"),
}


def tell(world: World, act: Event, course: Course, endoscope: str = "") -> Told:
    """Return one act in words; `course` is the cycle it belongs to, corrections applied.

    A kind without words of its own is named by its kind.
    """
    words = TELLERS.get(act.kind)
    if words is None:
        return Told(f"Recorded: {saying.act(act.kind)}.")
    return words(Teller(world=world, act=act, course=course, endoscope=endoscope))


__all__ = ["TELLERS", "Number", "Told", "tell"]
