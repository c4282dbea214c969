"""High-level disinfection by hand in a basin, or by machine."""

from __future__ import annotations

import math

from lumenward.equipment.fittings import Disinfectant, Washer
from lumenward.journey import needs, saying
from lumenward.journey.event import Event
from lumenward.journey.legality import lots
from lumenward.journey.legality.checked import rinsed_and_purged
from lumenward.journey.legality.desk import Desk
from lumenward.journey.legality.leak import tight
from lumenward.journey.numbers import floor_s, pair_at
from lumenward.quantities import show_duration, show_in


def hld_started(desk: Desk) -> None:
    """A clean, inspected endoscope in an allowed, proved charge at its temperature."""
    _ready_for_it(desk)
    _allowed_route(desk, "manual")
    off = desk.course.latest("disconnected")
    if desk.model.channels:
        desk.need(off, "The connector set is still on.", "Take it off first.")
    found, label = lots.charge(desk, desk.body["charge"])
    _allowed_chemistry(desk, label)
    lots.charge_young(desk, found, label)
    lots.charge_proved(desk, found, label)
    _warm_enough(desk, label)
    if desk.model.channels and not desk.body["channels_filled"]:
        desk.no(
            "not-filled",
            "The contact time counts only from when every channel is filled.",
            "body.channels_filled",
            "Fill every channel, then begin.",
        )


def _ready_for_it(desk: Desk) -> None:
    pair = desk.course.disinfection
    desk.not_twice(pair[1] if pair else None, "The disinfection")
    desk.not_twice(desk.course.under_way, "The start of disinfection")
    tight(desk)
    rinsed_and_purged(desk)
    last = desk.course.latest("inspected")
    clean = last if last is not None and last.body["result"] == "clean and whole" else None
    desk.need(clean, "It was not inspected and found clean yet.", "Inspect it first.")
    _verified(desk)


def _verified(desk: Desk) -> None:
    if needs.verified(desk.model, desk.policy):
        why = f"after each use (policy: {desk.policy.verification_source})"
    elif desk.course.last("point_of_use_treated", alcohol_used=True) is not None:
        why = "because alcohol was used at the bedside: it fixes protein"
    else:
        return
    tests = [t for t in desk.course.counting("cleaning_verified") if t.body["result"] != "fail"]
    desk.need(
        tests[-1] if tests else None,
        f"The {desk.model.name} needs a cleaning verification {why}.",
        "Do the verification test first.",
    )


def _allowed_route(desk: Desk, route: str) -> None:
    if route not in desk.model.ifu.routes:
        desk.no(
            "wrong-route",
            f"The IFU of the {desk.model.name} does not allow {route} disinfection.",
            "kind",
            f"Allowed: {saying.listed(desk.model.ifu.routes)}.",
        )


def _allowed_chemistry(desk: Desk, label: Disinfectant) -> None:
    if label.chemistry not in desk.model.ifu.chemistries:
        desk.no(
            "wrong-chemistry",
            f"The IFU of the {desk.model.name} does not allow {label.name} ({label.chemistry}).",
            "body.charge",
            f"Allowed: {saying.listed(desk.model.ifu.chemistries)}.",
        )
    if label.forbidden_for_urology and desk.model.urological:
        _bladder(desk, label)


def _bladder(desk: Desk, label: Disinfectant) -> None:
    opening = desk.course.opening
    answer = opening.body.get("bladder_cancer_history") if opening else None
    if answer != "no":
        found = "has one" if answer == "yes" else "was not asked for one"
        desk.no(
            "bladder-history",
            f"{label.name} must not be used on urological endoscopes where there is a history of bladder cancer;"
            f" this patient {found} ({label.on_label}).",
            "body.charge",
            "Use another disinfectant.",
        )


def _warm_enough(desk: Desk, label: Disinfectant) -> None:
    found = desk.body["temperature_c"]
    pairs = [pair for pair in label.pairs if pair.route == "manual"]
    if not pairs:
        desk.no("wrong-route", f"{label.name} is not for basins.", "body.charge", "Use a machine for it.")
    if pair_at(label, "manual", found) is not None:
        return
    listed = saying.listed(
        f"{show_duration(p.time_s)} at {show_in(p.temperature_low_c, '°C')} to {show_in(p.temperature_high_c, '°C')}"
        for p in pairs
    )
    cold = found < min(pair.temperature_low_c for pair in pairs)
    desk.no(
        "too-cold" if cold else "temperature",
        f"{show_in(found, '°C')} is in none of the label's pairs: {listed} ({label.on_label}).",
        "body.temperature_c",
        "Warm the basin, then measure again." if cold else "Let the basin cool, then measure again.",
    )


def hld_ended(desk: Desk) -> None:
    """Out of the same charge; complete only after the contact time."""
    begun = _running(desk, "hld_started")
    if begun.body["charge"] != desk.body["charge"]:
        desk.no(
            "wrong-charge", "It lies in another charge.", "body.charge", "Name the charge it was put into."
        )
    if desk.body["result"] == "complete":
        _contact_over(desk, begun)


def _contact_over(desk: Desk, begun: Event) -> None:
    charge = desk.world.charge(begun.body["charge"])
    if charge is None:
        return
    label = desk.thing("disinfectants", charge.disinfectant, Disinfectant, "body.charge", "disinfectant")
    floor = floor_s(desk.model, desk.policy, "hld", label=label, temperature_c=begun.body["temperature_c"])
    if floor is None:
        desk.no(
            "no-contact-time",
            f"The label of {label.name} states no contact time here.",
            "body.charge",
            "Call the lead.",
        )
    lasted = desk.since(begun)
    if lasted < floor.value:
        desk.no(
            "too-short",
            f"It has been in the disinfectant for {show_duration(max(lasted, 0))}; the contact time is"
            f" {show_duration(floor.value)} ({floor.basis}: {floor.source}).",
            "happened_at",
            f"Wait {show_duration(math.ceil(floor.value - lasted))} more.",
        )


def machine_started(desk: Desk) -> None:
    """A clean, inspected endoscope in a machine that fits it, every channel connected."""
    _ready_for_it(desk)
    _allowed_route(desk, "machine")
    washer = _washer(desk)
    if desk.model.id not in washer.fits:
        desk.no(
            "wrong-washer",
            f"{washer.name} does not take the {desk.model.name}.",
            "body.washer",
            "Choose another.",
        )
    if washer.chemistry not in desk.model.ifu.chemistries:
        desk.no(
            "wrong-chemistry",
            f"{washer.name} works with {washer.chemistry}, which the IFU does not allow.",
            "body.washer",
            f"Allowed: {saying.listed(desk.model.ifu.chemistries)}.",
        )
    if desk.model.channels and not desk.body["connected_all"]:
        desk.no(
            "not-connected",
            "Every channel is connected to the machine.",
            "body.connected_all",
            "Connect them all.",
        )


def machine_ended(desk: Desk) -> None:
    """The machine and program that were started; complete only with what that program does, if it is reported."""
    begun = _running(desk, "machine_cycle_started")
    washer = _washer(desk)
    for key in ("washer", "program"):
        if begun.body[key] != desk.body[key]:
            desk.no(
                f"wrong-{key}",
                f"It was started in {begun.body['washer']} with {begun.body['program']}.",
                f"body.{key}",
                "Name the cycle that ended.",
            )
    if desk.body["result"] == "complete":
        _reports_less(desk, washer)


def _reports_less(desk: Desk, washer: Washer) -> None:
    """What is not reported is left to the verdict, which does not know then."""
    contact, warmth = desk.body.get("contact_s"), desk.body.get("temperature_c")
    hint = "The machine reports less: record it as aborted, and disinfect again."
    if contact is not None and contact < washer.contact_s:
        found, least = show_duration(contact), show_duration(washer.contact_s)
        sentence = (
            f"{washer.name} reports a contact time of {found}; its program has {least} ({washer.page})."
        )
        desk.no("too-short", sentence, "body.contact_s", hint)
    if warmth is not None and warmth < washer.contact_c:
        found, least = show_in(warmth, "°C"), show_in(washer.contact_c, "°C")
        sentence = f"{washer.name} reports {found}; its program has {least} ({washer.page})."
        desk.no("too-cold", sentence, "body.temperature_c", hint)


def _washer(desk: Desk) -> Washer:
    washer = desk.thing("washers", desk.body["washer"], Washer, "body.washer", "washer-disinfector")
    if desk.body["program"] not in washer.programs:
        desk.no(
            "unknown-program",
            f"{washer.name} has no program {desk.body['program']}.",
            "body.program",
            f"Its programs: {saying.listed(washer.programs)}.",
        )
    return washer


def _running(desk: Desk, kind: str) -> Event:
    begun = desk.course.under_way
    if begun is None:
        desk.not_twice(
            desk.course.latest(kind.replace("started", "ended")), saying.act(desk.event.kind).capitalize()
        )
    right = begun if begun is not None and begun.kind == kind else None
    return desk.need(right, "No such disinfection is under way.", "Start it first.")
