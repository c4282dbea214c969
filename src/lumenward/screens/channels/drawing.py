"""The channel map as lines, clamps and words; the template only writes them down."""

from __future__ import annotations

from dataclasses import dataclass, replace

from lumenward.hydraulics.assemble import MANIFOLD, port_tube
from lumenward.quantities import THIN, show_number
from lumenward.screens.channels.figures import ChannelFigure, Cup, Figures, TubeFigure
from lumenward.screens.channels.layout import (
    CLAMP_X,
    LEFT_X,
    MANIFOLD_X,
    RIGHT_X,
    TOP,
    WIDTH,
    Layout,
    ends,
    thickness,
)
from lumenward.screens.channels.question import Question

_SAID = {"runs": "runs", "starving": "gets too little", "rest": "is still", "shut": "shut"}


@dataclass(frozen=True)
class Line:
    """One tube as a line."""

    path: str
    width: float
    state: str
    connector: bool

    @property
    def outline(self) -> float:
        """Return the width of the dashed outline of a starving line."""
        return self.width + 10

    @property
    def hollow(self) -> float:
        """Return the width that is cleared inside the outline."""
        return self.width + 6


@dataclass(frozen=True)
class Clamp:
    """Two bars over a connector tube, with the address of the map when they are moved the other way."""

    port: str
    name: str
    x: float
    y: float
    reach: float
    shut: bool
    address: str

    @property
    def words(self) -> str:
        """Return what a click does."""
        return f"{self.name}: shut. Open it" if self.shut else f"{self.name}: open. Shut it"


@dataclass(frozen=True)
class Words:
    """A text at a place."""

    x: float
    y: float
    text: str
    kind: str
    anchor: str = "start"
    more: str = ""


@dataclass(frozen=True)
class Drawing:
    """The whole map."""

    width: int
    height: float
    lines: list[Line]
    clamps: list[Clamp]
    words: list[Words]
    rings: list[tuple[float, float, float]]
    manifold: tuple[float, float, float]
    label: str


def draw(question: Question, figures: Figures) -> Drawing:
    """Return the map of a question and its figures."""
    at = Layout(figures.tubes)
    shown = [tube for tube in figures.tubes if tube.from_node == MANIFOLD or tube in at.inner]
    lines = sorted((_line(at, tube) for tube in shown), key=lambda one: one.state in ("runs", "starving"))
    last = at.y(at.feeds[-1]) if at.feeds else TOP
    return Drawing(
        width=WIDTH, height=at.height, lines=lines, clamps=_clamps(question, at),
        words=[*_pump(figures), *_ports(figures, at), *_joint(at), *_out(figures, at)],
        rings=[(at.x(node), at.y(node), 9.0) for node in at.feeds],
        manifold=(MANIFOLD_X, TOP, last), label=_label(question, figures),
    )  # fmt: skip


def _line(at: Layout, tube: TubeFigure) -> Line:
    return Line(at.path(tube), thickness(tube.bore_mm), tube.state, tube.from_node == MANIFOLD)


def _clamps(question: Question, at: Layout) -> list[Clamp]:
    names = {port.id: port.name for port in question.model.ports}
    nodes = {port.id: port.node for port in question.model.ports}
    return [
        Clamp(
            port=one.port, name=names[one.port], x=CLAMP_X, y=at.y(nodes[one.port]),
            reach=thickness(one.bore_mm) / 2, shut=one.port in question.shut,
            address=question.turned(one.port).address,
        )
        for one in question.kind.tubes
        if one.clamp
    ]  # fmt: skip


def _pump(figures: Figures) -> list[Words]:
    pressure = f" at {show_number(figures.manifold_kpa, 0)}{THIN}kPa"
    return [Words(8, 26, f"pump gives {flow_words(figures.pump_ml_min)}", "figure", more=pressure)]


def _ports(figures: Figures, at: Layout) -> list[Words]:
    words: list[Words] = []
    tubes = {tube.id: tube for tube in figures.tubes}
    for channel in figures.channels:
        node = tubes[port_tube(channel.port)].to_node
        entry = at.going(node)[0]
        x, y = LEFT_X - 30, at.y(node)
        above = y - thickness(max(entry.bore_mm, tubes[port_tube(channel.port)].bore_mm)) / 2 - 14
        words.append(Words(x, above, channel.name, "name", more=f", {bore_words(entry)}"))
        words.append(Words(x, y + (y - above) + 14, *_flow_of(channel)))
    return _beside_each_other(words)


def _beside_each_other(words: list[Words]) -> list[Words]:
    """Two channels of one port share its lane: the second's words stand right of the first's."""
    seen: dict[tuple[float, float], int] = {}
    placed = []
    for one in words:
        before = seen.get((one.x, one.y), 0)
        seen[one.x, one.y] = before + 1
        placed.append(replace(one, x=one.x + 200 * before) if before else one)
    return placed


def _flow_of(channel: ChannelFigure) -> tuple[str, str]:
    if channel.state == "shut":
        return "shut", "quiet"
    if channel.state == "starving":
        return (
            f"{flow_words(channel.ml_min)}, too little: {channel.share:.0%} of what it gets alone",
            "starving",
        )
    return flow_words(channel.ml_min), "figure"


def _joint(at: Layout) -> list[Words]:
    """The bores of what comes after a merging; those of the ports stand with their names."""
    return [
        Words(
            (at.x(tube.from_node) + at.x(tube.to_node)) / 2,
            at.y(tube.from_node) - thickness(tube.bore_mm) / 2 - 14,
            bore_words(tube), "quiet", "middle",
        )
        for tube in at.inner
        if tube.from_node not in at.feeds
    ]  # fmt: skip


def bore_words(tube: TubeFigure) -> str:
    """Return a bore as read on the map."""
    return f"{show_number(tube.bore_mm, 1)}{THIN}mm" + (", wire inside" if tube.wire_mm else "")


def _out(figures: Figures, at: Layout) -> list[Words]:
    cups = {cup.outlet: cup for cup in figures.cups}
    words = [Words(RIGHT_X + 24, 26, "into a cup in 10 s", "quiet")]
    for tube in ends(at.inner):
        y = at.end_y(tube)
        cup = cups.get(tube.id)
        words.append(Words(RIGHT_X + 24, y + 8, cup_words(cup) if cup else "nothing", "cup"))
        if cup is not None:
            words.append(Words(RIGHT_X + 24, y + 30, cup.name, "quiet"))
    return words


def flow_words(ml_min: float) -> str:
    """Return a flow as read at the bench: whole mL/min, one decimal where it is small.

    >>> flow_words(661.9).replace(THIN, " "), flow_words(1.26).replace(THIN, " "), flow_words(0.001)
    ('662 mL/min', '1.3 mL/min', 'no flow')
    """
    size = abs(ml_min)
    return "no flow" if size < 0.05 else f"{show_number(size, 0 if size >= 20 else 1)}{THIN}mL/min"


def cup_words(cup: Cup) -> str:
    """Return what a cup should catch; a range where the place of a wire is not known."""
    digits = 0 if cup.ml >= 20 else 1 if cup.ml >= 1 else 2
    if cup.ranged:
        return f"{show_number(cup.least_ml, digits)}–{show_number(cup.most_ml, digits)}{THIN}mL"
    return f"{show_number(cup.ml, digits)}{THIN}mL" if cup.ml > 0.005 else "nothing"


def _label(question: Question, figures: Figures) -> str:
    said = "; ".join(
        f"{one.name}: {_SAID[one.state]}, {flow_words(one.ml_min)}" for one in figures.channels
    )  # fmt: skip
    return f"Channel map of the {question.model.name}. {said}. The table below has every figure."
