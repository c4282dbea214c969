"""Every pair of text and ground in the colour tokens keeps a contrast of at least 4.5 : 1 (WCAG 2.2, 1.4.3)."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from lumenward.screens import shared

TOKENS = Path(shared.__file__).parent / "static" / "shared" / "tokens.css"
GROUNDS = ("paper", "card", "band")
TEXTS = ("ink", "quiet", "accent", "late", "soon", "water-ink")
PAIRS = [
    *((text, ground) for text in TEXTS for ground in GROUNDS),
    ("on-accent", "accent"),
    ("ink", "accent-soft"),
    ("quiet", "accent-soft"),
    ("late", "late-soft"),
    ("soon", "soon-soft"),
    ("ink", "late-soft"),
    ("ink", "soon-soft"),
    ("ink", "water-soft"),
    ("ink", "disinfect"),
    ("ink", "dry"),
    ("ink", "used"),
]
SHAPES = [("edge", ground) for ground in GROUNDS] + [("water", "card"), ("accent", "paper"), ("late", "card")]


def themes() -> dict[str, dict[str, str]]:
    """Return the colours by theme: light, dark as chosen, dark as the system asks."""
    blocks = re.findall(r"(:root[^{]*)\{([^}]*)\}", TOKENS.read_text(encoding="utf-8"))
    names = ("light", "dark chosen", "dark by system")
    colours = [dict(re.findall(r"--([a-z-]+):\s*(#[0-9a-f]{6});", body)) for _, body in blocks]
    return dict(zip(names, colours, strict=True))


def luminance(colour: str) -> float:
    """Return the relative luminance of an sRGB colour as WCAG 2.2 defines it."""
    channels = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    """Return the contrast ratio of two colours, 1 to 21."""
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_black_on_white_has_the_highest_contrast() -> None:
    assert contrast("#000000", "#ffffff") == pytest.approx(21)


def test_both_dark_blocks_are_the_same() -> None:
    found = themes()
    assert found["dark chosen"] == found["dark by system"]
    assert found["dark chosen"].keys() == found["light"].keys()


@pytest.mark.parametrize("theme", ["light", "dark chosen"])
@pytest.mark.parametrize(("text", "ground"), PAIRS)
def test_text_stands_out_from_its_ground(theme: str, text: str, ground: str) -> None:
    colours = themes()[theme]
    assert contrast(colours[text], colours[ground]) >= 4.5, f"{text} on {ground} in {theme}"


@pytest.mark.parametrize("theme", ["light", "dark chosen"])
@pytest.mark.parametrize(("shape", "ground"), SHAPES)
def test_borders_and_lines_that_carry_meaning_can_be_seen(theme: str, shape: str, ground: str) -> None:
    colours = themes()[theme]
    assert contrast(colours[shape], colours[ground]) >= 3.0, f"{shape} on {ground} in {theme}"


def test_the_four_states_can_be_told_apart_without_colour() -> None:
    css = (TOKENS.parent / "layout.css").read_text(encoding="utf-8")
    marks = {"late": "repeating-linear-gradient", "soon": "border-top", "ready": "◇", "held": "dashed"}
    for state, mark in marks.items():
        rules = "".join(re.findall(rf"\.{state}(?:::before)?\s*\{{([^}}]*)\}}", css))
        assert mark in rules, state
