"""How the tubes hang together: which can carry flow at all, and in which order to eliminate the nodes.

A tube carries flow only if it lies on a way between two places that give or take liquid. Tying each of those
places to one imagined ground node, these are the tubes in the two-connected parts that contain the ground;
every other tube is a dead end, and its flow is exactly zero, not a small remainder of rounding.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lumenward.hydraulics.network import Network

Flags = NDArray[np.bool_]
GROUND = -1


@dataclass(frozen=True)
class Step:
    """Elimination of one free node: its later neighbours, the slots to them, and the slots between them."""

    node: int
    neighbours: tuple[int, ...]
    slots: tuple[int, ...]
    pairs: tuple[tuple[int, int, int], ...]  # (first place, second place, slot that gains)


@dataclass(frozen=True)
class Layout:
    """The network as positions: T tubes, N nodes, of which the free ones are eliminated in `steps`."""

    tail: tuple[int, ...]
    head: tuple[int, ...]
    fixed: tuple[int, ...]
    free: tuple[int, ...]
    tube_slot: tuple[int, ...]  # slot of a tube between two free nodes, -1 otherwise
    slot_count: int
    steps: tuple[Step, ...]
    pump: int  # node of the pump, -1 without one


@dataclass(frozen=True)
class Reach:
    """What the clamps leave: `active` (T) tubes that can carry flow, `pump_works` whether the pump can deliver.

    `copies` are (node, from) pairs in order: nodes without through-flow that take their neighbour's pressure;
    `unknown` nodes are shut off from everything and have none. `anchors` (N) is a node with a fixed pressure to which
    active tubes lead, or the node itself: where the search for its pressure starts, so that a net at rest stays so.
    """

    active: Flags
    pump_works: bool
    copies: tuple[tuple[int, int], ...]
    unknown: tuple[int, ...]
    anchors: tuple[int, ...]


def layout(network: Network) -> Layout:
    """Return the positions and the elimination order (fewest neighbours first) of `network`."""
    index = network.node_index
    tail = tuple(index[t.from_node] for t in network.tubes)
    head = tuple(index[t.to_node] for t in network.tubes)
    fixed = tuple(i for i, node in enumerate(network.nodes) if node.pressure_pa is not None)
    free = tuple(i for i, node in enumerate(network.nodes) if node.pressure_pa is None)
    slots: dict[frozenset[int], int] = {}
    tube_slot = tuple(
        slots.setdefault(frozenset((a, b)), len(slots)) if a in free and b in free else -1
        for a, b in zip(tail, head, strict=True)
    )
    steps = _order(free, slots)
    pump = index[network.pump.node] if network.pump else -1
    return Layout(tail, head, fixed, free, tube_slot, len(slots), steps, pump)


def _order(free: tuple[int, ...], slots: dict[frozenset[int], int]) -> tuple[Step, ...]:
    around: dict[int, set[int]] = {node: set() for node in free}
    for pair in slots:
        a, b = pair
        around[a].add(b)
        around[b].add(a)
    steps = []
    while around:
        node = min(around, key=lambda n: len(around[n]))
        near = sorted(around.pop(node))
        pairs = []
        for i, a in enumerate(near):
            around[a].discard(node)
            for b in near[i + 1 :]:
                around[a].add(b)
                around[b].add(a)
                slot = slots.setdefault(frozenset((a, b)), len(slots))
                pairs.append((near.index(a), near.index(b), slot))
        steps.append(Step(node, tuple(near), tuple(slots[frozenset((node, b))] for b in near), tuple(pairs)))
    return tuple(steps)


def reach(plan: Layout, open_tubes: Flags) -> Reach:
    """Return what can flow when only `open_tubes` (T) are open."""
    edges = [(plan.tail[i], plan.head[i], i) for i in map(int, np.flatnonzero(open_tubes))]
    ties = [(GROUND, node, -2 - node) for node in plan.fixed]
    if plan.pump >= 0:
        ties.append((GROUND, plan.pump, -1))
    live = _two_connected_with_ground(edges + ties)
    active = np.zeros(len(plan.tail), dtype=np.bool_)
    active[[i for i in live if i >= 0]] = True
    copies, unknown = _settle(plan, edges, active)
    return Reach(active, -1 in live, copies, unknown, _anchors(plan, [e for e in edges if active[e[2]]]))


def _settle(
    plan: Layout, edges: list[tuple[int, int, int]], active: Flags
) -> tuple[tuple[tuple[int, int], ...], tuple[int, ...]]:
    """Walk from the nodes with a pressure of their own into the dead ends."""
    known = set(plan.fixed) | {plan.pump}
    for a, b, i in edges:
        if active[i]:
            known |= {a, b}
    copies: list[tuple[int, int]] = []
    around = _neighbours([edge for edge in edges if not active[edge[2]]])
    frontier = sorted(known)
    while frontier:
        node = frontier.pop()
        for other, _ in around.get(node, ()):
            if other not in known:
                known.add(other)
                copies.append((other, node))
                frontier.append(other)
    return tuple(copies), tuple(node for node in plan.free if node not in known)


def _anchors(plan: Layout, edges: list[tuple[int, int, int]]) -> tuple[int, ...]:
    around = _neighbours(edges)
    anchors = list(range(len(plan.fixed) + len(plan.free)))
    seen = set(plan.fixed)
    for start in plan.fixed:
        frontier = [start]
        while frontier:
            for other, _ in around.get(frontier.pop(), ()):
                if other not in seen:
                    seen.add(other)
                    anchors[other] = start
                    frontier.append(other)
    return tuple(anchors)


def _neighbours(edges: list[tuple[int, int, int]]) -> dict[int, list[tuple[int, int]]]:
    around: dict[int, list[tuple[int, int]]] = {}
    for a, b, i in edges:
        around.setdefault(a, []).append((b, i))
        around.setdefault(b, []).append((a, i))
    return around


def _two_connected_with_ground(edges: list[tuple[int, int, int]]) -> set[int]:
    """Return the edges that lie on a cycle through the ground node (Tarjan's blocks, without recursion)."""
    around = _neighbours(edges)
    depth, low = {GROUND: 0}, {GROUND: 0}
    live: set[int] = set()
    seen: set[int] = set()
    trail: list[int] = []
    stack = [(GROUND, iter(around.get(GROUND, ())), 0)]
    while stack:
        node, pending, mark = stack[-1]
        step = next(((other, i) for other, i in pending if i not in seen), None)
        if step is None:
            stack.pop()
            if stack:
                _close_block(stack[-1][0], node, depth, low, trail, mark, live)
            continue
        other, i = step
        seen.add(i)
        if other in depth:
            low[node] = min(low[node], depth[other])
        else:
            depth[other] = low[other] = len(depth)
            stack.append((other, iter(around[other]), len(trail)))
        trail.append(i)
    return live


def _close_block(
    parent: int,
    node: int,
    depth: dict[int, int],
    low: dict[int, int],
    trail: list[int],
    mark: int,
    live: set[int],
) -> None:
    low[parent] = min(low[parent], low[node])
    if low[node] < depth[parent]:
        return
    block = trail[mark:]
    del trail[mark:]
    if parent == GROUND and len(block) > 1:
        live.update(block)
