from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lumenward.calculations import find, run
from lumenward.hydraulics import drying
from lumenward.hydraulics.drying import DryingAir
from lumenward.hydraulics.gas_flow import Passage
from lumenward.quantities import Refusal

AIR = {"gauge_pa": 100e3, "temperature_c": 20, "dew_point_c": -40}
CASE = {"bore_m": 0.0012, "length_m": 2.7, "air": AIR, "film_fraction": 0.2}
CHANNELS = {
    "biopsy": (0.0028, 2.7, 0.0),
    "air": (0.0012, 2.7, 0.0),
    "aux": (0.001, 3.5, 0.0),
    "wire": (0.0009, 1.4, 0.00045),
}


def _dry(name: str, gauge_pa: float = 100e3, **more: object) -> dict[str, Any]:
    bore, length, wire = CHANNELS[name]
    case: dict[str, object] = {"bore_m": bore, "length_m": length, "wire_m": wire, "film_fraction": 0.2}
    return run("drying", case | {"air": AIR | {"gauge_pa": gauge_pa}} | more)


@pytest.mark.parametrize(
    ("name", "kpa", "low", "high"),
    [
        ("biopsy", 100, 2.3, 5.9), ("air", 100, 0.23, 0.60), ("aux", 100, 0.13, 0.34), ("wire", 100, 0.05, 0.13),
        ("biopsy", 34, 1.1, 2.8), ("air", 34, 0.14, 0.36), ("aux", 34, 0.06, 0.16), ("wire", 34, 0.01, 0.03),
        ("biopsy", 150, 3.1, 8.0), ("air", 150, 0.32, 0.83), ("aux", 150, 0.17, 0.44), ("wire", 150, 0.08, 0.22),
    ],
)  # fmt: skip
def test_the_capacity_of_ten_minutes_has_not_moved(name: str, kpa: float, low: float, high: float) -> None:
    result = _dry(name, kpa * 1e3)
    tolerance = 0.0055 if high < 1 else 0.055
    assert result["capacity_ml_10_min_low"] == pytest.approx(low, abs=tolerance)
    assert result["capacity_ml_10_min_high"] == pytest.approx(high, abs=tolerance)


@pytest.mark.parametrize(
    ("name", "trapped", "low", "high"),
    [
        ("biopsy", 0.0, 17, 28), ("air", 0.0, 53, 85), ("aux", 0.0, 103, 168), ("wire", 0.0, 74, 121),
        ("biopsy", 0.05, 22, 41), ("air", 0.05, 103, 214), ("aux", 0.05, 192, 394), ("wire", 0.05, 314, 738),
        ("biopsy", 0.2, 37, 80), ("air", 0.2, 254, 598), ("aux", 0.2, 454, 1070), ("wire", 0.2, 1034, 2588),
    ],
)  # fmt: skip
def test_the_bounds_of_time_have_not_moved(name: str, trapped: float, low: float, high: float) -> None:
    result = _dry(name, trapped_ml=trapped)
    assert result["time_low_s"] == pytest.approx(low, rel=0.02)
    assert result["time_high_s"] == pytest.approx(high, rel=0.02)


@settings(max_examples=40)
@given(st.floats(0.0006, 0.005), st.floats(20e3, 200e3), st.floats(-60.0, 15.0), st.floats(0.0, 1.0))
def test_the_lower_bound_is_never_above_the_upper(
    bore: float, gauge: float, dew: float, trapped: float
) -> None:
    air = {"gauge_pa": gauge, "temperature_c": 22, "dew_point_c": dew}
    result = run("drying", {"bore_m": bore, "length_m": 2.0, "air": air, "trapped_ml": trapped})
    assert 0.0 < result["time_low_s"] <= result["time_high_s"]
    assert 0.0 < result["capacity_ml_10_min_low"] <= result["capacity_ml_10_min_high"]
    assert result["planned_s"] >= 600.0


@settings(max_examples=25)
@given(st.floats(0.0, 0.5), st.floats(0.001, 0.5))
def test_trapped_water_only_lengthens(trapped: float, more: float) -> None:
    first, second = _dry("air", trapped_ml=trapped), _dry("air", trapped_ml=trapped + more)
    assert second["time_low_s"] - first["time_low_s"] == pytest.approx(
        more * first["trapped_low_s_per_ml"], rel=1e-6
    )
    assert second["time_high_s"] > first["time_high_s"]


def test_drier_air_and_more_pressure_dry_sooner() -> None:
    humid = _dry("aux", air=AIR | {"dew_point_c": 9.3})
    dry = _dry("aux")
    assert humid["time_high_s"] > 1.3 * dry["time_high_s"]
    assert _dry("aux", 150e3)["time_high_s"] < dry["time_high_s"]


def test_an_unknown_film_becomes_a_range() -> None:
    supply, passage = DryingAir(100e3, 20.0, -40.0), Passage(0.0012, 2.7, minor_loss=1.5)
    expected = drying.drying_time(supply, passage, (0.05, 0.35))
    result = run("drying", {"bore_m": 0.0012, "length_m": 2.7, "air": AIR})
    assert (result["time_low_s"], result["time_high_s"]) == (expected.low, expected.high)
    assert "without trapped water" in result["words"]


def test_a_dry_channel_needs_no_time_but_the_floor_stands() -> None:
    result = run("drying", CASE | {"film_fraction": 0, "trapped_ml": 0})
    assert (result["time_low_s"], result["time_high_s"], result["planned_s"]) == (0.0, 0.0, 600.0)


def test_the_floor_is_compared_in_words() -> None:
    assert "covers" in _dry("biopsy")["against_floor"]
    assert "may not be enough" in _dry("wire", trapped_ml=0.05)["against_floor"]
    assert "is not enough" in _dry("wire", trapped_ml=0.2)["against_floor"]
    assert _dry("wire", trapped_ml=0.2)["planned_s"] > 2000


def test_the_film_runs_out_when_its_time_is_over() -> None:
    supply, passage = DryingAir(100e3, 20.0, -40.0), Passage(0.0012, 2.7)
    rate = drying.evaporation(supply, passage).low
    end = drying.film_time(rate, supply, passage, 0.2)
    assert drying.film_left(0.0, rate, supply, passage, 0.2) == pytest.approx(0.2 * passage.volume_m3)
    assert drying.film_left(end, rate, supply, passage, 0.2) == pytest.approx(drying.DRY_M3, rel=1e-6)
    assert drying.film_left(end * 1.1, rate, supply, passage, 0.2) == 0.0


def test_air_leaves_an_endoscope_saturated_but_not_a_short_wide_hose() -> None:
    supply = DryingAir(100e3, 20.0, -40.0)
    channel, hose = Passage(0.0028, 2.7), Passage(0.02, 0.05)
    assert drying.saturation_share(drying.air_flow(supply, channel), 20.0, channel) > 0.999
    assert drying.saturation_share(drying.air_flow(supply, hose), 20.0, hose) < 0.2


@pytest.mark.parametrize(
    ("change", "code", "field"),
    [
        ({"air": None}, "missing", "air"),
        ({"air": {"gauge_pa": 100e3, "temperature_c": 20}}, "missing", "air.dew_point_c"),
        ({"air": {"temperature_c": 20, "dew_point_c": -40}}, "missing", "air.gauge_pa"),
        ({"air": AIR | {"gauge_pa": 0}}, "too-low", "air.gauge_pa"),
        ({"air": AIR | {"gauge_pa": 100}}, "too-low", "air.gauge_pa"),
        ({"air": AIR | {"dew_point_c": 20}}, "saturated", "air.dew_point_c"),
        ({"air": AIR | {"temperature_c": -5}}, "too-low", "air.temperature_c"),
        ({"air": AIR | {"temperature_c": 105}}, "too-high", "air.temperature_c"),
        ({"bore_m": 1.2}, "too-high", "bore_m"),
        ({"length_m": -1}, "too-low", "length_m"),
        ({"wire_m": 0.0013}, "too-high", "wire_m"),
        ({"film_fraction": 1.2}, "too-high", "film_fraction"),
        ({"trapped_ml": -0.1}, "too-low", "trapped_ml"),
        ({"trapped_ml": 500}, "too-high", "trapped_ml"),
    ],
)
def test_a_drying_that_cannot_be_is_refused_with_the_field(
    change: dict[str, object], code: str, field: str
) -> None:
    with pytest.raises(Refusal) as caught:
        run("drying", CASE | change)
    assert (caught.value.code, caught.value.field) == (code, field)


def test_missing_air_is_refused_in_a_sentence_that_names_what_is_needed() -> None:
    with pytest.raises(Refusal) as caught:
        run("drying", {"bore_m": 0.0012, "length_m": 2.7})
    assert "none is assumed" in caught.value.message
    assert "gauge_pa" in caught.value.hint


def test_a_bore_in_millimetres_and_a_pressure_in_kilopascal_are_answered() -> None:
    for change, hint in (
        ({"bore_m": 2.8}, "Did you mean 0.0028?"),
        ({"air": AIR | {"gauge_pa": 100}}, "Did you mean 100000?"),
    ):
        with pytest.raises(Refusal) as caught:
            run("drying", CASE | change)
        assert caught.value.hint == hint


def test_the_drying_curve_falls_from_the_start_to_dry_and_shows_the_floor() -> None:
    module = find("drying")
    case = module.Input(**(CASE | {"trapped_ml": 0.05, "air": module.Air(**AIR)}))
    chart = module.picture(case, module.run(case))
    for series in chart.series:
        assert series.y[0] == pytest.approx(0.05 + 0.2 * 3.0536, rel=1e-3)
        assert all(later <= earlier for earlier, later in zip(series.y, series.y[1:], strict=False))
        assert series.y[-1] == 0.0
    assert chart.limits[0].value == 10.0
