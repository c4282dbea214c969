"""Pictures of calculations: the same bytes for the same chart, units on the axes, limits with their reason."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest

from lumenward.calculations.case import Chart, Limit, Series
from lumenward.interchange.pictures import draw, render, save
from lumenward.quantities import Refusal

CHART = Chart(
    question="How long until the channel is dry?",
    x_label="time (s)",
    y_label="water left (mL)",
    series=[
        Series(name="low", x=[0, 60, 120], y=[2, 1, 0.5], kind="band-low"),
        Series(name="high", x=[0, 60, 120], y=[2, 1.5, 1.2], kind="band-high"),
        Series(name="likely", x=[0, 60, 120], y=[2, None, 0.8]),
    ],
    limits=[Limit(label="IFU, p. 41", value=1), Limit(label="floor", value=60, axis="x")],
)


def test_a_picture_is_an_svg_or_a_png_and_always_the_same_bytes() -> None:
    assert render(CHART).startswith(b"<?xml") and render(CHART, "png").startswith(b"\x89PNG")
    assert render(CHART) == render(CHART)


def test_the_axes_carry_the_units_and_the_limits_their_source() -> None:
    axes = draw(CHART).axes[0]
    assert (axes.get_xlabel(), axes.get_ylabel()) == ("time (s)", "water left (mL)")
    assert axes.get_title(loc="left") == "How long until the channel is dry?"
    words = {text.get_text() for text in axes.texts}
    assert {"IFU, p. 41", "floor", "9 points"} <= words


def test_a_missing_value_is_a_gap_and_not_a_zero() -> None:
    (line, *_) = draw(CHART).axes[0].get_lines()
    assert math.isnan(line.get_ydata()[1]) and line.get_ydata()[2] == 0.8


def test_bars_and_a_logarithmic_axis_are_drawn() -> None:
    bars = Chart(
        question="q",
        x_label="x",
        y_label="y",
        series=[Series(name="n", x=["a", "b"], y=[1, 100], kind="bars")],
    )
    assert len(draw(bars).axes[0].patches) == 2
    assert draw(bars.model_copy(update={"log_y": True})).axes[0].get_yscale() == "log"


def test_bars_of_one_place_stand_side_by_side() -> None:
    series = [Series(name=name, x=["a", "b"], y=[1, 2], kind="bars") for name in ("before", "after")]
    axes = draw(Chart(question="q", x_label="x", y_label="y", series=series)).axes[0]
    edges = sorted((bar.get_x(), bar.get_x() + bar.get_width()) for bar in axes.patches)
    assert all(left[1] <= right[0] + 1e-9 for left, right in pairwise(edges))
    assert [label.get_text() for label in axes.get_xticklabels()] == ["a", "b"]


def test_another_ending_or_a_missing_folder_is_refused_before_drawing(tmp_path) -> None:
    for path, code in ((tmp_path / "x.pdf", "bad-ending"), (tmp_path / "no" / "x.svg", "no-folder")):
        with pytest.raises(Refusal) as caught:
            save(CHART, path)
        assert caught.value.code == code
    save(CHART, tmp_path / "x.PNG")
    assert (tmp_path / "x.PNG").stat().st_size > 5000
