"""What really flows in each tube, for one network or for thousands of variants of it.

    solve(network) -> Flow
        tube arrays (T,): flow, velocity, reynolds, friction_factor, wall_shear, pressure_drop, volume
        node array (N,): pressure;  delivered, imbalance, iterations;  flow.of("air"), flow.at("M") by name

    solve_many(network, variants, engine="auto") -> FlowBatch
        the same arrays with the variant first: (B, T) and (B, N); delivered, imbalance,
        iterations, converged (B,);  batch.of("air"), batch.at("M"), batch.row(i) -> Flow

    Variants(bore_m=, length_m=, minor_loss=, roughness_m=, open=   each (B, T) in the order of network.tubes
             pressure_pa=    (B, F) in the order of network.fixed_ids
             density_kg_m3=, viscosity_pa_s=, pump_flow_m3_s=, slip_m3_s_pa=    each (B,)
             count=)         only needed when nothing else says how many

Whatever a variant leaves out stays as in the network. SI throughout, flow in m3/s positive from -> to. Without flow
a tube has no friction factor (NaN), and a node shut off on all sides no pressure (NaN). `engine` is "numpy",
"compiled" (needs numba) or "auto": compiled for large batches where it is there. Both agree to 1e-9.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from functools import cache, lru_cache
from importlib import import_module
from importlib.util import find_spec

import numpy as np
from numpy.typing import NDArray

from lumenward.hydraulics.flows import Flow, FlowBatch
from lumenward.hydraulics.friction import Array
from lumenward.hydraulics.network import Fluid, Network, Node, Tube
from lumenward.hydraulics.newton import Problem, Result, State, coefficients, cold_start, iterate, rebalance
from lumenward.hydraulics.topology import Flags, Layout, Reach, layout, reach
from lumenward.hydraulics.variants import Variants
from lumenward.quantities import Refusal

__all__ = ["Flow", "FlowBatch", "Variants", "solve", "solve_many"]

BLOCK = 1024
WORTH_LOADING = 20_000
WORTH_RUNNING = 1_000
ENGINES = ("auto", "numpy", "compiled")
Rows = NDArray[np.int64]


def solve(network: Network) -> Flow:
    """Return the flow in every tube and the pressure at every node.

    Raises Refusal `pump-shut-in` when the pump has neither outlet nor slip nor relief, `not-converged` when no
    solution is found. Laminar, transition and turbulent; steady, full of liquid, rigid tubes.

    >>> from lumenward.hydraulics.network import Fluid, Network, Node, Tube
    >>> ends = (Node("in", 100e3), Node("out", 0.0))
    >>> flow = solve(Network(Fluid.water(20.0), ends, (Tube("t", "in", "out", 3.0, 1e-3),)))
    >>> round(flow.of("t") * 6e7, 2)
    49.01
    """
    batch = solve_many(network, Variants(count=1), engine="numpy")
    if not batch.converged[0]:
        raise Refusal(
            "not-converged",
            "No steady flow was found for this network.",
            "tubes",
            "Look for a tube whose bore or length is far from all others.",
        )
    return batch.row(0)


def solve_many(network: Network, variants: Variants, engine: str = "auto") -> FlowBatch:
    """Return the flows of every variant; rows that did not converge say so in `converged`.

    `engine` one of auto, numpy, compiled (see the module). Raises Refusal for variants that do not fit the network,
    `pump-shut-in` naming the variant, `unknown-engine`, `no-compiler`.

    >>> from lumenward.hydraulics.network import Fluid, Network, Node, Tube
    >>> ends = (Node("in", 100e3), Node("out", 0.0))
    >>> network = Network(Fluid.water(20.0), ends, (Tube("t", "in", "out", 3.0, 1e-3),))
    >>> [round(q * 6e7, 1) for q in solve_many(network, Variants(bore_m=[[1e-3], [1.2e-3]])).of("t").tolist()]
    [49.0, 101.6]
    """
    if engine not in ENGINES:
        raise Refusal(
            "unknown-engine", f"There is no engine {engine!r}.", "engine", "One of: " + ", ".join(ENGINES)
        )
    variants.check(network)
    plan = _layout(network)
    reaches, which = _reaches(plan, variants.opened(network), variants.size)
    _refuse_shut_in(network, variants, reaches, which)
    run = _compiled if _chosen(engine, variants.size) == "compiled" else _numpy
    result = run(network, plan, variants, reaches, which)
    rough = np.flatnonzero(result.rough)
    if rough.size:
        _rebalance(network, plan, variants, reaches, which, result, rough)
    return _batch(network, variants, reaches, which, result)


def warm_up() -> bool:
    """Compile the batch engine, or load it from its cache; return whether it is there. For install and start.

    The first call on a machine takes about half a minute, later ones under a second. Without numba nothing happens.
    """
    if not has_compiler() or not _loads():
        return False
    ends = (Node("in", 1.0), Node("out", 0.0), Node("between"))
    tubes = (Tube("a", "in", "between", 1.0, 1e-3), Tube("b", "between", "out", 1.0, 1e-3))
    solve_many(Network(Fluid.water(20.0), ends, tubes), Variants(count=2), engine="compiled")
    return True


@cache
def has_compiler() -> bool:
    """Return whether numba is installed; it is not imported for that."""
    return find_spec("numba") is not None


@cache
def _loads() -> bool:
    """Return whether the compiled engine loads: numba may not go with this numpy, or find no place for its code."""
    try:
        import_module("lumenward.hydraulics.compiled")
    except (ImportError, RuntimeError, OSError):
        return False
    return True


def _chosen(engine: str, count: int) -> str:
    if engine == "auto":
        worth = WORTH_RUNNING if "lumenward.hydraulics.compiled" in sys.modules else WORTH_LOADING
        return "compiled" if count >= worth and has_compiler() and _loads() else "numpy"
    if engine == "compiled" and not (has_compiler() and _loads()):
        raise Refusal(
            "no-compiler",
            "The compiled engine needs numba, which is not installed or does not load.",
            "engine",
            "Use numpy.",
        )
    return engine


@lru_cache(maxsize=64)
def _layout(network: Network) -> Layout:
    return layout(network)


@lru_cache(maxsize=8192)
def _reach(plan: Layout, mask: bytes) -> Reach:
    return reach(plan, np.frombuffer(mask, dtype=np.bool_))


def _reaches(plan: Layout, opened: Flags, count: int) -> tuple[list[Reach], Rows]:
    """Return what each different setting of clamps leaves, and which setting each variant has."""
    settings, which = _distinct(opened)
    found = [_reach(plan, np.ascontiguousarray(row).tobytes()) for row in settings]
    return found, np.broadcast_to(which, (count,)).astype(np.int64)


def _distinct(opened: Flags) -> tuple[Flags, Rows]:
    """Return the different rows, and which of them each row is; as numbers where they fit, which sorts faster."""
    tubes = opened.shape[1]
    if tubes > 62:
        rows, which = np.unique(opened, axis=0, return_inverse=True)
        return rows, which.reshape(-1)
    codes = opened @ (1 << np.arange(tubes, dtype=np.int64))
    _, first, which = np.unique(codes, return_index=True, return_inverse=True)
    return opened[first], which


def _refuse_shut_in(network: Network, variants: Variants, reaches: list[Reach], which: Rows) -> None:
    pump = network.pump
    if pump is None or pump.relief_pa is not None:
        return
    stuck = ~np.array([r.pump_works for r in reaches])[which]
    stuck = stuck & (variants.scalar("slip_m3_s_pa", pump.slip_m3_s_pa) == 0)
    stuck = stuck & (variants.scalar("pump_flow_m3_s", pump.flow_m3_s) > 0)
    if stuck.any():
        where = "" if variants.size == 1 else f" in variant {int(np.argmax(stuck))}"
        raise Refusal(
            "pump-shut-in",
            f"The pump at {pump.node!r} has no open way out{where}, and neither slip nor a relief valve: "
            "its pressure would rise without end.",
            "pump",
            "Open a tube that leads out, or give the pump's slip or relief pressure.",
        )


def _numpy(network: Network, plan: Layout, variants: Variants, reaches: list[Reach], which: Rows) -> Result:
    warm = _may_start_warm(variants) and len(reaches) * 4 <= variants.size
    starts = _starts(network, plan, reaches) if warm else None
    parts = [
        _solve_block(network, plan, variants.rows(p), reaches, which[p], starts)
        for p in _parts(variants.size)
    ]
    return Result(
        np.concatenate([r.flow for r in parts], axis=1),
        np.concatenate([r.pressure for r in parts], axis=1),
        np.concatenate([r.relief_on for r in parts]),
        np.concatenate([r.iterations for r in parts]),
        np.concatenate([r.converged for r in parts]),
        np.concatenate([r.rough for r in parts]),
    )


def _compiled(
    network: Network, plan: Layout, variants: Variants, reaches: list[Reach], which: Rows
) -> Result:
    from lumenward.hydraulics.compiled import solve_rows

    pump, warm = network.pump, _may_start_warm(variants)
    relief = pump.relief_pa if pump and pump.relief_pa is not None else np.inf
    names = ("length_m", "roughness_m", "minor_loss")
    tubes = [variants.tube_values(network, name) for name in names]
    return solve_rows(
        plan,
        network.friction,
        variants.size,
        (np.array([r.active for r in reaches]), np.array([r.anchors for r in reaches]), which),
        (variants.bore(network), variants.wire(network), *tubes, variants.laminar(network)),
        (
            variants.scalar("density_kg_m3", network.fluid.density_kg_m3),
            variants.scalar("viscosity_pa_s", network.fluid.viscosity_pa_s),
        ),
        variants.fixed(network),
        (
            variants.scalar("pump_flow_m3_s", pump.flow_m3_s if pump else 0.0),
            variants.scalar("slip_m3_s_pa", pump.slip_m3_s_pa if pump else 0.0),
            1 / (pump.relief_rise * relief) if pump else 0.0,
            relief,
        ),
        _starts(network, plan, reaches) if warm else _rest(plan, reaches, relief),
        warm,
    )


def _parts(count: int) -> Iterator[slice]:
    for start in range(0, count, BLOCK):
        yield slice(start, min(start + BLOCK, count))


def _may_start_warm(variants: Variants) -> bool:
    """Say no where a variant may be at rest: from a moving start it would keep a remainder of rounding."""
    pumped = variants.pump_flow_m3_s
    return variants.pressure_pa is None and (pumped is None or bool((pumped > 0).all()))


def _starts(network: Network, plan: Layout, reaches: list[Reach]) -> Result:
    """Solve the unchanged network once for each setting of its clamps: where the variants start from."""
    count = len(reaches)
    return _solve_block(network, plan, Variants(count=count), reaches, np.arange(count), None)


def _solve_block(
    network: Network,
    plan: Layout,
    variants: Variants,
    reaches: list[Reach],
    which: Rows,
    starts: Result | None,
) -> Result:
    problem = _problem(network, plan, variants, reaches, which)
    tubes = coefficients(problem)
    if starts is None or not starts.converged.all():
        return iterate(problem, tubes, cold_start(problem, tubes), warm=False)
    pressure = np.where(_fixed_rows(plan), problem.pressure, starts.pressure[:, which])
    start = State(starts.flow[:, which], pressure, starts.relief_on[which])
    return iterate(problem, tubes, start, warm=True)


def _rest(plan: Layout, reaches: list[Reach], relief_pa: float) -> Result:
    """Return a start without any flow; the relief valve is open where the pump has no other way."""
    count, nodes = len(reaches), len(plan.fixed) + len(plan.free)
    opened = np.array([np.isfinite(relief_pa) and not r.pump_works for r in reaches])
    still = np.zeros(count, dtype=np.int64)
    return Result(
        np.zeros((len(plan.tail), count)), np.zeros((nodes, count)), opened, still, still == 0, still > 0
    )


def _rebalance(
    network: Network,
    plan: Layout,
    variants: Variants,
    reaches: list[Reach],
    which: Rows,
    result: Result,
    rough: Rows,
) -> None:
    problem = _problem(network, plan, variants.rows(rough), reaches, which[rough])
    state = State(result.flow[:, rough], result.pressure[:, rough], result.relief_on[rough])
    rebalance(problem, coefficients(problem), state)
    result.flow[:, rough] = state.flow
    result.pressure[:, rough] = state.pressure


def _fixed_rows(plan: Layout) -> Flags:
    rows = np.zeros((len(plan.fixed) + len(plan.free), 1), dtype=np.bool_)
    rows[list(plan.fixed)] = True
    return rows


def _problem(
    network: Network, plan: Layout, variants: Variants, reaches: list[Reach], which: Rows
) -> Problem:
    count, pump = variants.size, network.pump
    pressure = np.zeros((len(network.nodes), count))
    pressure[list(plan.fixed)] = variants.fixed(network).T
    pressure = np.take_along_axis(pressure, np.array([r.anchors for r in reaches])[which].T, axis=0)
    flow = variants.scalar("pump_flow_m3_s", pump.flow_m3_s if pump else 0.0)
    slip = variants.scalar("slip_m3_s_pa", pump.slip_m3_s_pa if pump else 0.0)
    relief = pump.relief_pa if pump and pump.relief_pa is not None else np.inf
    rise = pump.relief_rise * relief if pump else np.inf
    return Problem(
        plan,
        network.friction,
        bore=variants.bore(network).T,
        wire=variants.wire(network).T,
        eccentricity=np.array([[t.eccentricity] for t in network.tubes]),
        length=variants.tube_values(network, "length_m").T,
        roughness=variants.tube_values(network, "roughness_m").T,
        minor_loss=variants.tube_values(network, "minor_loss").T,
        density=variants.scalar("density_kg_m3", network.fluid.density_kg_m3),
        viscosity=variants.scalar("viscosity_pa_s", network.fluid.viscosity_pa_s),
        active=np.array([r.active for r in reaches])[which].T,
        pressure=pressure,
        pump_flow=np.broadcast_to(flow, (count,)),
        slip=np.broadcast_to(slip, (count,)),
        relief_gain=np.broadcast_to(flow / rise, (count,)),
        relief_pa=relief,
    )


def _batch(
    network: Network, variants: Variants, reaches: list[Reach], which: Rows, result: Result
) -> FlowBatch:
    flow, pressure = np.ascontiguousarray(result.flow.T), np.ascontiguousarray(result.pressure.T)
    order = np.argsort(which, kind="stable")
    edges = np.searchsorted(which[order], np.arange(len(reaches) + 1))
    for number, found in enumerate(reaches):
        rows = order[edges[number] : edges[number + 1]]
        for node, source in found.copies:
            pressure[rows, node] = pressure[rows, source]
        for node in found.unknown:
            pressure[rows, node] = np.nan
    given = _given(network, variants, pressure)
    return FlowBatch(network, variants, flow, pressure, given, result.iterations, result.converged)


def _given(network: Network, variants: Variants, pressure: Array) -> Array:
    pump = network.pump
    if pump is None:
        return np.zeros(variants.size)
    at = pressure[:, network.node_index[pump.node]]
    flow = variants.scalar("pump_flow_m3_s", pump.flow_m3_s)
    given = flow - variants.scalar("slip_m3_s_pa", pump.slip_m3_s_pa) * at
    if pump.relief_pa is None:
        return given
    return np.asarray(given - flow / (pump.relief_rise * pump.relief_pa) * np.maximum(at - pump.relief_pa, 0))
