"""Every way to set the clamps of a connector set, and what each gives: flow, wall shear and pressure.

    every_setting(network, ports, channels, caps) -> Settings
    caps_of(network, pressure_cap_pa) -> Caps

A setting is a set of open ports, at least one; with n ports there are 2^n - 1. All are solved in one batch. A setting
is allowed when no capped place lies above its cap.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from lumenward.hydraulics.flows import FlowBatch
from lumenward.hydraulics.friction import Array
from lumenward.hydraulics.network import HIGHEST_PA, Network
from lumenward.hydraulics.solver import Variants, solve_many
from lumenward.hydraulics.topology import Flags, layout, reach
from lumenward.quantities import Refusal

MOST_PORTS = 10
_ROUNDING = 1e-9


@dataclass(frozen=True)
class Caps:
    """Places with a highest pressure: names, the tube meant (None: a node or everything), nodes and pascals."""

    names: tuple[str, ...] = ()
    tubes: tuple[int | None, ...] = ()
    nodes: tuple[tuple[int, ...], ...] = ()
    pascals: tuple[float, ...] = ()


@dataclass(frozen=True, eq=False)
class Settings:
    """K settings of the clamps: `open` names the open ports of each, arrays have the setting first.

    `flow` and `shear` (K, C) in the channels, without sign; `highest` (K,) the highest pressure anywhere;
    `capped` (K, P) the highest pressure at each capped place, never NaN.
    """

    network: Network
    ports: tuple[str, ...]
    channels: tuple[str, ...]
    caps: Caps
    open: tuple[tuple[str, ...], ...]
    flow: Array
    shear: Array
    highest: Array
    capped: Array

    @cached_property
    def allowed(self) -> Flags:
        """Return which settings keep every cap."""
        return np.asarray((self.capped <= np.array(self.caps.pascals) * (1 + _ROUNDING)).all(axis=1))

    @property
    def all_open(self) -> int | None:
        """Return the setting with every port open; None when it was left out."""
        return next((k for k, names in enumerate(self.open) if len(names) == len(self.ports)), None)

    @cached_property
    def alone(self) -> NDArray[np.int64]:
        """Return the settings with one port open."""
        return np.flatnonzero([len(names) == 1 for names in self.open])


def every_setting(
    network: Network, ports: Sequence[str], channels: Sequence[str], caps: Caps | None = None
) -> Settings:
    """Return all settings of the clamps of `ports` (1 to 10 tube ids) with what flows in `channels` (tube ids).

    Settings that would shut in a pump without slip and relief, or for which no steady flow is found, are left out.
    Raises Refusal for unknown or doubled ids and too many ports.
    """
    checked(network, ports, "ports", MOST_PORTS)
    checked(network, channels, "channels", len(network.tubes))
    opened = _workable(network, _masks(network, ports))
    batch = solve_many(network, Variants(open=opened), engine="numpy")
    at_ports = opened[:, [network.tube_index[name] for name in ports]]
    good = np.flatnonzero(batch.converged)
    chosen = [network.tube_index[name] for name in channels]
    places = caps or Caps()
    return Settings(
        network,
        tuple(ports),
        tuple(channels),
        places,
        tuple(tuple(p for p, up in zip(ports, at_ports[k], strict=True) if up) for k in good),
        np.abs(batch.flow[good][:, chosen]),
        batch.wall_shear[good][:, chosen],
        _highest(batch.pressure[good]),
        _at_caps(batch, opened, places)[good],
    )


def caps_of(network: Network, pressure_cap_pa: float | Mapping[str, float] | None) -> Caps:
    """Return the capped places: a number caps every place from the pump on, a mapping names tubes or nodes.

    A tube's pressure is the higher one of its two ends. Raises Refusal for unknown ids and caps not above zero.
    """
    if pressure_cap_pa is None:
        return Caps()
    if not isinstance(pressure_cap_pa, Mapping):
        _check_cap(pressure_cap_pa, "pressure_cap_pa")
        everywhere = tuple(range(len(network.nodes)))
        return Caps(("anywhere",), (None,), (everywhere,), (float(pressure_cap_pa),))
    found = [_cap(network, name, pascals) for name, pascals in pressure_cap_pa.items()]
    return Caps(
        tuple(f"at {name}" for name in pressure_cap_pa),
        tuple(tube for tube, _ in found),
        tuple(nodes for _, nodes in found),
        tuple(float(pascals) for pascals in pressure_cap_pa.values()),
    )


def checked(network: Network, names: Sequence[str], field: str, most: int) -> None:
    """Refuse names that are no tubes, come twice, are none or too many."""
    if not names:
        raise Refusal("missing", f"At least one of the {field} is needed.", field, _known(network.tube_index))
    if len(names) > most:
        raise Refusal("too-many", f"At most {most} {field}; found {len(names)}.", field, "Leave some out.")
    for i, name in enumerate(names):
        if name not in network.tube_index:
            raise Refusal(
                "unknown-tube", f"There is no tube {name!r}.", f"{field}[{i}]", _known(network.tube_index)
            )
        if name in names[:i]:
            raise Refusal("duplicate", f"{name!r} is there twice.", f"{field}[{i}]", "Name it once.")


def _known(names: Collection[str]) -> str:
    return "One of: " + ", ".join(names)


def _masks(network: Network, ports: Sequence[str]) -> Flags:
    """Return which tubes are open (K, T), fewest open ports first."""
    numbers = np.arange(1, 2 ** len(ports))
    at_ports = (numbers[:, None] >> np.arange(len(ports))) & 1 == 1
    at_ports = at_ports[np.argsort(at_ports.sum(axis=1), kind="stable")]
    opened = np.tile([tube.open for tube in network.tubes], (len(numbers), 1))
    opened[:, [network.tube_index[name] for name in ports]] = at_ports
    return opened


def _workable(network: Network, opened: Flags) -> Flags:
    pump = network.pump
    if pump is None or pump.slip_m3_s_pa > 0 or pump.relief_pa is not None or pump.flow_m3_s == 0:
        return opened
    plan = layout(network)
    works = np.array([reach(plan, row).pump_works for row in opened])
    if not works.any():
        raise Refusal(
            "pump-shut-in",
            f"With every setting of the clamps the pump at {pump.node!r} has no open way out, and it has neither "
            "slip nor a relief valve.",
            "network.pump",
            "Give the pump's slip or relief pressure, or open a tube that leads out.",
        )
    return np.asarray(opened[works])


def _highest(pressure: Array) -> Array:
    return np.asarray(np.max(np.where(np.isnan(pressure), -np.inf, pressure), axis=1))


def _at_caps(batch: FlowBatch, opened: Flags, caps: Caps) -> Array:
    found = np.full((len(opened), len(caps.names)), -np.inf)
    for place, (tube, nodes) in enumerate(zip(caps.tubes, caps.nodes, strict=True)):
        here = _highest(batch.pressure[:, list(nodes)])
        found[:, place] = here if tube is None else np.where(opened[:, tube], here, -np.inf)
    return found


def _cap(network: Network, name: str, pascals: float) -> tuple[int | None, tuple[int, ...]]:
    field = f"pressure_cap_pa.{name}"
    _check_cap(pascals, field)
    if name in network.tube_index:
        tube = network.tube_index[name]
        ends = (network.tubes[tube].from_node, network.tubes[tube].to_node)
        return tube, tuple(network.node_index[end] for end in ends)
    if name in network.node_index:
        return None, (network.node_index[name],)
    raise Refusal("unknown-tube", f"There is no tube or node {name!r}.", field, _known(network.tube_index))


def _check_cap(pascals: float, field: str) -> None:
    if not math.isfinite(pascals):
        raise Refusal("not-finite", "A pressure cap must be a finite number.", field, "Give a number.")
    if not 0 < pascals <= HIGHEST_PA:
        raise Refusal(
            "out-of-range",
            f"A pressure cap must be above 0 and at most {HIGHEST_PA:g} Pa; found {pascals:g}.",
            field,
            "100 kPa is 100000.",
        )
