"""From a person's answers to an act."""

from __future__ import annotations

from typing import Any

import pytest
from planned_house import House

from lumenward.journey.acting import draft
from lumenward.journey.plan import Choice, Entry, Grade, PlannedStep, Progress
from lumenward.quantities import Refusal

NOTHING = Progress(done={}, started={}, next="")


def a_step(*entries: Entry, **more: Any) -> PlannedStep:
    return PlannedStep(
        key="s", group="S", title="S", kind="inspected", confirm="So it is", entries=list(entries), **more
    )


def number(key: str = "value", **more: Any) -> Entry:
    return Entry(key=key, label=key, kind="number", **more)


def test_a_missing_answer_is_refused_by_name() -> None:
    with pytest.raises(Refusal) as refused:
        draft(a_step(number("passes")), {}, [], NOTHING)
    assert refused.value.field == "passes"


@pytest.mark.parametrize("answer", [False, None, "", 0])
def test_a_tick_that_is_not_ticked_blocks(answer: Any) -> None:
    with pytest.raises(Refusal):
        draft(a_step(Entry(key="seen", label="Seen", kind="tick")), {"seen": answer}, [], NOTHING)


def test_what_is_only_asked_stays_out_of_the_body() -> None:
    step = a_step(Entry(key="seen", label="Seen", kind="tick", record=False), number(required=False))
    assert draft(step, {"seen": True}, [], NOTHING).body == {}


def test_no_as_an_answer_is_recorded() -> None:
    moist = Entry(
        key="moist", label="Moist", kind="choice",
        choices=[Choice(value=True, label="Yes"), Choice(value=False, label="No")],
    )  # fmt: skip
    assert draft(a_step(moist), {"moist": False}, [], NOTHING).body == {"moist": False}


def test_a_choice_brings_what_it_sets_and_a_choice_that_must_not_be_used_is_refused() -> None:
    lot = Entry(
        key="lot", label="Lot", kind="scan",
        choices=[
            Choice(value="a", label="A", sets={"detergent": "reedwash"}),
            Choice(value="b", label="B", why_not="Lot B expired."),
        ],
    )  # fmt: skip
    assert draft(a_step(lot), {"lot": "a"}, [], NOTHING).body == {"lot": "a", "detergent": "reedwash"}
    with pytest.raises(Refusal, match="expired"):
        draft(a_step(lot), {"lot": "b"}, [], NOTHING)


@pytest.mark.parametrize(("value", "result"), [(0, "pass"), (149.9, "pass"), (150, "alert"), (200, "fail")])
def test_a_value_on_a_limit_belongs_to_the_worse_grade(value: float, result: str) -> None:
    grades = [Grade(value="pass", below=150), Grade(value="alert", below=200), Grade(value="fail")]
    kit = Entry(key="kit", label="Kit", kind="scan", choices=[Choice(value="k", label="K", grades=grades)])
    meaning = Entry(key="result", label="Result", kind="choice", graded=("value", "kit"))
    given = {"kit": "k", "value": value}
    assert draft(a_step(kit, number(), meaning), given, [], NOTHING).body["result"] == result


def test_reserved_keys_name_instant_and_subject_of_the_act() -> None:
    house = House()
    step = house.step("sanderling-28", "used")
    when = house.now
    given = {"case": "C-1", "happened_at": when, "time_known": True, "no_prion": True}
    made = draft(step, given, [], NOTHING)
    assert made.happened_at == when and "happened_at" not in made.body and made.body["prion_risk"] is False


def test_only_the_mixes_of_this_cleaning_are_carried_into_it() -> None:
    house = House()
    tablet = house.tablet("sanderling-28")
    tablet.work(until="inspect")
    tablet.record(next(t for t in tablet.step("inspect").troubles if t.key == "inspect-debris"))
    tablet.work(until="exterior")
    mixed = [act.id for act in tablet.acts if act.kind == "detergent_dosed"]
    started = [act for act in tablet.acts if act.kind == "cleaning_started"]
    assert started[0].body["batches"] == mixed[:2] and started[1].body["batches"] == mixed[2:]


def test_a_fill_between_two_rows_gives_water_dose_and_interval_in_between() -> None:
    house = House()
    step = house.step("sanderling-28", "dose-sink")
    given = {"lot": "lot-reedwash", "fill": 0.0775, "temperature_c": 30}
    body = draft(step, given, [], NOTHING).body
    assert body["water_l"] == pytest.approx(15.5) and body["dose_ml"] == pytest.approx(62.0)
    assert body["low_ppm"] < body["concentration_ppm"] < body["high_ppm"]


def test_a_dose_other_than_the_one_shown_moves_the_concentration_with_it() -> None:
    step = House().step("sanderling-28", "dose-sink")
    given = {"lot": "lot-reedwash", "fill": 0.075, "temperature_c": 30}
    shown = draft(step, given, [], NOTHING).body
    more = draft(step, given | {"dose_ml": 70.0}, [], NOTHING).body
    assert more["dose_ml"] == 70.0
    assert more["concentration_ppm"] == pytest.approx(1e6 * 70 / 15070, abs=0.1)
    assert more["low_ppm"] / shown["low_ppm"] == pytest.approx(
        more["concentration_ppm"] / shown["concentration_ppm"], rel=1e-3
    )


@pytest.mark.parametrize("fill", [0.001, 0.9])
def test_a_fill_that_the_vessel_cannot_have_is_refused(fill: float) -> None:
    step = House().step("sanderling-28", "dose-sink")
    with pytest.raises(Refusal) as refused:
        draft(step, {"lot": "lot-reedwash", "fill": fill, "temperature_c": 30}, [], NOTHING)
    assert refused.value.field == "fill" and "cm" in refused.value.hint
