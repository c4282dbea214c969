"""Events fold to the same states in any order of arrival, doubled or not, corrected or not."""

from __future__ import annotations

import time
from datetime import datetime
from functools import lru_cache
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from one_cycle import Unit

from lumenward.journey.event import Event
from lumenward.journey.folding import FOLDED, effective, fold, touch_rows
from lumenward.journey.memory import MemoryWorld
from lumenward.quantities import Refusal

KEYS = ("endoscope", "cycle", "charge", "lot", "connector_set", "batch", "person")


def corrected(unit: Unit, named: Event, **how: object) -> Event:
    body = {"event": named.id, "reason": "a slip", **how}
    return unit.do("corrected", subject=named.id, **body)


@lru_cache
def history() -> tuple[Event, ...]:
    """A cycle with a correction, a withdrawal, a setback, a hand-over and a hold that was lifted."""
    unit = Unit().to("received")
    arrival = unit.world.acts(unit.cycle)[-1]
    corrected(unit, arrival, new_body={"place": "sink-2"})
    slip = unit.do("step_started", step="leak-test")
    corrected(unit, slip)
    for name, step in list(unit.steps())[4:]:
        if name == "inspected":
            unit.do("inspected", tools=["magnifier"], result="debris seen")
            break
        step()
    unit.do("handed_over", person="tom", from_person="ana")
    unit.person = "tom"
    for name, step in list(unit.steps())[5:]:
        step()
        if name == "stored":
            break
    unit.do("held", cycle=unit.cycle, reason="recall", person="lea")
    unit.do("hold_lifted", cycle=unit.cycle, reason="not ours", person="lea")
    return tuple(unit.world.events())


def states(world: MemoryWorld) -> dict[str, list[object]]:
    return {
        "endoscopes": [one.model_dump() for one in sorted(world.endoscopes(), key=lambda s: s.id)],
        "cycles": [state.model_dump() for e in history() if (state := world.cycle(e.id)) is not None],
        "charges": [state.model_dump() for e in history() if (state := world.charge(e.id)) is not None],
        "lots": [one.model_dump() for one in sorted(world.lots(), key=lambda s: s.id)],
        "sets": [one.model_dump() for one in sorted(world.connector_sets(), key=lambda s: s.id)],
        "batches": [state.model_dump() for e in history() if (state := world.batch(e.id)) is not None],
        "people": [one.model_dump() for one in sorted(world.people(), key=lambda s: s.id)],
    }


@settings(max_examples=60, deadline=None)
@given(data=st.data())
def test_any_order_and_doubling_of_arrivals_folds_to_the_same_states(data: st.DataObject) -> None:
    events = history()
    doubled = data.draw(st.lists(st.sampled_from(events), max_size=20))
    arrivals = data.draw(st.permutations([*events, *doubled]))
    assert states(MemoryWorld(arrivals)) == states(MemoryWorld(events))


@settings(max_examples=40, deadline=None)
@given(data=st.data())
def test_folding_a_subject_at_once_agrees_with_folding_it_event_by_event(data: st.DataObject) -> None:
    world = MemoryWorld(history())
    about: dict[tuple[str, str], set[str]] = {}
    for event in history():
        for event_id, kind, ref in touch_rows(event, world):
            about.setdefault((kind, ref), set()).add(event_id)
    kind, ref = data.draw(st.sampled_from(sorted(about)))
    shuffled = data.draw(st.permutations([event for event in history() if event.id in about[kind, ref]]))
    seen = getattr(world, kind.replace("-", "_"))(ref)
    assert seen is None or fold(kind, ref, shuffled) == seen


def test_every_state_of_the_world_has_a_fold() -> None:
    assert {about.replace("-", "_") for about in FOLDED} == set(KEYS)


def test_a_corrected_act_counts_with_its_new_body() -> None:
    unit = Unit().to("received")
    arrival = unit.world.acts(unit.cycle)[-1]
    corrected(unit, arrival, new_body={"place": "sink-2"})
    assert unit.world.endoscope("e1").place == "sink-2"
    assert [act.body for act in effective(unit.world.acts(unit.cycle)) if act.kind == "received"] == [
        {"place": "sink-2"}
    ]


def test_a_withdrawn_act_did_not_happen() -> None:
    unit = Unit().to("leak_tested")
    leak_test = unit.world.acts(unit.cycle)[-1]
    before = unit.world.endoscope("e1").stage
    corrected(unit, leak_test)
    assert before == "being cleaned"
    assert unit.world.endoscope("e1").stage == "waiting"
    assert unit.tries("cleaning_started", batches=[unit.charge.id]).code == "out-of-order"


def test_a_leak_recorded_by_mistake_and_withdrawn_holds_nothing() -> None:
    unit = Unit().to("received")
    leak = unit.do("leak_tested", method="wet", result="leak")
    assert unit.world.endoscope("e1").stage == "held"
    corrected(unit, leak)
    assert unit.world.endoscope("e1").stage == "waiting"


def test_a_correction_moves_the_use_of_a_set_to_the_set_that_was_meant() -> None:
    unit = Unit()
    unit.do("connector_set_opened", subject="set-8", kind="set-gastro")
    unit.to("connected")
    on = unit.world.acts(unit.cycle)[-1]
    corrected(unit, on, new_body={**on.body, "connector_set": "set-8"})
    assert unit.world.connector_set("set-9").first_use_at is None
    assert unit.world.connector_set("set-8").first_use_at == on.happened_at
    assert unit.world.connector_set("set-8").on == unit.cycle


def test_a_correction_that_arrives_before_its_act_counts_once_the_act_is_there() -> None:
    unit = Unit().to("received")
    arrival = unit.world.acts(unit.cycle)[-1]
    correction = corrected(unit, arrival, new_body={"place": "sink-2"})
    others = [event for event in unit.world.events() if event.id not in (arrival.id, correction.id)]
    world = MemoryWorld([*others, correction, arrival])
    assert world.endoscope("e1").place == "sink-2"


def test_a_correction_with_a_body_that_its_kind_does_not_allow_is_not_passed_over() -> None:
    unit = Unit().to("received")
    arrival = unit.world.acts(unit.cycle)[-1]
    bad = unit.make(
        "corrected", subject=arrival.id, event=arrival.id, reason="x", new_body={"plaice": "sink-2"}
    )
    with pytest.raises(Refusal, match="place"):
        effective([arrival, bad])


def test_the_states_say_what_one_would_say_aloud_after_each_step() -> None:
    said = {
        "used": "waiting", "received": "waiting", "leak_tested": "being cleaned", "cleaning_started": "being cleaned",
        "inspected": "being cleaned", "hld_started": "being disinfected", "hld_ended": "disinfected",
        "final_rinsed": "disinfected", "dried": "dry", "stored": "stored", "released": "ready", "taken": "in use",
    }  # fmt: skip
    unit = Unit()
    for name, step in unit.steps():
        step()
        if name in said:
            assert unit.world.endoscope("e1").stage == said[name], name
            assert unit.world.cycle(unit.cycle).stage == said[name], name


def test_a_hold_outlasts_the_end_of_a_disinfection_begun_before_it() -> None:
    unit = Unit().to("hld_started")
    unit.do("held", cycle=unit.cycle, reason="recall", person="lea")
    unit._hld_ended()
    assert unit.world.endoscope("e1").stage == "held"
    unit.do("hold_lifted", cycle=unit.cycle, reason="not ours", person="lea")
    assert unit.world.endoscope("e1").stage == "disinfected"


def test_moisture_a_cut_short_disinfection_and_debris_take_the_work_back() -> None:
    unit = Unit().to("hld_started")
    unit.do("hld_ended", charge=unit.charge.id, temperature_c=21, result="cut short")
    assert unit.world.cycle(unit.cycle).stage == "being cleaned"
    unit = Unit().before("dried")
    unit.timed("dry", 700, "dried", **{**unit.drying(), "result": "moisture seen"})
    assert unit.world.endoscope("e1").stage == "disinfected"
    assert unit.world.cycle(unit.cycle).dried_at is None
    unit = Unit().before("inspected")
    unit.do("inspected", tools=["magnifier"], result="debris seen")
    assert unit.world.cycle(unit.cycle).failures == 1


def test_late_acts_of_a_cycle_that_is_over_change_nothing_of_the_new_one() -> None:
    unit = Unit().to("taken")
    old = unit.cycle
    late = unit.make("received", cycle=old, place="sink-4")
    unit.to("used")
    unit.world.append(late)
    assert unit.world.endoscope("e1").cycle == unit.cycle != old
    assert unit.world.endoscope("e1").stage == "waiting"


def test_an_event_is_taken_in_well_under_a_millisecond() -> None:
    events = [event for event in history() if event.kind != "corrected"]
    began = time.perf_counter()
    for _ in range(10):
        MemoryWorld(events)
    assert (time.perf_counter() - began) / (10 * len(events)) < 1e-3


def test_acts_in_the_hour_that_the_wall_clock_repeats_fold_in_their_real_order() -> None:
    zone = ZoneInfo("Europe/London")
    unit = Unit(now=datetime(2026, 10, 25, 1, 40, tzinfo=zone)).to("used")
    opening = unit.world.event(unit.cycle)
    assert opening is not None
    first = unit.make("received", place="sink-1").model_copy(
        update={"happened_at": datetime(2026, 10, 25, 1, 55, tzinfo=zone)}
    )
    second = unit.make("received", place="sink-2").model_copy(
        update={"happened_at": datetime(2026, 10, 25, 1, 5, tzinfo=zone, fold=1)}
    )
    assert first.happened_at > second.happened_at  # as Python compares two times of one zone
    for arrivals in ([first, second], [second, first]):
        world = MemoryWorld([*unit.world.events(), *arrivals])
        assert world.endoscope("e1").place == "sink-2"
