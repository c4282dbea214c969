from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lumenward.calculations import find, run
from lumenward.hydraulics import gas_flow
from lumenward.hydraulics.gas_flow import Passage
from lumenward.quantities import Refusal

CASE = {
    "inlet_pa_abs": 200e3,
    "outlet_pa_abs": 101325,
    "temperature_c": 20,
    "bore_m": 0.0028,
    "length_m": 2.7,
    "minor_loss": 1.5,
}


@settings(max_examples=40)
@given(st.floats(102e3, 600e3), st.floats(1.01, 2.0), st.floats(0.0006, 0.005))
def test_more_pressure_or_a_wider_bore_never_brings_less_air(inlet: float, more: float, bore: float) -> None:
    first = gas_flow.isothermal(inlet, 101325, 20.0, Passage(bore, 2.0))
    assert (
        gas_flow.isothermal(inlet * more, 101325, 20.0, Passage(bore, 2.0)).mass_flow_kg_s
        > first.mass_flow_kg_s
    )
    assert (
        gas_flow.isothermal(inlet, 101325, 20.0, Passage(bore * more, 2.0)).mass_flow_kg_s
        > first.mass_flow_kg_s
    )
    assert (
        gas_flow.isothermal(inlet, 101325, 20.0, Passage(bore, 2.0 * more)).mass_flow_kg_s
        < first.mass_flow_kg_s
    )


@settings(max_examples=40)
@given(st.floats(110e3, 900e3), st.floats(0.0006, 0.005), st.floats(0.02, 3.0))
def test_the_outlet_is_never_faster_than_the_choked_one(inlet: float, bore: float, length: float) -> None:
    flow = gas_flow.isothermal(inlet, 101325, 20.0, Passage(bore, length))
    assert flow.mach_outlet <= 1.4**-0.5 + 1e-9
    assert flow.outlet_pa >= 101325
    assert flow.choked == (flow.outlet_pa > 101325)


def test_a_choked_outlet_ignores_the_pressure_outside() -> None:
    short = Passage(0.0028, 0.05)
    room = gas_flow.isothermal(600e3, 101325, 20.0, short)
    vacuum = gas_flow.isothermal(600e3, 5e3, 20.0, short)
    assert room.choked
    assert vacuum.mass_flow_kg_s == pytest.approx(room.mass_flow_kg_s, rel=1e-12)


def test_a_small_drop_of_slow_air_follows_hagen_and_poiseuille() -> None:
    flow = gas_flow.isothermal(101425, 101325, 20.0, Passage(0.001, 3.0))
    density = 101375 / (287.05 * 293.15)
    expected = density * math.pi * 0.001**4 * 100 / (128 * 1.8134e-5 * 3.0)
    assert flow.mass_flow_kg_s == pytest.approx(expected, rel=2e-3)
    assert flow.friction_factor * flow.reynolds == pytest.approx(64, rel=1e-3)


def test_a_wire_in_the_channel_takes_most_of_its_air() -> None:
    free = gas_flow.isothermal(200e3, 101325, 20.0, Passage(0.0009, 1.4))
    wired = gas_flow.isothermal(200e3, 101325, 20.0, Passage(0.0009, 1.4, 0.00045))
    assert 0.05 < wired.mass_flow_kg_s / free.mass_flow_kg_s < 0.4


def test_equal_pressures_move_nothing() -> None:
    result = run("gas-flow", CASE | {"inlet_pa_abs": 101325})
    assert (result["mass_flow_kg_s"], result["free_air_l_min"], result["mach_outlet"]) == (0.0, 0.0, 0.0)
    assert result["choked"] is False
    assert result["friction_factor"] is None


def test_a_given_friction_factor_is_used_as_given() -> None:
    result = run("gas-flow", CASE | {"minor_loss": 0, "outlet_pa_abs": 100e3, "friction_factor": 0.0279967})
    assert result["friction_factor"] == 0.0279967
    assert result["mass_flow_kg_s"] == pytest.approx(6.9010e-4, rel=3e-6)


def test_the_band_of_unknown_friction_is_named() -> None:
    result = run("gas-flow", CASE | {"bore_m": 0.001, "length_m": 3.5})
    assert 2000 < result["reynolds"] < 4000
    assert result["confidence"] == "fair"
    assert "10 %" in result["words"]


@pytest.mark.parametrize(
    ("change", "code", "field", "hint"),
    [
        ({"bore_m": 2.8}, "too-high", "bore_m", "Bores are in metres: did you mean 0.0028?"),
        ({"bore_m": 0}, "too-low", "bore_m", "Give the bore in metres."),
        ({"bore_m": -0.002}, "too-low", "bore_m", "Give the bore in metres."),
        ({"length_m": 0}, "too-low", "length_m", "Give the length in metres."),
        ({"length_m": 2700}, "too-high", "length_m", "Lengths are in metres: did you mean 2.7?"),
        ({"inlet_pa_abs": 200}, "too-low", "inlet_pa_abs", "Did you mean 200000?"),
        ({"inlet_pa_abs": 100e3}, "contradiction", "inlet_pa_abs", None),
        ({"temperature_c": 293.15}, "too-high", "temperature_c", "Did you mean 20 °C? 293.15 K is 20 °C."),
        ({"minor_loss": -1}, "out-of-range", "minor_loss", None),
        ({"friction_factor": 0}, "too-low", "friction_factor", None),
        ({"wire_m": 0.003}, "too-high", "wire_m", None),
    ],
)
def test_air_through_no_channel_is_refused(
    change: dict[str, float], code: str, field: str, hint: str | None
) -> None:
    with pytest.raises(Refusal) as caught:
        run("gas-flow", CASE | change)
    assert (caught.value.code, caught.value.field) == (code, field)
    assert hint is None or caught.value.hint == hint


def test_the_picture_passes_through_the_asked_point() -> None:
    module = find("gas-flow")
    case = module.Input(**CASE)
    chart = module.picture(case, module.run(case))
    curve, asked = chart.series
    assert curve.y[0] == 0.0
    assert min(curve.y) < asked.y[0] < max(curve.y)
