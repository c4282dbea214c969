"""Manual cleaning at the sink: from immersion to the last purge."""

from __future__ import annotations

import math

from lumenward.equipment.endoscope import EndoscopeModel
from lumenward.equipment.fittings import Brushware, Detergent, Water
from lumenward.equipment.policy import Policy
from lumenward.journey import needs, saying
from lumenward.journey.clocks import elapsed_s
from lumenward.journey.course import channels_of
from lumenward.journey.event import Event
from lumenward.journey.legality import lots
from lumenward.journey.legality.bedside import late_clock, treated
from lumenward.journey.legality.desk import Desk
from lumenward.journey.legality.leak import cleaning_not_over, tight
from lumenward.journey.numbers import floor_s
from lumenward.journey.states import World
from lumenward.journey.target import Target
from lumenward.quantities import show_duration, show_in


def cleaning_started(desk: Desk) -> None:
    """After a tight leak test, in time or by the delayed protocol, in fresh detergent of this endoscope."""
    desk.not_twice(desk.course.latest("cleaning_started"), "The start of cleaning")
    cleaning_not_over(desk)
    tight(desk)
    treated(desk)
    _in_time(desk)
    for batch_id in desk.body["batches"]:
        lots.batch(desk, batch_id)
        dosed = desk.world.event(batch_id)
        desk.need(dosed, "No detergent was dosed.", "Dose the detergent first.")
    if not desk.body.get("protective_equipment", True):
        desk.no(
            "no-protection",
            "Cleaning splashes: gown, long gloves, eye and face cover come first.",
            "body.protective_equipment",
            "Dress, then begin.",
        )


def _in_time(desk: Desk) -> None:
    if desk.course.last("patient_use_ended") is None or desk.course.last("cleaning_started") is not None:
        return
    branch = desk.course.last("delay_branch_taken")
    if branch is not None:
        desk.builds_on.append(branch)
        return
    clock = late_clock(desk)
    if clock is None:
        desk.no(
            "delay-unknown",
            "Nobody knows when the use ended: it is treated as late.",
            "kind",
            "Follow the IFU's delayed protocol, agreed by a lead, then begin.",
        )
    if clock.word(desk.event.happened_at) == "late":
        over = show_duration(-clock.left_s(desk.event.happened_at))
        desk.no(
            "late",
            f"The limit passed {over} ago ({clock.basis}: {clock.source}).",
            "kind",
            "Follow the IFU's delayed protocol, agreed by a lead, then begin.",
        )


def exterior_cleaned(desk: Desk) -> None:
    """Once a round, under detergent; with an elevator in both positions."""
    _immersed(desk)
    desk.not_twice(desk.course.latest("exterior_cleaned"), "The cleaning of the outside")
    if needs.has_elevator(desk.model) and not desk.body.get("elevator_both_positions"):
        desk.no(
            "elevator",
            "The recess is cleaned with the elevator up and with the elevator down.",
            "body.elevator_both_positions",
            "Brush the recess in both positions.",
        )
    if not desk.model.channels:
        _cleaned_long_enough(desk, desk.event)


def channel_brushed(desk: Desk) -> None:
    """A channel of this model, with the brush of its IFU, before connecting."""
    _immersed(desk)
    channel = _channel(desk, desk.body["channel"], "body.channel")
    desk.not_twice(desk.course.brushed.get(channel), f"The brushing of the {desk.names([channel])}")
    on = _set_on(desk)
    if on is not None:
        desk.no(
            "out-of-order",
            f"The connector set was put on {desk.done(on)}; brushing comes before.",
            "kind",
            "Take the set off, brush, and connect again.",
        )
    _right_brush(desk, channel)
    if desk.body.get("brush_lot"):
        lots.usable(desk, desk.body["brush_lot"], "brushes", None, "body.brush_lot")


def _right_brush(desk: Desk, channel: str) -> None:
    described = desk.model.channel(channel)
    stated = described.brush if described else None
    if stated is None:
        desk.no(
            "not-brushable",
            f"The {desk.names([channel])} of the {desk.model.name} takes no brush (IFU).",
            "body.channel",
            "Flush it; it is not brushed.",
        )
    brush = _brushware(desk, desk.body["brush"], stated.code)
    if brush is not None and abs(brush.diameter_mm - stated.diameter_mm) > 0.05:
        desk.no(
            "wrong-brush",
            f"{brush.name} is {show_in(brush.diameter_mm, 'mm')} wide; the {desk.names([channel])} takes"
            f" {show_in(stated.diameter_mm, 'mm')} (IFU, {stated.page}).",
            "body.brush",
            "Take the brush of this channel.",
        )
    if desk.body["debris"] == "none at last pass" and desk.body["passes"] < stated.passes:
        desk.no(
            "too-few-passes",
            f"{desk.body['passes']} of {stated.passes} passes (IFU, {stated.page}).",
            "body.passes",
            "Brush on, until nothing comes out.",
        )


def _brushware(desk: Desk, named: str, code: str) -> Brushware | None:
    if named == code:
        return None
    found = next((one for one in desk.library.brushes if named in (one.id, one.code)), None)
    if found is None:
        desk.no(
            "unknown-brush",
            f"There is no brush {named} in the library.",
            "body.brush",
            "Scan the brush's label.",
        )
    return found


def connected(desk: Desk) -> None:
    """After all brushing, with a set that fits, is young enough and is not on another endoscope."""
    _immersed(desk)
    if not desk.model.channels:
        desk.no("no-channels", f"The {desk.model.name} has no channel.", "kind", "Go on with the inspection.")
    desk.not_twice(_set_on(desk), "The connecting")
    _brushed_all(desk)
    lots.connector_set(desk, desk.body["connector_set"])
    _known_ports(desk)


def _set_on(desk: Desk) -> Event | None:
    on, off = desk.course.latest("connected"), desk.course.latest("disconnected")
    return None if on is None or (off is not None and off.order > on.order) else on


def _known_ports(desk: Desk) -> None:
    known = [port.id for port in desk.model.ports]
    for key in ("ports", "clamped"):
        for port in desk.body.get(key, ()):
            if port not in known:
                desk.no(
                    "unknown-port",
                    f"The {desk.model.name} has no port {port}.",
                    f"body.{key}",
                    f"Its ports: {saying.listed(known)}.",
                )
    missing = [p for p in needs.ports(desk.model) if p not in desk.body["ports"]]
    if missing:
        names = saying.listed(port.name for port in desk.model.ports if port.id in missing)
        desk.no(
            "port-missing",
            f"Not connected: {names}.",
            "body.ports",
            "Connect every port that feeds a channel.",
        )


def _brushed_all(desk: Desk) -> None:
    missing = [one for one in needs.brushable(desk.model) if one not in desk.course.brushed]
    if missing:
        desk.no(
            "out-of-order", f"Not brushed yet: {desk.names(missing)}.", "kind", "Brush every channel first."
        )
    desk.builds_on.extend(desk.course.brushed.values())
    desk.need(
        desk.course.latest("exterior_cleaned"), "The outside was not cleaned yet.", "Clean the outside first."
    )


def aspirated(desk: Desk) -> None:
    """A channel that is aspirated, once a round, connected."""
    _joined(desk)
    channel = _channel(desk, desk.body["channel"], "body.channel")
    if channel not in needs.aspirated(desk.model):
        desk.no(
            "not-aspirated",
            f"Nothing is drawn through the {desk.names([channel])}.",
            "body.channel",
            f"Aspirated: {desk.names(needs.aspirated(desk.model)) or 'none'}.",
        )
    desk.not_twice(
        desk.course.by_channel("aspirated").get(channel), f"The aspiration of the {desk.names([channel])}"
    )


def flushed(desk: Desk) -> None:
    """After aspiration; channels that were already seen running are not flushed again."""
    _joined(desk)
    _all_before(desk, "aspirated", needs.aspirated(desk.model), "Not aspirated yet", "Aspirate first.")
    _not_all_done(desk, desk.course.flushed, "The flush")


def purged(desk: Desk) -> None:
    """After the fluid it pushes out, which it names."""
    after = desk.body["after"]
    if after == "final rinse":
        desk.need(
            desk.course.after_disinfection("final_rinsed") or _machine_end(desk),
            "There was no final rinse yet.",
            "Do the final rinse first.",
        )
        desk.not_twice(desk.course.dried, "The drying")
        return
    _joined(desk)
    before = desk.course.flushed if after == "flush" else desk.course.by_channel("rinsed")
    missing = [one for one in _channels(desk) if one not in before]
    if missing:
        word = "flushed" if after == "flush" else "rinsed"
        desk.no(
            "out-of-order",
            f"Not {word} yet: {desk.names(missing)}.",
            "body.channels",
            f"Do the {after} first.",
        )
    desk.builds_on.extend(before[one] for one in channels_of(desk.event))
    _not_all_done(desk, desk.course.by_channel("purged", after=after), f"The air purge after the {after}")


def rinsed(desk: Desk) -> None:
    """After flush and purge of every channel, with water of the library; the cleaning must have lasted."""
    desk.thing("waters", desk.body["water"], Water, "body.water", "water")
    everything = needs.channels(desk.model)
    if not everything:
        _outside_rinsed(desk)
        return
    _joined(desk)
    if not desk.body["channels"]:
        hint = f"Its channels: {desk.names(everything)}."
        desk.no("no-channels-named", "The rinse names no channel.", "body.channels", hint)
    _all_before(
        desk, "flushed", everything, "Not flushed yet", "Flush every channel first.", seen_leaving=True
    )
    _all_before(
        desk, "purged", everything, "Not purged yet", "Push the detergent out with air.", after="flush"
    )
    _not_all_done(desk, desk.course.by_channel("rinsed"), "The rinse")
    _cleaned_long_enough(desk, desk.course.start_of(desk.event) or desk.event)


def _outside_rinsed(desk: Desk) -> None:
    """After the outside was cleaned, once a round, where there is no channel to rinse."""
    _immersed(desk)
    _channels(desk)
    desk.need(
        desk.course.latest("exterior_cleaned"), "The outside was not cleaned yet.", "Clean the outside first."
    )
    desk.not_twice(desk.course.latest("rinsed"), "The rinse")


def _cleaned_long_enough(desk: Desk, end: Event) -> None:
    begun = desk.course.latest("cleaning_started")
    floor = cleaning_floor(desk.world, desk.model, desk.policy, begun) if begun else None
    if begun is None or floor is None:
        return
    lasted = elapsed_s(begun.happened_at, end.happened_at)
    if lasted < floor.value:
        desk.no(
            "too-short",
            f"Manual cleaning lasted {show_duration(max(lasted, 0))}; it must last at least"
            f" {show_duration(floor.value)} ({floor.basis}: {floor.source}).",
            "kind",
            f"Clean on for {show_duration(math.ceil(floor.value - lasted))}, under the surface.",
        )


def cleaning_floor(world: World, model: EndoscopeModel, policy: Policy, begun: Event) -> Target | None:
    """Return the least time of manual cleaning: by IFU, policy and the labels of the detergents it lies in."""
    library = world.library(begun.happened_at)
    batches = (world.batch(one) for one in begun.body["batches"])
    used = {batch.detergent for batch in batches if batch is not None}
    labels: list[Detergent | None] = [label for label in library.detergents if label.id in used]
    floors = (floor_s(model, policy, "clean", label=label) for label in (None, *labels))
    return max((f for f in floors if f is not None), key=lambda t: (t.value, -t.rank), default=None)


def disconnected(desk: Desk) -> None:
    """The set that is on comes off, once."""
    if _set_on(desk) is None:
        desk.not_twice(desk.course.latest("disconnected"), "The disconnecting")
    on = desk.need(_set_on(desk), "No connector set is on.", "There is nothing to take off.")
    if desk.body["connector_set"] != on.body["connector_set"]:
        desk.no(
            "wrong-set",
            f"Set {on.body['connector_set']} is on, not {desk.body['connector_set']}.",
            "body.connector_set",
            "Scan the set that you take off.",
        )


def _immersed(desk: Desk) -> None:
    cleaning_not_over(desk)
    desk.need(
        desk.course.latest("cleaning_started"), "Cleaning has not started.", "Immerse it in fresh detergent."
    )
    tight(desk)


def _joined(desk: Desk) -> None:
    _immersed(desk)
    off = desk.course.latest("disconnected")
    on = _set_on(desk)
    if on is None and off is not None:
        desk.no(
            "out-of-order", f"The connector set was taken off {desk.done(off)}.", "kind", "Connect it again."
        )
    desk.need(on, "The connector set is not on.", "Brush every channel, then connect.")
    _channels(desk)


def _channel(desk: Desk, channel: str, key: str) -> str:
    if desk.model.channel(channel) is None:
        known = saying.listed(needs.channels(desk.model)) or "none"
        desk.no(
            "unknown-channel",
            f"The {desk.model.name} has no channel {channel}.",
            key,
            f"Its channels: {known}.",
        )
    return channel


def _channels(desk: Desk) -> list[str]:
    return [_channel(desk, one, "body.channels") for one in channels_of(desk.event)]


def _all_before(desk: Desk, kind: str, channels: list[str], missing: str, hint: str, **body: object) -> None:
    before = desk.course.by_channel(kind, **body)
    open_ones = [one for one in channels if one not in before]
    if open_ones:
        desk.no("out-of-order", f"{missing}: {desk.names(open_ones)}.", "kind", hint)
    desk.builds_on.extend(before[one] for one in channels)


def _not_all_done(desk: Desk, before: dict[str, Event], what: str) -> None:
    named = _channels(desk)
    earlier = [before[one] for one in named if one in before]
    if named and len(earlier) == len(named):
        desk.not_twice(earlier[-1], f"{what} of the {desk.names(named)}")


def _machine_end(desk: Desk) -> Event | None:
    pair = desk.course.disinfection
    return pair[1] if pair and pair[1].kind == "machine_cycle_ended" else None
