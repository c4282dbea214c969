"""What a leak gauge can see at all: the smallest leak that its digit and the warmth inside leave visible in the hold.

It says how far a still needle may be trusted; it changes no time and no pressure.
"""

from __future__ import annotations

from lumenward.equipment.fittings import Meter
from lumenward.journey.planner.bench import Bench
from lumenward.journey.saying import listed
from lumenward.journey.target import Target
from lumenward.quantities import show_duration, show_in, to_si

INSIDE_C = 20.0
STEADY_K = 0.2  # how far the air inside may warm or cool unseen: assumed, no source


def gauges(bench: Bench) -> list[Meter]:
    """Return the leak testers of the house, where the IFU allows a test by gauge."""
    by_gauge = "dry" in bench.leak_methods
    return [one for one in bench.library.meters if one.measures == "leak"] if by_gauge else []


def targets(bench: Bench, hold_s: float) -> list[Target]:
    """Return for each gauge the smallest leak it can see in that hold, mL/min; none where a figure is missing."""
    return [found for gauge in gauges(bench) if (found := _target(bench, gauge, hold_s)) is not None]


def lines(bench: Bench, hold_s: float) -> list[str]:
    """Return the same in words, one line a gauge; where it cannot be reckoned, which figure is missing."""
    return [_line(bench, gauge, hold_s) for gauge in gauges(bench)]


def _line(bench: Bench, gauge: Meter, hold_s: float) -> str:
    found = _target(bench, gauge, hold_s)
    if found is None:
        return f"What {gauge.name} can see is not known: the library lacks {listed(_missing(bench, gauge, hold_s))}."
    least = show_in(found.value, found.unit)
    return f"{gauge.name}: this gauge cannot see a leak below {least} in {show_duration(hold_s)}."


def _missing(bench: Bench, gauge: Meter, hold_s: float) -> list[str]:
    wanted = {
        f"the volume inside the {bench.model.name}": bench.model.inner_volume_leak_l,
        "the digit of this gauge": gauge.digit_kpa,
        "the test pressure of the IFU": _pressure_kpa(bench),
        "the time to hold it": hold_s,
    }
    return [words for words, figure in wanted.items() if not figure]


def _pressure_kpa(bench: Bench) -> float | None:
    """Return the highest pressure of the test, where the warmth inside hides most; else the least."""
    stated = [bench.deciding("leak-test-dry", "pressure", bound) for bound in ("ceiling", "floor")]
    return next((one.value for one in stated if one is not None), None)


def _target(bench: Bench, gauge: Meter, hold_s: float) -> Target | None:
    if _missing(bench, gauge, hold_s):
        return None
    volume_l, digit_kpa, kpa = bench.model.inner_volume_leak_l, gauge.digit_kpa, _pressure_kpa(bench)
    assert volume_l is not None and digit_kpa is not None and kpa is not None
    return Target(
        step="leak-test", quantity="visible leak", bound="floor", unit="mL/min", basis="computed",
        value=round(_smallest_ml_min(volume_l, digit_kpa, kpa, hold_s), 2),
        source=f"{gauge.name}, digit {show_in(digit_kpa, 'kPa')}; {show_in(volume_l, 'L')} inside at "
        f"{show_in(kpa, 'kPa')} for {show_duration(hold_s)}; air inside assumed steady to {STEADY_K:g} K, no source",
    )  # fmt: skip


def _smallest_ml_min(volume_l: float, digit_kpa: float, gauge_kpa: float, hold_s: float) -> float:
    from lumenward.hydraulics import leak

    start_pa, warm_k = leak.STANDARD_PA + to_si(gauge_kpa, "kPa"), leak.KELVIN + INSIDE_C
    hold = leak.Decay(to_si(volume_l, "L"), start_pa, start_pa, warm_k, warm_k, hold_s)
    reading_u_pa = to_si(digit_kpa, "kPa") / 12**0.5  # a digit read by eye: rectangular
    return leak.as_ml_min(leak.detection_limit(leak.rate_uncertainty(hold, reading_u_pa, STEADY_K)))
