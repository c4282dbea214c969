"""A calculation's picture as a file: the same Chart the pages draw, by matplotlib."""

from __future__ import annotations

from itertools import cycle
from pathlib import Path
from typing import TYPE_CHECKING, Any

from lumenward.calculations.case import Chart, Limit, Series
from lumenward.quantities import Refusal

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

KINDS = (".svg", ".png")
INK, QUIET, ACCENT = "#1c2326", "#6a767b", "#0b6e75"
_LINES = ("-", "--", "-.", ":")
_MARKS = ("o", "s", "^", "D")
_HATCHES = ("", "//", "..", "xx")
_FILLED, _LABEL_ROOM = 0.8, 60
_APART = ("bars", "band-low", "band-high")
_COLOURS = (ACCENT, "#8a4b08", "#4b3f8f", "#5a5a5a")


def save(chart: Chart, path: Path) -> None:
    """Draw a chart into a .svg or .png file; raise a Refusal for any other ending or a folder that is not there."""
    if path.suffix.lower() not in KINDS:
        raise Refusal("bad-ending", f"{path.name} is neither .svg nor .png.", "plot", "Name the file so.")
    if not path.absolute().parent.is_dir():
        raise Refusal("no-folder", f"There is no folder {path.parent}.", "plot", "Make it first.")
    path.write_bytes(render(chart, path.suffix.lower().lstrip(".")))


def render(chart: Chart, kind: str = "svg") -> bytes:
    """Return a chart as the bytes of an SVG or PNG picture. The same chart makes the same bytes."""
    from io import BytesIO

    import matplotlib as mpl

    settings: Any = {
        "svg.fonttype": "path",
        "svg.hashsalt": "lumenward",
        "font.size": 11,
        "font.family": "DejaVu Sans",
    }
    with mpl.rc_context(settings):
        figure = draw(chart)
        buffer = BytesIO()
        metadata: dict[str, Any] = {"Date": None} if kind == "svg" else {}
        figure.savefig(buffer, format=kind, dpi=150, metadata=metadata)
    return buffer.getvalue()


def draw(chart: Chart) -> Figure:
    """Return a chart as a figure, without a window system."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure(figsize=(8, 4.8), layout="constrained")
    FigureCanvasAgg(figure)
    axes = figure.add_subplot()
    axes.set_title(chart.question, loc="left", color=INK)
    axes.set_xlabel(chart.x_label)
    axes.set_ylabel(chart.y_label)
    if chart.log_y:
        axes.set_yscale("log")
    _add_bands(axes, chart.series)
    looks = zip(cycle(_LINES), cycle(_MARKS), cycle(_COLOURS), strict=False)
    for series, look in zip((s for s in chart.series if s.kind not in _APART), looks, strict=False):
        _add_series(axes, series, *look)
    _add_bars(axes, [s for s in chart.series if s.kind == "bars"])
    for limit in chart.limits:
        _add_limit(axes, limit)
    _finish(axes, chart)
    return figure


def _add_series(axes: Axes, series: Series, line: str, mark: str, colour: str) -> None:
    heights: Any = [float("nan") if y is None else y for y in series.y]
    places: Any = series.x
    if series.kind == "points":
        axes.plot(places, heights, linestyle="none", marker=mark, color=colour, label=series.name)
    else:
        axes.plot(places, heights, linestyle=line, color=colour, linewidth=1.8, label=series.name)


def _add_bars(axes: Axes, bars: list[Series]) -> None:
    """Draw bars of the same place side by side, told apart by hatching as well as by colour."""
    if not bars:
        return
    names = list(dict.fromkeys(name for series in bars for name in series.x))
    width = _FILLED / len(bars)
    looks = zip(bars, cycle(_COLOURS), cycle(_HATCHES), strict=False)
    for position, (series, colour, hatch) in enumerate(looks):
        shift = (position + 0.5) * width - _FILLED / 2
        heights: Any = [float("nan") if y is None else y for y in series.y]
        places = [names.index(name) + shift for name in series.x]
        axes.bar(places, heights, width, color=colour, hatch=hatch, edgecolor="white", label=series.name)
    long = sum(len(str(name)) for name in names) > _LABEL_ROOM
    turned: Any = {"rotation": 30, "ha": "right"} if long else {}
    axes.set_xticks(range(len(names)), [str(name) for name in names], **turned)


def _add_bands(axes: Axes, series: list[Series]) -> None:
    low = next((s for s in series if s.kind == "band-low"), None)
    high = next((s for s in series if s.kind == "band-high"), None)
    if low is None or high is None:
        return
    places: Any = low.x
    bottom: Any = [float("nan") if y is None else y for y in low.y]
    top: Any = [float("nan") if y is None else y for y in high.y]
    axes.fill_between(
        places, bottom, top, color=ACCENT, alpha=0.15, linewidth=0, label=f"{low.name} to {high.name}"
    )


def _add_limit(axes: Axes, limit: Limit) -> None:
    look: Any = {"color": INK, "linewidth": 1, "linestyle": (0, (6, 3))}
    if limit.axis == "x":
        axes.axvline(limit.value, **look)
        place, at = axes.get_xaxis_transform(), (limit.value, 0.98)
        axes.annotate(
            limit.label,
            at,
            xycoords=place,
            xytext=(4, -4),
            textcoords="offset points",
            rotation=90,
            va="top",
            fontsize=9,
        )
    else:
        axes.axhline(limit.value, **look)
        place, at = axes.get_yaxis_transform(), (0.01, limit.value)
        axes.annotate(limit.label, at, xycoords=place, xytext=(0, 3), textcoords="offset points", fontsize=9)


def _finish(axes: Axes, chart: Chart) -> None:
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    axes.grid(visible=True, color=QUIET, alpha=0.2, linewidth=0.6)
    points = sum(len(series.x) for series in chart.series)
    axes.annotate(
        f"{points} points", (1, 1), xycoords="axes fraction", ha="right", va="bottom", fontsize=8, color=QUIET
    )
    if len(chart.series) > 1:
        beside: Any = {"loc": "outside lower center", "ncols": 1}
        if any(series.kind == "bars" for series in chart.series):
            axes.figure.legend(frameon=False, fontsize=9, **beside)
        else:
            axes.legend(frameon=False, fontsize=9)
