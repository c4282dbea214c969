"""One used endoscope to patient-ready, on real pages: by scanner and pedal alone, and by touch alone."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from driving import HandsFree, Touch, Walk, current, plan_of
from playwright.sync_api import Page, expect
from rigging import PHONE, WIDE, House

pytestmark = pytest.mark.browser
ANSWERS = {
    ("machine-out", "contact_s"): 720,
    ("machine-out", "temperature_c"): 52,
    "alcohol_used": False,
    "temperature_c": 25,
    "case": "CASE-4471",
    ("dose-sink", "temperature_c"): 36,
    ("dose-container", "temperature_c"): 36,
}


def walk_to_the_end(
    page: Page, hand: HandsFree | Touch, house: House, pictures: Path, stem: str
) -> list[str]:
    """Do every step that the page shows, until it asks for the release; return the titles done."""

    def forward(seconds: float) -> None:
        house.forward(seconds)
        page.clock.fast_forward(int(seconds * 1000))

    by_machine = {("mec", "instead"): "machine" in stem}
    walk = Walk(page, hand, forward, {**ANSWERS, **by_machine})
    done: list[str] = []
    for _ in range(60):
        steps = {step["title"]: step for step in plan_of(page)["steps"]}
        title = current(page)
        step = steps[title]
        page.screenshot(path=pictures / f"{stem}-{len(done):02d}.png")
        if step["kind"] == "released":
            return done
        walk.step(step)
        expect(page.locator("#work h1").first).not_to_have_text(title)
        done.append(title)
    raise AssertionError(f"no end after {done}")


def release(page: Page, hand: HandsFree | Touch, house: House) -> None:
    """Wait until the acts are on the server, read the verdict, sign."""
    for _ in range(3):
        house.forward(11)
        page.clock.fast_forward(11_000)
    expect(page.locator("#saved")).to_have_text("Saved on this tablet and on the server")
    page.reload()
    expect(page.locator(".verdict")).to_be_visible()
    assert page.locator(".findings > .broken, .findings > .unknown").all_inner_texts() == []
    expect(page.locator(".verdict")).to_contain_text("can be released")
    hand.sign(house.words["pin"])
    expect(page.locator("#work h1")).to_contain_text("is released. Ready until")


CASES: list[tuple[str, str, str, dict[str, int], Callable[[Page], Any]]] = [
    ("hands-free", "heron-14", "sink-1", WIDE, HandsFree),
    ("touch", "wren-03", "sink-2", PHONE, Touch),
    ("machine", "crane-08", "sink-3", WIDE, Touch),
    ("no-channel", "robin-07", "sink-4", PHONE, Touch),
]


@pytest.mark.parametrize(
    ("stem", "endoscope", "sink", "size", "hand"), CASES, ids=[case[0] for case in CASES]
)
def test_a_used_endoscope_gets_ready_for_a_patient(
    stem: str, endoscope: str, sink: str, size: dict[str, int], hand: Callable[[Page], Any],
    opened: Callable[..., Page], house: House, artefacts: Path,
) -> None:  # fmt: skip
    page = opened("okafor", size)
    page.clock.install()
    page.goto(f"/sink/{sink}/{endoscope}/")
    done = walk_to_the_end(page, hand(page), house, artefacts, f"sink-{stem}")
    assert len(done) >= 15
    release(page, hand(page), house)
    page.screenshot(path=artefacts / f"sink-{stem}-released.png")
    assert page.locator("#refused li").count() == 0
