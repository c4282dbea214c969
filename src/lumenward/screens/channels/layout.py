"""Where the map puts things: the manifold left, a lane a port, lengths to scale, the tip right."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

from lumenward.hydraulics.assemble import MANIFOLD, OUT, SOURCE
from lumenward.screens.channels.figures import TubeFigure

WIDTH = 1000
MANIFOLD_X, CLAMP_X, LEFT_X, RIGHT_X = 60.0, 118.0, 210.0, 800.0
TOP, LANE = 92.0, 98.0
SHORTEST = 74.0
THIN_PX, PX_PER_MM = 3.0, 4.2


def thickness(bore_mm: float) -> float:
    """Return how thick a line is drawn for a bore.

    >>> thickness(2.8), thickness(0.5)
    (11.76, 3.0)
    """
    return max(THIN_PX, round(bore_mm * PX_PER_MM, 2))


@dataclass(frozen=True)
class Layout:
    """Places of nodes for the tubes of one model and its connectors."""

    tubes: tuple[TubeFigure, ...]

    @cached_property
    def inner(self) -> tuple[TubeFigure, ...]:
        """Return the tubes inside the endoscope."""
        return tuple(tube for tube in self.tubes if tube.from_node not in (SOURCE, MANIFOLD))

    @cached_property
    def feeds(self) -> list[str]:
        """Return the nodes of the ports, a lane each, in the order of the connectors."""
        return [tube.to_node for tube in self.tubes if tube.from_node == MANIFOLD]

    @property
    def height(self) -> float:
        """Return the height of the whole map."""
        return TOP + LANE * len(self.feeds) - 26

    def going(self, node: str) -> list[TubeFigure]:
        """Return the tubes that lead on from a node."""
        return [tube for tube in self.inner if tube.from_node == node]

    def remaining_m(self, node: str, seen: frozenset[str] = frozenset()) -> float:
        """Return the longest way from a node to the tip."""
        if node == OUT or node in seen:
            return 0.0
        ways = (tube.length_m + self.remaining_m(tube.to_node, seen | {node}) for tube in self.going(node))
        return max(ways, default=0.0)

    @cached_property
    def _scale(self) -> float:
        longest = max((self.remaining_m(node) for node in self.feeds), default=0.0)
        return (RIGHT_X - LEFT_X) / max(longest, 0.01)

    def x(self, node: str) -> float:
        """Return a node's place along the endoscope; short stretches keep room to be seen."""
        if node == OUT:
            return RIGHT_X
        if node == MANIFOLD:
            return MANIFOLD_X
        wanted = RIGHT_X - self._scale * self.remaining_m(node)
        room = min((self.x(tube.to_node) for tube in self.going(node)), default=RIGHT_X) - SHORTEST
        return max(LEFT_X, min(wanted, room))

    def y(self, node: str) -> float:
        """Return a node's lane: its own, between two alike that merge, or that of the line that goes straight on."""
        if node in self.feeds:
            return TOP + LANE * self.feeds.index(node)
        coming = [tube for tube in self.inner if tube.to_node == node]
        if not coming:
            return TOP
        bores = {tube.bore_mm for tube in coming}
        if len(coming) > 1 and len(bores) == 1:
            return sum(self.y(tube.from_node) for tube in coming) / len(coming)
        onward = {tube.bore_mm for tube in self.going(node)}
        straight = [tube for tube in coming if tube.bore_mm in onward] or coming
        return self.y(straight[-1].from_node)

    def end_y(self, tube: TubeFigure) -> float:
        """Return where a tube ends; what gives into the open stays on its own line."""
        return self.y(tube.from_node) if tube.to_node == OUT else self.y(tube.to_node)

    def path(self, tube: TubeFigure) -> str:
        """Return the line of a tube as SVG path data."""
        x1, y1, x2, y2 = (
            self.x(tube.from_node),
            self.y(tube.from_node),
            self.x(tube.to_node),
            self.end_y(tube),
        )
        if tube.from_node == MANIFOLD:
            return f"M{MANIFOLD_X:g} {y2:g}H{x2:g}"
        if y1 == y2:
            return f"M{x1:g} {y1:g}H{x2:g}"
        bend = min(84.0, (x2 - x1) * 0.8)
        straight = x2 - bend
        middle = x2 - bend / 2
        return f"M{x1:g} {y1:g}H{straight:g}C{middle:g} {y1:g} {middle:g} {y2:g} {x2:g} {y2:g}"


def ends(tubes: Sequence[TubeFigure]) -> list[TubeFigure]:
    """Return the tubes that give into the open."""
    return [tube for tube in tubes if tube.to_node == OUT]
