"""Faults of one thing by itself: figures no such thing has, pairs that contradict each other, missing pages.

The ranges are wide: they catch a slip of units, not an unusual instrument.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from itertools import product
from typing import Any

from lumenward.equipment.common import Stated
from lumenward.equipment.endoscope import Channel, EndoscopeModel
from lumenward.equipment.finding import Finding, one_of
from lumenward.equipment.fittings import (
    Cabinet,
    ConnectorSet,
    Detergent,
    Disinfectant,
    Meter,
    Pump,
    Sink,
    Tapered,
    TestStrip,
    VerificationKit,
    Vessel,
    Washer,
)
from lumenward.equipment.policy import Policy
from lumenward.equipment.steps import IN_FIRST_UNIT, METHODS_OF, STEPS, UNITS_OF

# key: lowest and highest figure believed, by the ending of the key that carries it
_BORES_MM = (0.1, 20.0)
_WIDTHS_M = (0.1, 2.0)
_SLIPS = (1e3, 1e-3, 1e2, 1e-2)
_KPA_IN = (("mmHg", 0.133322387415), ("psi", 6.894757293168), ("mbar", 0.1))
_LEAK_KPA = (5.0, 60.0)


def between(value: float | None, low: float, high: float, key: str, unit: str) -> Iterator[Finding]:
    """Yield a finding when `value` is not within `low..high`, with the probable slip of units as its hint."""
    if value is None or low <= value <= high:
        return
    meant = next((value * f for f in _SLIPS if low <= value * f <= high), None)
    hint = f"Did you mean {meant:.6g}? The key says the unit." if meant else "Check the figure and its unit."
    message = f"between {low:g} and {high:g} {unit} is expected; found {value:g}"
    yield Finding("too-low" if value < low else "too-high", (key,), message, hint)


def endoscope(model: EndoscopeModel) -> Iterator[Finding]:
    """Yield what is wrong with one endoscope model taken alone."""
    yield from gtin(model.gtin)
    yield from between(model.working_length_mm, 50, 3000, "working_length_mm", "mm")
    yield from between(model.inner_volume_leak_l, 0.02, 3, "inner_volume_leak_l", "L")
    for i, tube in enumerate(model.tubes):
        yield from _under(between(tube.bore_mm, *_BORES_MM, "bore_mm", "mm"), "tubes", i)
        if tube.wire_mm >= tube.bore_mm:
            message = f"a wire of {tube.wire_mm:g} mm does not fit into a bore of {tube.bore_mm:g} mm"
            yield Finding("too-high", ("tubes", i, "wire_mm"), message, "Check both diameters.")
    for i, channel in enumerate(model.channels):
        yield from _under(_channel(channel), "channels", i)
    yield from _under(stated(model.ifu.states), "ifu")
    for i, advice in enumerate(model.ifu.advice):
        yield from _under(_step(advice.step), "ifu", "advice", i)


def _channel(channel: Channel) -> Iterator[Finding]:
    if channel.brush is None and channel.unbrushable_page is None:
        message = "neither a brush nor the page that says it cannot be brushed is given"
        yield Finding("missing", ("brush",), message, "Add 'brush' or 'unbrushable_page'.")
    if channel.brush is not None and channel.unbrushable_page is not None:
        message = "a brush is given for a channel said not to be brushable"
        yield Finding("contradiction", ("unbrushable_page",), message, "Keep one of the two.")
    if channel.max_pressure_kpa is not None and channel.pressure_page is None:
        message = "the highest pressure has no page"
        yield Finding("missing", ("pressure_page",), message, "Say where the instructions state it.")
    yield from between(channel.max_pressure_kpa, 5, 700, "max_pressure_kpa", "kPa")


def stated(states: Sequence[Stated]) -> Iterator[Finding]:
    """Yield what is wrong with the numbers a document states: unknown steps, foreign units, floor above ceiling."""
    for i, one in enumerate(states):
        yield from _under(_step(one.step), "states", i)
        yield from _under(_unit(one), "states", i)
        yield from _under(_method(one), "states", i)
        yield from _under(_leak_pressure(one), "states", i)
    yield from _crossed(states)


def _step(step: str) -> Iterator[Finding]:
    if step not in STEPS:
        yield Finding("unknown-step", ("step",), f"there is no step {step!r}", one_of(STEPS, step))


def _unit(one: Stated) -> Iterator[Finding]:
    units = UNITS_OF[one.quantity]
    if one.unit not in units:
        message = f"a {one.quantity} cannot be in {one.unit!r}"
        yield Finding("wrong-unit", ("unit",), message, f"Allowed: {', '.join(units)}.")


def _method(one: Stated) -> Iterator[Finding]:
    known = METHODS_OF.get(one.step, ())
    if one.method is not None and one.method not in known:
        message = f"there is no way {one.method!r} of doing the step {one.step}"
        yield Finding("not-allowed", ("method",), message, one_of(known, one.method))


def _leak_pressure(one: Stated) -> Iterator[Finding]:
    low, high = _LEAK_KPA
    if (one.step, one.unit) != ("leak-test", "kPa") or low <= one.value <= high:
        return
    meant = next(((n, one.value * f) for n, f in _KPA_IN if low <= one.value * f <= high), None)
    hint = f"If {one.value:g} is in {meant[0]}, write {meant[1]:.4g}." if meant else "Check the figure."
    message = f"a leak test's pressure lies between {low:g} and {high:g} kPa; found {one.value:g}"
    yield Finding("too-high" if one.value > high else "too-low", ("value",), message, hint)


def _crossed(states: Sequence[Stated]) -> Iterator[Finding]:
    floors = [(i, s) for i, s in enumerate(states) if s.bound == "floor"]
    ceilings = [(i, s) for i, s in enumerate(states) if s.bound == "ceiling"]
    for (_, floor), (i, ceiling) in product(floors, ceilings):
        same = (floor.step, floor.quantity) == (ceiling.step, ceiling.quantity)
        if (
            same
            and _meet(floor.channel, ceiling.channel)
            and _meet(floor.method, ceiling.method)
            and _plain(floor) > _plain(ceiling)
        ):
            message = (
                f"the ceiling of {ceiling.step} {ceiling.quantity}, {ceiling.value:g} {ceiling.unit}, "
                f"lies below its floor, {floor.value:g} {floor.unit}"
            )
            yield Finding("contradiction", ("states", i, "value"), message, "Check both pages.")


def _meet(one: str | None, other: str | None) -> bool:
    return one == other or None in (one, other)


def _plain(one: Stated) -> float:
    return one.value * IN_FIRST_UNIT[one.unit]


def gtin(text: str) -> Iterator[Finding]:
    """Yield a finding when the check digit of a 14-digit trade item number is wrong.

    >>> [f.hint for f in gtin("09501101530004")]
    ['Did you mean 09501101530003?']
    """
    right = check_digit(text[:13])
    if text[-1] != right:
        message = f"the check digit of {text} must be {right}; found {text[-1]}"
        yield Finding("bad-check-digit", ("gtin",), message, f"Did you mean {text[:13]}{right}?")


def check_digit(digits: str) -> str:
    """Return the GS1 check digit of `digits` (GS1 General Specifications, section 7.9: weights 3, 1 from the right).

    >>> check_digit("0950110153000")
    '3'
    """
    total = sum(int(d) * (3 if i % 2 == 0 else 1) for i, d in enumerate(reversed(digits)))
    return str(-total % 10)


def _ordered(low: float, high: float, key: str, what: str) -> Iterator[Finding]:
    if low > high:
        message = f"{what}: the higher figure {high:g} lies below the lower figure {low:g}"
        yield Finding("contradiction", (key,), message, "Check both figures.")


def _connector_set(one: ConnectorSet) -> Iterator[Finding]:
    for i, tube in enumerate(one.tubes):
        yield from _under(between(tube.bore_mm, 0.3, 20, "bore_mm", "mm"), "tubes", i)
        yield from _under(between(tube.length_m, 0.02, 5, "length_m", "m"), "tubes", i)
    yield from _twice([tube.port for tube in one.tubes], "tubes", "port")
    if one.life_h is not None and one.life_page is None:
        yield Finding("missing", ("life_page",), "the life has no page", "Say who states it.")


def _pump(one: Pump) -> Iterator[Finding]:
    yield from between(one.flow_ml_min, 20, 10000, "flow_ml_min", "mL/min")
    yield from between(one.relief_kpa, 5, 700, "relief_kpa", "kPa")
    yield from between(one.slip_fraction_per_100_kpa, 0, 1, "slip_fraction_per_100_kpa", "(a fraction)")
    yield from between(one.hose_length_m, 0.05, 10, "hose_length_m", "m")
    yield from between(one.hose_bore_mm, 0.5, 30, "hose_bore_mm", "mm")


def _vessel(one: Vessel) -> Iterator[Finding]:
    for key, value in one.vessel.model_dump(exclude={"shape"}).items():
        yield from _under(between(value, *_WIDTHS_M, key, "m"), "vessel")
    deepest = one.vessel.height_m if isinstance(one.vessel, Tapered) else _WIDTHS_M[1]
    for i, mark in enumerate(one.marks):
        yield from _under(between(mark.fill_m, 0.01, deepest, "fill_m", "m"), "marks", i)
    yield from _twice([mark.name for mark in one.marks], "marks", "name")


def _detergent(one: Detergent) -> Iterator[Finding]:
    yield from gtin(one.gtin)
    yield from _ordered(one.dilution_low, one.dilution_aim, "dilution_aim", "dilution")
    yield from _ordered(one.dilution_aim, one.dilution_high, "dilution_high", "dilution")
    yield from between(one.temperature_low_c, 1, 80, "temperature_low_c", "C")
    yield from between(one.temperature_high_c, 1, 80, "temperature_high_c", "C")
    yield from _ordered(one.temperature_low_c, one.temperature_high_c, "temperature_high_c", "temperature")
    yield from stated(one.states)


def _disinfectant(one: Disinfectant) -> Iterator[Finding]:
    yield from gtin(one.gtin)
    for i, pair in enumerate(one.pairs):
        low, high = pair.temperature_low_c, pair.temperature_high_c
        yield from _under(_ordered(low, high, "temperature_high_c", "temperature"), "pairs", i)
        yield from _under(between(low, 1, 80, "temperature_low_c", "C"), "pairs", i)
        yield from _under(between(high, 1, 80, "temperature_high_c", "C"), "pairs", i)
    if one.mec_percent is not None:
        yield from _ordered(one.mec_percent, one.strength_percent, "mec_percent", "lowest effective strength")


def _strip(one: TestStrip) -> Iterator[Finding]:
    yield from gtin(one.gtin)
    yield from _ordered(one.read_low_s, one.read_high_s, "read_high_s", "reading time")


def _kit(one: VerificationKit) -> Iterator[Finding]:
    yield from _ordered(one.alert, one.action, "action", "limits")


def _washer(one: Washer) -> Iterator[Finding]:
    yield from between(one.contact_c, 15, 70, "contact_c", "C")


def _cabinet(one: Cabinet) -> Iterator[Finding]:
    yield from between(one.validated_h, 0.5, 24 * 90, "validated_h", "h")


def _meter(one: Meter) -> Iterator[Finding]:
    if (one.measures == "leak") != (one.unit == "kPa"):
        yield Finding("wrong-unit", ("unit",), f"a {one.measures} meter cannot read in {one.unit!r}")


_CHECKS: dict[type[Any], Callable[[Any], Iterator[Finding]]] = {
    EndoscopeModel: endoscope,
    ConnectorSet: _connector_set,
    Pump: _pump,
    Sink: _vessel,
    Vessel: _vessel,
    Detergent: _detergent,
    Disinfectant: _disinfectant,
    TestStrip: _strip,
    VerificationKit: _kit,
    Washer: _washer,
    Cabinet: _cabinet,
    Meter: _meter,
}


def thing(one: Any) -> Iterator[Finding]:
    """Yield what is wrong with one thing of any shelf taken alone."""
    check = _CHECKS.get(type(one))
    if check is not None:
        yield from check(one)


def policy(one: Policy) -> Iterator[Finding]:
    """Yield what is wrong with a policy profile."""
    if one.delay.soon_min > one.delay.limit_min:
        message = (
            f"the warning at {one.delay.soon_min:g} min comes after the limit, {one.delay.limit_min:g} min"
        )
        yield Finding("contradiction", ("delay", "soon_min"), message, "Warn before the limit.")
    places = [f"{h.cabinet}, {'high-risk' if h.high_risk else 'other'}" for h in one.hang_times]
    yield from _twice(places, "hang_times", "cabinet")
    if one.connector_set_life_h is not None and one.connector_set_source is None:
        yield Finding(
            "missing", ("connector_set_source",), "the connector set's life has no source", "Add it."
        )
    yield from stated(one.states)


def _twice(words: Sequence[str], listed: str, key: str) -> Iterator[Finding]:
    for i, word in enumerate(words):
        if word in words[:i]:
            yield Finding("duplicate", (listed, i, key), f"{word!r} is there twice", "Keep one of them.")


def _under(found: Iterable[Finding], *front: str | int) -> Iterator[Finding]:
    return (one.under(*front) for one in found)
