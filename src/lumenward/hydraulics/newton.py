"""The global-gradient Newton iteration in numpy, for many variants of one network side by side.

Unknown are the flows Q (T, B) and the free pressures p (N, B). With W the reciprocal of the slope of each tube's
pressure drop, one step solves (A' W A) dp = inflow - A' [Q + W (A p - drop)] and sets Q to Q + W (A (p + dp) - drop)
(Todini and Pilati 1988, recalled). The nodes are eliminated by star-mesh transforms, in which nothing is ever
subtracted, so conductances may differ by twenty powers of ten. A step that overshoots is shortened along the line on
which mass balance already holds; the energy there is convex, so the iteration cannot run away.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lumenward.hydraulics.annulus import effective_f_re
from lumenward.hydraulics.friction import Array, Curve, prepare
from lumenward.hydraulics.topology import Flags, Layout

STEPS = 100
SMALL_STEP = 1e-6  # the next error is its square
ROUNDING = 1e-14
AT_RELIEF = 1e-12
BALANCED = 1e-12
OVERSHOOT = 0.5
BLUR = 1e-13  # a climb below this share of pressure times change is rounding, not an overshoot
SETTLED = 0.1
COLD_REYNOLDS = 4000.0


@dataclass(frozen=True)
class Problem:
    """B variants, variant last: tube arrays (T, B) or (T, 1), node arrays (N, B), pump arrays (B,)."""

    plan: Layout
    law: str
    bore: Array
    wire: Array
    eccentricity: Array
    length: Array
    roughness: Array
    minor_loss: Array
    density: Array
    viscosity: Array
    active: Flags
    pressure: Array  # fixed pressures in place, a first guess at free nodes
    pump_flow: Array
    slip: Array
    relief_gain: Array
    relief_pa: float  # infinite without a relief valve


@dataclass(frozen=True)
class Coefficients:
    """What a tube's drop is made of: drop = gain (length f Re + minor Re) Q, Re = per_flow |Q|."""

    gain: Array
    length: Array
    minor: Array
    per_flow: Array
    curve: Curve


@dataclass
class State:
    """Where the iteration stands; replaced field by field as it goes."""

    flow: Array
    pressure: Array
    relief_on: Flags


@dataclass(frozen=True)
class Result:
    """Converged flows (T, B), pressures (N, B), steps taken, whether converged, whether mass is `rough` (B,)."""

    flow: Array
    pressure: Array
    relief_on: Flags
    iterations: NDArray[np.int64]
    converged: Flags
    rough: Flags


def coefficients(problem: Problem) -> Coefficients:
    """Return the coefficients of every tube's pressure drop."""
    bore, wire = problem.bore, problem.wire
    gap = bore - wire
    area = np.pi / 4 * gap * (bore + wire)
    viscosity, density = problem.viscosity, problem.density
    return Coefficients(
        gain=viscosity / (2 * area * gap**2),
        length=problem.length,
        minor=problem.minor_loss * gap,
        per_flow=gap * density / (area * viscosity),
        curve=prepare(problem.law, laminar_of(problem), problem.roughness / gap),
    )


def laminar_of(problem: Problem) -> Array:
    """Return the laminar f Re of every tube, shaped as the bores; exact beside wires."""
    wired = bool((problem.wire > 0).any())
    laminar = np.full(problem.bore.shape if wired else (len(problem.bore), 1), 64.0)
    for i in np.flatnonzero(problem.wire[:, 0] > 0):
        laminar[i] = effective_f_re(
            problem.bore[i], float(problem.wire[i, 0]), float(problem.eccentricity[i, 0])
        )
    return laminar


def cold_start(problem: Problem, tubes: Coefficients) -> State:
    """Return a first guess: tubes as they resist at one Reynolds number, the relief valve shut if it can be."""
    count = problem.pressure.shape[1]
    shape = (len(problem.plan.tail), count)
    flow = COLD_REYNOLDS / tubes.per_flow * problem.active
    opened = np.zeros(count, dtype=np.bool_)
    if problem.plan.pump >= 0:
        opened = ~_pump_has_outlet(problem) & np.isfinite(problem.relief_pa)
    return State(np.broadcast_to(flow, shape).copy(), problem.pressure.copy(), opened)


def _pump_has_outlet(problem: Problem) -> Flags:
    at_pump = [i for i, ends in enumerate(_ends(problem.plan)) if problem.plan.pump in ends]
    outlet: Flags = np.broadcast_to(problem.active[at_pump].any(axis=0), problem.slip.shape)
    return outlet


def _ends(plan: Layout) -> list[tuple[int, int]]:
    return list(zip(plan.tail, plan.head, strict=True))


def iterate(problem: Problem, tubes: Coefficients, start: State, *, warm: bool) -> Result:
    """Run Newton until every variant stands still, `warm` when `start` is already a solution of a neighbour."""
    state, plan = start, problem.plan
    tail, head = list(plan.tail), list(plan.head)
    count = problem.pressure.shape[1]
    taken = np.zeros(count, dtype=np.int64)
    done = np.zeros(count, dtype=np.bool_)
    memory: tuple[Array, Array, Array] | None = None  # last move of flow and pressure, and its descent
    for step in range(STEPS):
        drop, slope = _drops(tubes, state.flow, secant=step == 0 and not warm)
        across = state.pressure[tail] - state.pressure[head]
        if memory is not None and _shorten(state, memory, drop, across):
            memory = None
            continue
        weight = problem.active / slope
        trial = weight * across if step == 0 and not warm else state.flow + weight * (across - drop)
        move = _balance(problem, state, trial, weight)
        flow = trial + weight * (move[tail] - move[head])
        change = np.where(problem.active, flow - state.flow, 0.0)
        taken += ~done
        done |= _finish(problem, state, flow, change, weight, move)
        if done.all():
            break
        descent = np.sum(change**2 * slope, axis=0) + _slip_of(problem, state) * _at_pump(plan, move) ** 2
        memory = None if step == 0 else (change, move, descent)
    state.flow = state.flow * problem.active + 0.0
    return Result(state.flow, state.pressure, state.relief_on, taken, done, _rough(problem, state))


def _rough(problem: Problem, state: State) -> Flags:
    """Return where rounding beside very wide tubes left more imbalance than it should."""
    plan = problem.plan
    net = np.zeros_like(state.pressure)
    for i, (a, b) in enumerate(_ends(plan)):
        net[a] -= state.flow[i]
        net[b] += state.flow[i]
    if plan.pump >= 0:
        net[plan.pump] += delivered(problem, state.pressure[plan.pump], state.relief_on)
    inflow = np.sum(np.maximum(-net[list(plan.fixed)], 0), axis=0) + problem.pump_flow
    rough: Flags = np.max(np.abs(net[list(plan.free)]), axis=0, initial=0.0) > BALANCED * inflow
    return rough


def rebalance(problem: Problem, tubes: Coefficients, state: State) -> None:
    """Take from converged flows the imbalance that rounding left beside very wide tubes."""
    weight = problem.active / _drops(tubes, state.flow, secant=False)[1]
    move = _balance(problem, state, state.flow, weight)
    state.flow = state.flow + weight * (move[list(problem.plan.tail)] - move[list(problem.plan.head)])
    state.pressure = state.pressure + move


def _drops(tubes: Coefficients, flow: Array, *, secant: bool) -> tuple[Array, Array]:
    reynolds = np.abs(flow) * tubes.per_flow
    product, bend = tubes.curve(reynolds)
    resistance = tubes.gain * (tubes.length * product + tubes.minor * reynolds)
    if secant:
        return resistance * flow, resistance
    return resistance * flow, tubes.gain * (tubes.length * bend + 2 * tubes.minor * reynolds)


def _shorten(state: State, memory: tuple[Array, Array, Array], drop: Array, across: Array) -> bool:
    """Go part of the last move back wherever it ran past the valley; say whether any did."""
    change, move, descent = memory
    climb = np.sum(change * (drop - across), axis=0)
    blur = BLUR * np.max(np.abs(state.pressure), axis=0) * np.sum(np.abs(change), axis=0)
    far = climb > OVERSHOOT * descent + blur
    if not far.any():
        return False
    back = np.where(far, 1 - np.clip(descent / (descent + np.where(far, climb, 1.0)), 0.1, 0.9), 0.0)
    state.flow = state.flow - back * change
    state.pressure = state.pressure - back * move
    return True


def _slip_of(problem: Problem, state: State) -> Array:
    return problem.slip + np.where(state.relief_on, problem.relief_gain, 0.0)


def _at_pump(plan: Layout, values: Array) -> Array:
    return values[plan.pump] if plan.pump >= 0 else np.zeros(values.shape[1])


def _balance(problem: Problem, state: State, trial: Array, weight: Array) -> Array:
    """Return the change of every node's pressure (N, B) that restores mass balance to first order."""
    plan = problem.plan
    count = trial.shape[1]
    excess = np.zeros((len(plan.fixed) + len(plan.free), count))
    ground = np.zeros_like(excess)
    mesh = np.zeros((plan.slot_count, count))
    is_fixed = set(plan.fixed)
    for i, (a, b) in enumerate(_ends(plan)):
        excess[a] -= trial[i]
        excess[b] += trial[i]
        if plan.tube_slot[i] >= 0:
            mesh[plan.tube_slot[i]] += weight[i]
        elif a in is_fixed and b not in is_fixed:
            ground[b] += weight[i]
        elif b in is_fixed and a not in is_fixed:
            ground[a] += weight[i]
    if plan.pump >= 0:
        excess[plan.pump] += delivered(problem, state.pressure[plan.pump], state.relief_on)
        ground[plan.pump] += _slip_of(problem, state)
    return _eliminate(plan, mesh, ground, excess)


def delivered(problem: Problem, pressure: Array, relief_on: Flags) -> Array:
    """Return what the pump gives its node (B,) at that node's pressure, after slip and relief, m3/s."""
    flow = problem.pump_flow - problem.slip * pressure
    if np.isinf(problem.relief_pa):
        return flow
    return flow - np.where(relief_on, problem.relief_gain * (pressure - problem.relief_pa), 0.0)


def _eliminate(plan: Layout, mesh: Array, ground: Array, excess: Array) -> Array:
    inverse = {}
    for step in plan.steps:
        total = ground[step.node].copy()
        for slot in step.slots:
            total += mesh[slot]
        one = np.divide(1.0, total, out=np.zeros_like(total), where=total > 0)
        inverse[step.node] = one
        shares = [mesh[slot] * one for slot in step.slots]
        for share, near in zip(shares, step.neighbours, strict=True):
            ground[near] += share * ground[step.node]
            excess[near] += share * excess[step.node]
        for first, second, slot in step.pairs:
            mesh[slot] += shares[first] * mesh[step.slots[second]]
    move = np.zeros_like(excess)
    for step in reversed(plan.steps):
        total = excess[step.node].copy()
        for slot, near in zip(step.slots, step.neighbours, strict=True):
            total += mesh[slot] * move[near]
        move[step.node] = total * inverse[step.node]
    return move


def _finish(problem: Problem, state: State, flow: Array, change: Array, weight: Array, move: Array) -> Flags:
    """Take the step; return which variants stand still with the relief valve as their pressure wants it."""
    state.flow = flow
    state.pressure = state.pressure + move
    scale = np.max(np.abs(state.pressure), axis=0)
    size = np.abs(change)
    still = (size <= SMALL_STEP * np.abs(flow)) | (size <= weight * (ROUNDING * scale))
    converged: Flags = still.all(axis=0)
    if problem.plan.pump < 0:
        return converged
    pump = np.abs(move[problem.plan.pump]) <= SMALL_STEP * scale
    converged &= pump
    if np.isinf(problem.relief_pa):
        return converged
    wanted = state.pressure[problem.plan.pump] > problem.relief_pa
    edge = np.abs(state.pressure[problem.plan.pump] - problem.relief_pa) <= AT_RELIEF * problem.relief_pa
    wrong = (wanted != state.relief_on) & ~edge
    calm = np.sum(size, axis=0) <= SETTLED * np.sum(np.abs(flow), axis=0)
    state.relief_on = np.where(wrong & calm, wanted, state.relief_on)
    finished: Flags = converged & ~wrong
    return finished
