"""Working a plan in the browser the way a person does: by scanner and pedal alone, or by touch alone."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

from playwright.sync_api import Locator, Page, expect

SCAN_GAP_MS = 4


def scan(page: Page, code: str, ending: str = "Enter") -> None:
    """Type a code as a keyboard-wedge scanner does: fast, with an ending."""
    page.keyboard.type(code, delay=SCAN_GAP_MS)
    page.keyboard.press(ending)


def pedal(page: Page) -> None:
    """Press the pedal once, no sooner than a foot can."""
    page.wait_for_timeout(500)
    page.keyboard.press("PageDown")


def plan_of(page: Page) -> dict[str, Any]:
    """Return the plan the page works with."""
    return json.loads(page.locator("#plan").text_content() or "{}")


class HandsFree:
    """Fills a field by scanning its own code or the bench card, goes on by pedal."""

    def __init__(self, page: Page) -> None:
        self.page = page

    def go_on(self) -> None:
        pedal(self.page)

    def choose(self, entry: dict[str, Any], place: int) -> None:
        code = entry["choices"][place].get("code")
        scan(self.page, code if code else f"LW-{'ABCDEFGH'[place]}")
        self.page.wait_for_timeout(120)

    def type(self, entry: dict[str, Any], text: str) -> None:
        for sign in text:
            scan(self.page, "LW-POINT" if sign in ".:" else f"LW-{sign}")
            self.page.wait_for_timeout(30)

    def code(self, entry: dict[str, Any], text: str) -> None:
        scan(self.page, text)
        self.page.wait_for_timeout(200)

    def just_now(self, entry: dict[str, Any]) -> None:
        scan(self.page, "LW-A")
        self.page.wait_for_timeout(120)

    def tick(self, entry: dict[str, Any]) -> None:
        pedal(self.page)

    def sign(self, pin: str) -> None:
        for digit in pin:
            scan(self.page, f"LW-{digit}")
            self.page.wait_for_timeout(30)
        pedal(self.page)


class Touch:
    """Taps what is on the screen; figures come from the tablet's own keyboard."""

    def __init__(self, page: Page) -> None:
        self.page = page

    def _field(self, entry: dict[str, Any]) -> Locator:
        # By label: what a person reads is what a finger finds.
        return self.page.locator(
            ".entries > *", has=self.page.locator(":is(label, legend)", has_text=entry["label"])
        ).first

    def go_on(self) -> None:
        self.page.locator("button.confirm").tap()

    def choose(self, entry: dict[str, Any], place: int) -> None:
        self._field(entry).locator(".choice").nth(place).tap()

    def type(self, entry: dict[str, Any], text: str) -> None:
        box = self._field(entry).locator("input[type=text]")
        box.tap()
        box.fill("")
        self.page.keyboard.type(text, delay=90)

    code = type

    def just_now(self, entry: dict[str, Any]) -> None:
        self._field(entry).get_by_role("button", name="Just now").tap()

    def tick(self, entry: dict[str, Any]) -> None:
        self._field(entry).locator("label").tap()

    def sign(self, pin: str) -> None:
        self.page.locator("#pin").tap()
        self.page.keyboard.type(pin, delay=90)
        self.page.locator(".sign button.confirm").tap()


def current(page: Page) -> str:
    """Return the heading of the step that is shown."""
    return page.locator("#work h1").first.inner_text()


class Walk:
    """Takes one endoscope along its plan. `answers` overrides what is given: (step, entry) or entry -> value."""

    def __init__(
        self,
        page: Page,
        hand: HandsFree | Touch,
        forward: Callable[[float], None],
        answers: dict[Any, Any] | None = None,
    ) -> None:
        self.page, self.hand, self.forward = page, hand, forward
        self.answers = answers or {}
        self.given: dict[str, Any] = {}

    def step(self, step: dict[str, Any]) -> None:
        """Do one step: start its clock, let the time pass, give what is asked, confirm."""
        expect(self.page.locator("#work h1").first).to_have_text(step["title"])
        if self.answers.get((step["key"], "instead")):
            self.page.get_by_role("button", name=step["instead_label"]).tap()
            return
        timer = step.get("timer")
        if timer and not timer["since"]:
            self.hand.go_on()
            expect(self.page.locator(".clock .face")).to_be_visible()
        if timer:
            self.forward(self.floor(step) + 1)
        for entry in step["entries"]:
            self.give(step, entry)
        self.hand.go_on()

    def fits(self, choice: dict[str, Any], answer: Any) -> bool:
        """Return whether a choice is the answer, or open where none is given."""
        if answer is not None:
            return bool(choice["value"] == answer)
        together = all(self.given.get(key) in allowed for key, allowed in choice.get("only", {}).items())
        return not choice["why_not"] and together

    def floor(self, step: dict[str, Any]) -> float:
        """Return how long the clock of a step must run."""
        rows = [row["floor_s"] for row in step["timer"]["rows"]]
        return max(rows) if rows else float(step["timer"]["floor_s"])

    def give(self, step: dict[str, Any], entry: dict[str, Any]) -> None:
        """Give one entry by hand or scanner."""
        if entry["key"] in step["carry"] or entry["elapsed"] or entry["graded"]:
            return
        answer = self.answers.get((step["key"], entry["key"]), self.answers.get(entry["key"]))
        if answer is None and not entry["required"]:
            return
        if entry["kind"] == "tick":
            self.hand.tick(entry)
        elif entry["kind"] == "time":
            self.hand.just_now(entry)
        elif entry["kind"] == "number":
            self.number(entry, answer)
        elif entry["kind"] == "words" or (not entry["choices"] and entry["kind"] != "fill"):
            self.hand.code(entry, str(answer or "CASE-4471"))
        else:
            self.pick(step, entry, answer)

    def number(self, entry: dict[str, Any], answer: Any) -> None:
        """Give a number: the answer, or the low bound; what the page filled in stays."""
        if answer is None and entry["key"] == "dose_ml":
            return
        self.hand.type(entry, str(answer if answer is not None else int(entry["low"] or 1)))

    def pick(self, step: dict[str, Any], entry: dict[str, Any], answer: Any) -> None:
        """Pick the answer's place among the choices, or the first that may be picked."""
        choices = step["dosings"][0]["marks"] if entry["kind"] == "fill" else entry["choices"]
        place = next(i for i, one in enumerate(choices) if self.fits(one, answer))
        self.given[entry["key"]] = choices[place]["value"]
        self.hand.choose({**entry, "choices": choices}, place)
