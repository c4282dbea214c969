"""Variants of one network: the same tubes and nodes with other numbers."""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from lumenward.hydraulics.annulus import effective_f_re
from lumenward.hydraulics.friction import Array
from lumenward.hydraulics.network import HIGHEST_PA, LARGEST_BORE_M, LONGEST_M, VACUUM_PA, Network
from lumenward.hydraulics.topology import Flags
from lumenward.quantities import Refusal

# name: lowest, highest, lowest itself allowed, how many columns
_ALLOWED: dict[str, tuple[float, float, bool, str]] = {
    "bore_m": (0.0, LARGEST_BORE_M, False, "tubes"),
    "length_m": (0.0, LONGEST_M, False, "tubes"),
    "minor_loss": (0.0, 1e9, True, "tubes"),
    "roughness_m": (0.0, LARGEST_BORE_M / 2, True, "tubes"),
    "pressure_pa": (VACUUM_PA, HIGHEST_PA, True, "nodes with a fixed pressure"),
    "density_kg_m3": (500.0, 3000.0, True, ""),
    "viscosity_pa_s": (1e-6, 0.5, True, ""),
    "pump_flow_m3_s": (0.0, 0.1, True, ""),
    "slip_m3_s_pa": (0.0, 1e-3, True, ""),
}


@dataclass(frozen=True, eq=False)
class Variants:
    """B variants: (B, T) arrays over tubes, (B, F) over fixed nodes, (B,) for the rest; None keeps the network's.

    Raises Refusal `shape` when lengths differ and `out-of-range` when a value is none (NaN, negative, zero bore).
    """

    bore_m: Array | None = None
    length_m: Array | None = None
    minor_loss: Array | None = None
    roughness_m: Array | None = None
    open: Flags | None = None
    pressure_pa: Array | None = None
    density_kg_m3: Array | None = None
    viscosity_pa_s: Array | None = None
    pump_flow_m3_s: Array | None = None
    slip_m3_s_pa: Array | None = None
    count: int | None = None

    def __post_init__(self) -> None:
        """Turn everything into arrays and agree on how many variants there are."""
        counts = set() if self.count is None else {int(self.count)}
        for field in fields(self):
            given = getattr(self, field.name)
            if given is None or field.name == "count":
                continue
            values = np.asarray(given, dtype=np.bool_ if field.name == "open" else np.float64)
            object.__setattr__(self, field.name, values)
            counts.add(values.shape[0] if values.ndim else -1)
        if len(counts) > 1 or -1 in counts:
            raise Refusal(
                "shape", f"The variants differ in number: {sorted(counts)}.", "variants", "One row a variant."
            )
        object.__setattr__(self, "count", counts.pop() if counts else 1)

    @property
    def size(self) -> int:
        """Return how many variants there are."""
        return int(self.count or 0)

    def check(self, network: Network) -> None:
        """Raise a Refusal unless every array fits `network` and holds possible values."""
        columns = {"tubes": len(network.tubes), "nodes with a fixed pressure": len(network.fixed_ids)}
        for name, (low, high, closed, what) in _ALLOWED.items():
            values = getattr(self, name)
            if values is None:
                continue
            _check_shape(name, values, columns.get(what), what)
            fine = (values >= low if closed else values > low) & (values <= high)
            if not fine.all():
                place = [int(i) for i in np.argwhere(~fine)[0]]
                raise Refusal(
                    "out-of-range",
                    f"{name} {values[tuple(place)]:g} is not allowed; it must lie from {low:g} to {high:g}.",
                    f"variants.{name}{place}",
                    "Values are in SI units.",
                )
        if self.open is not None:
            _check_shape("open", self.open, columns["tubes"], "tubes")
        self._check_gaps(network)

    def _check_gaps(self, network: Network) -> None:
        least = self.wire(network) + 2 * self.tube_values(network, "roughness_m")
        if not (self.bore(network) > least).all():
            raise Refusal(
                "out-of-range",
                "A wire or a roughness fills the bore of a variant.",
                "variants.bore_m",
                "Every bore must be wider than its wire.",
            )

    def rows(self, part: slice | NDArray[np.int64]) -> Variants:
        """Return some of the variants."""
        chosen = {f.name: getattr(self, f.name) for f in fields(self) if f.name != "count"}
        picked = {name: None if v is None else v[part] for name, v in chosen.items()}
        return Variants(**picked, count=len(np.arange(self.size)[part]))

    def tube_values(self, network: Network, name: str) -> Array:
        """Return a tube property as (B, T), or (1, T) where all variants share it."""
        values: Array | None = getattr(self, name, None)
        return (
            np.array([[getattr(t, name) for t in network.tubes]], dtype=float) if values is None else values
        )

    def bore(self, network: Network) -> Array:
        """Return the bores, (B, T) or (1, T), m."""
        return self.tube_values(network, "bore_m")

    def wire(self, network: Network) -> Array:
        """Return the wires' diameters (1, T), m."""
        return np.array([[t.wire_m for t in network.tubes]])

    def laminar(self, network: Network) -> Array:
        """Return the laminar f Re, (B, T) or (1, T); 64 in a round tube."""
        bore = self.bore(network)
        wired = any(t.wire_m > 0 for t in network.tubes)
        laminar = np.full(bore.shape if wired else (1, bore.shape[1]), 64.0)
        for i, tube in enumerate(network.tubes):
            if tube.wire_m > 0:
                laminar[:, i] = effective_f_re(bore[:, i], tube.wire_m, tube.eccentricity)
        return laminar

    def opened(self, network: Network) -> Flags:
        """Return which tubes are open, (B, T) or (1, T)."""
        return np.array([[t.open for t in network.tubes]]) if self.open is None else self.open

    def fixed(self, network: Network) -> Array:
        """Return the fixed pressures, (B, F) or (1, F), Pa."""
        given = [[n.pressure_pa for n in network.nodes if n.pressure_pa is not None]]
        return np.array(given, dtype=float) if self.pressure_pa is None else self.pressure_pa

    def scalar(self, name: str, default: float) -> Array:
        """Return one number a variant, (B,) or (1,)."""
        values: Array | None = getattr(self, name)
        return np.array([default]) if values is None else values


def _check_shape(name: str, values: NDArray[np.generic], columns: int | None, what: str) -> None:
    if values.shape[1:] != (() if columns is None else (columns,)):
        wanted = (
            "one number a variant" if columns is None else f"{columns} columns, one for each of the {what}"
        )
        raise Refusal(
            "shape", f"{name} has the shape {values.shape}; it needs {wanted}.", f"variants.{name}", ""
        )
