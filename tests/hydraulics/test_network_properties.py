"""What must hold in every network, tried on networks nobody drew."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from lumenward.hydraulics.network import LAWS, Fluid, Network, Node, Pump, Tube
from lumenward.hydraulics.solver import Variants, has_compiler, solve, solve_many
from lumenward.quantities import Refusal

QUICK = settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.filter_too_much])


@st.composite
def tubes_between(draw: st.DrawFn, ends: list[str]) -> Tube:
    a, b = draw(st.permutations(ends))[:2]
    bore = draw(st.sampled_from([2e-5, 4e-4, 1e-3, 2.8e-3, 4e-3, 0.05, 0.3]))
    wire = draw(st.sampled_from([0.0, 0.0, 0.5]))
    return Tube(
        "",
        a,
        b,
        length_m=draw(st.floats(0.005, 40)),
        bore_m=bore * draw(st.floats(0.7, 1.4)),
        wire_m=wire * bore,
        eccentricity=draw(st.sampled_from([0.0, 0.5, 1.0])) if wire else 0.0,
        roughness_m=draw(st.sampled_from([0.0, 1.5e-6])),
        minor_loss=draw(st.sampled_from([0.0, 1.5, 30.0])),
        open=draw(st.sampled_from([True, True, True, False])),
    )


@st.composite
def networks(draw: st.DrawFn, *, pumped: bool | None = None) -> Network:
    """Draw loops, parallel tubes, dead ends, several fixed pressures, closed clamps, wide and tiny bores."""
    count = draw(st.integers(2, 7))
    names = [f"n{i}" for i in range(count)]
    pressures = [0.0, *(draw(st.sampled_from([None, None, 0.0, 8e4, -3e4, 3e5])) for _ in names[1:])]
    tubes = [replace(draw(tubes_between(names)), id=f"t{i}") for i in range(draw(st.integers(1, 12)))]
    free = [n for n, p in zip(names, pressures, strict=True) if p is None]
    pump = None
    if pumped or (pumped is None and free and draw(st.booleans())):
        assume(free)
        slip = draw(st.sampled_from([1.25e-11, 1e-9]))
        pump = Pump(
            draw(st.sampled_from(free)),
            draw(st.floats(1e-8, 1e-4)),
            slip,
            draw(st.sampled_from([None, 1.5e5])),
        )
    water = Fluid.water(draw(st.floats(5, 80)))
    nodes = tuple(Node(n, p) for n, p in zip(names, pressures, strict=True))
    try:
        return Network(water, nodes, tuple(tubes), pump, draw(st.sampled_from(LAWS)))
    except Refusal as refusal:
        assume(refusal.code != "no-way-out")
        raise


def close(ours: np.ndarray, theirs: np.ndarray, relative: float = 1e-9) -> bool:
    """Compare flows; below 1e-11 of the largest, a flow is what rounding left of it."""
    floor = 1e-11 * np.max(np.abs(theirs), initial=0.0)
    return bool(
        np.all(np.abs(ours - theirs) <= relative * np.abs(theirs) + floor * relative + 1e-13 * floor + floor)
    )


@QUICK
@given(networks())
def test_what_flows_in_flows_out_and_pressures_agree_with_drops(network: Network) -> None:
    flow = solve(network)
    assert flow.imbalance < 1e-9
    across = np.array([flow.at(t.from_node) - flow.at(t.to_node) for t in network.tubes])
    known = ~np.isnan(across)
    scale = np.nanmax(np.abs(flow.pressure))
    assert np.all(np.abs(across - flow.pressure_drop)[known] <= 1e-9 * scale)


@QUICK
@given(networks())
def test_closed_tubes_carry_exactly_nothing(network: Network) -> None:
    flow = solve(network)
    shut = np.array([not t.open for t in network.tubes])
    assert np.all(flow.flow[shut] == 0)


@QUICK
@given(networks(), st.randoms(use_true_random=False))
def test_the_order_and_direction_of_tubes_do_not_matter(network: Network, random: object) -> None:
    turned = [
        replace(t, from_node=t.to_node, to_node=t.from_node) if i % 2 else t
        for i, t in enumerate(network.tubes)
    ]
    signs = {t.id: -1 if i % 2 else 1 for i, t in enumerate(network.tubes)}
    random.shuffle(turned)  # type: ignore[attr-defined]
    nodes = tuple(reversed(network.nodes))
    other = solve(replace(network, tubes=tuple(turned), nodes=nodes))
    same = np.array([other.of(t.id) * signs[t.id] for t in network.tubes])
    assert close(same, solve(network).flow)


@QUICK
@given(networks(pumped=False))
def test_opposite_pressures_drive_opposite_flows(network: Network) -> None:
    assume(all(n.pressure_pa is None or abs(n.pressure_pa) < 1e5 for n in network.nodes))
    nodes = tuple(Node(n.id, None if n.pressure_pa is None else -n.pressure_pa) for n in network.nodes)
    assert close(-solve(replace(network, nodes=nodes)).flow, solve(network).flow)


@QUICK
@given(networks(), st.integers(0, 2**32 - 1))
def test_a_batch_equals_its_variants_one_at_a_time(network: Network, seed: int) -> None:
    random = np.random.default_rng(seed)
    many, count = 5, len(network.tubes)
    variants = Variants(
        bore_m=np.minimum([t.bore_m for t in network.tubes] * (1 + 0.3 * random.random((many, count))), 0.5),
        length_m=[t.length_m for t in network.tubes] * (1 + random.random((many, count))),
        minor_loss=20 * random.random((many, count)),
        open=random.random((many, count)) < 0.8,
        viscosity_pa_s=1e-3 * (0.5 + random.random(many)),
        pressure_pa=1e5 * random.random((many, len(network.fixed_ids))),
    )
    batches = [solve_many(network, variants, engine="numpy")]
    if has_compiler():
        batches.append(solve_many(network, variants, engine="compiled"))
    for i in range(many):
        single = solve(_one(network, variants, i))
        for batch in batches:
            assert batch.converged[i]
            assert close(batch.flow[i], single.flow)
            assert np.array_equal(np.isnan(batch.pressure[i]), np.isnan(single.pressure))


def _one(network: Network, variants: Variants, i: int) -> Network:
    names = ("bore_m", "length_m", "minor_loss")
    tubes = [
        replace(t, open=bool(variants.open[i, j]), **{n: float(getattr(variants, n)[i, j]) for n in names})
        for j, t in enumerate(network.tubes)
    ]
    fixed = dict(zip(network.fixed_ids, map(float, variants.pressure_pa[i]), strict=True))
    nodes = tuple(Node(n.id, fixed.get(n.id)) for n in network.nodes)
    fluid = Fluid(network.fluid.density_kg_m3, float(variants.viscosity_pa_s[i]))
    return replace(network, fluid=fluid, nodes=nodes, tubes=tuple(tubes))


@QUICK
@given(networks(pumped=False), st.integers(0, 11))
def test_opening_a_tube_at_constant_pressure_never_lowers_the_total(network: Network, which: int) -> None:
    """One source at 80 kPa, every other fixed end in the room."""
    first = network.fixed_ids[0]
    nodes = tuple(
        Node(n.id, None if n.pressure_pa is None else 8e4 if n.id == first else 0.0) for n in network.nodes
    )
    name = network.tubes[which % len(network.tubes)].id
    assume(not all(t.open for t in network.tubes))
    shut = replace(
        network, nodes=nodes, tubes=tuple(replace(t, open=t.open and t.id != name) for t in network.tubes)
    )
    opened = replace(shut, tubes=tuple(replace(t, open=t.open or t.id == name) for t in shut.tubes))
    assert _leaving(solve(opened), first) >= _leaving(solve(shut), first) * (1 - 1e-9) - 1e-22


def _leaving(flow, node: str) -> float:  # type: ignore[no-untyped-def]
    tubes = flow.network.tubes
    return sum(
        q * (t.from_node == node) - q * (t.to_node == node) for t, q in zip(tubes, flow.flow, strict=True)
    )


@QUICK
@given(networks(pumped=True))
def test_the_pump_gives_what_its_curve_says(network: Network) -> None:
    flow, pump = solve(network), network.pump
    assert pump is not None
    at = flow.at(pump.node)
    over = max(0.0, at - pump.relief_pa) * pump.relief_m3_s_pa if pump.relief_pa else 0.0
    assert flow.delivered == pytest.approx(
        pump.flow_m3_s - pump.slip_m3_s_pa * at - over, abs=1e-9 * pump.flow_m3_s
    )
    assert -_into(flow, pump.node) == pytest.approx(flow.delivered, abs=1e-9 * pump.flow_m3_s)


def _into(flow, node: str) -> float:  # type: ignore[no-untyped-def]
    return -_leaving(flow, node)


@given(st.sampled_from(LAWS), st.floats(1e-12, 1e-2))
@settings(max_examples=60, deadline=None)
def test_a_tube_driven_by_its_own_drop_carries_its_flow(law: str, wanted: float) -> None:
    """dp(Q) and Q(dp) are inverse, and dp(-Q) = -dp(Q): read the drop off one net, drive another with it."""
    tube = Tube("t", "a", "b", 1.7, 2.8e-3, minor_loss=2.0)
    fluid = Fluid.water(20.0)
    pumped = Network(fluid, (Node("a"), Node("b", 0.0)), (tube,), Pump("a", wanted), law)
    drop = solve(pumped).at("a")
    assume(1e-3 < drop < 9e7)
    for sign in (1, -1):
        ends = (Node("a", max(sign * drop, 0.0)), Node("b", max(-sign * drop, 0.0)))
        assert solve(Network(fluid, ends, (tube,), None, law)).of("t") == pytest.approx(
            sign * wanted, rel=1e-9
        )
