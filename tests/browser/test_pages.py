"""Every screen in a real browser: readable by axe's rules, by keyboard alone, on a phone, and asking nobody else."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import pytest
from driving import Touch, Walk, current, plan_of
from playwright.sync_api import Page, expect
from rigging import HERE, PHONE, WIDE, House

pytestmark = pytest.mark.browser
AXE = (HERE / "vendor" / "axe.min.js").read_text(encoding="utf-8")
TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
PAGES = (
    "/", "/sink/", "/sink/bench-card/", "/sink/sink-1/", "/sink/sink-4/crane-02/", "/basins/", "/shelf/", "/records/",
    "/setup/", "/channels/", "/calculations/", "/calculations/dose/", "/manual/", "/sign-out/",
)  # fmt: skip


def findings(page: Page) -> list[str]:
    """Return what axe finds against WCAG 2.0 to 2.2, A and AA."""
    page.evaluate(AXE)
    found: dict[str, Any] = page.evaluate(
        "(tags) => axe.run(document, { runOnly: { type: 'tag', values: tags } })", TAGS
    )
    return [
        f"{one['id']}: {node['target']} {node['failureSummary']}"
        for one in found["violations"]
        for node in one["nodes"]
    ]


def settled(page: Page, address: str) -> None:
    """Open a page and wait until it stands."""
    answer = page.goto(address)
    assert answer is not None and answer.status == 200, f"{address}: {answer and answer.status}"
    page.wait_for_load_state("networkidle")


@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
def test_axe_finds_nothing_on_any_page(opened: Callable[..., Page], artefacts: Path, dark: bool) -> None:
    page = opened("moreau", WIDE, dark)
    found = {}
    for address in PAGES:
        settled(page, address)
        name = address.strip("/").replace("/", "-") or "now"
        page.screenshot(path=artefacts / f"page-{name}-{'dark' if dark else 'light'}.png", full_page=True)
        if faults := findings(page):
            found[address] = faults
    assert found == {}


def test_axe_finds_nothing_at_the_door(opened: Callable[..., Page]) -> None:
    page = opened("")
    settled(page, "/sign-in/")
    assert findings(page) == []


def test_no_page_is_wider_than_a_phone(opened: Callable[..., Page], artefacts: Path) -> None:
    page = opened("moreau", PHONE)
    too_wide = {}
    for address in PAGES:
        settled(page, address)
        name = address.strip("/").replace("/", "-") or "now"
        page.screenshot(path=artefacts / f"page-{name}-phone.png", full_page=True)
        width = page.evaluate("document.documentElement.scrollWidth")
        if width > PHONE["width"]:
            too_wide[address] = width
    assert too_wide == {}


def test_no_page_asks_another_host_for_anything(opened: Callable[..., Page], house: House) -> None:
    page = opened("moreau")
    asked: set[str] = set()
    page.on(
        "request",
        lambda request: asked.add(urlsplit(request.url).netloc) if request.url[:4] == "http" else None,
    )
    for address in PAGES:
        settled(page, address)
    assert asked == {urlsplit(house.address).netloc}


REACHABLE = """
() => [...document.querySelectorAll('a[href], button, input, select, textarea, summary, [tabindex="0"]')]
  .filter((e) => !e.disabled && e.checkVisibility({ visibilityProperty: true }) && e.type !== 'hidden'
    && !(e.type === 'radio') && e.closest('dialog:not([open])') === null && e.closest('[hidden]') === null)
  .map((e, place) => (e.dataset.place = place))
"""
FOCUS = """
() => {
  const e = document.activeElement;
  if (!e || e === document.body) return null;
  const seen = getComputedStyle(e);
  const label = e.nextElementSibling && getComputedStyle(e.nextElementSibling);
  const shown = (s) => s && ((s.outlineStyle !== 'none' && parseFloat(s.outlineWidth) > 0) || s.boxShadow !== 'none');
  const visible = Boolean(shown(seen) || shown(label));
  return { place: e.dataset.place ?? '', visible, html: e.outerHTML.slice(0, 120) };
}
"""


def tabbed(page: Page) -> tuple[set[str], list[str]]:
    """Press Tab until the focus has gone round; return the places reached, and where focus cannot be seen."""
    reached: set[str] = set()
    unseen: list[str] = []
    for _ in range(400):
        page.keyboard.press("Tab")
        focus = page.evaluate(FOCUS)
        if focus is None or (focus["place"] and focus["place"] in reached):
            return reached, unseen
        if focus["place"]:
            reached.add(focus["place"])
        if not focus["visible"]:
            unseen.append(focus["html"])
    return reached, unseen


@pytest.mark.parametrize("address", PAGES)
def test_every_control_is_reached_by_keyboard_alone(opened: Callable[..., Page], address: str) -> None:
    page = opened("moreau")
    settled(page, address)
    controls = {str(place) for place in page.evaluate(REACHABLE)}
    reached, unseen = tabbed(page)
    missed = [
        page.locator(f"[data-place='{place}']").evaluate("e => e.outerHTML.slice(0, 120)")
        for place in controls - reached
    ]
    assert missed == []
    assert unseen == []


def test_the_list_of_keys_opens_and_closes(opened: Callable[..., Page]) -> None:
    page = opened("okafor")
    settled(page, "/sink/sink-4/crane-02/")
    page.keyboard.press("?")
    expect(page.locator("#keys")).to_be_visible()
    expect(page.locator("#keys")).to_contain_text("Page Down")
    assert findings(page) == []
    page.keyboard.press("Escape")
    expect(page.locator("#keys")).not_to_be_visible()


def test_the_colours_chosen_stay_chosen(opened: Callable[..., Page]) -> None:
    page = opened("okafor")
    settled(page, "/sink/")
    page.get_by_role("button", name="Dark colours").click()
    page.reload()
    assert page.evaluate("document.documentElement.dataset.theme") == "dark"
    assert page.evaluate("getComputedStyle(document.body.parentElement).backgroundColor") == "rgb(21, 24, 28)"


@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
def test_axe_finds_nothing_in_the_states_of_the_sink(
    opened: Callable[..., Page], house: House, artefacts: Path, dark: bool
) -> None:
    page = opened("okafor", PHONE if dark else WIDE, dark)
    page.clock.install()
    settled(page, f"/sink/sink-{4 if dark else 3}/{'crane-05' if dark else 'crane-04'}/")

    def forward(seconds: float) -> None:
        house.forward(seconds)
        page.clock.fast_forward(int(seconds * 1000))

    def looked_at(name: str) -> None:
        page.screenshot(
            path=artefacts / f"sink-state-{name}-{'dark' if dark else 'light'}.png", full_page=True
        )
        assert findings(page) == [], name

    walk = Walk(
        page, Touch(page), forward, {("dose-sink", "temperature_c"): 36, "case": "C-1", "alcohol_used": False}
    )
    page.locator("button.confirm").tap()
    looked_at("half-filled")
    for key in ("used", "bedside", "sent", "receive"):
        step = next(one for one in plan_of(page)["steps"] if one["key"] == key)
        walk.step(step)
        expect(page.locator("#work h1").first).not_to_have_text(step["title"])
    assert current(page) == "Is it tight?"
    page.get_by_role("button", name="The pressure falls").tap()
    looked_at("trouble")
    page.get_by_role("button", name="Back: it is as it should be").tap()
    page.locator("button.confirm").tap()
    expect(page.locator(".clock .face")).to_be_visible()
    looked_at("clock-running")
    page.locator("button.confirm").tap(force=True)
    expect(page.locator("#why-not")).to_contain_text("Not yet")
    looked_at("not-before-the-floor")
