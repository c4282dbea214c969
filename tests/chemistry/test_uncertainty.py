"""The GUM's arithmetic."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from lumenward.chemistry.uncertainty import Component, combine, shares, t_quantile
from lumenward.quantities import Refusal

U = st.floats(0.01, 100)


@given(st.lists(U, min_size=1, max_size=6))
def test_without_degrees_of_freedom_the_normal_factor_is_used(values: list[float]) -> None:
    found = combine([Component(u) for u in values])
    assert found.dof_effective is None
    assert found.k == pytest.approx(1.959964, abs=1e-6)
    assert max(values) <= found.u_c <= sum(values) * (1 + 1e-12)


@given(st.lists(st.tuples(U, st.floats(1, 100)), min_size=1, max_size=6))
def test_effective_degrees_lie_between_the_least_and_the_sum(parts: list[tuple[float, float]]) -> None:
    dof = combine([Component(u, n) for u, n in parts]).dof_effective
    assert dof is not None
    assert min(n for _, n in parts) * (1 - 1e-9) <= dof <= sum(n for _, n in parts) * (1 + 1e-9)


@pytest.mark.parametrize("dof", [1, 2, 5, 16, 100])
@pytest.mark.parametrize("p", [0.9, 0.975, 0.995])
def test_quantiles_are_those_of_scipy(dof: int, p: float) -> None:
    assert t_quantile(p, dof) == pytest.approx(stats.t.ppf(p, dof), rel=1e-9)


def test_one_component_keeps_its_degrees() -> None:
    found = combine([Component(2.0, 9)])
    assert (found.u_c, found.dof_effective) == (2.0, pytest.approx(9))


def test_nothing_but_zeros_is_certain() -> None:
    found = combine([Component(0.0, 5), Component(0.0)])
    assert (found.u_c, found.expanded, found.dof_effective) == (0.0, 0.0, None)
    assert shares({"a": 0.0}) == {"a": 0.0}


@pytest.mark.parametrize(
    ("components", "coverage", "field"),
    [
        ([], 0.95, "components"),
        ([Component(-1)], 0.95, "components[0].u"),
        ([Component(1), Component(1, 0)], 0.95, "components[1].dof"),
        ([Component(1)], 95, "coverage"),
        ([Component(float("nan"))], 0.95, "components[0].u"),
    ],
)
def test_what_cannot_be_combined_is_refused(components: list[Component], coverage: float, field: str) -> None:
    with pytest.raises(Refusal) as caught:
        combine(components, coverage)
    assert caught.value.field == field
