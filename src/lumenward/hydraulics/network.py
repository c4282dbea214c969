"""A network of tubes as plain, frozen data: what is there, not what flows.

    Fluid(density_kg_m3, viscosity_pa_s)             Fluid.water(temperature_c)
    Node(id, pressure_pa=None)                       None: the pressure is to be found
    Tube(id, from_node, to_node, length_m, bore_m, wire_m=0, eccentricity=0, roughness_m=1.5e-6,
         minor_loss=0, open=True)
    Pump(node, flow_m3_s, slip_m3_s_pa=0, relief_pa=None)
    Network(fluid, nodes, tubes, pump=None, friction="epanet")

All values SI, pressures gauge. Every record checks itself and raises Refusal naming the field; the network
checks the whole.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable
from dataclasses import dataclass, replace
from functools import cached_property
from numbers import Real

from lumenward.hydraulics import water
from lumenward.quantities import Refusal

LAWS = ("colebrook", "swamee-jain", "churchill", "epanet")
SMOOTH_TUBE_M = 1.5e-6
VACUUM_PA = -101325.0
HIGHEST_PA = 1e8
LEAST_RELIEF_PA = 1.0
LARGEST_BORE_M = 0.5
LONGEST_M = 250.0


@dataclass(frozen=True)
class Fluid:
    """The liquid in the tubes: `density_kg_m3` (500 to 3000) and dynamic `viscosity_pa_s` (1e-6 to below 0.5)."""

    density_kg_m3: float
    viscosity_pa_s: float

    def __post_init__(self) -> None:
        """Refuse values no liquid in a channel has."""
        _finite(self.density_kg_m3, "fluid.density_kg_m3", "A density")
        _finite(self.viscosity_pa_s, "fluid.viscosity_pa_s", "A viscosity")
        if not 500 <= self.density_kg_m3 <= 3000:
            raise _out_of_range(
                "fluid.density_kg_m3", "A density", self.density_kg_m3, "500 and 3000 kg/m3", 1000, 500, 3000
            )
        if not 1e-6 <= self.viscosity_pa_s < 0.5:
            raise _out_of_range(
                "fluid.viscosity_pa_s",
                "A viscosity",
                self.viscosity_pa_s,
                "1e-6 and 0.5 Pa s",
                1e-3,
                1e-6,
                0.5,
            )

    @classmethod
    def water(cls, temperature_c: float) -> Fluid:
        """Return pure water at `temperature_c` (0 to 100 C, ends excluded)."""
        water.checked_temperature(temperature_c, "fluid.temperature_c")
        return cls(water.density(temperature_c), water.viscosity(temperature_c))


@dataclass(frozen=True)
class Node:
    """A place where tubes meet; `pressure_pa` (gauge) fixes its pressure, None leaves it to be found."""

    id: str
    pressure_pa: float | None = None


@dataclass(frozen=True)
class Tube:
    """One tube; flow counts positive from `from_node` to `to_node`.

    `bore_m` inner diameter, `wire_m` outer diameter of a wire inside (0: none), `eccentricity` of that wire
    (0 centred, 1 on the wall), `minor_loss` the sum of loss coefficients on the velocity head, `open` False
    for a closed clamp or a complete block.
    """

    id: str
    from_node: str
    to_node: str
    length_m: float
    bore_m: float
    wire_m: float = 0.0
    eccentricity: float = 0.0
    roughness_m: float = SMOOTH_TUBE_M
    minor_loss: float = 0.0
    open: bool = True

    @property
    def area_m2(self) -> float:
        """Return the cross-section open to flow, m2."""
        return math.pi / 4 * (self.bore_m - self.wire_m) * (self.bore_m + self.wire_m)

    @property
    def volume_m3(self) -> float:
        """Return the volume of liquid the tube holds, m3."""
        return self.area_m2 * self.length_m


@dataclass(frozen=True)
class Pump:
    """A displacement pump into `node`: it gives `flow_m3_s` less `slip_m3_s_pa` for each pascal it works against.

    Above `relief_pa` its relief valve returns flow; it has opened fully when the pressure stands
    `relief_rise` (a fraction; common practice, no source) above the set pressure.
    """

    node: str
    flow_m3_s: float
    slip_m3_s_pa: float = 0.0
    relief_pa: float | None = None
    relief_rise: float = 1 / 30

    @property
    def relief_m3_s_pa(self) -> float:
        """Return the flow the open relief valve takes for each pascal above its set pressure; 0 without one."""
        if self.relief_pa is None or self.flow_m3_s == 0:
            return 0.0
        return self.flow_m3_s / (self.relief_rise * self.relief_pa)


@dataclass(frozen=True)
class Network:
    """Tubes between nodes, one liquid, one friction law, at most one pump."""

    fluid: Fluid
    nodes: tuple[Node, ...]
    tubes: tuple[Tube, ...]
    pump: Pump | None = None
    friction: str = "epanet"

    def __post_init__(self) -> None:
        """Refuse a network that cannot be, naming the field that says so."""
        object.__setattr__(self, "nodes", tuple(self.nodes))
        object.__setattr__(self, "tubes", tuple(self.tubes))
        if self.friction not in LAWS:
            raise Refusal(
                "unknown-law",
                f"There is no friction law {self.friction!r}.",
                "friction",
                "One of: " + ", ".join(LAWS),
            )
        _check_nodes(self.nodes)
        _check_tubes(self.tubes, {node.id for node in self.nodes})
        _check_pump(self.pump, self.nodes)
        _check_ways_out(self)

    @cached_property
    def node_index(self) -> dict[str, int]:
        """Return the position of each node by its id."""
        return {node.id: i for i, node in enumerate(self.nodes)}

    @cached_property
    def tube_index(self) -> dict[str, int]:
        """Return the position of each tube by its id."""
        return {tube.id: i for i, tube in enumerate(self.tubes)}

    @property
    def fixed_ids(self) -> tuple[str, ...]:
        """Return the ids of the nodes whose pressure is given, in order."""
        return tuple(node.id for node in self.nodes if node.pressure_pa is not None)

    def with_ports(self, ports: Collection[str], opened: Collection[str]) -> Network:
        """Return the network with every tube of `ports` closed except those in `opened`; other tubes stay."""
        unknown = [name for name in (*ports, *opened) if name not in self.tube_index]
        if unknown:
            raise Refusal("unknown-tube", f"There is no tube {unknown[0]!r}.", "ports", self._tube_names())
        return replace(
            self,
            tubes=tuple(replace(t, open=t.id in opened) if t.id in ports else t for t in self.tubes),
        )

    def with_fluid(self, fluid: Fluid) -> Network:
        """Return the network filled with another liquid."""
        return replace(self, fluid=fluid)

    def _tube_names(self) -> str:
        return "One of: " + ", ".join(self.tube_index)


def _finite(value: object, field: str, what: str) -> None:
    if isinstance(value, bool) or not isinstance(value, Real) or not math.isfinite(value):
        raise Refusal(
            "not-finite", f"{what} must be a finite number; found {value}.", field, "Give a number."
        )


def _out_of_range(
    field: str, what: str, value: float, allowed: str, factor: float, low: float, high: float
) -> Refusal:
    meant = value * factor
    hint = f"Did you mean {meant:.6g}?" if low <= meant <= high else f"Allowed is between {allowed}."
    return Refusal("out-of-range", f"{what} must lie between {allowed}; found {value:g}.", field, hint)


def _check_nodes(nodes: tuple[Node, ...]) -> None:
    seen: set[str] = set()
    for i, node in enumerate(nodes):
        if not node.id or node.id in seen:
            raise Refusal(
                "duplicate",
                f"Node {node.id!r} is named twice or not at all.",
                f"nodes[{i}].id",
                "Give each node its own name.",
            )
        seen.add(node.id)
        if node.pressure_pa is not None:
            check_pressure(node.pressure_pa, f"nodes[{i}].pressure_pa")
    if all(node.pressure_pa is None for node in nodes):
        raise Refusal(
            "no-way-out",
            "No node has a fixed pressure, so the liquid has no way out.",
            "nodes",
            "Give the open end its pressure: 0 Pa for the room.",
        )


def check_pressure(value: float, field: str) -> None:
    """Refuse a gauge pressure below vacuum or beyond 1000 bar."""
    _finite(value, field, "A pressure")
    if not VACUUM_PA <= value <= HIGHEST_PA:
        raise Refusal(
            "out-of-range",
            f"A gauge pressure must lie between {VACUUM_PA:g} (vacuum) and {HIGHEST_PA:g} Pa; found {value:g}.",
            field,
            "Pressures are in pascals above the room's: 100 kPa is 100000.",
        )


def _check_tubes(tubes: tuple[Tube, ...], known: set[str]) -> None:
    if not tubes:
        raise Refusal("missing", "A network needs at least one tube.", "tubes", "Add the tubes.")
    seen: set[str] = set()
    for i, tube in enumerate(tubes):
        at = f"tubes[{i}]"
        if not tube.id or tube.id in seen:
            raise Refusal(
                "duplicate",
                f"Tube {tube.id!r} is named twice or not at all.",
                f"{at}.id",
                "Give each tube its own name.",
            )
        seen.add(tube.id)
        _check_ends(tube, at, known)
        _check_shape(tube, at)


def _check_ends(tube: Tube, at: str, known: set[str]) -> None:
    for key, name in (("from", tube.from_node), ("to", tube.to_node)):
        if name not in known:
            raise Refusal(
                "unknown-node",
                f"Tube {tube.id!r} ends at {name!r}, which is not among the nodes.",
                f"{at}.{key}",
                "One of: " + ", ".join(sorted(known)),
            )
    if tube.from_node == tube.to_node:
        raise Refusal(
            "contradiction",
            f"Tube {tube.id!r} begins and ends at {tube.to_node!r}.",
            f"{at}.to",
            "A tube joins two different nodes.",
        )


def _check_shape(tube: Tube, at: str) -> None:
    check_bore(tube.bore_m, f"{at}.bore_m")
    check_length(tube.length_m, f"{at}.length_m")
    check_wire(tube.wire_m, tube.bore_m, f"{at}.wire_m")
    _finite(tube.eccentricity, f"{at}.eccentricity", "An eccentricity")
    if not 0 <= tube.eccentricity <= 1:
        raise Refusal(
            "out-of-range",
            f"An eccentricity lies between 0 (centred) and 1 (on the wall); found {tube.eccentricity:g}.",
            f"{at}.eccentricity",
            "It is the offset of the wire over the widest offset possible.",
        )
    _check_roughness(tube, f"{at}.roughness_m")
    _finite(tube.minor_loss, f"{at}.minor_loss", "A minor loss")
    if not 0 <= tube.minor_loss <= 1e9:
        raise Refusal(
            "out-of-range",
            f"A minor loss cannot be negative or above 1e9; found {tube.minor_loss:g}.",
            f"{at}.minor_loss",
            "Usual values lie between 0 and 10.",
        )


def check_bore(value: float, field: str) -> None:
    """Refuse a bore that is zero, negative or no bore of a tube; offer the metres that were meant."""
    _finite(value, field, "A bore")
    if value <= 0:
        raise Refusal(
            "too-low", f"A bore must be above zero; found {value:g}.", field, "Give the bore in metres."
        )
    if value > LARGEST_BORE_M:
        raise Refusal(
            "too-high",
            f"A bore of {value:g} m is wider than any tube here (up to {LARGEST_BORE_M:g} m).",
            field,
            f"Bores are in metres: did you mean {value / 1000:.6g}?",
        )


def check_length(value: float, field: str) -> None:
    """Refuse a length that is zero, negative or beyond any hose; offer the metres that were meant."""
    _finite(value, field, "A length")
    if value <= 0:
        raise Refusal(
            "too-low", f"A length must be above zero; found {value:g}.", field, "Give the length in metres."
        )
    if value > LONGEST_M:
        raise Refusal(
            "too-high",
            f"A length of {value:g} m is longer than any tube here (up to {LONGEST_M:g} m).",
            field,
            f"Lengths are in metres: did you mean {value / 1000:.6g}?",
        )


def check_wire(wire_m: float, bore_m: float, field: str) -> None:
    """Refuse a wire that is negative or does not fit into its bore."""
    _finite(wire_m, field, "A wire's diameter")
    if wire_m < 0:
        raise Refusal(
            "too-low", f"A wire's diameter cannot be negative; found {wire_m:g}.", field, "0 means no wire."
        )
    if wire_m >= bore_m:
        small = wire_m / 1000
        hint = f"Did you mean {small:.6g}?" if small < bore_m and wire_m > 0.05 else "Check both diameters."
        raise Refusal(
            "too-high", f"A wire of {wire_m:g} m does not fit into a bore of {bore_m:g} m.", field, hint
        )


def _check_roughness(tube: Tube, field: str) -> None:
    _finite(tube.roughness_m, field, "A roughness")
    if tube.roughness_m < 0:
        raise Refusal(
            "too-low", f"A roughness cannot be negative; found {tube.roughness_m:g}.", field, "0 is smooth."
        )
    if tube.roughness_m >= (tube.bore_m - tube.wire_m) / 2:
        raise Refusal(
            "too-high",
            f"A roughness of {tube.roughness_m:g} m would fill the gap of tube {tube.id!r}.",
            field,
            "Roughness is in metres: 1.5 micrometres is 1.5e-6.",
        )


def _check_pump(pump: Pump | None, nodes: tuple[Node, ...]) -> None:
    if pump is None:
        return
    by_id = {node.id: node for node in nodes}
    if pump.node not in by_id:
        raise Refusal(
            "unknown-node",
            f"The pump stands at {pump.node!r}, which is not among the nodes.",
            "pump.node",
            "One of: " + ", ".join(by_id),
        )
    if by_id[pump.node].pressure_pa is not None:
        raise Refusal(
            "contradiction",
            f"Node {pump.node!r} has both a pump and a fixed pressure; only one of them can decide.",
            "pump.node",
            "Take the pressure or the pump away.",
        )
    _check_pump_numbers(pump)


def _check_pump_numbers(pump: Pump) -> None:
    check_pump_flow(pump.flow_m3_s, "pump.flow_m3_s")
    _finite(pump.slip_m3_s_pa, "pump.slip_m3_s_pa", "A slip")
    if not 0 <= pump.slip_m3_s_pa <= 1e-3:
        raise Refusal(
            "out-of-range",
            f"A slip must lie between 0 and 1e-3 m3/s per Pa; found {pump.slip_m3_s_pa:g}.",
            "pump.slip_m3_s_pa",
            "10 % of 750 mL/min per 100 kPa is 1.25e-11.",
        )
    if pump.relief_pa is not None:
        _finite(pump.relief_pa, "pump.relief_pa", "A relief pressure")
        if not LEAST_RELIEF_PA <= pump.relief_pa <= HIGHEST_PA:
            raise Refusal(
                "out-of-range",
                f"A relief lies between {LEAST_RELIEF_PA:g} and {HIGHEST_PA:g} Pa; found {pump.relief_pa:g}.",
                "pump.relief_pa",
                "150 kPa is 150000.",
            )


def check_pump_flow(value: float, field: str) -> None:
    """Refuse a pump flow that is negative or larger than 0.1 m3/s."""
    _finite(value, field, "A pump's flow")
    if value < 0:
        raise Refusal(
            "too-low",
            f"A pump's flow cannot be negative; found {value:g}.",
            field,
            "A pump that sucks is a fixed negative pressure.",
        )
    if value > 0.1:
        raise Refusal(
            "too-high",
            f"A pump's flow of {value:g} m3/s is beyond any pump here.",
            field,
            f"If this is in mL/min, did you mean {value / 6e7:.6g}?",
        )


def _check_ways_out(network: Network) -> None:
    reached = _spread(network.tubes, set(network.fixed_ids))
    for i, node in enumerate(network.nodes):
        if node.id not in reached:
            raise Refusal(
                "no-way-out",
                f"Node {node.id!r} is unreachable: no tube joins it to an end with a fixed pressure, so it has "
                "no way out.",
                f"nodes[{i}]",
                "Add the missing tube, give the end its pressure, or remove the node.",
            )


def _spread(tubes: Iterable[Tube], reached: set[str]) -> set[str]:
    left = list(tubes)
    while True:
        touching = [t for t in left if t.from_node in reached or t.to_node in reached]
        if not touching:
            return reached
        for tube in touching:
            reached.update((tube.from_node, tube.to_node))
        left = [t for t in left if t not in touching]
