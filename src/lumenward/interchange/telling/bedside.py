"""From the patient to the sink, in words."""

from __future__ import annotations

from lumenward.interchange.telling.told import Number, Teller, Told, in_room, sentence
from lumenward.journey.clocks import elapsed_s
from lumenward.quantities import show_duration


def use_ended(teller: Teller) -> Told:
    """The opening after a patient."""
    body = teller.body
    room = f", {in_room(body['room'])}" if body.get("room") else ""
    told = f"Use on a patient ended: case {body['case']}{room}."
    if not body.get("time_known", True):
        told += " The time is not known: treated as late."
    if body.get("bladder_cancer_history") in ("yes", "not asked"):
        told += f" History of bladder cancer: {body['bladder_cancer_history']}."
    if body.get("prion_risk"):
        told += " Prion disease suspected."
    return Told(told)


def required(teller: Teller) -> Told:
    """The opening without a patient."""
    return Told(f"Processing was called for without a patient: {teller.body['reason']}.{teller.note()}")


def treated(teller: Teller) -> Told:
    """The bedside treatment."""
    body = teller.body
    moist = "kept moist" if body["kept_moist"] else "NOT kept moist"
    alcohol = " Alcohol was used." if body.get("alcohol_used") else ""
    return Told(f"Treated at the bedside with {body['product']}, {moist}.{alcohol}")


def sent(teller: Teller) -> Told:
    """On its way."""
    body = teller.body
    closed = "closed and labelled" if body["closed_labelled"] else "NOT closed and labelled"
    sharps = "sharps removed" if body["sharps_removed"] else "sharps NOT removed"
    which = f" {body['container']}" if body.get("container") else ""
    return Told(f"Left the room in a container{which}: {closed}, {sharps}.")


def received(teller: Teller) -> Told:
    """Arrived."""
    return Told(f"Arrived at {teller.name(teller.body['place'], 'sinks')}.", _delay(teller))


def delay_branch(teller: Teller) -> Told:
    """Late, and what was agreed."""
    agreed = teller.person(teller.body["agreed_by"])
    told = f"Late: the delayed protocol was followed, agreed by {agreed}."
    return Told(told + sentence(teller.body["instruction"]))


def cleaning_started(teller: Teller) -> Told:
    """The delay ends here."""
    mixes = len(teller.body["batches"])
    fresh = "fresh detergent" if mixes == 1 else f"{mixes} fresh mixes of detergent"
    bare = "" if teller.body.get("protective_equipment", True) else " WITHOUT protective equipment."
    return Told(f"Immersed in {fresh}; cleaning began.{bare}", _delay(teller))


def _delay(teller: Teller) -> list[Number]:
    opening = teller.course.opening
    if opening is None or opening.kind != "patient_use_ended" or not opening.body.get("time_known", True):
        return []
    gone = show_duration(max(0.0, elapsed_s(opening.happened_at, teller.act.happened_at)))
    basis = teller.limits("delay", "duration") if teller.act.kind == "cleaning_started" else ""
    return [Number("after the case", gone, basis)]


def interrupted(teller: Teller) -> Told:
    """Work stopped."""
    step = str(teller.body["step"]).replace("-", " ")
    return Told(f"Work was interrupted: the step {step} begins again.{sentence(teller.body['reason'])}")


def handed_over(teller: Teller) -> Told:
    """Another pair of hands."""
    return Told(f"Took the work over from {teller.person(teller.body['from_person'])}.")


def step_started(teller: Teller) -> Told:
    """A clock began."""
    return Told(f"The clock of a step began: {str(teller.body['step']).replace('-', ' ')}.")
