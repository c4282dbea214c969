"""What every fault would read, worked out ahead: a table for one model on one supply.

    prepare(network, ports) -> Table
    table.with_settings(settings) -> Table

For each setting of the clamps and each fault the network is solved for the same draws of what nobody knows: bores
(3 % each, about 12 % in resistance) and the pump (5 %), and for a partial block how much is left open. Of the draws
the table keeps the mean, the slope on each unknown and what the slopes leave over. The draws are seeded and come in
opposite pairs with exact unit covariance, so the same network gives the same table, and linear effects come out
without sampling noise. Spreads: assumptions, common practice, no source.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from lumenward.hydraulics.faults import LEFT_OPEN, STRATA, Rig, rig
from lumenward.hydraulics.flows import FlowBatch
from lumenward.hydraulics.friction import Array
from lumenward.hydraulics.network import Network
from lumenward.hydraulics.solver import Variants, solve_many
from lumenward.hydraulics.topology import Layout, layout, reach
from lumenward.quantities import Refusal

VERSION = 1
BORE_SPREAD = 0.03
SUPPLY_SPREAD = 0.05
DRAWS = 24
ROWS = 20_000
_SEED = 1905
Setting = frozenset[str]
Integers = NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class Sheet:
    """One setting: `row` (cases,) says which row of the arrays a case has; Q readings, P unknowns.

    `mean` (rows, Q), `slope` (rows, Q, P) for one standard deviation of each unknown, `left` (rows, Q) the standard
    deviation that the slopes leave over. Readings: total flow, pressure at the gauge, flow of each outlet. SI.
    """

    row: Integers
    mean: Array
    slope: Array
    left: Array


@dataclass(frozen=True, eq=False)
class Table:
    """The sheets of one model by setting."""

    rig: Rig
    sheets: dict[Setting, Sheet]

    @property
    def readings(self) -> tuple[str, ...]:
        """Return the names of the readings in the order of the sheets' columns."""
        return ("flow", "pressure", *self.rig.outlets)

    @property
    def unknowns(self) -> int:
        """Return how many unknowns the slopes have: bores, supply, then what partial faults leave open."""
        return unknowns(self.rig)

    def with_settings(self, settings: Iterable[Sequence[str]]) -> Table:
        """Return the table with sheets for these settings as well."""
        missing = {frozenset(s) for s in settings} - self.sheets.keys()
        ordered = sorted(missing, key=sorted)
        return replace(self, sheets={**self.sheets, **{s: _sheet(self.rig, s) for s in ordered}})


def prepare(
    network: Network,
    ports: Sequence[str],
    gauge: str | None = None,
    places: Sequence[str] | None = None,
    doubles: bool = True,
) -> Table:
    """Return the table with all ports open and each port alone; arguments as in `faults.rig`.

    >>> from lumenward.hydraulics.network import Fluid, Node, Tube
    >>> ends = (Node("in", 100e3), Node("out", 0.0))
    >>> tubes = (Tube("a", "in", "out", 3.0, 1e-3), Tube("b", "in", "out", 3.0, 1e-3))
    >>> table = prepare(Network(Fluid.water(20.0), ends, tubes), ["a", "b"])
    >>> len(table.rig.hypotheses), len(table.sheets)
    (9, 3)
    """
    made = rig(network, ports, gauge, places, doubles)
    return Table(made, {}).with_settings(usual_settings(ports))


def usual_settings(ports: Sequence[str]) -> list[tuple[str, ...]]:
    """Return all ports open, then each alone."""
    return [tuple(ports), *((port,) for port in ports)]


def unknowns(made: Rig) -> int:
    """Return how many unknowns there are: a bore for each tube that is no hole, the supply, a share for each place."""
    return made.real + 1 + len(made.places)


def digest(made: Rig) -> str:
    """Return a name for the table of this network, ports, places and gauge: equal inputs, equal name."""
    text = repr((VERSION, DRAWS, STRATA, LEFT_OPEN, made))
    return hashlib.sha256(text.encode()).hexdigest()


def _sheet(made: Rig, setting: Setting) -> Sheet:
    row, opened, strata = _rows(made, layout(made.network), setting)
    draws = _draws(unknowns(made))
    step = max(1, ROWS // len(draws))
    parts = [
        _condensed(_solved(made, opened[at : at + step], strata[at : at + step], draws), draws)
        for at in range(0, len(opened), step)
    ]
    mean, slope, left = (np.concatenate(column) for column in zip(*parts, strict=True))
    return Sheet(row, mean, slope, left)


def _rows(made: Rig, plan: Layout, setting: Setting) -> tuple[Integers, NDArray[np.bool_], Integers]:
    """Return the row of each case, and what is open and how far it is left open in each row.

    Faults in tubes that carry nothing in this setting change nothing: such cases share a row. A stratum of -1 means
    that the place is not partly blocked.
    """
    gauge = made.network.node_index[made.gauge]
    masks = [np.array(made.opened(tuple(setting), h)) for h in made.hypotheses]
    each = {kept: reach(plan, np.frombuffer(kept, dtype=np.bool_)) for kept in {m.tobytes() for m in masks}}
    reaches = [each[mask.tobytes()] for mask in masks]
    index = made.network.tube_index
    known: dict[tuple[bytes, bool, tuple[tuple[str, int], ...]], int] = {}
    row = np.empty(len(made.cases), dtype=np.int64)
    opened: list[NDArray[np.bool_]] = []
    strata: list[list[int]] = []
    for number, (hypothesis, partial) in enumerate(made.cases):
        found = reaches[hypothesis]
        felt = tuple((tube, s) for tube, s in partial if found.active[index[tube]])
        key = (found.active.tobytes(), gauge in found.unknown, tuple(sorted(felt)))
        if key not in known:
            known[key] = len(opened)
            opened.append(masks[hypothesis])
            strata.append([dict(felt).get(tube, -1) for tube in made.places])
        row[number] = known[key]
    return row, np.array(opened), np.array(strata, dtype=np.int64).reshape(len(opened), len(made.places))


def _draws(unknowns: int) -> Array:
    """Return draws (D, P) in opposite pairs with zero mean and exactly unit covariance."""
    pairs = max(DRAWS, unknowns)
    square, _ = np.linalg.qr(np.random.default_rng(_SEED).standard_normal((pairs, unknowns)))
    half = square * np.sqrt(pairs)
    return np.concatenate([half, -half])


def _solved(made: Rig, opened: NDArray[np.bool_], strata: Integers, draws: Array) -> Array:
    """Return the readings (rows, D, Q)."""
    network = made.network
    count, each = len(opened), len(draws)
    bore = _bores(made, strata, draws).reshape(count * each, -1)
    supply = np.tile(1 + SUPPLY_SPREAD * draws[:, made.real], count)
    pump = network.pump
    pressure = np.array([n.pressure_pa for n in network.nodes if n.pressure_pa is not None], dtype=float)
    scaled = np.where(pressure > 0, pressure * supply[:, None], pressure)
    batch = solve_many(
        network,
        Variants(
            bore_m=bore,
            open=np.repeat(opened, each, axis=0),
            pump_flow_m3_s=pump.flow_m3_s * supply if pump else None,
            pressure_pa=scaled if pump is None else None,
        ),
        engine="numpy",
    )
    if not batch.converged.all():
        raise Refusal("not-converged", "No steady flow was found for some faults.", "network", "")
    return _read(made, batch).reshape(count, each, -1)


def _bores(made: Rig, strata: Integers, draws: Array) -> Array:
    """Return the bores (rows, D, T)."""
    network, real = made.network, made.real
    nominal = np.array([tube.bore_m for tube in network.tubes])
    wire = np.array([tube.wire_m for tube in network.tubes])
    one = np.tile(nominal, (len(draws), 1))
    one[:, :real] *= 1 + BORE_SPREAD * draws[:, :real]
    bore = np.tile(one, (len(strata), 1, 1))
    width = (LEFT_OPEN[1] - LEFT_OPEN[0]) / STRATA
    for place, name in enumerate(made.places):
        at = network.tube_index[name]
        middle = LEFT_OPEN[0] + width * (strata[:, place, None] + 0.5)
        left = np.maximum(middle + width / np.sqrt(12) * draws[:, real + 1 + place], 0.5 * LEFT_OPEN[0])
        narrowed = wire[at] + left * (bore[:, :, at] - wire[at])
        bore[:, :, at] = np.where(strata[:, place, None] >= 0, narrowed, bore[:, :, at])
    return bore


def _read(made: Rig, batch: FlowBatch) -> Array:
    """Return total flow, gauge pressure and outlets (B, Q)."""
    network = made.network
    index, fixed = network.node_index, set(network.fixed_ids)
    from_fixed = {node: np.zeros(len(batch.flow)) for node in fixed}
    for i, tube in enumerate(network.tubes):
        if tube.from_node in fixed:
            from_fixed[tube.from_node] += batch.flow[:, i]
        if tube.to_node in fixed:
            from_fixed[tube.to_node] -= batch.flow[:, i]
    total = batch.delivered + sum(np.maximum(flow, 0.0) for flow in from_fixed.values())
    pressure = np.nan_to_num(batch.pressure[:, index[made.gauge]], nan=0.0)
    columns = [np.maximum(total, 0.0), pressure]
    for name in made.outlets:
        tube = network.tubes[network.tube_index[name]]
        sign = 1.0 if tube.to_node in fixed else -1.0
        columns.append(np.maximum(sign * batch.of(name), 0.0))
    return np.stack(columns, axis=1)


def _condensed(readings: Array, draws: Array) -> tuple[Array, Array, Array]:
    mean = readings.mean(axis=1)
    apart = readings - mean[:, None, :]
    slope = np.einsum("rdq,dp->rqp", apart, draws) / len(draws)
    left = np.sqrt(np.mean((apart - np.einsum("dp,rqp->rdq", draws, slope)) ** 2, axis=1))
    return mean, slope, left
