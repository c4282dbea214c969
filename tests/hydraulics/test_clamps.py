from __future__ import annotations

import time
from copy import deepcopy
from typing import Any

import numpy as np
import pytest

from lumenward.calculations import find, run
from lumenward.calculations.case import parse
from lumenward.demo.geometry import FAMILIES, channel_ids, load_family, port_ids
from lumenward.hydraulics.clamp_settings import every_setting
from lumenward.hydraulics.clamp_words import binding
from lumenward.hydraulics.clamps import ClampPlan, Shear, clamp_plan
from lumenward.hydraulics.network import Fluid, Network, Node, Pump, Tube
from lumenward.hydraulics.solver import solve
from lumenward.quantities import Refusal


def _channels(family: str) -> list[str]:
    return [name for name in channel_ids(family) if name != "biopsy-stub"]


def _volumes(family: str, times: float) -> dict[str, float]:
    held = {tube.id: tube.volume_m3 for tube in load_family(family).tubes}
    return {name: times * held[name] for name in _channels(family)}


def _plan(family: str, times: float = 5.0, **more: Any) -> ClampPlan:
    return clamp_plan(load_family(family), port_ids(family), _volumes(family, times), **more)


def _case(**changes: Any) -> dict[str, Any]:
    case = deepcopy(find("clamp-plan").EXAMPLE)
    case.update(changes)
    return {key: value for key, value in case.items() if value is not None}


def _refusal(**changes: Any) -> Refusal:
    with pytest.raises(Refusal) as refused:
        run("clamp-plan", _case(**changes))
    return refused.value


@pytest.mark.parametrize("family", FAMILIES)
@pytest.mark.parametrize(
    "more", [{}, {"switch_s": 4.0}, {"floor_s": 25.0}, {"switch_s": 2.0, "floor_s": 25.0}]
)
def test_no_plan_is_longer_than_all_open_or_one_at_a_time(family: str, more: dict[str, float]) -> None:
    plan = _plan(family, **more)
    assert plan.all_open_s is not None and plan.one_at_a_time_s is not None
    assert plan.total_s <= min(plan.all_open_s, plan.one_at_a_time_s) * (1 + 1e-9)
    assert plan.schedule.proven


@pytest.mark.parametrize("family", FAMILIES)
def test_the_turns_solved_again_give_every_channel_its_volume(family: str) -> None:
    plan, network = _plan(family), load_family(family)
    given = dict.fromkeys(_channels(family), 0.0)
    for turn in plan.turns:
        flow = solve(network.with_ports(port_ids(family), turn.open))
        for name in given:
            given[name] += abs(flow.of(name)) * turn.duration_s
    for name, volume in _volumes(family, 5.0).items():
        assert given[name] >= volume * (1 - 1e-8)
        assert plan.volume_m3(name) == pytest.approx(given[name], rel=1e-8)


def test_scaling_volumes_scales_the_plan() -> None:
    one, four = _plan("gastroscope", 5.0), _plan("gastroscope", 20.0)
    assert four.total_s == pytest.approx(4 * one.total_s, rel=1e-9)
    assert four.all_open_s == pytest.approx(4 * (one.all_open_s or 0), rel=1e-9)
    assert four.one_at_a_time_s == pytest.approx(4 * (one.one_at_a_time_s or 0), rel=1e-9)


def test_more_flow_needed_never_makes_the_plan_shorter() -> None:
    required = _volumes("duodenoscope", 5.0)
    network, ports = load_family("duodenoscope"), port_ids("duodenoscope")
    before = clamp_plan(network, ports, required).total_s
    for name in required:
        more = {**required, name: 2 * required[name]}
        assert clamp_plan(network, ports, more).total_s >= before * (1 - 1e-9)


def test_the_order_of_ports_and_tubes_does_not_matter() -> None:
    network, ports = load_family("gastroscope"), port_ids("gastroscope")
    turned = Network(network.fluid, network.nodes[::-1], network.tubes[::-1], network.pump, network.friction)
    required = _volumes("gastroscope", 5.0)
    backwards = clamp_plan(turned, ports[::-1], dict(reversed(required.items())))
    assert backwards.total_s == pytest.approx(clamp_plan(network, ports, required).total_s, rel=1e-8)


def test_a_pump_without_slip_takes_the_sum_of_volumes_over_its_flow() -> None:
    nodes = (Node("P"), Node("out", 0.0))
    tubes = (Tube("wide", "P", "out", 1.0, 3e-3), Tube("narrow", "P", "out", 1.0, 1e-3))
    network = Network(Fluid.water(20.0), nodes, tubes, Pump("P", 10e-6))
    plan = clamp_plan(network, ["wide", "narrow"], {"wide": 70e-6, "narrow": 30e-6})
    assert plan.total_s == pytest.approx(10.0, rel=1e-9)


def test_channels_on_a_steady_pressure_take_as_long_as_the_slowest() -> None:
    nodes = (Node("P", 50e3), Node("out", 0.0))
    tubes = (Tube("wide", "P", "out", 1.0, 3e-3), Tube("narrow", "P", "out", 2.0, 1e-3))
    network = Network(Fluid.water(20.0), nodes, tubes)
    plan = clamp_plan(network, ["wide", "narrow"], {"wide": 70e-6, "narrow": 30e-6})
    flow = solve(network)
    assert plan.total_s == pytest.approx(max(70e-6 / flow.of("wide"), 30e-6 / flow.of("narrow")), rel=1e-9)


def test_narrow_channels_have_their_turn_first() -> None:
    turns = _plan("colonoscope", switch_s=4.0).turns
    assert "port-suction" not in turns[0].open
    assert "port-suction" in turns[-1].open


def test_no_turn_exceeds_a_cap_for_the_whole() -> None:
    plan = _plan("colonoscope", pressure_cap_pa=120e3)
    assert max(turn.highest_pa for turn in plan.turns) <= 120e3
    assert plan.total_s > _plan("colonoscope").total_s
    assert plan.one_at_a_time_s is None
    assert any("pressure cap" in said for said in binding(plan))


def test_a_cap_on_one_tube_counts_only_where_that_tube_is_open() -> None:
    capped = _plan("colonoscope", pressure_cap_pa={"port-aux-water": 60e3})
    for turn in capped.turns:
        if "port-aux-water" in turn.open:
            assert turn.highest_pa < 66e3
    settings = capped.settings
    closed = np.array(["port-aux-water" not in names for names in settings.open])
    assert settings.allowed[closed].all()
    assert settings.highest[closed].max() > 100e3


def test_shear_takes_its_seconds_in_settings_strong_enough() -> None:
    plan = _plan("gastroscope", shear=Shear(2.0, 30.0))
    settings = plan.settings
    for position, name in enumerate(settings.channels):
        strong = sum(
            turn.duration_s
            for turn in plan.turns
            if settings.shear[settings.open.index(turn.open), position] >= 2.0 * (1 - 1e-9)
        )
        assert strong >= 30.0 * (1 - 1e-9), name


def test_a_shear_out_of_reach_names_the_channel_and_the_most_there_is() -> None:
    with pytest.raises(Refusal, match=r"suction-cord cannot reach a wall shear of 10 Pa.*most.* 5\.\d"):
        _plan("colonoscope", shear=Shear(10.0, 5.0))


def test_the_floor_of_the_whole_is_never_undercut_and_says_so() -> None:
    plan = _plan("gastroscope", floor_s=60.0)
    assert plan.total_s == pytest.approx(60.0, rel=1e-12)
    assert "The floor of 60.0 s decides" in binding(plan)[0]
    for name, volume in _volumes("gastroscope", 5.0).items():
        assert plan.volume_m3(name) > volume


def test_dearer_changes_never_use_more_settings_nor_take_less_time() -> None:
    plans = [_plan("echoendoscope", switch_s=price) for price in (0.0, 1.0, 5.0, 20.0, 200.0)]
    assert [p.schedule.changes for p in plans] == sorted((p.schedule.changes for p in plans), reverse=True)
    assert [p.total_s for p in plans] == sorted(p.total_s for p in plans)
    assert plans[-1].schedule.changes == 1


def test_what_limits_the_plan_adds_up_to_the_whole() -> None:
    plan = _plan("duodenoscope")
    assert sum(share for _, _, share in plan.shares) == pytest.approx(1.0, abs=1e-12)
    assert plan.shares[0][2] == max(share for _, _, share in plan.shares)
    assert binding(plan)[0].startswith(f"{plan.shares[0][0]}: its volume decides")


def test_a_clamp_left_out_of_the_ports_stays_as_the_network_has_it() -> None:
    settings = every_setting(load_family("gastroscope"), ["port-air"], ["suction-cord", "air"])
    assert settings.open == (("port-air",),)
    assert (settings.flow > 0).all()


def test_six_ports_are_planned_in_a_moment_with_and_without_a_cost_of_changes() -> None:
    times: dict[float, list[float]] = {0.0: [], 4.0: []}
    for switch, taken in times.items():
        for _ in range(3):
            start = time.process_time()
            _plan("echoendoscope", switch_s=switch)
            taken.append(time.process_time() - start)
    assert min(times[0.0]) < 0.2
    assert min(times[4.0]) < 0.4


def test_planning_needs_no_scipy() -> None:
    import subprocess
    import sys

    script = (
        "import sys; from lumenward.calculations import find, run; "
        "run('clamp-plan', find('clamp-plan').EXAMPLE); run('diagnose', find('diagnose').EXAMPLE); "
        "print('scipy' in sys.modules, 'numba' in sys.modules, 'django' in sys.modules)"
    )
    done = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, check=True, timeout=120
    )
    assert done.stdout.split() == ["False", "False", "False"]


def test_the_calculation_gives_the_keys_of_its_contract() -> None:
    result = run("clamp-plan", find("clamp-plan").EXAMPLE)
    assert {"steps", "total_s", "all_open_s", "one_at_a_time_s", "binding"} <= result.keys()
    assert result["total_s"] == pytest.approx(
        sum(s["duration_s"] for s in result["steps"]) + 3 * len(result["steps"])
    )
    assert all(set(step["open"]) <= {"clamp-wide", "clamp-narrow"} for step in result["steps"])
    assert result["running_s"] >= 10


def test_required_volumes_may_be_given_in_place_of_channel_volumes() -> None:
    required = {"wide": 1e-4, "narrow": 2e-5}
    result = run("clamp-plan", _case(volumes=None, required_m3=required))
    for channel in result["channels"]:
        assert channel["delivered_m3"] >= required[channel["id"]] * (1 - 1e-9)


@pytest.mark.parametrize(
    ("changes", "code", "field"),
    [
        ({"ports": []}, "missing", "ports"),
        ({"ports": ["clamp-wide", "nowhere"]}, "unknown-tube", "ports[1]"),
        ({"ports": ["clamp-wide", "clamp-wide"]}, "duplicate", "ports[1]"),
        ({"channels": ["wide", "nowhere"]}, "unknown-tube", "channels[1]"),
        ({"channels": None}, "missing", "channels"),
        ({"volumes": None}, "missing", "volumes"),
        ({"volumes": -5}, "too-low", "volumes"),
        ({"required_m3": {"wide": 1e-4, "narrow": 1e-5}}, "contradiction", "volumes"),
        ({"volumes": None, "required_m3": {"wide": 1e-4}}, "missing", "channels[1]"),
        ({"volumes": None, "required_m3": {"wide": 1, "narrow": 0, "x": 1}}, "unknown-key", "required_m3.x"),
        ({"volumes": None, "required_m3": {"wide": 100.0, "narrow": 0.0}}, "too-high", "required_m3.wide"),
        ({"switch_s": -1}, "too-low", "switch_s"),
        ({"floor_s": -1}, "too-low", "floor_s"),
        ({"floor_s": float("nan")}, "not-finite", "floor_s"),
        ({"pressure_cap_pa": 0}, "out-of-range", "pressure_cap_pa"),
        ({"pressure_cap_pa": "high"}, "not-valid", "pressure_cap_pa"),
        ({"pressure_cap_pa": {"wide": "high"}}, "not-valid", "pressure_cap_pa"),
        ({"pressure_cap_pa": {"nowhere": 1e5}}, "unknown-tube", "pressure_cap_pa.nowhere"),
        ({"shear": {"minimum_pa": -1, "seconds": 5}}, "too-low", "shear.minimum_pa"),
        ({"shear": {"minimum_pa": 500, "seconds": 5}}, "infeasible", "shear.minimum_pa"),
        ({"pressure_cap_pa": 1000}, "infeasible", "pressure_cap_pa"),
        ({"speed": 1}, "unknown-key", "speed"),
    ],
)
def test_a_plan_that_cannot_be_is_refused_with_its_field(
    changes: dict[str, Any], code: str, field: str
) -> None:
    refusal = _refusal(**changes)
    assert (refusal.code, refusal.field) == (code, field)
    assert refusal.message


def test_a_cap_nothing_can_keep_names_channel_cap_and_what_is_reached() -> None:
    refusal = _refusal(pressure_cap_pa={"narrow": 20e3})
    assert "narrow gets flow only in settings above the pressure cap of 20 kPa at narrow" in refusal.message


def test_a_closed_path_is_named() -> None:
    network = deepcopy(find("clamp-plan").EXAMPLE["network"])
    network["tubes"][4]["open"] = False
    refusal = _refusal(network=network)
    assert refusal.code == "infeasible"
    assert "narrow gets no flow in any setting of the clamps: its path is closed." in refusal.message


def test_a_network_that_cannot_be_is_refused_within_the_network() -> None:
    network = deepcopy(find("clamp-plan").EXAMPLE["network"])
    network["tubes"][3]["bore_m"] = 2.8
    refusal = _refusal(network=network)
    assert refusal.field == "network.tubes[3].bore_m"
    assert "0.0028" in refusal.hint


def test_a_pump_without_slip_or_relief_is_planned_without_the_settings_that_shut_it_in() -> None:
    network = deepcopy(find("clamp-plan").EXAMPLE["network"])
    network["pump"] = {"node": "pump", "flow_m3_s": 1.25e-5}
    network["tubes"][4]["open"] = False
    result = run("clamp-plan", _case(network=network, channels=["wide"], floor_s=0.0))
    assert result["settings"] == 2
    assert result["total_s"] > 0


def test_the_picture_compares_each_turn_with_all_ports_open() -> None:
    module = find("clamp-plan")
    case = parse(module.Input, module.EXAMPLE)
    result = module.run(case)
    chart = module.picture(case, result)
    assert [series.kind for series in chart.series] == ["bars"] * (1 + len(result.steps))
    assert chart.series[0].name == "all ports open"
    assert chart.series[1].y[0] is None
    assert all(len(series.y) == 2 and any(series.y) for series in chart.series)
