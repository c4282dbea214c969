"""Networks that must be solved exactly, and networks that must be refused in words."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace

import numpy as np
import pytest

from lumenward.demo.geometry import FAMILIES, channel_ids, load_family, port_ids
from lumenward.hydraulics import annulus, friction, water
from lumenward.hydraulics.network import Fluid, Network, Node, Pump, Tube
from lumenward.hydraulics.solver import Variants, solve, solve_many, warm_up
from lumenward.quantities import Refusal

WATER = Fluid.water(20.0)
IN, OUT, MID = Node("in", 1e5), Node("out", 0.0), Node("mid")


def net(*tubes: Tube, nodes: tuple[Node, ...] = (IN, OUT, MID), **more: object) -> Network:
    return Network(WATER, nodes, tubes, **more)  # type: ignore[arg-type]


def tube(name: str, a: str, b: str, **more: object) -> Tube:
    return Tube(name, a, b, **{"length_m": 1.0, "bore_m": 1e-3, **more})  # type: ignore[arg-type]


def refused(*tubes: Tube, **more: object) -> Refusal:
    with pytest.raises(Refusal) as caught:
        solve(net(*tubes, **more))  # type: ignore[arg-type]
    assert caught.value.message.endswith(".")
    return caught.value


def test_a_laminar_tube_follows_hagen_and_poiseuille() -> None:
    flow = solve(net(tube("t", "in", "out", length_m=3.0), nodes=(IN, OUT)))
    assert flow.of("t") == pytest.approx(math.pi * 1e-12 * 1e5 / (128 * WATER.viscosity_pa_s * 3), rel=1e-12)
    assert flow.wall_shear[0] == pytest.approx(1e5 * 1e-3 / 4 / 3, rel=1e-12)
    assert flow.friction_factor[0] == pytest.approx(64 / flow.reynolds[0], rel=1e-12)


def test_wall_shear_is_the_frictional_drop_over_four_lengths() -> None:
    flow = solve(net(tube("t", "in", "out", bore_m=3e-3, minor_loss=4.0), nodes=(IN, OUT)))
    minor = 4.0 * WATER.density_kg_m3 * flow.velocity[0] ** 2 / 2
    assert flow.wall_shear[0] == pytest.approx((1e5 - minor) * 3e-3 / 4, rel=1e-9)


def test_a_dead_end_carries_nothing_and_stands_at_its_branch_s_pressure() -> None:
    flow = solve(
        net(
            tube("a", "in", "mid"), tube("b", "mid", "out"), tube("stub", "mid", "cap", bore_m=4e-3),
            nodes=(IN, OUT, MID, Node("cap")),
        )
    )  # fmt: skip
    assert flow.of("stub") == 0.0
    assert flow.at("cap") == flow.at("mid")
    assert math.isnan(flow.friction_factor[2])


def test_a_loop_that_hangs_on_one_node_carries_exactly_nothing() -> None:
    nodes = (IN, OUT, MID, Node("x"), Node("y"))
    loop = (tube("l1", "mid", "x"), tube("l2", "x", "y", bore_m=2e-3), tube("l3", "y", "mid"))
    flow = solve(net(tube("a", "in", "mid"), tube("b", "mid", "out"), *loop, nodes=nodes))
    assert [flow.of(t.id) for t in loop] == [0.0, 0.0, 0.0]
    assert flow.at("x") == flow.at("y") == flow.at("mid")


def test_what_clamps_shut_off_on_all_sides_has_no_pressure() -> None:
    flow = solve(net(tube("a", "in", "mid", open=False), tube("b", "mid", "out", open=False)))
    assert np.all(flow.flow == 0)
    assert math.isnan(flow.at("mid"))
    assert flow.imbalance == 0.0


def test_a_closed_tube_holds_back_what_its_ends_differ_by() -> None:
    flow = solve(net(tube("a", "in", "mid"), tube("b", "mid", "out", open=False)))
    assert flow.of("a") == flow.of("b") == 0.0
    assert flow.pressure_drop[1] == 1e5


def test_everything_closed_and_equal_ends_give_no_flow_at_all() -> None:
    level = (Node("in", 5e4), Node("out", 5e4), MID)
    flow = solve(net(tube("a", "in", "mid"), tube("b", "mid", "out", bore_m=4e-3), nodes=level))
    assert np.all(flow.flow == 0)
    assert flow.at("mid") == 5e4


def test_parallel_tubes_share_as_they_would_alone() -> None:
    both = solve(net(tube("a", "in", "out"), tube("b", "in", "out", bore_m=2e-3), nodes=(IN, OUT)))
    for name, bore in (("a", 1e-3), ("b", 2e-3)):
        alone = solve(net(tube(name, "in", "out", bore_m=bore), nodes=(IN, OUT)))
        assert both.of(name) == pytest.approx(alone.of(name), rel=1e-12)


def test_a_symmetric_bridge_carries_nothing_across() -> None:
    nodes = (IN, OUT, Node("l"), Node("r"))
    arms = [tube("il", "in", "l"), tube("ir", "in", "r"), tube("lo", "l", "out"), tube("ro", "r", "out")]
    flow = solve(net(*arms, tube("across", "l", "r", bore_m=3e-3), nodes=nodes))
    assert abs(flow.of("across")) < 1e-9 * flow.of("il")


def test_tiny_and_huge_bores_together_still_balance() -> None:
    chain = [
        tube("hair", "in", "mid", bore_m=2e-5, length_m=5),
        tube("pipe", "mid", "far", bore_m=0.4, length_m=0.01),
        tube("thread", "far", "out", bore_m=5e-5, length_m=5),
        tube("side", "mid", "out", bore_m=1e-4, length_m=2),
    ]
    flow = solve(net(*chain, nodes=(IN, OUT, MID, Node("far"))))
    assert flow.imbalance < 1e-9
    assert flow.of("pipe") == pytest.approx(flow.of("thread"), rel=1e-9)


def test_several_fixed_pressures_are_met_with_flow_either_way() -> None:
    nodes = (IN, OUT, Node("suck", -5e4), MID)
    flow = solve(net(tube("a", "mid", "in"), tube("b", "mid", "out"), tube("c", "suck", "mid"), nodes=nodes))
    assert flow.of("a") < 0 < flow.of("b")
    assert flow.of("c") < 0
    assert flow.imbalance < 1e-12


def test_a_pump_without_slip_delivers_its_flow_whatever_stands_in_its_way() -> None:
    flow = solve(net(tube("t", "mid", "out"), nodes=(OUT, MID), pump=Pump("mid", 2e-6)))
    assert flow.of("t") == pytest.approx(2e-6, rel=1e-12)


def test_a_shut_in_pump_stands_at_its_relief_pressure_or_its_slip() -> None:
    shut = (tube("t", "mid", "out", open=False),)
    relief = solve(net(*shut, nodes=(OUT, MID), pump=Pump("mid", 1e-5, relief_pa=1.5e5)))
    assert relief.at("mid") == pytest.approx(1.5e5 * (1 + 1 / 30), rel=1e-9)
    slip = solve(net(*shut, nodes=(OUT, MID), pump=Pump("mid", 1e-5, 1e-10)))
    assert slip.at("mid") == pytest.approx(1e5, rel=1e-12)
    assert slip.delivered == pytest.approx(0.0, abs=1e-18)


def test_a_pump_with_neither_outlet_nor_slip_nor_relief_is_refused() -> None:
    refusal = refused(tube("t", "mid", "out", open=False), nodes=(OUT, MID), pump=Pump("mid", 1e-5))
    assert (refusal.code, refusal.field) == ("pump-shut-in", "pump")
    two = Variants(open=np.array([[True], [False]]))
    with pytest.raises(Refusal, match="variant 1"):
        solve_many(net(tube("t", "mid", "out"), nodes=(OUT, MID), pump=Pump("mid", 1e-5)), two)


def test_an_annular_tube_carries_more_the_further_the_wire_lies_off_centre() -> None:
    flows = [
        solve(net(tube("t", "in", "out", wire_m=5e-4, eccentricity=e), nodes=(IN, OUT))).of("t")
        for e in (0.0, 0.5, 1.0)
    ]
    assert flows[1] / flows[0] == pytest.approx(annulus.flow_ratio(0.5, 0.5), rel=1e-9)
    assert flows[2] / flows[0] == pytest.approx(annulus.flow_ratio(0.5, 1.0), rel=1e-9)


@pytest.mark.parametrize(
    ("changed", "code", "field", "hint"),
    [
        ({"bore_m": 0.0}, "too-low", "tubes[0].bore_m", ""),
        ({"bore_m": -1e-3}, "too-low", "tubes[0].bore_m", ""),
        ({"bore_m": math.nan}, "not-finite", "tubes[0].bore_m", ""),
        ({"bore_m": 2.8}, "too-high", "tubes[0].bore_m", "did you mean 0.0028?"),
        ({"length_m": 2700.0}, "too-high", "tubes[0].length_m", "did you mean 2.7?"),
        ({"length_m": 0.0}, "too-low", "tubes[0].length_m", ""),
        ({"wire_m": 1e-3}, "too-high", "tubes[0].wire_m", ""),
        ({"wire_m": 0.45}, "too-high", "tubes[0].wire_m", "Did you mean 0.00045?"),
        ({"wire_m": -1e-4}, "too-low", "tubes[0].wire_m", ""),
        ({"eccentricity": 1.5}, "out-of-range", "tubes[0].eccentricity", ""),
        ({"roughness_m": 1.5}, "too-high", "tubes[0].roughness_m", "1.5e-6"),
        ({"roughness_m": -1e-6}, "too-low", "tubes[0].roughness_m", ""),
        ({"minor_loss": -1.0}, "out-of-range", "tubes[0].minor_loss", ""),
        ({"to_node": "nowhere"}, "unknown-node", "tubes[0].to", ""),
        ({"to_node": "in"}, "contradiction", "tubes[0].to", ""),
    ],
)
def test_an_impossible_tube_is_refused_with_its_field(
    changed: dict[str, object], code: str, field: str, hint: str
) -> None:
    refusal = refused(replace(tube("t", "in", "out"), **changed), nodes=(IN, OUT))
    assert (refusal.code, refusal.field) == (code, field)
    assert hint in refusal.hint


@pytest.mark.parametrize(
    ("more", "code", "field"),
    [
        ({"nodes": (IN, OUT, MID)}, "no-way-out", "nodes[2]"),
        ({"nodes": (Node("in"), Node("out"))}, "no-way-out", "nodes"),
        ({"nodes": (IN, OUT, OUT)}, "duplicate", "nodes[2].id"),
        ({"nodes": (Node("in", math.inf), OUT)}, "not-finite", "nodes[0].pressure_pa"),
        ({"nodes": (Node("in", -2e5), OUT)}, "out-of-range", "nodes[0].pressure_pa"),
        ({"nodes": (IN, OUT), "pump": Pump("in", 1e-5)}, "contradiction", "pump.node"),
        ({"nodes": (IN, OUT), "pump": Pump("there", 1e-5)}, "unknown-node", "pump.node"),
        ({"nodes": (Node("in"), OUT), "pump": Pump("in", 750.0)}, "too-high", "pump.flow_m3_s"),
        ({"nodes": (Node("in"), OUT), "pump": Pump("in", -1e-5)}, "too-low", "pump.flow_m3_s"),
        ({"nodes": (Node("in"), OUT), "pump": Pump("in", 1e-5, -1.0)}, "out-of-range", "pump.slip_m3_s_pa"),
        ({"nodes": (Node("in"), OUT), "pump": Pump("in", 1e-5, 0.0, 0.0)}, "out-of-range", "pump.relief_pa"),
        (
            {"nodes": (Node("in"), OUT), "pump": Pump("in", 1e-5, 0.0, 1e-308)},
            "out-of-range",
            "pump.relief_pa",
        ),
        ({"nodes": (IN, OUT), "friction": "hazen"}, "unknown-law", "friction"),
    ],
)
def test_a_network_that_cannot_be_is_refused_with_its_field(
    more: dict[str, object], code: str, field: str
) -> None:
    refusal = refused(tube("t", "in", "out"), **more)
    assert (refusal.code, refusal.field) == (code, field)


def test_a_tube_named_twice_and_a_network_without_tubes_are_refused() -> None:
    assert refused(tube("t", "in", "out"), tube("t", "in", "out"), nodes=(IN, OUT)).field == "tubes[1].id"
    assert refused(nodes=(IN, OUT)).code == "missing"


@pytest.mark.parametrize("value", [-1.0, -0.01, 100.0, 150.0, math.nan])
def test_water_that_is_not_liquid_is_refused(value: float) -> None:
    for of in (water.density, water.viscosity, water.surface_tension, water.saturation_pressure):
        with pytest.raises(Refusal) as caught:
            of(value)
        assert caught.value.field == "temperature_c"
    with pytest.raises(Refusal) as caught:
        Fluid.water(value)
    assert caught.value.field == "fluid.temperature_c"


def test_kelvin_and_fahrenheit_are_recognised() -> None:
    with pytest.raises(Refusal) as caught:
        water.density(293.15)
    assert "20" in caught.value.hint
    with pytest.raises(Refusal) as caught:
        water.density(104.0)
    assert "40" in caught.value.hint


@pytest.mark.parametrize(
    ("density", "viscosity"), [(1.0, 1e-3), (1000.0, 1.0), (1000.0, 0.0), (math.nan, 1e-3)]
)
def test_a_liquid_that_is_none_is_refused(density: float, viscosity: float) -> None:
    with pytest.raises(Refusal) as caught:
        Fluid(density, viscosity)
    assert caught.value.field.startswith("fluid.")


def test_variants_that_do_not_fit_are_refused() -> None:
    network = net(tube("t", "in", "out"), nodes=(IN, OUT))
    cases = [
        {"bore_m": np.ones((3, 2)) * 1e-3},
        {"bore_m": np.array([[1e-3], [-1e-3]])},
        {"bore_m": np.array([[math.nan]])},
        {"roughness_m": np.array([[6e-4]])},
        {"viscosity_pa_s": np.array([[1e-3]])},
        {"pressure_pa": np.array([[1e5]])},
    ]
    for case in cases:
        with pytest.raises(Refusal) as caught:
            solve_many(network, Variants(**case))
        assert caught.value.field.startswith("variants.")
    with pytest.raises(Refusal):
        Variants(bore_m=np.ones((3, 1)), viscosity_pa_s=np.ones(2))


@pytest.mark.parametrize("law", ["colebrook", "swamee-jain", "churchill", "epanet"])
@pytest.mark.parametrize("laminar", [64.0, 95.0, 45.0])
def test_friction_has_no_jump_and_its_slope_is_its_derivative(law: str, laminar: float) -> None:
    curve = friction.prepare(law, np.array([laminar]), np.array([1e-3]))
    for re in (1e-6, 1.0, 1999.0, 2000.0, 2001.0, 2150.0, 2299.0, 2300.0, 3000.0, 4000.0, 4001.0, 1e6):
        step = re * 1e-6
        (low,), _ = curve(np.array([re - step]))
        (high,), _ = curve(np.array([re + step]))
        _, (slope,) = curve(np.array([re]))
        assert (high * (re + step) - low * (re - step)) / (2 * step) == pytest.approx(slope, rel=1e-4)
        assert abs(high - low) < 1e-4 * high


def test_friction_is_laminar_below_two_thousand_whatever_the_roughness() -> None:
    for law in ("colebrook", "swamee-jain", "epanet"):
        assert friction.friction_factor(law, 1500.0, 0.01) == pytest.approx(64 / 1500, rel=1e-14)
    with pytest.raises(Refusal):
        friction.friction_factor("epanet", 0.0, 0.0)
    with pytest.raises(Refusal):
        friction.friction_factor("epanet", 1e4, 0.2)


def test_the_annulus_runs_smoothly_into_its_limits() -> None:
    assert annulus.flow_ratio(0.5, 1.0) == pytest.approx(annulus.flow_ratio(0.5, 1 - 2e-6), rel=1e-5)
    assert annulus.flow_ratio(0.9989, 0.5) == pytest.approx(annulus.flow_ratio(0.9991, 0.5), rel=1e-5)
    assert annulus.flow_ratio(0.3, 1e-9) == pytest.approx(1.0, abs=1e-12)
    assert annulus.laminar_f_re(0.9989) == pytest.approx(annulus.laminar_f_re(0.9991), rel=1e-7)
    assert (annulus.laminar_f_re(0.0), annulus.laminar_f_re(1.0)) == (64.0, 96.0)
    with pytest.raises(Refusal):
        annulus.flow_ratio(1.1, 0.0)


@pytest.mark.parametrize("engine", ["numpy", "compiled"])
def test_rounding_is_not_taken_for_an_overshoot_where_the_pump_sets_every_flow(engine: str) -> None:
    """A pump without slip into one path: the second step is exact, what is left of it is the last digit."""
    hose = Tube("hose", "p", "m", 1.2, 4e-3, minor_loss=1)
    tubes = (
        hose,
        Tube("clamp", "m", "a", 0.4, 4e-3, minor_loss=2),
        Tube("end", "a", "out", 0.01, 1e-2, minor_loss=1),
    )
    nodes = (Node("p"), Node("m"), Node("a"), OUT)
    network = Network(Fluid.water(30.0), nodes, tubes, pump=Pump("p", 1e-5, 0.0, 150e3))
    draw = np.random.default_rng(5)
    bores = np.column_stack([draw.uniform(3.9e-3, 4.1e-3, (3000, 2)), np.full(3000, 1e-2)])
    flows = draw.uniform(0.9e-5, 1.1e-5, 3000)
    batch = solve_many(network, Variants(bore_m=bores, pump_flow_m3_s=flows), engine=engine)
    assert batch.converged.all()
    assert batch.flow == pytest.approx(np.repeat(flows[:, None], 3, axis=1), rel=1e-9)


@pytest.mark.filterwarnings("error")
@pytest.mark.parametrize(
    "ratio", [5e-324, 1e-300, 1e-20, 1e-3, 0.5, 0.998, 0.9989, 0.999, 1 - 1e-12, 1 - 1e-16]
)
def test_the_annulus_stays_between_its_limits_beside_a_hair_and_in_a_hair_wide_gap(ratio: float) -> None:
    offsets = (0.0, 1e-300, 1e-12, 2e-6, 1e-4, 0.5, 1 - 1e-6, 1 - 2e-7, 1 - 1e-7, 1 - 1e-8, 1.0)
    ratios = [annulus.flow_ratio(ratio, offset) for offset in offsets]
    assert 64 <= annulus.laminar_f_re(ratio) <= 96
    assert all(later >= earlier - 1e-6 for earlier, later in itertools.pairwise(ratios))
    assert ratios[0] == 1.0 and ratios[-1] <= 2.5
    assert ratios[-2] == pytest.approx(ratios[-1], rel=1e-6)


@pytest.mark.parametrize("family", FAMILIES)
def test_a_port_opened_alone_feeds_only_its_own_channels(family: str) -> None:
    network = load_family(family)
    flow = solve(network.with_ports(port_ids(family), ["port-suction"]))
    assert flow.of("suction-cord") == pytest.approx(flow.of("biopsy-distal"), rel=1e-12)
    for name in set(channel_ids(family)) & {
        "air",
        "water",
        "aux-water",
        "elevator-wire",
        "balloon",
        "biopsy-stub",
    }:
        assert flow.of(name) == 0.0


@pytest.mark.parametrize("family", FAMILIES)
@pytest.mark.parametrize("law", ["colebrook", "swamee-jain", "churchill", "epanet"])
def test_the_compiled_engine_agrees_with_numpy_on_every_family(family: str, law: str) -> None:
    network = load_family(family, friction=law)
    random = np.random.default_rng(7)
    many, count = 60, len(network.tubes)
    ports = np.array([t.id in port_ids(family) for t in network.tubes])
    variants = Variants(
        bore_m=np.array([t.bore_m for t in network.tubes])
        * (1 + 0.05 * random.standard_normal((many, count))),
        open=~ports | (random.random((many, count)) < 0.6),
        pump_flow_m3_s=1.25e-5 * (1 + 0.05 * random.standard_normal(many)),
    )
    ours, theirs = (solve_many(network, variants, engine=e) for e in ("compiled", "numpy"))
    assert ours.converged.all()
    np.testing.assert_allclose(ours.flow, theirs.flow, rtol=1e-9, atol=1e-18)
    np.testing.assert_allclose(ours.pressure, theirs.pressure, rtol=1e-9, atol=1e-6)
    assert warm_up()


def test_all_four_quantities_of_a_row_are_those_of_the_single_network() -> None:
    network = load_family("duodenoscope")
    row, single = solve_many(network, Variants(count=3)).row(2), solve(network)
    for name in ("velocity", "reynolds", "friction_factor", "wall_shear", "pressure_drop", "volume"):
        np.testing.assert_allclose(getattr(row, name), getattr(single, name), rtol=1e-12)


def test_an_unknown_family_engine_or_port_is_refused() -> None:
    with pytest.raises(Refusal):
        load_family("otoscope")
    with pytest.raises(Refusal):
        solve_many(load_family("bronchoscope"), Variants(count=1), engine="abacus")
    with pytest.raises(Refusal):
        load_family("bronchoscope").with_ports(["port-air"], [])
