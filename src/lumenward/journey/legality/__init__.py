"""What may be recorded: `refuse` says no in one plain sentence, or nothing.

An act that is bad news (a leak, debris, a failed test) is recorded and changes the state. Refused is what cannot
have happened so, what is out of its order, and what can still be done right.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import Any

from lumenward.journey.event import Event
from lumenward.journey.kinds import KINDS, check_body
from lumenward.journey.legality import (
    afterwards,
    bedside,
    checked,
    detergent,
    disinfecting,
    holds,
    house,
    leak,
    people,
    sink,
    supplies,
    times,
)
from lumenward.journey.legality.desk import Desk
from lumenward.journey.states import World
from lumenward.quantities import Refusal

Check = Callable[[Desk], None]


def _anything(desk: Desk) -> None:
    """Nothing of its own to check."""


CHECKS: dict[str, Check] = {
    "patient_use_ended": bedside.use_ended,
    "reprocessing_required": bedside.required,
    "point_of_use_treated": bedside.before_cleaning,
    "sent": bedside.before_cleaning,
    "received": bedside.before_cleaning,
    "delay_branch_taken": bedside.delay_branch,
    "step_started": _anything,
    "leak_tested": leak.leak_tested,
    "detergent_dosed": detergent.detergent_dosed,
    "cleaning_started": sink.cleaning_started,
    "exterior_cleaned": sink.exterior_cleaned,
    "channel_brushed": sink.channel_brushed,
    "connected": sink.connected,
    "aspirated": sink.aspirated,
    "flushed": sink.flushed,
    "purged": sink.purged,
    "rinsed": sink.rinsed,
    "disconnected": sink.disconnected,
    "inspected": checked.inspected,
    "cleaning_verified": checked.verified,
    "hld_started": disinfecting.hld_started,
    "hld_ended": disinfecting.hld_ended,
    "machine_cycle_started": disinfecting.machine_started,
    "machine_cycle_ended": disinfecting.machine_ended,
    "final_rinsed": afterwards.final_rinsed,
    "alcohol_flushed": afterwards.alcohol_flushed,
    "dried": afterwards.dried,
    "stored": afterwards.stored,
    "released": afterwards.released,
    "taken_for_use": afterwards.taken,
    "work_interrupted": _anything,
    "handed_over": people.takes_over,
    "held": holds.held,
    "hold_lifted": holds.lifted,
    "sent_for_repair": holds.sent_for_repair,
    "returned_from_repair": holds.returned,
    "loan_ended": holds.loan_ended,
    "retired": holds.retired,
    "endoscope_registered": house.endoscope_registered,
    "corrected": house.corrected,
    "lot_opened": supplies.lot_opened,
    "lot_withdrawn": supplies.lot_withdrawn,
    "strips_checked": supplies.strips_checked,
    "charge_poured": supplies.charge_poured,
    "mec_tested": supplies.mec_tested,
    "charge_discarded": supplies.charge_discarded,
    "connector_set_opened": supplies.connector_set_opened,
    "connector_set_discarded": supplies.connector_set_discarded,
    "batch_discarded": supplies.batch_discarded,
    "person_added": house.person_added,
    "person_left": house.person_changed,
    "role_given": house.person_changed,
    "competency_recorded": house.competency_recorded,
    "library_adopted": _anything,
    "policy_adopted": _anything,
    "demo_loaded": _anything,
    "demo_removed": _anything,
}


def refuse(world: World, event: Event, now: datetime, body: dict[str, Any] | None = None) -> Refusal | None:
    """Return why an act may not be recorded, or None when it may. Nothing is changed.

    `body` is what `check_body` returned for this event, where it was asked already.
    """
    try:
        desk = Desk(world=world, event=event, now=now, body=check_body(event) if body is None else body)
        _check(desk)
    except Refusal as refusal:
        return refusal
    return None


def _check(desk: Desk) -> None:
    if desk.world.event(desk.event.id) is not None:
        desk.no("already-recorded", "An act with this id is recorded already.", "id", "Nothing is lost.")
    times.not_in_future(desk)
    people.known(desk)
    kind = KINDS[desk.event.kind]
    if kind.in_cycle and not kind.opens_cycle:
        _check_work(desk)
    CHECKS[desk.event.kind](desk)
    if kind.in_cycle:
        times.floor_kept(desk)
    times.not_before(desk)


def _check_work(desk: Desk) -> None:
    holds.open_for_work(desk)
    if desk.course.opening is not None:
        desk.builds_on.append(desk.course.opening)
    people.competent(desk)
    people.one_at_a_time(desk)
