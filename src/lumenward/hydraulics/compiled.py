"""The same iteration as in `newton`, one variant after the other, compiled by numba.

Imported only when asked for: everything works without numba. The machine code is kept on disk beside this file (or
where NUMBA_CACHE_DIR points), so only the first call after an installation waits for the compiler. The functions
release the interpreter lock and run in ordinary threads, as many as there are processors.
"""

from __future__ import annotations

import math
import os
from collections.abc import Iterable
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import numpy as np
from numba import njit
from numpy.typing import NDArray

from lumenward.hydraulics.friction import Array
from lumenward.hydraulics.newton import (
    AT_RELIEF,
    BALANCED,
    BLUR,
    COLD_REYNOLDS,
    OVERSHOOT,
    ROUNDING,
    SETTLED,
    SMALL_STEP,
    STEPS,
    Result,
)
from lumenward.hydraulics.topology import Flags, Layout

LAW_NUMBERS = {"epanet": 0, "swamee-jain": 1, "colebrook": 2, "churchill": 3}
CHUNKS_A_THREAD = 4
_LOG = -2.0 / math.log(10.0)
_compile = njit(cache=True, nogil=True, error_model="numpy")


@_compile
def _turbulent(
    law: int, re: float, zeta: float, rough: float, smooth: float, log: float
) -> tuple[float, float]:
    """Return f Re and its slope from smooth = 5.74 (zeta Re)^-0.9 and log = ln(rough + smooth)."""
    root = _LOG * log
    if law != 2:
        one = 1 / root
        product = re * one * one
        return product, product * (2 + 1.8 * _LOG * smooth * one / (rough + smooth))
    share = 2.51 / (re * zeta)
    for _ in range(3):
        inner = rough + share * root
        root = root - (root - _LOG * math.log(inner)) / (1 - _LOG * share / inner)
    pull = -_LOG * share / (rough + share * root)
    product = re / (root * root)
    return product, product * (2 - 2 * pull / (1 + pull))


@_compile
def _dunlop(re: float, laminar: float, rough: float, meeting: float, log: float) -> tuple[float, float]:
    y3 = _LOG * log
    fa = 1 / (y3 * y3)
    fb = fa * (2 + 1.8 * _LOG * meeting / ((rough + meeting) * y3))
    c = laminar / 2000.0
    x2 = 4 * c - 17 * fa + 2.5 * fb
    x3 = -4 * c + 13 * fa - 2 * fb
    x4 = c - 3 * fa + 0.5 * fb
    r = re / 2000.0
    factor = 7 * fa - fb + r * (x2 + r * (x3 + r * x4))
    return factor * re, (2 * factor + r * (x2 + r * (2 * x3 + r * 3 * x4))) * re


@_compile
def _churchill(re: float, zeta: float, rough: float) -> tuple[float, float]:
    at = min(max(re * zeta, 1e-3), 1e20)
    smooth = math.exp(0.9 * math.log(7 / at))
    inner = smooth + 0.27 * 3.7 * rough
    theta = -2.457 * math.log(inner)
    a, b = theta**16, (37530 / at) ** 16
    a_slope = 16 * theta**15 * 2.457 * 0.9 * smooth / inner
    term = at**12 * (a + b) ** -1.5
    rise = 12 - 1.5 * (a_slope - 16 * b) / (a + b)
    product = 8 * (8.0**12 + term) ** (1 / 12) / zeta
    return product, product * (1 + term / (8.0**12 + term) * rise / 12)


@_compile
def _joined(re: float, laminar: float, product: float, slope: float) -> tuple[float, float]:
    z = min((re - 2000.0) / 300.0, 1.0)
    weight, growth = z * z * (3 - 2 * z), 6 * z * (1 - z) * re / 300.0
    over = product - laminar
    return laminar + weight * over, laminar + weight * (slope - laminar) + growth * over


@_compile
def _friction(law: int, re: float, tube: Any, i: int, smooth: float, log: float) -> tuple[float, float]:
    laminar, zeta, rough = tube[4, i], tube[5, i], tube[6, i]
    if law == 3:
        return _churchill(re, zeta, rough)
    if re <= 2000.0:
        return laminar, laminar
    if law == 0 and re < 4000.0:
        return _dunlop(re, laminar, rough, smooth, log)
    product, slope = _turbulent(law, re, zeta, rough, smooth, log)
    if law == 0 or re >= 2300.0:
        return product, slope
    return _joined(re, laminar, product, slope)


@_compile
def _drops(law: int, secant: bool, tubes: Any, flow: Any, active: Any, drop: Any, slope: Any) -> None:
    """Fill drops and slopes; rows of `tubes`: gain, length, minor, per_flow, laminar, zeta, roughness / 3.7.

    Logarithms and powers are taken in loops of their own, where the processor can overlap them.
    """
    start, count = 4000.0 if law == 0 else 2000.0, flow.size
    if law != 3:
        for i in range(count):
            re = abs(flow[i]) * tubes[3, i]
            drop[i] = math.log(max(re, start) * tubes[5, i]) if re > 2000.0 else 0.0
        for i in range(count):
            slope[i] = 5.74 * math.exp(-0.9 * drop[i]) if drop[i] != 0.0 else 1.0
        for i in range(count):
            drop[i] = math.log(tubes[6, i] + slope[i]) if drop[i] != 0.0 else 0.0
    for i in range(count):
        re = abs(flow[i]) * tubes[3, i]
        product, bend = _friction(law, re, tubes, i, slope[i], drop[i])
        resistance = tubes[0, i] * (tubes[1, i] * product + tubes[2, i] * re)
        drop[i] = resistance * flow[i]
        slope[i] = resistance if secant else tubes[0, i] * (tubes[1, i] * bend + 2 * tubes[2, i] * re)


@_compile
def _eliminate(steps: Any, near: Any, pairs: Any, mesh: Any, ground: Any, excess: Any, inverse: Any) -> None:
    """Reduce, then solve backwards into `excess`. steps: node, near from, to, pairs from, to; near: node, slot."""
    for k in range(steps.shape[0]):
        node, first, last = steps[k, 0], steps[k, 1], steps[k, 2]
        own, left = ground[node], excess[node]
        total = own
        for j in range(first, last):
            total += mesh[near[j, 1]]
        one = 1 / total if total > 0 else 0.0
        inverse[node] = one
        for j in range(first, last):
            share = mesh[near[j, 1]] * one
            ground[near[j, 0]] += share * own
            excess[near[j, 0]] += share * left
        for j in range(steps[k, 3], steps[k, 4]):
            mesh[pairs[j, 2]] += mesh[pairs[j, 0]] * one * mesh[pairs[j, 1]]
    for back in range(steps.shape[0]):
        k = steps.shape[0] - 1 - back
        total = excess[steps[k, 0]]
        for j in range(steps[k, 1], steps[k, 2]):
            total += mesh[near[j, 1]] * excess[near[j, 0]]
        excess[steps[k, 0]] = total * inverse[steps[k, 0]]


@_compile
def _gather(ends: Any, flow: Any, weight: Any, mesh: Any, ground: Any, excess: Any) -> None:
    """Sum tubes into nodes; rows of `ends`: tail, head, slot, grounded node; what belongs nowhere falls off the end."""
    mesh[:] = 0.0
    ground[:] = 0.0
    excess[:] = 0.0
    for i in range(flow.size):
        excess[ends[0, i]] -= flow[i]
        excess[ends[1, i]] += flow[i]
        mesh[ends[2, i]] += weight[i]
        ground[ends[3, i]] += weight[i]


@_compile
def _climb(ends: Any, pressure: Any, drop: Any, change: Any) -> float:
    climb = 0.0
    for i in range(drop.size):
        climb += change[i] * (drop[i] - pressure[ends[0, i]] + pressure[ends[1, i]])
    return climb


@_compile
def _try(
    secant: bool,
    ends: Any,
    flow: Any,
    pressure: Any,
    drop: Any,
    slope: Any,
    active: Any,
    weight: Any,
    trial: Any,
) -> None:
    for i in range(flow.size):
        weight[i] = active[i] / slope[i]
        across = pressure[ends[0, i]] - pressure[ends[1, i]]
        trial[i] = weight[i] * across if secant else flow[i] + weight[i] * (across - drop[i])


@_compile
def _take(
    ends: Any,
    flow: Any,
    slope: Any,
    active: Any,
    weight: Any,
    trial: Any,
    move: Any,
    change: Any,
    scale: float,
) -> tuple[bool, float, float, float]:
    """Take the step; return whether all stand still, the sizes of the move and of the flow, and the descent."""
    still, moved, total, descent = True, 0.0, 0.0, 0.0
    for i in range(flow.size):
        after = trial[i] + weight[i] * (move[ends[0, i]] - move[ends[1, i]])
        change[i] = after - flow[i]
        flow[i] = after
        size = abs(change[i])
        if size > SMALL_STEP * abs(after) and size > weight[i] * ROUNDING * scale:
            still = False
        moved += size
        total += abs(after)
        descent += change[i] * change[i] * slope[i]
    return still, moved, total, descent


@_compile
def _advance(pressure: Any, move: Any, free: Any) -> float:
    scale = 0.0
    for n in range(pressure.size):
        move[n] *= free[n]
        pressure[n] += move[n]
        scale = max(scale, abs(pressure[n]))
    return scale


@_compile
def _relief(pump: Any, pressure: float, on: bool, calm: bool) -> tuple[bool, bool]:
    """Return whether the valve is as its pressure wants it, and how it stands from now on."""
    wanted = pressure > pump[4]
    if wanted == on or abs(pressure - pump[4]) <= AT_RELIEF * pump[4]:
        return True, on
    return False, wanted if calm else on


@_compile
def _iterate(
    law: int, warm: bool, ends: Any, plan: Any, tubes: Any, active: Any, pump: Any, work: Any
) -> Any:
    """Solve one variant in place; return (iterations, converged, relief valve open).

    `pump`: node, flow, slip, relief gain, relief pressure, relief open at the start (as numbers).
    """
    flow, pressure, drop, slope, weight, change, trial, mesh, ground, move, inverse, free = work
    node, on, memory, still, descent, taken = int(pump[0]), pump[5] > 0, False, False, 0.0, 0
    scale = moved = 0.0
    for step in range(STEPS):
        secant = step == 0 and not warm
        _drops(law, secant, tubes, flow, active, drop, slope)
        climb = _climb(ends, pressure, drop, change) if memory else 0.0
        memory = False
        if climb > OVERSHOOT * descent + BLUR * scale * moved:
            back = 1 - min(max(descent / (descent + climb), 0.1), 0.9)
            flow -= back * change
            pressure -= back * move
            continue
        _try(secant, ends, flow, pressure, drop, slope, active, weight, trial)
        _gather(ends, trial, weight, mesh, ground, move)
        slip = pump[2] + (pump[3] if on else 0.0)
        if node >= 0:
            move[node] += pump[1] - pump[2] * pressure[node]
            move[node] -= pump[3] * (pressure[node] - pump[4]) if on else 0.0
            ground[node] += slip
        _eliminate(plan[0], plan[1], plan[2], mesh, ground, move, inverse)
        taken += 1
        scale = _advance(pressure, move, free)
        still, moved, total, descent = _take(ends, flow, slope, active, weight, trial, move, change, scale)
        if node >= 0:
            descent += slip * move[node] * move[node]
            right, on = _relief(pump, pressure[node], on, moved <= SETTLED * total)
            still = still and right and abs(move[node]) <= SMALL_STEP * scale
        if still:
            break
        memory = step > 0
    return taken, still, on


@_compile
def _is_rough(ends: Any, flow: Any, pressure: Any, free: Any, pump: Any, on: bool, net: Any) -> bool:
    net[:] = 0.0
    for i in range(flow.size):
        net[ends[0, i]] -= flow[i]
        net[ends[1, i]] += flow[i]
    node, worst, inflow = int(pump[0]), 0.0, 0.0
    if node >= 0:
        inflow = pump[1]
        net[node] += pump[1] - pump[2] * pressure[node]
        net[node] -= pump[3] * (pressure[node] - pump[4]) if on else 0.0
    for n in range(free.size):
        if free[n] > 0:
            worst = max(worst, abs(net[n]))
        else:
            inflow += max(-net[n], 0.0)
    return worst > BALANCED * inflow


@_compile
def _row(b: int, rows: int) -> int:
    return b if rows > 1 else 0


@_compile
def _fill(b: int, values: Any, fluid: Any, tubes: Any) -> None:
    """Fill the coefficients of variant `b`. `values`: bore, wire, length, roughness, minor loss, laminar."""
    density, viscosity = fluid[0][_row(b, fluid[0].size)], fluid[1][_row(b, fluid[1].size)]
    bores, lengths = values[0][_row(b, values[0].shape[0])], values[2][_row(b, values[2].shape[0])]
    roughs, losses = values[3][_row(b, values[3].shape[0])], values[4][_row(b, values[4].shape[0])]
    laminars = values[5][_row(b, values[5].shape[0])]
    heavy = density / viscosity
    for i in range(tubes.shape[1]):
        gap = bores[i] - values[1][0, i]
        thin = 1 / gap
        area = thin / (math.pi / 4 * (bores[i] + values[1][0, i]))  # one over it
        laminar = laminars[i]
        tubes[0, i] = 0.5 * viscosity * area * thin * thin
        tubes[1, i] = lengths[i]
        tubes[2, i] = losses[i] * gap
        tubes[3, i] = gap * area * heavy
        tubes[4, i] = laminar
        tubes[5, i] = 64.0 / laminar if laminar != 64.0 else 1.0
        tubes[6, i] = roughs[i] * thin * laminar * (1 / (64.0 * 3.7))


@_compile
def _solve_rows(
    begin: int, end: int, law: int, warm: bool, ends: Any, plan: Any, fixed: Any, free: Any, settings: Any, values: Any,
    fluid: Any, pumps: Any, starts: Any, out: Any,
) -> None:  # fmt: skip
    """Solve the variants from `begin` to before `end`; see `solve_rows` for what the tuples hold."""
    tube_count, node_count = ends.shape[1], free.size
    tubes = np.zeros((7, tube_count))
    flow, drop, slope = np.zeros(tube_count), np.zeros(tube_count), np.ones(tube_count)
    weight, change, trial = np.zeros(tube_count), np.zeros(tube_count), np.zeros(tube_count)
    pressure, ground, move = np.zeros(node_count), np.zeros(node_count + 1), np.zeros(node_count)
    inverse, mesh = np.zeros(node_count), np.zeros(plan[3] + 1)
    work = (flow, pressure, drop, slope, weight, change, trial, mesh, ground, move, inverse, free)
    pump = np.zeros(6)
    for b in range(begin, end):
        setting = settings[2][b]
        active = settings[0][setting]
        _fill(b, values, fluid, tubes)
        change[:] = 0.0
        pressure[:] = starts[1][setting]
        for j in range(fixed[0].size):
            pressure[fixed[0][j]] = fixed[1][_row(b, fixed[1].shape[0]), j]
        for i in range(tube_count):
            flow[i] = starts[0][setting, i] if warm else active[i] / tubes[3, i] * COLD_REYNOLDS
        if not warm:
            for n in range(node_count):
                pressure[n] = pressure[settings[1][setting, n]]
        pump[0], pump[1], pump[2] = (
            pumps[0],
            pumps[1][_row(b, pumps[1].size)],
            pumps[2][_row(b, pumps[2].size)],
        )
        pump[3], pump[4], pump[5] = pump[1] * pumps[3], pumps[4], starts[2][setting]
        taken, fine, on = _iterate(law, warm, ends, plan, tubes, active, pump, work)
        out[0][b] = flow
        out[1][b] = pressure
        out[2][b], out[3][b], out[4][b] = taken, fine, on
        out[5][b] = _is_rough(ends, flow, pressure, free, pump, on, move)


def solve_rows(
    plan: Layout,
    law: str,
    count: int,
    settings: tuple[Flags, NDArray[np.int64], NDArray[np.int64]],
    values: tuple[Array, ...],
    fluid: tuple[Array, Array],
    fixed: Array,
    pump: tuple[Array, Array, float, float],
    starts: Result,
    warm: bool,
) -> Result:
    """Return the flows of `count` variants, starting each from its clamp setting's solution in `starts` if `warm`.

    `settings`: active tubes (S, T) and anchors (S, N) of each setting, and each variant's setting (B,). `values`:
    bore, wire, length, roughness, minor loss, laminar f Re, each (B, T) or (1, T). `fluid`: density, viscosity
    (B,) or (1,). `fixed` (B, F) or (1, F). `pump`: flow and slip (B,) or (1,), relief gain over flow, relief
    pressure (infinite for none).
    """
    nodes = len(plan.fixed) + len(plan.free)
    free = np.zeros(nodes)
    free[list(plan.free)] = 1.0
    out = (
        np.empty((count, len(plan.tail))),
        np.empty((count, nodes)),
        np.empty(count, dtype=np.int64),
        np.empty(count, dtype=np.bool_),
        np.empty(count, dtype=np.bool_),
        np.empty(count, dtype=np.bool_),
    )
    common = (
        LAW_NUMBERS[law],
        warm,
        _ends(plan),
        _program(plan),
        (np.array(plan.fixed, dtype=np.int64), _solid(fixed)),
        free,
        tuple(np.require(s, requirements=["C", "W"]) for s in settings),
        tuple(_solid(v) for v in values),
        (_solid(fluid[0]), _solid(fluid[1])),
        (plan.pump, _solid(pump[0]), _solid(pump[1]), float(pump[2]), float(pump[3])),
        (_solid(starts.flow.T), _solid(starts.pressure.T), starts.relief_on.astype(np.float64)),
        out,
    )
    _in_threads(count, common)
    return Result(out[0].T, out[1].T, out[4], out[2], out[3], out[5])


def _in_threads(count: int, common: tuple[Any, ...]) -> None:
    threads = min(os.cpu_count() or 1, max(1, count // 64))
    edges = np.linspace(0, count, threads * CHUNKS_A_THREAD + 1).astype(int)
    if threads == 1:
        _solve_rows(0, count, *common)
        return
    with ThreadPoolExecutor(threads) as pool:
        list(
            pool.map(lambda k: _solve_rows(int(edges[k]), int(edges[k + 1]), *common), range(len(edges) - 1))
        )


def _solid(values: Array) -> Array:
    """Return a contiguous, writable array: any other kind would be compiled for anew."""
    return np.require(values, np.float64, ["C", "W"])


def _ends(plan: Layout) -> NDArray[np.uint32]:
    nodes, grounded = len(plan.fixed) + len(plan.free), []
    for tail, head in zip(plan.tail, plan.head, strict=True):
        loose = [node for node in (tail, head) if node not in plan.fixed]
        grounded.append(loose[0] if len(loose) == 1 else nodes)
    slots = [plan.slot_count if slot < 0 else slot for slot in plan.tube_slot]
    return np.array([plan.tail, plan.head, slots, grounded], dtype=np.uint32)


def _program(plan: Layout) -> tuple[NDArray[np.uint32], NDArray[np.uint32], NDArray[np.uint32], int]:
    """Return the elimination as flat tables."""
    steps: list[tuple[int, ...]] = []
    near: list[tuple[int, ...]] = []
    pairs: list[tuple[int, ...]] = []
    for step in plan.steps:
        first, before = len(near), len(pairs)
        near += list(zip(step.neighbours, step.slots, strict=True))
        pairs += [(step.slots[a], step.slots[b], slot) for a, b, slot in step.pairs]
        steps.append((step.node, first, len(near), before, len(pairs)))
    return _table(steps, 5), _table(near, 2), _table(pairs, 3), plan.slot_count


def _table(rows: Iterable[tuple[int, ...]], columns: int) -> NDArray[np.uint32]:
    """Return an index table; unsigned, so that no index is looked at twice for its sign."""
    return np.array(list(rows), dtype=np.uint32).reshape(-1, columns)
