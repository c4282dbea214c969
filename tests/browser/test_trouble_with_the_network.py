"""The network goes, the server refuses, somebody else takes over: nothing typed is lost, nothing is half recorded."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from driving import Touch, Walk, current, plan_of, scan
from playwright.sync_api import Page, Route, expect
from rigging import House

pytestmark = pytest.mark.browser
ANSWERS = {"case": "C-88", "alcohol_used": False}


def begin(page: Page, house: House, endoscope: str, until: str) -> Walk:
    """Work one endoscope up to a step and return the walk."""
    page.clock.install()
    page.goto(f"/sink/sink-2/{endoscope}/")

    def forward(seconds: float) -> None:
        house.forward(seconds)
        page.clock.fast_forward(int(seconds * 1000))

    walk = Walk(page, Touch(page), forward, ANSWERS)
    for step in plan_of(page)["steps"]:
        if step["key"] == until:
            return walk
        if step["title"] == current(page):
            walk.step(step)
            expect(page.locator("#work h1").first).not_to_have_text(step["title"])
    raise AssertionError(f"never came to {until}")


def step_of(page: Page, key: str) -> dict[str, Any]:
    found: dict[str, Any] = next(one for one in plan_of(page)["steps"] if one["key"] == key)
    return found


def recorded(page: Page, endoscope: str) -> list[dict[str, Any]]:
    """Return the acts of the cycle as the server has them."""
    answer = page.request.get(f"/api/v1/stations/sink-2/plan?endoscope={endoscope}")
    acts: list[dict[str, Any]] = answer.json()["acts"]
    return acts


def test_work_goes_on_without_a_network_and_is_recorded_once_when_it_is_back(
    opened: Callable[..., Page], house: House
) -> None:
    page = opened("okafor")
    walk = begin(page, house, "teal-01", "sent")
    page.context.set_offline(True)
    walk.step(step_of(page, "sent"))
    walk.step(step_of(page, "receive"))
    expect(page.locator("#work h1").first).to_have_text("Is it tight?")
    walk.forward(15)
    expect(page.locator("#saved")).to_have_attribute("data-state", "waiting")
    expect(page.locator("#saved")).to_contain_text("Saved on this tablet, not yet on the server")
    page.context.set_offline(False)
    walk.forward(70)
    expect(page.locator("#saved")).to_have_text("Saved on this tablet and on the server")
    kinds = [act["kind"] for act in recorded(page, "teal-01")]
    assert kinds == ["patient_use_ended", "point_of_use_treated", "sent", "received"]


def test_an_answer_that_is_lost_makes_no_second_record(opened: Callable[..., Page], house: House) -> None:
    page = opened("okafor")
    lost: list[str] = []

    def swallow(route: Route) -> None:
        if len(lost) < 2:
            lost.append(route.fetch().text())
            route.abort()
        else:
            route.continue_()

    page.route("**/api/v1/acts", swallow)
    walk = begin(page, house, "teal-02", "receive")
    walk.forward(11)
    page.wait_for_timeout(500)
    for _ in range(6):
        walk.forward(31)
        page.wait_for_timeout(200)
    expect(page.locator("#saved")).to_have_text("Saved on this tablet and on the server")
    assert len(lost) == 2
    acts = recorded(page, "teal-02")
    assert [act["kind"] for act in acts] == ["patient_use_ended", "point_of_use_treated", "sent"]
    assert len({act["id"] for act in acts}) == 3


def test_a_clock_is_not_lost_with_the_page(opened: Callable[..., Page], house: House) -> None:
    page = opened("okafor")
    walk = begin(page, house, "teal-03", "leak-test")
    page.locator("button.confirm").tap()
    expect(page.locator(".clock .face")).to_be_visible()
    walk.forward(20)
    page.reload()
    expect(page.locator(".clock .face")).to_be_visible()
    minutes, seconds = page.locator(".clock .face").inner_text().split(":")
    assert 0 < 60 * int(minutes) + int(seconds) <= step_of(page, "leak-test")["timer"]["floor_s"] - 20


def test_a_refused_act_says_why_and_gives_back_what_was_typed(
    opened: Callable[..., Page], house: House
) -> None:
    page = opened("okafor")
    walk = begin(page, house, "teal-04", "bedside")
    said = {
        "code": "not-so",
        "message": "This cannot be said twice.",
        "field": "body.product",
        "hint": "Look again.",
    }

    def refuse(route: Route) -> None:
        acts = route.request.post_data_json["acts"]
        route.fulfill(
            json={"answers": [{"id": act["id"], "answer": "refused", "error": said} for act in acts]}
        )

    walk.forward(12)
    expect(page.locator("#saved")).to_have_text("Saved on this tablet and on the server")
    page.route("**/api/v1/acts", refuse)
    walk.step(step_of(page, "bedside"))
    expect(page.locator("#work h1").first).to_have_text("How did it travel?")
    walk.forward(12)
    expect(page.locator("#refused")).to_contain_text("Not recorded: What was done at the bedside?")
    expect(page.locator("#refused")).to_contain_text("This cannot be said twice. Look again.")
    expect(page.locator("#work h1").first).to_have_text("What was done at the bedside?")
    assert page.locator(".choice input:checked").count() == 3
    expect(page.locator(".field .error:visible")).to_have_text("This cannot be said twice.")
    page.get_by_role("button", name="Understood").tap()
    expect(page.locator("#refused li")).to_have_count(0)


def test_a_second_person_takes_over_by_badge(opened: Callable[..., Page], house: House) -> None:
    page = opened("okafor")
    walk = begin(page, house, "teal-05", "receive")
    scan(page, "BADGE-LINDQVIST")
    expect(page.locator("#who")).to_have_text("A. Lindqvist")
    walk.step(step_of(page, "receive"))
    expect(page.locator("#work h1").first).to_have_text("Is it tight?")
    walk.forward(12)
    expect(page.locator("#saved")).to_have_text("Saved on this tablet and on the server")
    acts = recorded(page, "teal-05")
    assert [(act["kind"], act["person"]) for act in acts[-2:]] == [
        ("handed_over", "lindqvist"),
        ("received", "lindqvist"),
    ]
    assert page.locator("#refused li").count() == 0


def test_a_leak_stops_the_work_and_says_so(opened: Callable[..., Page], house: House) -> None:
    page = opened("okafor")
    walk = begin(page, house, "teal-06", "leak-test")
    trouble = next(one for one in step_of(page, "leak-test")["troubles"] if one["key"] == "leak")
    page.get_by_role("button", name=trouble["label"]).tap()
    for entry in trouble["entries"]:
        walk.give({"key": "leak", "carry": {}, "dosings": []}, entry)
    page.get_by_role("button", name=trouble["confirm"]).tap()
    expect(page.locator("#work h1").first).to_contain_text("Stopped")
    walk.forward(12)
    expect(page.locator("#saved")).to_have_text("Saved on this tablet and on the server")
    page.reload()
    expect(page.locator("#work h1").first).to_have_text("Teal 06 is held")
    assert page.locator("button.confirm").count() == 0


def test_a_late_start_brings_the_delayed_branch(opened: Callable[..., Page], house: House) -> None:
    page = opened("okafor")
    walk = begin(page, house, "teal-07", "receive")
    walk.forward(3700)
    walk.step(step_of(page, "receive"))
    expect(page.locator("#work h1").first).to_have_text(step_of(page, "delay")["title"])


def test_the_tablet_says_when_it_cannot_keep_anything(opened: Callable[..., Page], house: House) -> None:
    page = opened("okafor")
    walk = begin(page, house, "teal-08", "bedside")
    page.evaluate("() => { Storage.prototype.setItem = () => { throw new Error('full'); }; }")
    step = step_of(page, "bedside")
    walk.hand.choose(step["entries"][0], 0)
    for entry in step["entries"][1:]:
        walk.give(step, entry)
    page.locator("button.confirm").tap()
    expect(page.locator("#heard")).to_contain_text("This tablet cannot keep what was done")
    assert current(page) == "What was done at the bedside?"
