"""What-if kinetics against quadrature."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from lumenward.chemistry.air_limits import vapour_mg_m3
from lumenward.chemistry.hardness import hardness_class
from lumenward.chemistry.kinetics import ln_survival, rate_at
from lumenward.quantities import Refusal


@given(
    st.floats(0.01, 2),
    st.floats(0.3, 2),
    st.floats(1, 3),
    st.floats(0.1, 5),
    st.floats(0.001, 0.5),
    st.floats(0.5, 20),
)
def test_hom_with_decay_is_its_own_integral(
    rate: float, n: float, m: float, start: float, decay: float, time: float
) -> None:
    area, _ = quad(lambda t: m * t ** (m - 1) * math.exp(-n * decay * t), 0, time, epsabs=1e-12, epsrel=1e-11)
    assert ln_survival(rate, n, m, start, decay, time) == pytest.approx(-rate * start**n * area, rel=1e-7)


@given(st.floats(0.5, 3), st.floats(0.1, 20))
def test_a_vanishing_decay_joins_the_law_without_decay(m: float, time: float) -> None:
    still = ln_survival(0.2, 1, m, 3, 0, time)
    assert ln_survival(0.2, 1, m, 3, 1e-9, time) == pytest.approx(still, rel=1e-6)
    assert still == pytest.approx(-0.2 * 3 * time**m)


@given(st.floats(0.001, 0.5), st.floats(0.1, 20))
def test_decay_only_ever_weakens(decay: float, time: float) -> None:
    assert ln_survival(0.2, 1, 1, 3, decay, time) > ln_survival(0.2, 1, 1, 3, 0, time)


def test_no_time_or_no_agent_kills_nothing() -> None:
    assert ln_survival(0.2, 1, 1.2, 3, 0.1, 0) == 0
    assert ln_survival(0.2, 1, 1.2, 0, 0.1, 6) == 0


@pytest.mark.parametrize("bad", [{"rate": -1}, {"m": 0}, {"time": -1}, {"start": float("nan")}])
def test_impossible_constants_are_refused_by_name(bad: dict[str, float]) -> None:
    case = {"rate": 0.2, "n": 1, "m": 1, "start": 3, "decay_per_time": 0.1, "time": 6, **bad}
    with pytest.raises(Refusal) as caught:
        ln_survival(**case)
    assert caught.value.field == next(iter(bad))


def test_a_rate_moves_with_temperature() -> None:
    assert rate_at(0.3, 1.08, 20, 20) == 0.3
    assert rate_at(rate_at(0.3, 1.08, 20, 30), 1.08, 30, 20) == pytest.approx(0.3)


def test_vapours_and_hardness_have_bounds() -> None:
    with pytest.raises(Refusal):
        vapour_mg_m3(-1, 34)
    assert [hardness_class(x) for x in (0, 60, 61, 120, 180, 181)] == [
        "soft",
        "soft",
        "moderately hard",
        "moderately hard",
        "hard",
        "very hard",
    ]
