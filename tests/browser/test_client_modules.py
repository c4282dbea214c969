"""The modules of the sink page by themselves: they say the same as the core, and lose nothing."""

from __future__ import annotations

import json
import random
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, Page
from rigging import House

from lumenward.journey.event import Event
from lumenward.journey.plan import (
    Entry,
    OnlyAfter,
    PlannedStep,
    Timer,
    TimerRow,
    Trouble,
    floor_of,
    low_of,
    progress,
)
from lumenward.ledger.uuid7 import make_id
from lumenward.quantities import show_clock, show_duration, show_number

pytestmark = pytest.mark.browser
START = datetime(2031, 5, 7, 8, 0, tzinfo=UTC)


@pytest.fixture(scope="module")
def page(browser: Browser, house: House) -> Iterator[Page]:
    context = browser.new_context(base_url=house.address)
    found = context.new_page()
    found.goto("/sign-in/")
    yield found
    context.close()


def module(page: Page, name: str, expression: str, value: Any = None) -> Any:
    """Evaluate an expression over a module `m` of the sink and a value `v`."""
    script = f"async (v) => {{ const m = await import('/static/sink/{name}.js'); return ({expression}); }}"
    return page.evaluate(script, value)


# --- progress


def a_step(key: str, kind: str, **more: Any) -> PlannedStep:
    return PlannedStep(key=key, group=key, title=key, kind=kind, confirm="so", **more)


def a_timer(**more: Any) -> Timer:
    return Timer(floor_s=30, start="begun", running="runs", ends="over", **more)


def steps() -> list[PlannedStep]:
    """Return a plan with every feature that progress knows."""
    leak = Trouble(
        key="leak",
        label="leak",
        say=[],
        kind="leak_tested",
        body={"result": "leak"},
        stops=True,
        confirm="so",
    )
    dirty = Trouble(
        key="dirty", label="dirty", say=[], kind="inspected", body={"result": "debris seen"}, back_to="dose",
        attempts=2, confirm="so",
    )  # fmt: skip
    prion = Trouble(
        key="again", label="new", say=[], kind="received", body={"place": "b"}, new_cycle=True, confirm="so"
    )
    late = OnlyAfter(
        since="patient_use_ended", until="cleaning_started", limit_s=3600, or_if={"time_known": False}
    )
    return [
        a_step("used", "patient_use_ended", route="opening:patient"),
        a_step("not-used", "reprocessing_required", route="opening:none"),
        a_step("received", "received", troubles=[prion]),
        a_step("delay", "delay_branch_taken", only_after=late),
        a_step(
            "leak",
            "leak_tested",
            body={"result": "tight"},
            match=["result"],
            timer=a_timer(),
            troubles=[leak],
        ),
        a_step("dose", "detergent_dosed", body={"role": "sink"}, match=["role"]),
        a_step("dose-2", "detergent_dosed", body={"role": "container"}, match=["role"], optional=True),
        a_step("clean", "cleaning_started"),
        a_step("outside", "exterior_cleaned", timer=a_timer(since="cleaning_started", recorded=False)),
        a_step("flush", "flushed", body={"channels": ["air", "water"]}, match=["channels"], timer=a_timer()),
        a_step("look", "inspected", body={"result": "clean"}, match=["result"], troubles=[dirty]),
        a_step("in", "hld_started", route="way:hand"),
        a_step("machine", "machine_cycle_started", route="way:machine"),
        a_step("out", "hld_ended", route="way:hand", timer=a_timer(since="hld_started")),
    ]


BODIES: list[tuple[str, list[dict[str, Any]]]] = [
    ("patient_use_ended", [{"time_known": True}, {"time_known": False}]),
    ("reprocessing_required", [{}]),
    ("received", [{"place": "a"}, {"place": "b"}]),
    ("delay_branch_taken", [{}]),
    ("leak_tested", [{"result": "tight"}, {"result": "leak"}]),
    ("step_started", [{"step": "leak"}, {"step": "flush"}, {}]),
    ("work_interrupted", [{"step": "flush"}, {"step": "leak"}]),
    ("detergent_dosed", [{"role": "sink"}, {"role": "container"}]),
    ("cleaning_started", [{}]),
    ("exterior_cleaned", [{}]),
    ("flushed", [{"channels": ["air", "water"]}, {"channels": ["water", "air"]}, {"channels": ["air"]}]),
    ("inspected", [{"result": "clean"}, {"result": "debris seen"}]),
    ("hld_started", [{}]),
    ("hld_ended", [{}]),
    ("machine_cycle_started", [{}]),
    ("held", [{"reason": "other"}]),
    ("hold_lifted", [{"reason": "seen"}]),
    ("corrected", [{}]),
]


def some_acts(chance: random.Random) -> list[Event]:
    """Return a history that nobody checked: any kind in any order, corrections among them."""
    acts: list[Event] = []
    at = START
    for _ in range(chance.randint(0, 22)):
        at += timedelta(seconds=chance.choice([5, 40, 900, 4000]))
        kind, bodies = chance.choice(BODIES)
        body = dict(chance.choice(bodies))
        if kind == "corrected" and acts:
            body = {"event": chance.choice(acts).id, "reason": "a slip"}
            if chance.random() < 0.5:
                body["new_body"] = chance.choice(chance.choice(BODIES)[1])
        acts.append(
            Event(
                id=str(make_id(int(at.timestamp() * 1000))),
                kind=kind,
                subject="heron-14",
                person="okafor",
                station="sink-1",
                happened_at=at,
                body=body,
            )
        )
    return acts


def test_progress_in_the_browser_is_progress_in_the_core(page: Page) -> None:
    chance = random.Random(28)
    plan = steps()
    cases, expected = [], []
    for _ in range(400):
        acts = some_acts(chance)
        now = None if chance.random() < 0.3 else START + timedelta(hours=chance.randint(0, 9))
        lifted = chance.choice(acts).id if acts and chance.random() < 0.3 else ""
        expected.append(progress(plan, acts, now, lifted).model_dump(mode="json"))
        cases.append(
            {
                "acts": [act.model_dump(mode="json") for act in acts],
                "now": now and now.timestamp() * 1000,
                "lifted": lifted,
            }
        )
    value = {"steps": [step.model_dump(mode="json") for step in plan], "cases": cases}
    found = module(
        page, "progress", "v.cases.map((c) => m.progress(v.steps, c.acts, c.now, c.lifted))", value
    )
    for case, ours, core in zip(cases, found, expected, strict=True):
        assert ours == core, json.dumps(case)


def test_the_floor_of_a_contact_time_is_the_same_row_in_both(page: Page) -> None:
    rows = [
        TimerRow(key="charge", value="c1", between="temperature_c", low=low, high=high, floor_s=floor)
        for low, high, floor in ((20, 25, 720), (25, 100, 300), (25, 30, 400), (35, 40, 90))
    ]
    timer = a_timer(rows=rows)
    bodies = [
        {"charge": c, "temperature_c": t} for c in ("c1", "c2") for t in (19.9, 20, 24.9, 25, 28, 36, 101)
    ]
    bodies.append({"charge": "c1"})
    found = module(
        page,
        "progress",
        "v.bodies.map((b) => m.floorOf(v.timer, b))",
        {"timer": timer.model_dump(mode="json"), "bodies": bodies},
    )
    assert found == [floor_of(timer, body) for body in bodies]


def test_the_lower_bound_by_a_machine_is_the_same_in_both(page: Page) -> None:
    entries = [
        Entry(
            key="contact_s", label="t", kind="number", low=600, low_by="washer", lows={"w1": 720, "w2": 600}
        ),
        Entry(key="contact_s", label="t", kind="number", low=0),
        Entry(key="contact_s", label="t", kind="number", low_by="washer", lows={"w1": 0}),
    ]
    bodies = [{"washer": "w1"}, {"washer": "w2"}, {"washer": "w3"}, {}]
    value = {"entries": [entry.model_dump(mode="json") for entry in entries], "bodies": bodies}
    found = module(page, "progress", "v.entries.map((e) => v.bodies.map((b) => m.lowOf(e, b)))", value)
    assert found == [[low_of(entry, body) for body in bodies] for entry in entries]


def test_numbers_and_durations_read_the_same_on_page_and_server(page: Page) -> None:
    numbers = [0, 0.5, 0.0055, 1, 9.995, 36, 95, 120.04, 1234.5, 12500, 1234567.8, -3, -0.2]
    seconds = [
        -75,
        -0.4,
        0,
        21,
        95,
        119.9,
        120,
        150,
        599,
        600,
        1080,
        3599,
        3600,
        3905,
        90000,
        172800,
        200000,
        691200,
    ]
    value = {"numbers": numbers, "seconds": seconds}
    assert module(page, "words", "v.numbers.map((n) => m.showNumber(n))", value) == [
        show_number(n) for n in numbers
    ]
    assert module(page, "words", "v.seconds.map(m.showDuration)", value) == [
        show_duration(s) for s in seconds
    ]
    assert module(page, "words", "v.seconds.map(m.showClock)", value) == [show_clock(s) for s in seconds]


@pytest.mark.parametrize(
    ("typed", "value"),
    [("36.5", 36.5), ("36,5", 36.5), (" 7 ", 7), (",5", 0.5), ("-3", -3), ("−3", -3), ("012", 12)],
)
def test_a_number_is_read_with_comma_or_point(page: Page, typed: str, value: float) -> None:
    assert module(page, "words", "m.readNumber(v)", typed) == {"value": value}


@pytest.mark.parametrize(
    "typed", ["1.234,5", "1 234", "12 mL", "NaN", "1e5", "∞", "🙂", "--2", "9" * 40, "0x10", "٣"]
)
def test_what_is_no_number_is_refused_in_words(page: Page, typed: str) -> None:
    found = module(page, "words", "m.readNumber(v)", typed)
    assert "value" not in found
    assert len(found["why"]) > 5


def test_an_instant_carries_the_offset_of_its_station(page: Page) -> None:
    text = module(page, "words", "m.withOffset(new Date(v))", 1_900_000_000_123)
    assert datetime.fromisoformat(text).timestamp() == pytest.approx(1_900_000_000.123)


def test_ids_made_in_the_browser_are_uuids_of_version_7_in_order(page: Page) -> None:
    found = module(page, "uuid7", "Array.from({ length: 6000 }, () => m.uuid7(1_900_000_000_000))")
    assert found == sorted(found)
    assert len(set(found)) == 6000
    for one in found[:50]:
        Event(id=one, kind="flushed", subject="x", person="p", station="s", happened_at=START)


# --- outbox

OUTBOX = (Path(__file__).parent / "outbox_trial.js").read_text(encoding="utf-8")


def outbox(page: Page, **value: Any) -> dict[str, Any]:
    """Run an outbox against a server that behaves as `script` says; return what came of it."""
    found: dict[str, Any] = page.evaluate(OUTBOX, value)
    return found


def test_nothing_is_lost_or_doubled_when_the_answer_is_lost(page: Page) -> None:
    found = outbox(page, ids=["a", "b", "c"], script=["down", "lost", 503])
    assert found["server"] == ["a", "b", "c"]
    assert found["left"] == []
    assert len(found["calls"]) == 4
    assert found["status"]["words"] == "Saved on this tablet and on the server"


def test_while_the_server_is_away_the_page_says_how_many_wait(page: Page) -> None:
    found = outbox(page, ids=["a", "b", "c"], script=["down"] * 9)
    assert found["left"] == ["a", "b", "c"]
    assert found["status"] == {"state": "waiting", "words": "Saved on this tablet, not yet on the server: 3"}


def test_acts_wait_for_a_new_sign_in_and_are_not_given_up(page: Page) -> None:
    found = outbox(page, ids=["a"], script=[401] * 9)
    assert found["left"] == ["a"]
    assert found["status"]["state"] == "sign-in"


def test_one_refused_act_does_not_hold_up_the_others(page: Page) -> None:
    found = outbox(page, ids=["a", "b", "c"], refuse=["b"])
    assert found["server"] == ["a", "c"]
    assert found["refused"] == [["b", "Not so."]]
    assert found["left"] == []


def test_a_batch_refused_as_a_whole_is_sent_act_by_act(page: Page) -> None:
    found = outbox(page, ids=["a", "b"], script=[413])
    assert found["calls"] == [["a", "b"], ["a"], ["b"]]
    assert found["server"] == ["a", "b"]


def test_acts_are_sent_in_the_order_in_which_they_happened(page: Page) -> None:
    at = {
        "a": "2031-05-07T10:00:02+02:00",
        "b": "2031-05-07T10:00:01+02:00",
        "c": "2031-05-07T08:00:00+00:00",
    }
    assert outbox(page, ids=["a", "b", "c"], at=at)["calls"] == [["c", "b", "a"]]


def test_a_slip_is_taken_back_before_it_is_sent(page: Page) -> None:
    found = outbox(page, ids=["a", "b"], undo_s=10, undo="b")
    assert found["said"] == ["b"]
    assert found["left"] == ["a"]
    assert found["calls"] == []


def test_a_thousand_acts_go_in_batches_of_bearable_size(page: Page) -> None:
    found = outbox(page, ids=[f"id-{n:04d}" for n in range(1000)])
    assert len(found["server"]) == 1000
    assert max(len(call) for call in found["calls"]) <= 25


# --- dosing and time

ROWS = [[0.05, 10, 40, 3600, 4400], [0.1, 20, 80, 3700, 4300]]
DOSING = {"rows": ROWS, "temperature_low_c": 20, "temperature_high_c": 40, "low_ppm": 3480, "high_ppm": 4980}


def test_the_dose_between_two_lines_is_interpolated(page: Page) -> None:
    found = module(page, "dosing", "m.byFill(v, 0.075)", ROWS)
    assert found == pytest.approx([0.075, 15, 60, 3650, 4350])


@pytest.mark.parametrize("fill", [0.0499, 0.1001, -1, 0])
def test_a_fill_outside_the_table_gets_no_dose(page: Page, fill: float) -> None:
    found = module(page, "dosing", "m.doseFor(v[0], { fill_m: v[1], temperature: '36' })", [DOSING, fill])
    assert "row" not in found
    assert "outside" in found["why"]


@pytest.mark.parametrize(
    ("typed", "words"), [("19.9", "add warm water"), ("40,1", "add cold water"), ("x", "not a number")]
)
def test_a_temperature_outside_the_window_says_what_to_change(page: Page, typed: str, words: str) -> None:
    found = module(page, "dosing", "m.doseFor(v[0], { fill_m: 0.1, temperature: v[1] })", [DOSING, typed])
    assert words in found["why"]
    assert found["field"] == "temperature_c"


def test_another_amount_than_planned_is_judged_by_the_label(page: Page) -> None:
    say = "[40, 80, 120].map((ml) => m.outOfRange(v, v.rows[1], ml))"
    weak, right, strong = module(page, "dosing", say, DOSING)
    assert "Too weak" in weak
    assert right == ""
    assert "Too strong" in strong


def test_a_clock_is_computed_from_the_recorded_start(page: Page) -> None:
    timing = {"started_at": "2031-05-07T10:00:00+02:00", "floor_s": 95}
    begun = datetime.fromisoformat(timing["started_at"]).timestamp() * 1000
    early = module(page, "timer", "m.reading(v[0], v[1])", [timing, begun + 74_000])
    over = module(page, "timer", "m.reading(v[0], v[1])", [timing, begun + 95_000])
    assert early["clock"] == "0:21"
    assert "21" in early["why_not"]
    assert early["enough"] is False
    assert over["enough"] is True
    assert over["why_not"] == ""


# --- verdict


def a_finding(title: str, answer: str, sentence: str, **more: str) -> dict[str, str]:
    return {
        "title": title,
        "answer": answer,
        "sentence": sentence,
        "source": "p. 1",
        "authority": "IFU",
        **more,
    }


MET = a_finding("Dried long enough", "met", "10 min.")
VERDICT = {
    "ready": False,
    "findings": [
        MET,
        a_finding("Rinse", "unknown", "Nobody recorded it."),
        a_finding("Contact time", "broken", "4 min of 12 min.", fix="disinfect it again"),
    ],
}
SHOW_VERDICT = (Path(__file__).parent / "verdict_trial.js").read_text(encoding="utf-8")


def test_a_verdict_that_is_not_ready_says_why_and_takes_no_signature(page: Page) -> None:
    found = page.evaluate(SHOW_VERDICT, {"verdict": VERDICT})
    assert found["verdict"] == ["Heron 14 is not ready. 2 things stand in the way."]
    assert found["against"] == ["Contact time", "Rinse"]
    assert found["fix"] == ["What would help: disinfect it again"]
    assert found["pin"] == []


def test_a_wrong_pin_is_answered_beside_its_field_and_nothing_is_released(page: Page) -> None:
    ready = {"ready": True, "findings": [MET]}
    refusal = {"code": "wrong-pin", "message": "This is not the PIN of this person.", "hint": "Try again."}
    found = page.evaluate(SHOW_VERDICT, {"verdict": ready, "pin": "1111", "refusal": refusal})
    assert found["verdict"] == ["Heron 14 can be released. Every rule is met."]
    assert found["error"] == ["This is not the PIN of this person. Try again."]
    assert found["kept"] == ""
    assert "released" not in found["sent"]
