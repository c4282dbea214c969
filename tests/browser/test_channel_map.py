"""The channel map and the charts in a real browser: live with scripts, complete without them."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, Page, expect
from rigging import HERE, PHONE, WIDE, House

pytestmark = pytest.mark.browser
AXE = (HERE / "vendor" / "axe.min.js").read_text(encoding="utf-8")
TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
MAP = "/channels/sanderling-28/"
DEEPER = (
    MAP, "/channels/turnstone-42/?shut=suction&shut=biopsy", "/channels/sanderling-28/find/?r0.nozzle=6",
    "/calculations/flow/", "/calculations/a0/", "/setup/people/", "/setup/people/okafor/", "/setup/people/add/",
    "/setup/equipment/", "/setup/equipment/models/sanderling-28/", "/setup/equipment/adopt/", "/setup/policy/",
    "/setup/policy/preview/?profile=half-hour", "/setup/endoscopes/register/", "/manual/rules/", "/manual/equipment/",
    "/manual/?q=leak",
)  # fmt: skip


def test_moving_a_clamp_changes_the_figures_without_leaving_the_page(
    opened: Callable[..., Page], artefacts: Path
) -> None:
    page = opened("okafor")
    page.goto(MAP)
    page.evaluate("window.stayed = true")
    expect(page.locator("h1")).to_have_text("Air, water and water jet get too little in this setting.")
    page.locator('a[data-live="suction"]').click()
    expect(page.locator('a[data-live="suction"].shut')).to_be_focused()
    page.locator('a[data-live="biopsy"]').focus()
    page.keyboard.press("Enter")
    expect(page.locator("h1")).to_have_text("Every open channel gets its share.")
    expect(page).to_have_url(re.compile("shut=suction.*shut=biopsy"))
    assert page.evaluate("window.stayed") is True
    page.locator("#ask-c").fill("20")
    page.locator("#ask-c").press("Tab")
    expect(page.locator(".lead")).to_contain_text("20")
    expect(page.locator('a[data-live="suction"].shut')).to_be_visible()
    page.screenshot(path=artefacts / "channels-clamps-shut.png", full_page=True)


def test_a_wrong_temperature_is_said_and_the_map_stays(opened: Callable[..., Page]) -> None:
    page = opened("okafor")
    page.goto(MAP)
    page.locator("#ask-c").fill("250")
    page.locator("#ask-c").press("Tab")
    expect(page.locator('[role="alert"]')).to_contain_text("250")
    expect(page.locator(".channel-map")).to_be_visible()
    assert page.locator("#ask-c").input_value() == "250"


def test_the_map_and_a_calculation_work_without_scripts(
    browser: Browser, house: House, passes: Callable[[str], Any]
) -> None:
    context = browser.new_context(
        base_url=house.address, storage_state=passes("okafor"), java_script_enabled=False, viewport=WIDE
    )  # type: ignore[arg-type]
    page = context.new_page()
    page.goto(MAP)
    page.locator('a[data-live="suction"]').click()
    page.locator('a[data-live="biopsy"]').click()
    expect(page.locator("h1")).to_have_text("Every open channel gets its share.")
    page.goto("/calculations/water/")
    page.locator("#f-temperature-c").fill("50 °C")
    page.get_by_role("button", name="Work it out").click()
    expect(page.locator(".figures")).to_contain_text("988.0")
    expect(page.locator(".chart-still")).to_be_visible()
    context.close()


def test_a_chart_is_drawn_in_the_colours_of_the_page_and_told_in_words(opened: Callable[..., Page]) -> None:
    page = opened("okafor")
    page.goto("/calculations/a0/")
    expect(page.locator(".chart svg")).to_be_visible()
    expect(page.locator(".chart")).to_have_attribute("aria-label", re.compile("Was it hot enough"))
    before = page.locator(".chart svg").inner_html()
    page.locator("[data-theme-choice]").click()
    page.wait_for_timeout(300)
    after = page.locator(".chart svg").inner_html()
    assert before != after
    ink = page.evaluate("getComputedStyle(document.documentElement).getPropertyValue('--ink').trim()")
    assert ink in after


@pytest.mark.parametrize(("size", "dark"), [(WIDE, True), (PHONE, False)], ids=["wide-dark", "phone-light"])
def test_axe_finds_nothing_on_the_deeper_pages(
    opened: Callable[..., Page], artefacts: Path, size: dict[str, int], dark: bool
) -> None:
    page = opened("moreau", size, dark)
    found = {}
    for address in DEEPER:
        page.goto(address)
        page.wait_for_load_state("networkidle")
        page.evaluate(AXE)
        faults = page.evaluate(
            "(tags) => axe.run(document, { runOnly: { type: 'tag', values: tags } })"
            ".then((r) => r.violations.map((v) => v.id + ' ' + v.nodes[0].html))",
            TAGS,
        )
        wide = page.evaluate("document.documentElement.scrollWidth > innerWidth")
        if faults or wide:
            found[address] = (faults, wide)
    assert found == {}
    page.goto(MAP)
    page.screenshot(
        path=artefacts / f"channels-{size['width']}-{'dark' if dark else 'light'}.png", full_page=True
    )
