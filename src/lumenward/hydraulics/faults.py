"""What can be wrong with the channels of one endoscope on its connector set, and what each would change.

Names, as they stand in an answer: `ok`; `block:TUBE` nothing passes; `partial:TUBE` 35 to 80 % of the bore (of the gap
beside a wire) is left; `disconnected:PORT` the connector tube is off its port, both ends open to the room. Two at once
are joined: `block:air+block:water`. TUBE and PORT are ids of tubes.

Tubes between the source and the ports count as in order. A port's own tube can be blocked only where it leads straight
out; elsewhere a blocked connector reads like the blocked channel behind it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import combinations, product

import numpy as np

from lumenward.hydraulics.clamp_settings import checked
from lumenward.hydraulics.network import Network, Node, Tube
from lumenward.quantities import Refusal

STRATA = 5
LEFT_OPEN = (0.35, 0.80)
MOST_PORTS = 12
MOST_PLACES = 24
MOST_FOR_DOUBLES = 22
PRIOR_OK = 0.5
PRIOR_DOUBLE = 0.05
ROOM = "room around the ports"
_HOLE_M = 0.01


@dataclass(frozen=True)
class Fault:
    """One fault: `kind` is block, partial or disconnected, `at` a tube's id."""

    kind: str
    at: str

    def __str__(self) -> str:
        """Return the name."""
        return f"{self.kind}:{self.at}"


Hypothesis = tuple[Fault, ...]
Stratum = tuple[tuple[str, int], ...]  # (tube, which fifth of the range) for each partial fault


def name_of(hypothesis: Hypothesis) -> str:
    """Return `ok`, or the names of the faults joined with a plus.

    >>> name_of((Fault("block", "air"), Fault("partial", "water")))
    'block:air+partial:water'
    """
    return "+".join(map(str, hypothesis)) or "ok"


@dataclass(frozen=True)
class Rig:
    """A network with a hole to the room at each port, shut; and where its faults and readings are.

    `places` are the tubes that can be blocked, `holes` the hole of each port that can come off, `gauge` the node whose
    pressure is read, `outlets` the tubes that give into a cup, `doubles` whether pairs of faults are considered.
    """

    network: Network
    ports: tuple[str, ...]
    places: tuple[str, ...]
    holes: dict[str, str]
    gauge: str
    outlets: tuple[str, ...]
    doubles: bool

    @property
    def real(self) -> int:
        """Return how many tubes there are before the holes, which stand last."""
        return len(self.network.tubes) - len(self.holes)

    @cached_property
    def hypotheses(self) -> tuple[Hypothesis, ...]:
        """Return ok, single faults, then pairs at different places."""
        single = [Fault("block", t) for t in self.places] + [Fault("partial", t) for t in self.places]
        single += [Fault("disconnected", port) for port in self.holes]
        pairs = [pair for pair in combinations(single, 2) if pair[0].at != pair[1].at] if self.doubles else []
        return ((), *((fault,) for fault in single), *pairs)

    @cached_property
    def cases(self) -> tuple[tuple[int, Stratum], ...]:
        """Return each hypothesis (by position) once for every fifth of the range of its partial faults."""
        return tuple(
            (h, tuple(zip(partial, strata, strict=True)))
            for h, hypothesis in enumerate(self.hypotheses)
            for partial in [[f.at for f in hypothesis if f.kind == "partial"]]
            for strata in product(range(STRATA), repeat=len(partial))
        )

    @cached_property
    def prior(self) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
        """Return the probability of each hypothesis before any reading; equal for all single faults."""
        counts = np.array([len(h) for h in self.hypotheses])
        double = PRIOR_DOUBLE if (counts == 2).any() else 0.0
        total = np.array([PRIOR_OK, 1 - PRIOR_OK - double, double])
        return np.asarray(total[counts] / np.bincount(counts, minlength=3)[counts])

    def opened(self, setting: Sequence[str], hypothesis: Hypothesis) -> list[bool]:
        """Return which tubes are open with only the ports in `setting` open and the faults there."""
        shut = {fault.at for fault in hypothesis if fault.kind == "block"}
        holed = {self.holes[fault.at] for fault in hypothesis if fault.kind == "disconnected"}
        every_hole = set(self.holes.values())
        return [
            tube.id in holed
            if tube.id in every_hole
            else tube.id not in shut and (tube.id in setting if tube.id in self.ports else tube.open)
            for tube in self.network.tubes
        ]


def rig(
    network: Network,
    ports: Sequence[str],
    gauge: str | None = None,
    places: Sequence[str] | None = None,
    doubles: bool = True,
) -> Rig:
    """Return the network made ready for its faults.

    `gauge` is the node of the pressure gauge (default: where the ports' tubes meet, else the source), `places` the
    tubes that can be blocked (default: all behind the ports). Raises Refusal for unknown ids, and for a pump with
    neither slip nor relief, whose pressure behind a blocked channel has no bounds.
    """
    checked(network, ports, "ports", MOST_PORTS)
    _check_pump(network)
    depth = _depths(network)
    near = {port: _near(network, port, depth) for port in ports}
    found = tuple(places) if places is not None else _places(network, ports, near, depth)
    checked(network, found, "places", MOST_PLACES)
    fixed = set(network.fixed_ids)
    far = {p: _other_end(network.tubes[network.tube_index[p]], near[p]) for p in ports}
    holes = {port: f"hole at {node}" for port, node in far.items() if node not in fixed}
    return Rig(
        _with_holes(network, far, holes),
        tuple(ports),
        found,
        holes,
        _gauge(network, gauge, set(near.values())),
        tuple(t.id for t in network.tubes if _is_outlet(t, fixed - _sources(network))),
        doubles and len(found) + len(holes) <= MOST_FOR_DOUBLES,
    )


def _check_pump(network: Network) -> None:
    pump = network.pump
    if pump is not None and pump.flow_m3_s > 0 and pump.slip_m3_s_pa == 0 and pump.relief_pa is None:
        raise Refusal(
            "missing",
            "The pump has neither slip nor relief pressure, so its pressure behind a blocked channel has no bounds.",
            "network.pump",
            "Give slip_m3_s_pa or relief_pa.",
        )


def _sources(network: Network) -> set[str]:
    if network.pump is not None:
        return {network.pump.node}
    highest = max(node.pressure_pa for node in network.nodes if node.pressure_pa is not None)
    return {node.id for node in network.nodes if node.pressure_pa == highest}


def _depths(network: Network) -> dict[str, int]:
    """Return how many tubes away from the source each node is, as if everything were open."""
    depth = dict.fromkeys(_sources(network), 0)
    frontier = list(depth)
    for node in frontier:
        for tube in network.tubes:
            if node in (tube.from_node, tube.to_node):
                other = _other_end(tube, node)
                if other not in depth:
                    depth[other] = depth[node] + 1
                    frontier.append(other)
    return depth


def _other_end(tube: Tube, node: str) -> str:
    return tube.to_node if node == tube.from_node else tube.from_node


def _near(network: Network, port: str, depth: dict[str, int]) -> str:
    tube = network.tubes[network.tube_index[port]]
    far = len(network.nodes)
    ends = (tube.from_node, tube.to_node)
    return min(ends, key=lambda node: depth.get(node, far))


def _places(
    network: Network, ports: Sequence[str], near: dict[str, str], depth: dict[str, int]
) -> tuple[str, ...]:
    feed = min(depth.get(node, 0) for node in near.values())
    fixed = set(network.fixed_ids)
    found = []
    for tube in network.tubes:
        ends = (tube.from_node, tube.to_node)
        if tube.id in ports:
            if _other_end(tube, near[tube.id]) in fixed:
                found.append(tube.id)
        elif max(depth.get(node, feed + 1) for node in ends) > feed:
            found.append(tube.id)
    return tuple(found)


def _gauge(network: Network, gauge: str | None, near: set[str]) -> str:
    if gauge is None:
        return next(iter(near)) if len(near) == 1 else min(_sources(network))
    if gauge not in network.node_index:
        known = "One of: " + ", ".join(network.node_index)
        raise Refusal("unknown-node", f"There is no node {gauge!r}.", "pressure_at", known)
    return gauge


def _is_outlet(tube: Tube, ends: set[str]) -> bool:
    return (tube.from_node in ends) != (tube.to_node in ends)


def _with_holes(network: Network, far: dict[str, str], holes: dict[str, str]) -> Network:
    if not holes:
        return network
    extra = tuple(
        Tube(holes[port], far[port], ROOM, length_m=1e-3, bore_m=_HOLE_M, minor_loss=1.0) for port in holes
    )
    return replace(network, nodes=(*network.nodes, Node(ROOM, 0.0)), tubes=(*network.tubes, *extra))
