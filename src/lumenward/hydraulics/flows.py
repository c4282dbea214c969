"""The answer: flows and pressures of one network or of a batch, and what follows from them."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from lumenward.hydraulics.friction import Array, prepare
from lumenward.hydraulics.network import Network
from lumenward.hydraulics.topology import Flags
from lumenward.hydraulics.variants import Variants


@dataclass(frozen=True)
class Flow:
    """The flow of one network: tube arrays (T,) in the order of its tubes, `pressure` (N,) in that of its nodes.

    SI; flow and velocity positive from -> to. `friction_factor` is NaN without flow, `pressure` NaN at a node shut
    off on all sides. `delivered` is what the pump gives after slip and relief, `imbalance` the largest nodal
    imbalance over the inflow.
    """

    network: Network
    flow: Array
    pressure: Array
    velocity: Array
    reynolds: Array
    friction_factor: Array
    wall_shear: Array
    pressure_drop: Array
    volume: Array
    delivered: float
    imbalance: float
    iterations: int

    def of(self, tube: str) -> float:
        """Return the flow in the tube of that id, m3/s."""
        return float(self.flow[self.network.tube_index[tube]])

    def at(self, node: str) -> float:
        """Return the pressure at the node of that id, Pa."""
        return float(self.pressure[self.network.node_index[node]])


@dataclass(frozen=True)
class FlowBatch:
    """Flows of B variants; see the module for shapes. Everything but flow and pressure is worked out when asked."""

    network: Network
    variants: Variants
    flow: Array
    pressure: Array
    delivered: Array  # what the pump gives (B,), after slip and relief
    iterations: NDArray[np.int64]
    converged: Flags

    @cached_property
    def velocity(self) -> Array:
        """Return mean velocities (B, T), m/s."""
        return self.flow / self._area

    @cached_property
    def reynolds(self) -> Array:
        """Return Reynolds numbers on the hydraulic diameter (B, T)."""
        return np.abs(self.velocity) * self._gap * self._density / self._viscosity

    @cached_property
    def friction_factor(self) -> Array:
        """Return Darcy friction factors (B, T); NaN where nothing flows."""
        product = self._product
        factor = np.full(product.shape, np.nan)
        np.divide(product, self.reynolds, out=factor, where=self.reynolds > 1e-300)
        return factor

    @cached_property
    def wall_shear(self) -> Array:
        """Return mean wall shear stresses (B, T), Pa."""
        return self._product * np.abs(self.velocity) * self._viscosity / (8 * self._gap)

    @cached_property
    def pressure_drop(self) -> Array:
        """Return pressure drops from -> to (B, T), Pa; across a closed tube what its ends differ by."""
        friction = self._product * self._viscosity / self._gap * self._length / self._gap
        minor = self._minor_loss * self._density * np.abs(self.velocity)
        drop = (friction + minor) * self.velocity / 2
        index = self.network.node_index
        ends = np.array([(index[t.from_node], index[t.to_node]) for t in self.network.tubes])
        apart = self.pressure[:, ends[:, 0]] - self.pressure[:, ends[:, 1]]
        return np.where(self._open, drop, apart)

    @cached_property
    def volume(self) -> Array:
        """Return the volumes the tubes hold (B, T), m3."""
        return np.broadcast_to(self._area * self._length, self.flow.shape)

    @cached_property
    def imbalance(self) -> Array:
        """Return the largest nodal imbalance over the inflow, the pump's before slip (B,); 0 without any."""
        net = np.zeros_like(self.pressure)
        index = self.network.node_index
        for i, tube in enumerate(self.network.tubes):
            net[:, index[tube.from_node]] -= self.flow[:, i]
            net[:, index[tube.to_node]] += self.flow[:, i]
        if self.network.pump is not None:
            net[:, index[self.network.pump.node]] += self.delivered
        fixed = np.array([node.pressure_pa is not None for node in self.network.nodes])
        inflow = np.sum(np.maximum(-net[:, fixed], 0), axis=1) + self._pumped
        worst = np.max(np.abs(net[:, ~fixed]), axis=1, initial=0.0)
        return np.asarray(worst / np.where(inflow > 0, inflow, np.inf))

    def of(self, tube: str) -> Array:
        """Return the flows in the tube of that id (B,), m3/s."""
        return self.flow[:, self.network.tube_index[tube]]

    def at(self, node: str) -> Array:
        """Return the pressures at the node of that id (B,), Pa."""
        return self.pressure[:, self.network.node_index[node]]

    def row(self, i: int) -> Flow:
        """Return one variant's flow; its `network` stays the one the batch was made from."""
        names = (
            "flow",
            "pressure",
            "velocity",
            "reynolds",
            "friction_factor",
            "wall_shear",
            "pressure_drop",
            "volume",
        )
        arrays = {name: np.array(getattr(self, name)[i]) for name in names}
        return Flow(
            self.network,
            **arrays,
            delivered=float(self.delivered[i]),
            imbalance=float(self.imbalance[i]),
            iterations=int(self.iterations[i]),
        )

    @cached_property
    def _product(self) -> Array:
        laminar = self.variants.laminar(self.network)
        curve = prepare(self.network.friction, laminar, self._roughness / self._gap)
        return np.broadcast_to(curve(self.reynolds)[0], self.flow.shape)

    @property
    def _pumped(self) -> Array:
        pump = self.network.pump
        return self.variants.scalar("pump_flow_m3_s", pump.flow_m3_s) if pump else np.zeros(1)

    @property
    def _gap(self) -> Array:
        return self.variants.bore(self.network) - self.variants.wire(self.network)

    @property
    def _area(self) -> Array:
        return np.pi / 4 * self._gap * (self.variants.bore(self.network) + self.variants.wire(self.network))

    @property
    def _length(self) -> Array:
        return self.variants.tube_values(self.network, "length_m")

    @property
    def _roughness(self) -> Array:
        return self.variants.tube_values(self.network, "roughness_m")

    @property
    def _minor_loss(self) -> Array:
        return self.variants.tube_values(self.network, "minor_loss")

    @property
    def _open(self) -> Flags:
        return self.variants.opened(self.network)

    @property
    def _density(self) -> Array:
        return self.variants.scalar("density_kg_m3", self.network.fluid.density_kg_m3)[:, None]

    @property
    def _viscosity(self) -> Array:
        return self.variants.scalar("viscosity_pa_s", self.network.fluid.viscosity_pa_s)[:, None]
