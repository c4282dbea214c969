"""What a measuring cup should catch at each outlet, for each setting of the clamps.

    expected_outflow(network, ports, seconds, settings=None) -> (Expected, ...)
        one for each setting and outlet; settings default to all ports open, then each port alone
    judge(expected, measured_m3) -> Judgement

An outlet is a tube that gives into a node of fixed pressure, such as a channel's distal end. Where a wire lies in
its channel is not known, so channels with a wire carry a range. Half of the least expected, or less, is worth a
look: the models' own doubt (bores, connectors, friction in the transition) stays well inside that.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from lumenward.hydraulics.bounds import between
from lumenward.hydraulics.friction import Array
from lumenward.hydraulics.network import Network
from lumenward.hydraulics.solver import Variants, solve_many
from lumenward.quantities import Refusal

LOOK_SHARE = 0.5
LONGEST_S = 3600.0
_STILL = 1e-15

Judgement = Literal["as-expected", "worth-a-look", "more-than-expected", "nothing-expected"]


@dataclass(frozen=True)
class Expected:
    """One line of the card: volumes in m3 caught at `outlet` in `seconds` with only the ports in `open` open.

    `least_m3` and `most_m3` span the unknown place of wires; without a wire they equal `volume_m3`.
    """

    outlet: str
    open: tuple[str, ...]
    seconds: float
    volume_m3: float
    least_m3: float
    most_m3: float

    @property
    def look_m3(self) -> float:
        """Return the volume at or below which the outlet is worth a look."""
        return LOOK_SHARE * self.least_m3

    @property
    def volume_ml(self) -> float:
        """Return the expected volume in mL."""
        return 1e6 * self.volume_m3

    def seconds_to(self, volume_m3: float) -> float:
        """Return how long the cup must be held to catch that volume; infinite where nothing is expected."""
        return volume_m3 / self.volume_m3 * self.seconds if self.volume_m3 > 0.0 else math.inf


def expected_outflow(
    network: Network, ports: Sequence[str], seconds: float, settings: Sequence[Collection[str]] | None = None
) -> tuple[Expected, ...]:
    """Return the card, settings in order and outlets in the order of the tubes.

    `ports` are the ids of the tubes with a clamp; `settings` name the open ones, all others are closed. Water full
    and steady; lines that suck from an outlet count as nothing caught. Raises Refusal for unknown ports, a time
    that is not above zero, and whatever the solver refuses.

    >>> from lumenward.hydraulics.network import Fluid, Node, Tube
    >>> ends = (Node("in", 100e3), Node("out", 0.0))
    >>> tubes = (Tube("wide", "in", "out", 3.0, 1e-3), Tube("narrow", "in", "out", 3.0, 0.5e-3))
    >>> card = expected_outflow(Network(Fluid.water(20.0), ends, tubes), ["wide", "narrow"], 60.0)
    >>> [(line.open, line.outlet, round(line.volume_ml, 1)) for line in card[:2]]
    [(('wide', 'narrow'), 'wide', 49.0), (('wide', 'narrow'), 'narrow', 3.1)]
    """
    between(seconds, 1.0, LONGEST_S, "seconds", "The time of the cup", "s")
    chosen = [tuple(s) for s in settings] if settings is not None else _usual_settings(ports)
    _check_ports(network, ports, chosen)
    flows = [_into_outlets(n, ports, chosen) for n in (network, *_other_wires(network))]
    least, most = np.minimum.reduce(flows), np.maximum.reduce(flows)
    return tuple(
        Expected(
            outlet=network.tubes[tube].id,
            open=setting,
            seconds=seconds,
            volume_m3=float(flows[0][row, tube]) * seconds,
            least_m3=float(least[row, tube]) * seconds,
            most_m3=float(most[row, tube]) * seconds,
        )
        for row, setting in enumerate(chosen)
        for tube in np.flatnonzero((most > _STILL).any(axis=0))
    )


def judge(expected: Expected, measured_m3: float) -> Judgement:
    """Return what a measured volume says: half or less of the least expected is worth a look.

    Twice the most expected says that something else is open or another channel is shut. No judgement names a cause.

    >>> line = Expected("air", ("air",), 60.0, 100e-6, 100e-6, 100e-6)
    >>> judge(line, 80e-6), judge(line, 50e-6), judge(line, 210e-6)
    ('as-expected', 'worth-a-look', 'more-than-expected')
    """
    if not (math.isfinite(measured_m3) and measured_m3 >= 0.0):
        raise Refusal(
            "too-low", f"A volume must be zero or more; found {measured_m3:g} m3.", "measured_m3", ""
        )
    if measured_m3 > expected.most_m3 / LOOK_SHARE:
        return "more-than-expected"
    if expected.most_m3 <= 0.0:
        return "nothing-expected"
    return "worth-a-look" if measured_m3 <= expected.look_m3 else "as-expected"


def _usual_settings(ports: Sequence[str]) -> list[tuple[str, ...]]:
    alone = [(port,) for port in ports]
    return [tuple(ports), *alone] if len(ports) > 1 else [tuple(ports)]


def _check_ports(network: Network, ports: Sequence[str], settings: Sequence[tuple[str, ...]]) -> None:
    for name in ports:
        if name not in network.tube_index:
            known = "One of: " + ", ".join(network.tube_index)
            raise Refusal("unknown-tube", f"There is no tube {name!r}.", "ports", known)
    for setting in settings:
        for name in setting:
            if name not in ports:
                known = "One of: " + ", ".join(ports)
                raise Refusal(
                    "unknown-port", f"{name!r} is not among the ports with a clamp.", "settings", known
                )


def _into_outlets(network: Network, ports: Sequence[str], settings: Sequence[tuple[str, ...]]) -> Array:
    """Return the flow (settings, tubes) that each tube gives into a node of fixed pressure, never below zero."""
    opened = np.array(
        [[t.id in setting if t.id in ports else t.open for t in network.tubes] for setting in settings]
    )
    batch = solve_many(network, Variants(open=opened), engine="numpy")
    if not batch.converged.all():
        worst = ", ".join(settings[int(np.argmin(batch.converged))]) or "none"
        raise Refusal(
            "not-converged", f"No steady flow was found with these ports open: {worst}.", "settings", ""
        )
    fixed = set(network.fixed_ids)
    ahead = np.array([t.to_node in fixed for t in network.tubes])
    behind = np.array([t.from_node in fixed for t in network.tubes])
    caught = ahead * np.maximum(batch.flow, 0.0) + behind * np.maximum(-batch.flow, 0.0)
    return np.asarray(caught, dtype=np.float64)


def _other_wires(network: Network) -> list[Network]:
    if not any(tube.wire_m > 0.0 for tube in network.tubes):
        return []
    return [_with_wires_at(network, eccentricity) for eccentricity in (0.0, 1.0)]


def _with_wires_at(network: Network, eccentricity: float) -> Network:
    tubes = tuple(replace(t, eccentricity=eccentricity) if t.wire_m > 0.0 else t for t in network.tubes)
    return replace(network, tubes=tubes)
