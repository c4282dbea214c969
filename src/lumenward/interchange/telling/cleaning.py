"""Leak test, cleaning, inspection, verification, in words."""

from __future__ import annotations

from lumenward.interchange.telling.told import Number, Teller, Told, count, sentence
from lumenward.quantities import show_in


def leak_tested(teller: Teller) -> Told:
    """The leak test."""
    body = teller.body
    found = "tight" if body["result"] == "tight" else f"LEAK FOUND{_at(body.get('where'))}"
    still = [
        words
        for key, words in (
            ("knobs_moved", "the tip was not bent"),
            ("released", "the pressure was not let off"),
        )
        if not body.get(key, True)
    ]
    meter = f" by {teller.name(body['meter'], 'meters')}" if body.get("meter") else ""
    told = f"Leak test, {body['method']}{meter}: {found}." + sentence(" and ".join(still))
    numbers = teller.amount("pressure_kpa", "pressure", "kPa", teller.limits("leak-test", "pressure"))
    numbers += teller.amount("end_pressure_kpa", "pressure at the end", "kPa")
    return Told(told, numbers + teller.time(f"leak-test-{body['method']}"))


def _at(where: object) -> str:
    return f" ({where})" if where else ""


def dosed(teller: Teller) -> Told:
    """Detergent mixed for this endoscope."""
    body = teller.body
    product = teller.thing("detergents", body["detergent"])
    vessel = teller.name(body["vessel"], "sinks", "containers")
    told = f"{teller.name(body['detergent'], 'detergents')}, {teller.lot(body['lot'])}, mixed in {vessel}."
    numbers = [
        *teller.amount("dose_ml", "dose", "mL"),
        *teller.amount("water_l", "water", "L"),
        *teller.amount(
            "temperature_c", "temperature", "°C", teller.limits("detergent", "temperature", label=product)
        ),
    ]
    return Told(told, numbers + _concentration(body))


def _concentration(body: dict[str, float]) -> list[Number]:
    if body.get("concentration_ppm") is None:
        return []
    low, high = body.get("low_ppm"), body.get("high_ppm")
    between = (
        f", between {count(low)} and {show_in(high, 'ppm')}" if low is not None and high is not None else ""
    )
    return [
        Number(
            "concentration",
            show_in(body["concentration_ppm"], "ppm"),
            f"computed from dose and water{between}",
        )
    ]


def exterior_cleaned(teller: Teller) -> Told:
    """The outside."""
    both = teller.body.get("elevator_both_positions")
    recess = "" if both is None else ", the recess in both positions of the elevator" if both else ""
    missed = " The recess was NOT cleaned in both positions." if both is False else ""
    apart = "" if teller.body.get("parts_dismantled", True) else " Parts were NOT taken off."
    return Told(f"The outside was cleaned, ports, parts and tip{recess}.{missed}{apart}")


def brushed(teller: Teller) -> Told:
    """One channel brushed."""
    body = teller.body
    lot = f", {teller.lot(body['brush_lot'])}" if body.get("brush_lot") else ""
    brush = next((one.name for one in teller.library.brushes if body["brush"] in (one.id, one.code)), "")
    debris = "until nothing came out" if body["debris"] == "none at last pass" else "and debris still came"
    told = (
        f"Brushed the {teller.channel(body['channel'])} channel with {brush or body['brush']}{lot}, {debris}."
    )
    passes = Number("strokes", str(body["passes"]), teller.limits("brush", "count"))
    return Told(told, [passes, *teller.time("brush")])


def connected(teller: Teller) -> Told:
    """The connector set is on."""
    shut = teller.body.get("clamped") or []
    clamped = f"; clamped: {teller.ports(shut)}" if shut else ""
    return Told(f"Connected {_set(teller)} to {teller.ports(teller.body['ports'])}{clamped}.")


def _set(teller: Teller) -> str:
    found = teller.world.connector_set(str(teller.body["connector_set"]))
    if found is None:
        return f"set {teller.body['connector_set']}"
    return f"{teller.name(found.kind, 'connector_sets')} {found.code or found.id}".strip()


def disconnected(teller: Teller) -> Told:
    """The connector set is off."""
    return Told(f"Took off {_set(teller)}.")


def aspirated(teller: Teller) -> Told:
    """Detergent drawn through."""
    return Told(f"Drew detergent through the {teller.channels()} channel.", teller.time("aspirate"))


def flushed(teller: Teller) -> Told:
    """Detergent pumped through."""
    seen = "fluid was seen leaving each" if teller.body["seen_leaving"] else "fluid was NOT seen leaving each"
    turns = len(teller.body.get("turns") or [])
    how = f" in {turns} turns of the clamps" if turns > 1 else ""
    pump = f" with {teller.name(teller.body['pump'], 'pumps')}" if teller.body.get("pump") else ""
    return Told(f"Flushed {teller.channels()} with detergent{pump}{how}; {seen}.", teller.time("flush"))


def purged(teller: Teller) -> Told:
    """Air pushed the fluid out."""
    return Told(
        f"Purged {teller.channels()} with air after the {teller.body['after']}.", teller.time("purge")
    )


def rinsed(teller: Teller) -> Told:
    """Water pumped through, or run over the outside."""
    water = teller.name(teller.body["water"], "waters")
    what = teller.channels() if teller.body["channels"] else "the outside"
    return Told(f"Rinsed {what} with water ({water}).", teller.time("rinse"))


def inspected(teller: Teller) -> Told:
    """Looked at."""
    body = teller.body
    found = body["result"] if body["result"] == "clean and whole" else str(body["result"]).upper()
    findings = (
        f" Findings: {', '.join(str(one) for one in body['findings'])}." if body.get("findings") else ""
    )
    tools = " and ".join(body["tools"])
    return Told(f"Inspected with {tools}: {found}.{findings}{teller.note()}")


def verified(teller: Teller) -> Told:
    """A cleaning verification test."""
    body = teller.body
    kit = teller.thing("kits", body["kit"])
    lot = f", {teller.lot(body['lot'])}" if body.get("lot") else ""
    result = body["result"] if body["result"] == "pass" else str(body["result"]).upper()
    told = f"Cleaning verified at {body['site']} with {teller.name(body['kit'], 'kits')}{lot}: {result}."
    if kit is None:
        return Told(told, [Number("reading", count(body["value"]))])
    unit = "µg/cm²" if kit.unit == "ug/cm2" else kit.unit
    basis = f"alert from {count(kit.alert)}, clean again from {count(kit.action)} {unit} (label, {kit.page})"
    return Told(told, [Number("reading", f"{count(body['value'])} {unit}", basis)])
