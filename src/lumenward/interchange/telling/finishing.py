"""Disinfection, rinse, drying, storage, release and what comes after, in words."""

from __future__ import annotations

from lumenward.interchange.telling.told import Number, Tell, Teller, Told, in_room, sentence
from lumenward.journey.clocks import elapsed_s
from lumenward.quantities import show_duration, show_in


def hld_started(teller: Teller) -> Told:
    """Immersed in a charge."""
    filled = "every channel filled" if teller.body["channels_filled"] else "channels NOT all filled"
    return Told(f"Immersed in {charge_words(teller)}; {filled}.", _warmth(teller, "manual"))


def charge_words(teller: Teller) -> str:
    """Return the charge an act names: basin, disinfectant, lot."""
    charge = teller.world.charge(str(teller.body["charge"]))
    if charge is None:
        return f"charge {teller.body['charge']}"
    basin = teller.name(charge.basin, "basins")
    product = teller.name(charge.disinfectant, "disinfectants")
    return f"{basin}, {product}, {teller.lot(charge.lot)}"


def _warmth(teller: Teller, route: str) -> list[Number]:
    at = teller.body.get("temperature_c")
    if at is None:
        return []
    basis = teller.limits("hld", "temperature", teller.disinfectant(), route=route, temperature_c=at)
    return [Number("temperature", show_in(at, "°C"), basis)]


def hld_ended(teller: Teller) -> Told:
    """Taken out of a charge."""
    short = (
        "" if teller.body.get("result", "complete") == "complete" else " CUT SHORT: it counts for nothing."
    )
    told = f"Taken out of {charge_words(teller)}.{short}"
    return Told(told, _contact(teller) + _warmth(teller, "manual"))


def _contact(teller: Teller) -> list[Number]:
    begun = [one for one in teller.course.acts if one.kind == "hld_started" and one.order < teller.act.order]
    if not begun:
        return []
    start = begun[-1]
    lasted = show_duration(elapsed_s(start.happened_at, teller.act.happened_at))
    at = start.body.get("temperature_c")
    basis = teller.limits("hld", "duration", teller.disinfectant(), route="manual", temperature_c=at)
    return [Number("contact time", lasted, basis)]


def machine_started(teller: Teller) -> Told:
    """A machine cycle began."""
    body = teller.body
    hooked = "every channel connected" if body["connected_all"] else "NOT every channel was connected"
    washer = teller.name(body["washer"], "washers")
    return Told(f"Started in {washer}, program {body['program']}; {hooked}.")


def machine_ended(teller: Teller) -> Told:
    """What the machine reported."""
    body = teller.body
    washer = teller.thing("washers", body["washer"])
    page = f"{washer.name}, {washer.page}" if washer else ""
    dose = body.get("dose_confirmed")
    dosing = "" if dose is None else " Dose confirmed." if dose else " Dose NOT confirmed."
    done = "complete" if body["result"] == "complete" else "ABORTED"
    numbers = []
    if body.get("contact_s") is not None:
        least = f"at least {show_duration(washer.contact_s)} (label, {page})" if washer else ""
        numbers.append(Number("contact time", show_duration(body["contact_s"]), least))
    warm = f"at least {show_in(washer.contact_c, '°C')} (label, {page})" if washer else ""
    numbers += teller.amount("temperature_c", "temperature", "°C", warm)
    told = f"{teller.name(body['washer'], 'washers')} reported the cycle {done}.{dosing}"
    return Told(told + sentence(body.get("report")), numbers)


def final_rinsed(teller: Teller) -> Told:
    """Rinsed after disinfection."""
    water = teller.name(teller.body["water"], "waters")
    ended = teller.course.disinfection
    charge = teller.world.charge(str(ended[1].body.get("charge", ""))) if ended else None
    label = teller.thing("disinfectants", charge.disinfectant) if charge else None
    many = Number("rinses", str(teller.body["count"]), teller.limits("final-rinse", "count", label))
    return Told(
        f"Rinsed after disinfection, fresh water each time ({water}).", [many, *teller.time("final-rinse")]
    )


def alcohol_flushed(teller: Teller) -> Told:
    """Alcohol through the channels."""
    return Told(
        f"Flushed {teller.channels()} with alcohol.", teller.amount("strength_percent", "strength", "%")
    )


def dried(teller: Teller) -> Told:
    """Dried and checked."""
    body = teller.body
    outcome = "dry" if body["result"] == "dry" else "MOISTURE SEEN"
    dryer = teller.name(body["dryer"], "dryers")
    numbers = [*teller.time("dry"), *teller.amount("pressure_kpa", "pressure", "kPa", _bears(teller))]
    return Told(f"Dried with {dryer}; check: {body['check']}; {outcome}.", numbers)


def _bears(teller: Teller) -> str:
    limits = [
        (one.max_pressure_kpa, one.name.lower(), one.pressure_page or "")
        for one in (teller.model.channels if teller.model else [])
        if one.max_pressure_kpa is not None
    ]
    if not limits:
        return ""
    most, name, page = min(limits)
    return f"at most {show_in(most, 'kPa')}, {name} channel (IFU, {page})"


def stored(teller: Teller) -> Told:
    """In its place."""
    body = teller.body
    slot = f", place {body['slot']}" if body.get("slot") else ""
    valves = "valves out" if body.get("valves_out", True) else "valves NOT out"
    gloves = "clean gloves" if body.get("clean_gloves", True) else "WITHOUT clean gloves"
    return Told(f"Stored in {teller.name(body['cabinet'], 'cabinets')}{slot}: {valves}, {gloves}.")


def released(teller: Teller) -> Told:
    """Signed for."""
    found = teller.body["verdict"].get("findings", [])
    met = sum(1 for one in found if one.get("answer") == "met")
    return Told(
        f"Released for patient use and signed with a PIN; {met} of {len(found)} rules met, none broken."
    )


def taken(teller: Teller) -> Told:
    """Left the shelf."""
    room = f", {in_room(teller.body['room'])}" if teller.body.get("room") else ""
    return Told(f"Taken for use: case {teller.body['case']}{room}.")


def held(teller: Teller) -> Told:
    """Not for use."""
    return Told(f"HELD, not for use: {teller.body['reason']}.{teller.note()}")


def lifted(teller: Teller) -> Told:
    """The hold is over."""
    return Told(f"The hold was lifted.{sentence(teller.body['reason'])}")


def moved(words: str) -> Tell:
    """Return the teller of an act that needs no more than one sentence."""

    def tell(teller: Teller) -> Told:
        return Told(words + sentence(teller.body.get("reason")) + teller.note())

    return tell
