from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
from numpy.typing import NDArray

from lumenward.calculations import run
from lumenward.hydraulics.few_settings import Task, fewest, integer_programme
from lumenward.hydraulics.schedule import in_one_setting, shortest, undominated, unmet
from lumenward.hydraulics.simplex import least_total
from lumenward.quantities import Refusal

Array = NDArray[np.float64]


def _random_needs(seed: int, rows: int, columns: int, powers: float = 1.0) -> Array:
    rng = np.random.default_rng(seed)
    needs = 10 ** rng.uniform(-powers, 0, (rows, columns)) * (rng.random((rows, columns)) < 0.7)
    needs[:, 0] = np.maximum(needs[:, 0], 0.05)
    return np.asarray(needs / needs.max(axis=1, keepdims=True))


def _by_trying_all(task: Task) -> float:
    settings = range(task.needs.shape[1])
    best = np.inf
    for count in range(1, task.needs.shape[1] + 1):
        for chosen in combinations(settings, count):
            found = least_total(task.needs[:, list(chosen)])
            if found is not None:
                best = min(best, task.cost(found.total, count))
    return best


def _schedule(
    configurations: list[dict[str, object]], required: dict[str, float], **more: float
) -> dict[str, object]:
    return run("clamp-schedule", {"configurations": configurations, "required_m3": required, **more})


def test_one_pump_shared_by_single_settings_takes_the_sum_of_volumes_over_its_flow() -> None:
    alone = [{"name": name, "flow_m3_s": {name: 10e-6}} for name in "ab"]
    both = {"name": "both", "flow_m3_s": {"a": 6e-6, "b": 4e-6}}
    found = _schedule([both, *alone], {"a": 70e-6, "b": 30e-6})
    assert found["total_s"] == pytest.approx(10.0, rel=1e-12)


def test_independent_channels_take_as_long_as_the_slowest() -> None:
    flows = {"a": 3e-6, "b": 5e-6, "c": 1e-6}
    found = _schedule([{"name": "all", "flow_m3_s": flows}], {"a": 30e-6, "b": 20e-6, "c": 12e-6})
    assert found["total_s"] == pytest.approx(12.0, rel=1e-12)
    assert found["shares"] == {"a": 0.0, "b": 0.0, "c": 1.0}


def test_only_settings_in_use_are_listed_in_the_order_given() -> None:
    configurations = [
        {"name": "weak", "flow_m3_s": {"a": 1e-6}},
        {"name": "b", "flow_m3_s": {"b": 4e-6}},
        {"name": "a", "flow_m3_s": {"a": 2e-6}},
    ]
    found = _schedule(configurations, {"a": 8e-6, "b": 8e-6})
    assert [(step["name"], step["duration_s"]) for step in found["steps"]] == [  # type: ignore[attr-defined,index]
        ("b", pytest.approx(2.0)),
        ("a", pytest.approx(4.0)),
    ]


def test_a_cost_for_changes_counts_each_setting_used_and_makes_one_setting_win() -> None:
    configurations = [
        {"name": "a", "flow_m3_s": {"a": 10e-6}},
        {"name": "b", "flow_m3_s": {"b": 10e-6}},
        {"name": "both", "flow_m3_s": {"a": 5e-6, "b": 3e-6}},
    ]
    required = {"a": 70e-6, "b": 30e-6}
    assert _schedule(configurations, required, switch_s=3)["total_s"] == pytest.approx(16.0)
    dear = _schedule(configurations, required, switch_s=6)
    assert dear["total_s"] == pytest.approx(20.0)
    assert [step["name"] for step in dear["steps"]] == ["both"]  # type: ignore[attr-defined,index]


def test_nothing_required_needs_no_setting() -> None:
    found = _schedule([{"name": "a", "flow_m3_s": {"a": 1e-6}}], {"a": 0})
    assert (found["steps"], found["total_s"]) == ([], 0.0)


@pytest.mark.parametrize(
    ("change", "code", "field"),
    [
        ({"required_m3": {"a": 1e-5, "c": 1e-5}}, "infeasible", "required_m3.c"),
        ({"required_m3": {"a": -1e-5}}, "too-low", "required_m3.a"),
        ({"required_m3": {}}, "missing", "required_m3"),
        ({"configurations": []}, "out-of-range", "configurations"),
        ({"switch_s": -1}, "too-low", "switch_s"),
        (
            {"configurations": [{"name": "x", "flow_m3_s": {"a": -1e-6}}]},
            "too-low",
            "configurations[0].flow_m3_s.a",
        ),
        (
            {"configurations": [{"name": "x", "flow_m3_s": {"a": 1e-6}}] * 2},
            "duplicate",
            "configurations[1].name",
        ),
        ({"configuration": 1}, "unknown-key", "configuration"),
    ],
)
def test_a_schedule_that_cannot_be_is_refused_with_its_field(
    change: dict[str, object], code: str, field: str
) -> None:
    case = {"configurations": [{"name": "a", "flow_m3_s": {"a": 1e-6}}], "required_m3": {"a": 1e-5}}
    with pytest.raises(Refusal) as refused:
        run("clamp-schedule", {**case, **change})
    assert (refused.value.code, refused.value.field) == (code, field)
    assert refused.value.message


@pytest.mark.parametrize("seed", range(6))
def test_shadow_prices_satisfy_the_conditions_of_an_optimum(seed: int) -> None:
    needs = _random_needs(seed, 5, 30, powers=3)
    found = least_total(needs)
    assert found is not None
    surplus, slack = needs @ found.times - 1, 1 - found.prices @ needs
    assert surplus.min() > -1e-9
    assert slack.min() > -1e-9
    assert np.abs(found.prices * surplus).max() < 1e-9
    assert np.abs(found.times * slack).max() < 1e-9 * found.total
    assert found.prices.sum() == pytest.approx(found.total, rel=1e-12)


@pytest.mark.parametrize("seed", range(8))
def test_the_search_with_a_price_finds_what_trying_every_set_finds(seed: int) -> None:
    needs = _random_needs(seed, 4, 7)
    plain = least_total(needs)
    assert plain is not None
    for price in (0.02 * plain.total, 0.2 * plain.total, plain.total):
        for floor, limit in ((0.0, np.inf), (1.4 * plain.total, 1.4 * plain.total)):
            task = Task(needs, price, floor, limit)
            found, proven = fewest(task, plain)
            assert proven
            assert task.cost_of(found) == pytest.approx(_by_trying_all(task), rel=1e-8)
            assert (needs @ found.times).min() > 1 - 1e-9


def test_without_patience_the_integer_programme_finds_the_same() -> None:
    needs = _random_needs(3, 4, 8)
    plain = least_total(needs)
    assert plain is not None
    task = Task(needs, 0.2 * plain.total)
    handed, proven = fewest(task, plain, patience=0)
    assert proven
    assert task.cost_of(handed) == pytest.approx(task.cost_of(fewest(task, plain)[0]), rel=1e-4)
    used, _ = integer_programme(task, plain.total, 0.9 * task.cost_of(handed))
    assert used is None


def test_what_the_solver_prints_never_reaches_the_standard_output(capfd: pytest.CaptureFixture[str]) -> None:
    needs = _random_needs(9, 6, 40)
    plain = least_total(needs)
    assert plain is not None
    fewest(Task(needs, 0.1 * plain.total), plain, patience=0)
    assert capfd.readouterr().out == ""


def test_scaling_volumes_scales_times() -> None:
    rates = _random_needs(5, 12, 4)
    demands = np.array([3.0, 1.0, 0.2, 7.0])
    once, thrice = shortest(rates, demands), shortest(rates, 3 * demands)
    assert once is not None and thrice is not None
    assert thrice.seconds == pytest.approx(3 * once.seconds, rel=1e-12)


def test_rates_many_powers_of_ten_apart_still_meet_every_demand() -> None:
    rates = np.array([[1e-5, 1e-9, 0.0], [0.0, 3e-8, 2e-12], [1e-6, 0.0, 5e-11]])
    demands = np.array([1e-4, 1e-6, 1e-8])
    found = shortest(rates, demands)
    assert found is not None
    assert (found.seconds @ rates >= demands * (1 - 1e-9)).all()
    peer = least_total((rates / demands).T * 1e3)
    assert peer is not None
    assert found.total_s == pytest.approx(1e3 * peer.total, rel=1e-9)


def test_a_floor_is_never_undercut_and_stretches_every_turn_alike() -> None:
    rates, demands = np.array([[2.0, 0.0], [0.0, 1.0]]), np.array([8.0, 6.0])
    found = shortest(rates, demands, floor_s=20.0)
    assert found is not None
    assert found.running_s == pytest.approx(20.0, rel=1e-12)
    assert found.seconds == pytest.approx([8.0, 12.0])
    assert found.stretched_s == pytest.approx(10.0)


def test_within_a_floor_fewer_changes_are_taken_because_they_cost_no_time() -> None:
    rates = np.array([[2.0, 0.0], [0.0, 2.0], [0.9, 0.9]])
    found = shortest(rates, np.array([8.0, 8.0]), floor_s=9.0)
    assert found is not None
    assert found.used == (2,)
    assert found.total_s == pytest.approx(9.0)


def test_a_demand_that_nothing_serves_is_named() -> None:
    rates = np.array([[1.0, 0.0], [2.0, 1e-14]])
    assert unmet(rates, np.array([1.0, 0.0])) == ()
    assert unmet(rates, np.array([1.0, 1.0])) == ()
    assert unmet(np.array([[1.0, 0.0]]), np.array([1.0, 1.0])) == (1,)
    assert in_one_setting(np.array([1.0, 0.0]), np.array([1.0, 1.0])) is None


def test_settings_that_others_equal_or_beat_are_dropped_once() -> None:
    needs = np.array([[1.0, 1.0, 0.5], [2.0, 2.0, 2.0]])
    assert undominated(needs).tolist() == [0]


@pytest.mark.filterwarnings("error")
def test_amounts_below_a_molecule_are_nothing() -> None:
    settings = [{"name": "a", "flow_m3_s": {"wide": 1e-5, "narrow": 1e-6}}]
    least = run(
        "clamp-schedule", {"configurations": settings, "required_m3": {"wide": 5e-324, "narrow": 1e-5}}
    )
    assert least["total_s"] == pytest.approx(10)
    settings[0]["flow_m3_s"] = {"wide": 5e-324, "narrow": 1e-6}
    with pytest.raises(Refusal) as caught:
        run("clamp-schedule", {"configurations": settings, "required_m3": {"wide": 1e-4, "narrow": 1e-5}})
    assert caught.value.code == "infeasible"
