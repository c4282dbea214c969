"""Sinks of every shape: volume at a fill, fill for a volume, tolerances of the ruler."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from lumenward.chemistry.fill_spread import volume_spread
from lumenward.chemistry.vessels import Box, LyingCylinder, Stadium, Tapered, Vessel, fill_for, volume
from lumenward.quantities import Refusal

SIDE = st.floats(0.1, 1.5)
VESSELS = st.one_of(
    st.builds(Box, SIDE, SIDE),
    st.builds(Tapered, SIDE, SIDE, SIDE, SIDE, st.floats(0.1, 0.8)),
    st.builds(Stadium, st.floats(0.0, 1.0), SIDE),
    st.builds(LyingCylinder, SIDE, SIDE),
)


@given(VESSELS, st.floats(0.01, 0.99))
def test_the_fill_for_a_volume_is_the_inverse_of_the_volume_at_a_fill(vessel: Vessel, part: float) -> None:
    fill = part * vessel.highest_m
    assert fill_for(vessel, vessel.volume_m3(fill)) == pytest.approx(fill, rel=1e-7, abs=1e-9)


@given(VESSELS, st.floats(0.01, 0.98))
def test_a_higher_fill_holds_more(vessel: Vessel, part: float) -> None:
    assert vessel.volume_m3((part + 0.02) * vessel.highest_m) > vessel.volume_m3(part * vessel.highest_m)


@given(SIDE, SIDE, st.floats(0.01, 0.99))
def test_a_trough_agrees_with_its_integral(diameter: float, length: float, part: float) -> None:
    r = diameter / 2
    area, _ = quad(lambda h: 2 * math.sqrt(max(0.0, r * r - (h - r) ** 2)), 0, part * diameter)
    assert LyingCylinder(diameter, length).volume_m3(part * diameter) == pytest.approx(
        area * length, rel=1e-6
    )


@given(SIDE, SIDE, st.floats(0.01, 0.8))
def test_a_taper_without_lean_is_a_box(length: float, width: float, fill: float) -> None:
    straight = Tapered(length, width, length, width, 0.9)
    assert straight.volume_m3(fill) == pytest.approx(Box(length, width).volume_m3(fill))


def test_a_full_trough_is_a_cylinder_and_half_of_it_half() -> None:
    trough = LyingCylinder(0.5, 0.6)
    assert trough.volume_m3(0.5) == pytest.approx(math.pi * 0.25**2 * 0.6)
    assert trough.volume_m3(0.25) == pytest.approx(math.pi * 0.25**2 * 0.3)


@pytest.mark.parametrize(
    ("fill", "code", "hint"),
    [
        (0.0, "too-low", ""),
        (-0.1, "too-low", ""),
        (20, "too-high", "0.02 or 0.2"),
        (0.35, "too-high", "bottom"),
    ],
)
def test_a_fill_that_cannot_be_is_refused(fill: float, code: str, hint: str) -> None:
    with pytest.raises(Refusal) as caught:
        volume(Tapered(0.5, 0.4, 0.6, 0.5, 0.3), fill)
    assert (caught.value.code, caught.value.field) == (code, "fill_m")
    assert hint in caught.value.hint


def test_more_than_a_sink_holds_is_refused() -> None:
    with pytest.raises(Refusal, match=r"up to 74\.5 L"):
        fill_for(Tapered(0.5, 0.4, 0.6, 0.5, 0.3), 0.1)


def test_centimetres_given_for_metres_are_recognised() -> None:
    with pytest.raises(Refusal) as caught:
        Box(60, 0.45)
    assert "0.6" in caught.value.hint


@pytest.mark.parametrize(
    "vessel",
    [Box(0.6, 0.45), Tapered(0.5, 0.4, 0.6, 0.5, 0.3), Stadium(0.4, 0.4), LyingCylinder(0.5, 0.6)],
    ids=lambda v: type(v).__name__,
)
def test_every_shape_passes_on_every_tolerance(vessel: Vessel) -> None:
    spread = volume_spread(vessel, 0.2, {"fill_m": 0.005, "length_m": 0.003, "width_m": 0.003})
    assert set(spread) == {"fill_m", "length_m", "width_m"}
    assert all(u > 0 for u in spread.values())


def test_a_full_sink_still_has_a_slope() -> None:
    assert volume_spread(Tapered(0.5, 0.4, 0.6, 0.5, 0.3), 0.3, {"fill_m": 0.005})["fill_m"] > 0


def test_a_tolerance_as_wide_as_a_hand_is_refused() -> None:
    with pytest.raises(Refusal) as caught:
        volume_spread(Box(0.6, 0.45), 0.2, {"length_m": 0.3})
    assert caught.value.field == "tolerances.length_m"
