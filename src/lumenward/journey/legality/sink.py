"""Leak test, detergent and manual cleaning at the sink."""

from __future__ import annotations

from lumenward.chemistry.dosing import Dilution
from lumenward.equipment.fittings import Brushware, Detergent, Water
from lumenward.journey import needs, saying
from lumenward.journey.course import channels_of
from lumenward.journey.event import Event
from lumenward.journey.legality import lots
from lumenward.journey.legality.bedside import late_clock
from lumenward.journey.legality.desk import Desk
from lumenward.journey.numbers import deciding, targets_for
from lumenward.quantities import show_duration, show_in

_TO_CLEAN_AGAIN = "If it must be cleaned again, record what was seen at the inspection."


def leak_tested(desk: Desk) -> None:
    """By an allowed method, within the allowed pressure, not twice tight."""
    last = desk.course.last("leak_tested")
    if last is not None and last.body["result"] == "tight" and desk.body["result"] == "tight":
        desk.not_twice(last, "A tight leak test")
    _cleaning_not_over(desk)
    allowed = desk.model.ifu.leak_methods
    if desk.body["method"] not in allowed:
        desk.no(
            "wrong-method",
            f"The IFU of the {desk.model.name} does not name the {desk.body['method']} leak test.",
            "body.method",
            f"Allowed: {saying.listed(allowed)}.",
        )
    if desk.body["result"] == "tight":
        _pressure_in_window(desk)


def _pressure_in_window(desk: Desk) -> None:
    found = desk.body.get("pressure_kpa")
    if found is None:
        return
    targets = targets_for(desk.model, desk.policy, f"leak-test-{desk.body['method']}")
    low, high = (deciding(targets, "pressure", bound) for bound in ("floor", "ceiling"))
    if low is not None and found < low.value:
        desk.no(
            "pressure-low",
            f"{show_in(found, 'kPa')} is too little to show a leak; at least {show_in(low.value, 'kPa')}"
            f" ({low.basis}: {low.source}).",
            "body.pressure_kpa",
            "Raise the pressure and test again.",
        )
    if high is not None and found > high.value:
        desk.no(
            "pressure-high",
            f"{show_in(found, 'kPa')} is more than the endoscope may bear, {show_in(high.value, 'kPa')}"
            f" ({high.basis}: {high.source}).",
            "body.pressure_kpa",
            "Check the reading. If it was that high, hold the endoscope: the sheath may be hurt.",
        )


def detergent_dosed(desk: Desk) -> None:
    """Dose, temperature and lot within the label, before the rinse."""
    desk.not_twice(_rinsed_all(desk), "The rinse", _TO_CLEAN_AGAIN)
    label = desk.thing("detergents", desk.body["detergent"], Detergent, "body.detergent", "detergent")
    vessels = desk.library.sinks if desk.body["role"] == "sink" else desk.library.containers
    if desk.body["vessel"] not in (one.id for one in vessels):
        desk.no(
            "not-in-library",
            f"There is no {desk.body['role']} {desk.body['vessel']} in the library.",
            "body.vessel",
            f"Known: {saying.listed(one.id for one in vessels) or 'none'}.",
        )
    lots.usable(desk, desk.body["lot"], "detergents", label.id, "body.lot")
    _temperature_in_window(desk, label)
    _dose_in_window(desk, label)


def _temperature_in_window(desk: Desk, label: Detergent) -> None:
    found, low, high = desk.body["temperature_c"], label.temperature_low_c, label.temperature_high_c
    if low <= found <= high:
        return
    desk.no(
        "temperature",
        f"{show_in(found, '°C')} is outside {show_in(low, '°C')} to {show_in(high, '°C')}"
        f" (label: {label.name}, {label.label_revision}).",
        "body.temperature_c",
        "Add hot water and measure again; then dose for the new fill."
        if found < low
        else "Add cold water or wait, and measure again; then dose for the new fill.",
    )


def _dose_in_window(desk: Desk, label: Detergent) -> None:
    found = desk.body["dose_ml"]
    low, high = dose_window_ml(label, desk.body["water_l"])
    if low - label.dose_tolerance_ml <= found <= high + label.dose_tolerance_ml:
        return
    desk.no(
        "dose",
        f"{show_in(found, 'mL')} in {show_in(desk.body['water_l'], 'L')} is outside {show_in(low, 'mL')} to"
        f" {show_in(high, 'mL')} (label: {label.name}, {label.label_revision}).",
        "body.dose_ml",
        "Add detergent to reach the label's dose." if found < low else "Drain it, fill again and dose again.",
    )


def dose_window_ml(label: Detergent, water_l: float) -> tuple[float, float]:
    """Return the least and the most concentrate, mL, that the label allows for this much water."""
    doses = [
        Dilution(label.dilution, value).per_water * water_l * 1000
        for value in (label.dilution_low, label.dilution_high)
    ]
    return min(doses), max(doses)


def cleaning_started(desk: Desk) -> None:
    """After a tight leak test, in time or by the delayed protocol, in fresh detergent of this endoscope."""
    desk.not_twice(desk.course.latest("cleaning_started"), "The start of cleaning")
    _cleaning_not_over(desk)
    _tight(desk)
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


def _tight(desk: Desk) -> None:
    last = desk.course.last("leak_tested")
    if last is not None and last.body["result"] != "tight":
        desk.no(
            "leak",
            f"{desk.name} failed its leak test {desk.done(last)}. It must not be immersed.",
            "kind",
            "Send it for repair, or prove it tight by another leak test.",
        )
    desk.need(last, f"{desk.name} has not passed its leak test in this cycle.", "Do the leak test first.")


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
        desk.no("no-channels", f"The {desk.model.name} has no channel.", "kind", "Rinse the outside.")
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
    """After flush and purge of every channel, with water of the library."""
    _immersed(desk)
    desk.thing("waters", desk.body["water"], Water, "body.water", "water")
    if not desk.model.channels:
        desk.need(
            desk.course.latest("exterior_cleaned"), "The outside was not cleaned yet.", "Clean it first."
        )
        desk.not_twice(desk.course.latest("rinsed"), "The rinse")
        return
    _joined(desk)
    everything = needs.channels(desk.model)
    _all_before(
        desk, "flushed", everything, "Not flushed yet", "Flush every channel first.", seen_leaving=True
    )
    _all_before(
        desk, "purged", everything, "Not purged yet", "Push the detergent out with air.", after="flush"
    )
    _not_all_done(desk, desk.course.by_channel("rinsed"), "The rinse")


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


def _cleaning_not_over(desk: Desk) -> None:
    begun = desk.course.disinfection or (desk.course.under_way,)
    if begun[0] is not None:
        desk.no(
            "out-of-order",
            f"Disinfection began {desk.done(begun[0])}; cleaning is over.",
            "kind",
            "Go on with the next step. If it must be cleaned again, open a new cycle for it.",
        )
    clean = desk.course.latest("inspected", result="clean and whole")
    if clean is not None and desk.body.get("result") != "leak":
        desk.no(
            "out-of-order",
            f"It was inspected and found clean {desk.done(clean)}; cleaning is over.",
            "kind",
            _TO_CLEAN_AGAIN,
        )


def _immersed(desk: Desk) -> None:
    _cleaning_not_over(desk)
    desk.need(
        desk.course.latest("cleaning_started"), "Cleaning has not started.", "Immerse it in fresh detergent."
    )
    _tight(desk)


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


def _rinsed_all(desk: Desk) -> Event | None:
    done = desk.course.by_channel("rinsed")
    return next(iter(done.values()), None) or desk.course.latest("rinsed")


def _machine_end(desk: Desk) -> Event | None:
    pair = desk.course.disinfection
    return pair[1] if pair and pair[1].kind == "machine_cycle_ended" else None
