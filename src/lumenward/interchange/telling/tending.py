"""Charges, lots, strips, connector sets, in words."""

from __future__ import annotations

from lumenward.interchange.telling.told import Number, Tell, Teller, Told, sentence
from lumenward.journey import saying
from lumenward.quantities import show_in, show_number

SHELVES = ("detergents", "disinfectants", "strips", "brushes", "kits")


def poured(teller: Teller) -> Told:
    """A basin was filled."""
    body = teller.body
    product = teller.name(body["disinfectant"], "disinfectants")
    told = f"{teller.name(body['basin'], 'basins')} was filled with {product}, {teller.lot(body['lot'])}."
    return Told(
        told,
        [
            *teller.amount("volume_l", "volume", "L"),
            *teller.amount("temperature_c", "temperature", "°C"),
        ],
    )


def tested(teller: Teller) -> Told:
    """The concentration of a charge was tested."""
    body = teller.body
    lot = teller.world.lot(str(body["strip_lot"]))
    strip = teller.thing("strips", lot.product) if lot else None
    charge = teller.world.charge(teller.act.subject)
    label = teller.thing("disinfectants", charge.disinfectant) if charge else None
    passed = "pass" if body["result"] == "pass" else "FAIL"
    where = f" of {teller.name(charge.basin, 'basins')}" if charge else ""
    window = (
        f"between {show_number(strip.read_low_s)} and {show_in(strip.read_high_s, 's')} (label, {strip.page})"
        if strip
        else ""
    )
    numbers = [Number("read after", show_in(body["read_after_s"], "s"), window)]
    least = (
        f"above {show_in(label.mec_percent, '%')} (label: {label.on_label})"
        if label and label.mec_percent is not None
        else ""
    )
    numbers += teller.amount("percent", "concentration", "%", least)
    numbers += teller.amount("temperature_c", "temperature", "°C")
    name = strip.name if strip else "a strip"
    return Told(
        f"Concentration{where} tested with {name}, {teller.lot(body['strip_lot'])}: {passed}.", numbers
    )


def discarded(teller: Teller) -> Told:
    """A charge was emptied."""
    return Told(f"The charge was emptied: {teller.body['reason']}.{teller.note()}")


def lot_opened(teller: Teller) -> Told:
    """A lot came into use."""
    body = teller.body
    return Told(
        f"Opened {teller.name(body['product'], *SHELVES)}, lot {body['lot']}, to be used by {body['expires']}."
    )


def strips_checked(teller: Teller) -> Told:
    """A bottle of strips was proved."""
    body = teller.body
    return Told(
        f"Strips of {teller.lot(teller.act.subject)} checked: {body['full_strength_passed']} passed in full "
        f"strength, {body['diluted_failed']} failed in diluted disinfectant."
    )


def set_opened(teller: Teller) -> Told:
    """A connector set came into use."""
    return Told(f"Opened {teller.name(teller.body['kind'], 'connector_sets')} {teller.body.get('code', '')}.")


def given_up(what: str) -> Tell:
    """Return the teller of something that is not used any more."""

    def tell(teller: Teller) -> Told:
        return Told(f"{what}.{sentence(teller.body['reason'])}")

    return tell


def corrected(teller: Teller) -> Told:
    """A correction names the act and says why."""
    named = teller.world.event(str(teller.body["event"]))
    which = (
        f"{saying.act(named.kind)} of {saying.clock(named.happened_at, teller.act.happened_at)}"
        if named
        else "an act"
    )
    how = "withdrawn: it did not happen so" if teller.body.get("new_body") is None else "corrected"
    return Told(f"{which[0].upper()}{which[1:]} was {how}.{sentence(teller.body['reason'])}")
