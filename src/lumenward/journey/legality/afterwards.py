"""After the disinfection: final rinse, alcohol, drying, storage, release, use."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from lumenward.equipment.fittings import Cabinet, Disinfectant, Dryer, Water
from lumenward.journey import clocks, needs, saying
from lumenward.journey.course import channels_of
from lumenward.journey.event import Event
from lumenward.journey.legality import people
from lumenward.journey.legality.desk import Desk
from lumenward.journey.numbers import deciding, targets_for
from lumenward.quantities import show_in


def final_rinsed(desk: Desk) -> None:
    """After a complete disinfection, often enough, with water for the last rinse."""
    ended = _disinfected(desk)
    _before(desk, ("alcohol_flushed", "dried"))
    desk.not_twice(desk.course.after_disinfection("final_rinsed"), "The final rinse")
    water = desk.thing("waters", desk.body["water"], Water, "body.water", "water")
    if water.kind == "utility":
        desk.no(
            "wrong-water",
            f"{water.name} is utility water; the last rinse needs critical or sterile water.",
            "body.water",
            "Rinse again with critical or sterile water.",
        )
    label = _label(desk, ended)
    floor = deciding(targets_for(desk.model, desk.policy, "final-rinse", label=label), "count", "floor")
    if floor is not None and desk.body["count"] < floor.value:
        desk.no(
            "too-few-rinses",
            f"{desk.body['count']} of {floor.value:g} rinses ({floor.basis}: {floor.source}).",
            "body.count",
            "Rinse again in fresh water, and record all of them.",
        )
    _all_channels(desk, optional=True)


def _label(desk: Desk, ended: Event) -> Disinfectant | None:
    charge = desk.world.charge(str(ended.body.get("charge", "")))
    if charge is None:
        return None
    return desk.thing("disinfectants", charge.disinfectant, Disinfectant, "body.charge", "disinfectant")


def alcohol_flushed(desk: Desk) -> None:
    """Only where policy and IFU say so, after the final rinse, before drying."""
    if not desk.policy.alcohol:
        desk.no(
            "no-alcohol",
            f"The policy says no alcohol ({desk.policy.alcohol_source}).",
            "kind",
            "Go on with the drying.",
        )
    if not desk.model.ifu.alcohol_allowed:
        desk.no(
            "no-alcohol",
            f"The IFU of the {desk.model.name} does not allow alcohol.",
            "kind",
            "Dry it with air.",
        )
    _rinsed_at_last(desk)
    _before(desk, ("dried",))
    desk.not_twice(desk.course.after_disinfection("alcohol_flushed"), "The alcohol flush")
    _known_channels(desk)


def dried(desk: Desk) -> None:
    """After the final rinse, every channel, filtered air within the allowed pressure."""
    _rinsed_at_last(desk)
    desk.not_twice(
        desk.course.dried, "The drying", "If moisture was seen since, record a hold or open a new cycle."
    )
    dryer = desk.thing("dryers", desk.body["dryer"], Dryer, "body.dryer", "dryer")
    if not desk.model.channels:
        return
    if not dryer.filtered:
        desk.no(
            "unfiltered", f"The air of {dryer.name} is not filtered.", "body.dryer", "Dry with filtered air."
        )
    if desk.body["check"] == "no channel: outside wiped dry":
        desk.no(
            "wrong-check",
            f"The {desk.model.name} has channels; they are checked too.",
            "body.check",
            "Check that no drop leaves a channel.",
        )
    _all_channels(desk)
    _pressure(desk)


def _pressure(desk: Desk) -> None:
    found = desk.body.get("pressure_kpa")
    limits = [
        (c.max_pressure_kpa, c.name, c.pressure_page)
        for c in desk.model.channels
        if c.max_pressure_kpa is not None
    ]
    if found is None or not limits:
        return
    limit, name, page = min(limits, key=lambda one: one[0])
    if found > limit:
        desk.no(
            "pressure-high",
            f"{show_in(found, 'kPa')} is more than the {name} may bear, {show_in(limit, 'kPa')} (IFU, {page}).",
            "body.pressure_kpa",
            "Lower the pressure. If it was that high, hold the endoscope.",
        )


def stored(desk: Desk) -> None:
    """Only dry, in a known place with room for it."""
    desk.not_twice(
        desk.course.last("released"), "The release", "Open a new cycle if it was moved or touched."
    )
    dry = desk.course.dried
    wet = desk.course.after_disinfection("dried")
    if dry is None and wet is not None:
        desk.no(
            "wet", f"Moisture was seen {desk.done(wet)}. It is never stored wet.", "kind", "Dry it again."
        )
    desk.need(dry, "It was not dried yet.", "Dry it and check that it is dry.")
    cabinet = desk.thing("cabinets", desk.body["cabinet"], Cabinet, "body.cabinet", "cabinet")
    slot = desk.body.get("slot")
    same = desk.course.stored
    if same is not None and (same.body["cabinet"], same.body.get("slot")) == (cabinet.id, slot):
        desk.not_twice(same, "The storing")
    _room(desk, cabinet, slot)


def _room(desk: Desk, cabinet: Cabinet, slot: int | None) -> None:
    if slot is not None and slot > cabinet.slots:
        desk.no(
            "no-such-slot", f"{cabinet.name} has {cabinet.slots} places.", "body.slot", "Choose one of them."
        )
    inside = [
        one
        for one in desk.world.endoscopes()
        if one.stage in ("stored", "ready") and one.place == cabinet.id and one.id != desk.event.subject
    ]
    taken = next((one for one in inside if slot is not None and one.slot == slot), None)
    if taken is not None:
        desk.no("slot-taken", f"{taken.name} hangs in place {slot}.", "body.slot", "Choose a free place.")
    if len(inside) >= cabinet.slots:
        desk.no(
            "cabinet-full",
            f"All {cabinet.slots} places of {cabinet.name} are taken.",
            "body.cabinet",
            "Choose another.",
        )


def released(desk: Desk) -> None:
    """By a role that may, of a stored endoscope, with a verdict that found nothing against it."""
    people.in_role(desk, tuple(desk.policy.release_roles), "the release")
    desk.not_twice(desk.course.last("released"), "The release")
    desk.need(desk.course.stored, "It is not in its place yet.", "Store it first.")
    against = [f for f in desk.body["verdict"].get("findings", ()) if not _harmless(f)]
    if against or not desk.body["verdict"].get("findings"):
        reason = against[0].get("sentence", "") if against else "No verdict was given."
        desk.no(
            "not-ready",
            f"{desk.name} is not ready: {reason}",
            "body.verdict",
            "Read the verdict; nothing was released.",
        )
    _hang_time(desk)


def _harmless(finding: Any) -> bool:
    return isinstance(finding, dict) and finding.get("answer") in ("met", "not applicable")


def _hang_time(desk: Desk) -> None:
    until = _instant(desk, desk.body["ready_until"])
    dry, place = desk.course.dried, desk.course.stored
    if dry is None or place is None:
        return
    cabinet = desk.thing("cabinets", place.body["cabinet"], Cabinet, "body.cabinet", "cabinet")
    clock = clocks.hang(desk.model, desk.policy, cabinet, dry.happened_at)
    if clock is None:
        desk.no(
            "no-hang-time",
            f"Nobody states a hang time for {cabinet.name}.",
            "body.ready_until",
            "Set it in the policy.",
        )
    if clocks.elapsed_s(clock.limit_at, until) > 1:
        desk.no(
            "hang-time",
            f"Its hang time ends at {saying.clock(clock.limit_at, desk.event.happened_at)} ({clock.basis}:"
            f" {clock.source}), not later.",
            "body.ready_until",
            "Load the verdict again.",
        )
    if clocks.elapsed_s(desk.event.happened_at, until) < 0:
        desk.no(
            "hang-time-over",
            "Its hang time is over.",
            "body.ready_until",
            "Open a new cycle and process it again.",
        )


def _instant(desk: Desk, text: str) -> datetime:
    try:
        found = datetime.fromisoformat(text)
    except ValueError:
        found = datetime.min  # noqa: DTZ901 - refused below for want of an offset
    if found.tzinfo is None:
        desk.no(
            "bad-time",
            f"{text[:40]!r} is not a time with its offset.",
            "body.ready_until",
            "Write it as ISO 8601.",
        )
    return found


def taken(desk: Desk) -> None:
    """Only released, and before the hang time is over."""
    desk.not_twice(desk.course.last("taken_for_use"), "The taking for use")
    desk.need(
        desk.course.last("released"),
        f"{desk.name} was not released.",
        "Have it released first.",
        "not-released",
    )
    until = desk.endoscope.ready_until
    if until is not None and clocks.elapsed_s(until, desk.event.happened_at) > 0:
        desk.no(
            "hang-time-over",
            f"The hang time of {desk.name} ended at {saying.clock(until, desk.event.happened_at)}.",
            "subject",
            "Take another endoscope; process this one again.",
        )


def _disinfected(desk: Desk) -> Event:
    running = desk.course.under_way
    if running is not None:
        desk.no(
            "out-of-order",
            f"The disinfection begun {desk.done(running)} has not ended.",
            "kind",
            "End it first.",
        )
    pair = desk.course.disinfection
    return desk.need(pair[1] if pair else None, "It was not disinfected yet.", "Disinfect it first.")


def _rinsed_at_last(desk: Desk) -> None:
    ended = _disinfected(desk)
    if ended.kind == "machine_cycle_ended":
        return
    desk.need(
        desk.course.after_disinfection("final_rinsed"), "There was no final rinse yet.", "Rinse it first."
    )


def _before(desk: Desk, later: tuple[str, ...]) -> None:
    for kind in later:
        passed = desk.course.after_disinfection(kind)
        if passed is not None:
            desk.no(
                "out-of-order",
                f"{saying.act(desk.event.kind).capitalize()} comes before {saying.act(kind)}, which was recorded"
                f" {desk.done(passed)}.",
                "kind",
                "Go on with the next step.",
            )


def _known_channels(desk: Desk) -> list[str]:
    named = channels_of(desk.event)
    unknown = [one for one in named if desk.model.channel(one) is None]
    if unknown:
        desk.no(
            "unknown-channel",
            f"The {desk.model.name} has no channel {unknown[0]}.",
            "body.channels",
            f"Its channels: {saying.listed(needs.channels(desk.model)) or 'none'}.",
        )
    return named


def _all_channels(desk: Desk, optional: bool = False) -> None:
    named = _known_channels(desk)
    if optional and not named:
        return
    missing = [one for one in needs.channels(desk.model) if one not in named]
    if missing:
        desk.no(
            "channel-missing",
            f"Left out: {desk.names(missing)}.",
            "body.channels",
            "Every channel, used or not.",
        )
