"""Seven ways to state a dilution, never mixed up; and the spread of what was dispensed."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lumenward.chemistry.dosing import KINDS, Dilution, Fill, concentration, concentration_spread, dose_m3
from lumenward.quantities import Refusal

VALUES = {
    "ml_per_l_water": 4.0,
    "ml_per_l_solution": 4.0,
    "percent_v_v": 0.4,
    "one_to_n": 250.0,
    "one_in_n": 250.0,
    "us_oz_per_gal": 0.5,
    "imp_oz_per_gal": 0.5,
}


@pytest.mark.parametrize(
    ("kind", "value", "fraction"),
    [
        ("ml_per_l_water", 4, 4 / 1004),
        ("ml_per_l_solution", 4, 0.004),
        ("percent_v_v", 0.4, 0.004),
        ("one_to_n", 4, 0.2),
        ("one_in_n", 4, 0.25),
        ("one_to_n", 99, 0.01),
        ("us_oz_per_gal", 1, 7.8125 / 1007.8125),
        ("imp_oz_per_gal", 1, 6.25 / 1006.25),
    ],
)
def test_each_way_has_its_own_fraction(kind: str, value: float, fraction: float) -> None:
    assert Dilution(kind, value).fraction == pytest.approx(fraction, rel=1e-12)  # type: ignore[arg-type]


@given(st.sampled_from(KINDS), st.floats(0.5, 100), st.booleans())
def test_the_dose_makes_the_concentration_that_the_label_asks_for(
    kind: str, litres: float, solution: bool
) -> None:
    dilution = Dilution(kind, VALUES[kind])  # type: ignore[arg-type]
    fill = Fill(litres / 1000, solution)
    assert concentration(dose_m3(dilution, fill), fill) == pytest.approx(dilution.fraction, rel=1e-9)


def test_every_way_has_words_with_its_number() -> None:
    assert len({Dilution(kind, VALUES[kind]).sentence() for kind in KINDS}) == len(KINDS)
    assert "parts of water" in Dilution("one_to_n", 100).sentence()
    assert "finished solution" in Dilution("one_in_n", 100).sentence()


@pytest.mark.parametrize(
    ("kind", "value", "field"),
    [
        ("percent_v_v", 95, "dilution.value"),
        ("one_in_n", 1, "dilution.value"),
        ("one_to_n", 0, "dilution.value"),
        ("ml_per_l_water", -4, "dilution.value"),
        ("ml_per_l_water", float("nan"), "dilution.value"),
        ("per_mille", 4, "dilution.kind"),
    ],
)
def test_a_dilution_that_cannot_be_meant_is_refused(kind: str, value: float, field: str) -> None:
    with pytest.raises(Refusal) as caught:
        Dilution(kind, value)  # type: ignore[arg-type]
    assert caught.value.field == field


@given(st.floats(1e-6, 1e-4), st.floats(1e-3, 0.1), st.booleans())
def test_the_interval_holds_the_value_and_the_shares_sum_to_one(
    dose: float, volume: float, solution: bool
) -> None:
    spread = concentration_spread(dose, Fill(volume, solution), dose / 50, {"fill_m": volume / 100})
    assert spread.low < spread.value < spread.high
    assert sum(spread.shares.values()) == pytest.approx(1)


def test_a_wider_tolerance_never_narrows_the_interval() -> None:
    widths = [
        concentration_spread(135e-6, Fill(0.054), half * 1e-6, {"fill_m": 1e-4}).u for half in (0, 1, 2, 5)
    ]
    assert widths == sorted(widths)
