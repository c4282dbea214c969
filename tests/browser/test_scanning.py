"""Scans at the sink: whatever has focus, whatever the ending, and never a half-filled form sent."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from driving import Touch, Walk, current, pedal, plan_of, scan
from playwright.sync_api import Page, expect

pytestmark = pytest.mark.browser
ADDRESS = "/sink/sink-3/heron-09/"


@pytest.fixture
def page(opened: Callable[..., Page]) -> Page:
    """The first step of a cycle nobody has begun, on a tablet that remembers nothing."""
    found = opened("okafor")
    found.goto(ADDRESS)
    expect(found.locator("#work h1")).to_have_text("When did the case end?")
    return found


def heard(page: Page) -> str:
    return page.locator("#heard").inner_text()


@pytest.mark.parametrize("ending", ["Enter", "Tab"])
@pytest.mark.parametrize("focus", ["body", "field", "button"])
def test_a_scan_fills_its_field_whatever_has_focus(page: Page, ending: str, focus: str) -> None:
    time = page.get_by_label("End of use")
    if focus == "field":
        time.fill("7:1")
    if focus == "button":
        page.locator("button.confirm").focus()
    scan(page, "CASE-9001", ending)
    expect(page.get_by_label("Case reference: type it")).to_have_value("CASE-9001")
    assert time.input_value() == ("7:1" if focus == "field" else "")
    assert current(page) == "When did the case end?"
    assert page.evaluate("localStorage.getItem('lumenward.outbox') ?? '[]'") == "[]"


def test_a_wrong_kind_of_code_is_named_in_words(page: Page) -> None:
    scan(page, "SET-1")
    expect(page.locator("#heard")).to_contain_text("That is a connector set")
    expect(page.locator("#heard")).to_contain_text("asks for a case reference")
    assert page.locator("#heard").get_attribute("aria-live") == "assertive"


def test_a_gs1_code_with_its_separator_is_read(page: Page) -> None:
    page.keyboard.type("010950110153101710RW-2207", delay=2)
    page.keyboard.press("Control+BracketRight")
    scan(page, "21S-77")
    expect(page.locator("#heard")).to_contain_text("That is a lot: ")
    expect(page.locator("#heard")).to_contain_text("RW-2207. This step asks for a case reference.")


def test_an_unknown_lot_is_refused_with_a_sentence(page: Page) -> None:
    scan(page, "010950110153101710NO-SUCH")
    expect(page.locator("#heard")).to_contain_text("NO-SUCH")
    assert page.get_by_label("Case reference: type it").input_value() == ""


def test_another_endoscope_is_never_taken_for_this_one(page: Page) -> None:
    scan(page, "ENDO-WREN-03")
    expect(page.locator("#heard")).to_contain_text("That is Wren 03. This page works on Heron 09.")


def test_two_scans_within_a_tenth_of_a_second_are_both_heard(page: Page) -> None:
    page.keyboard.type("CASE-1\nBADGE-LINDQVIST\n", delay=1)
    expect(page.get_by_label("Case reference: type it")).to_have_value("CASE-1")
    expect(page.locator("#who")).to_have_text("A. Lindqvist")


def test_a_badge_says_who_acts(page: Page) -> None:
    scan(page, "BADGE-LINDQVIST")
    expect(page.locator("#who")).to_have_text("A. Lindqvist")
    expect(page.locator("#heard")).to_have_text("A. Lindqvist acts here now.")


def test_a_scan_that_breaks_off_is_told(page: Page) -> None:
    page.keyboard.type("ENDO-HER", delay=1)
    expect(page.locator("#heard")).to_have_text("A scan broke off. Scan it again.")


def test_the_rest_of_a_scan_cut_in_two_is_not_taken_for_a_code(page: Page) -> None:
    page.keyboard.type("ENDO-HER", delay=1)
    page.wait_for_timeout(600)
    scan(page, "ON-09X")
    expect(page.locator("#heard")).to_have_text("A scan broke off. Scan it again.")
    assert page.get_by_label("Case reference: type it").input_value() == ""


def test_a_person_typing_slowly_is_left_alone(page: Page) -> None:
    room = page.get_by_label("Room")
    room.click()
    page.keyboard.type("Room 3", delay=80)
    page.keyboard.press("Tab")
    assert room.input_value() == "Room 3"
    assert heard(page) == ""


def test_the_pedal_never_sends_a_half_filled_form(page: Page) -> None:
    pedal(page)
    assert current(page) == "When did the case end?"
    expect(page.locator(".error:visible").first).to_be_visible()
    assert page.evaluate("localStorage.getItem('lumenward.outbox') ?? '[]'") == "[]"


def test_space_goes_on_but_not_while_typing(page: Page) -> None:
    room = page.get_by_label("Room")
    room.click()
    page.keyboard.type("a b", delay=80)
    assert room.input_value() == "a b"
    assert heard(page) == ""


def test_enter_in_a_field_leads_on_and_sends_nothing(page: Page) -> None:
    page.get_by_label("Room").click()
    page.keyboard.press("Enter")
    assert current(page) == "When did the case end?"
    assert page.evaluate("localStorage.getItem('lumenward.outbox') ?? '[]'") == "[]"


def test_what_was_typed_is_there_again_after_a_reload(page: Page) -> None:
    page.get_by_label("Room").fill("Room 3, left")
    page.get_by_label("End of use").fill("7:15")
    page.reload()
    assert page.get_by_label("Room").input_value() == "Room 3, left"
    assert page.get_by_label("End of use").input_value() == "7:15"


def test_a_slip_can_be_taken_back_and_what_was_given_is_kept(page: Page) -> None:
    plan = plan_of(page)
    walk = Walk(page, Touch(page), lambda _: None, {"case": "CASE-77"})
    walk.step(plan["steps"][0])
    expect(page.locator("#work h1")).not_to_have_text("When did the case end?")
    page.locator("#undo").tap()
    expect(page.locator("#work h1")).to_have_text("When did the case end?")
    assert page.get_by_label("Case reference: type it").input_value() == "CASE-77"
    assert page.evaluate("localStorage.getItem('lumenward.outbox')") == "[]"
