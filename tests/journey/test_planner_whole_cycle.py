"""Every model, every way of disinfection, every shipped policy: the plan alone leads from use to release."""

from __future__ import annotations

import pytest
from planned_house import STATION, House, library, policies, routes

from lumenward.journey.kinds import KINDS
from lumenward.journey.planner import make_plan
from lumenward.quantities import Refusal


@pytest.mark.parametrize(("model", "route"), routes())
@pytest.mark.parametrize("policy", sorted(policies()))
def test_one_plan_loaded_at_the_start_carries_the_whole_cycle_without_a_network(
    model: str, route: str, policy: str
) -> None:
    house = House(policy=policies()[policy])
    tablet = house.tablet(model)
    done = tablet.work(route=route)
    stands = tablet.stands()
    assert stands.next == "" and stands.stopped == ""
    assert done[0] == "used" and done[-1] == "release"
    assert set(done).isdisjoint(stands.left_out)
    assert set(done) | set(stands.left_out) == {step.key for step in tablet.plan.steps}
    assert house.world.endoscope(model).stage == "ready"


@pytest.mark.parametrize(("model", "route"), routes()[:2])
def test_a_page_loaded_anew_before_each_step_does_the_same_steps(model: str, route: str) -> None:
    house, other = House(), House()
    assert house.work(model, route=route) == other.tablet(model).work(route=route)
    assert house.stands(model).next == ""


@pytest.mark.parametrize("model", [one.id for one in library().endoscopes])
def test_an_endoscope_that_no_patient_used_is_processed_without_bedside_and_delay(model: str) -> None:
    house = House()
    done = house.tablet(model).work(patient=False)
    assert done[0] == "not-used" and done[-1] == "release"
    assert {"bedside", "sent", "delay", "used"} <= set(house.stands(model).left_out)


def test_the_ways_of_disinfection_leave_each_other_out() -> None:
    by_hand, by_machine = House(), House()
    by_hand.tablet("sanderling-28").work(route="manual")
    by_machine.tablet("sanderling-28").work(route="machine")
    assert {"machine-in", "machine-out"} <= set(by_hand.stands("sanderling-28").left_out)
    assert {"mec", "hld-in", "hld-out", "final-rinse"} <= set(by_machine.stands("sanderling-28").left_out)


def test_a_model_without_channels_has_no_brush_and_no_pump_but_is_dried_and_stored() -> None:
    keys = [step.key for step in House().plan("wagtail-34").steps]
    assert not [key for key in keys if key.startswith(("brush", "flush", "connect", "aspirate", "purge"))]
    assert {
        "leak-test",
        "immerse",
        "exterior",
        "rinse",
        "inspect",
        "hld-in",
        "dry",
        "store",
        "release",
    } <= set(keys)


def test_a_model_with_an_elevator_wire_flushes_that_channel_and_cleans_the_recess_both_ways() -> None:
    plan = House().plan("turnstone-42")
    steps = {step.key: step for step in plan.steps}
    for key in ("flush", "purge-flush", "rinse", "purge-rinse", "dry"):
        assert "elevator-wire" in steps[key].body["channels"]
    assert "elevator_both_positions" in [entry.key for entry in steps["exterior"].entries]
    assert "brush-elevator-wire" not in steps
    assert any("elevator wire" in line for line in steps["brush-suction"].say)


def test_every_brushable_channel_has_its_own_step_with_its_own_brush() -> None:
    house = House()
    for model in library().endoscopes:
        steps = {step.key: step for step in house.plan(model.id).steps}
        for channel in model.channels:
            step = steps.get(f"brush-{channel.id}")
            assert (step is None) == (channel.brush is None)
            if step is None or channel.brush is None:
                continue
            choices = {choice.code: choice.why_not for choice in step.entries[0].choices}
            assert choices[channel.brush.code] == ""
            assert all(why for code, why in choices.items() if code != channel.brush.code)


def test_a_plan_is_whole_data_that_survives_a_journey_through_json() -> None:
    house = House()
    plan = house.plan("phalarope-37")
    assert type(plan).model_validate_json(plan.model_dump_json()) == plan
    assert plan.channels["channels"][0]["tubes"] and plan.channels["tubes"][0]["bore_mm"] > 0
    assert all(step.kind in KINDS for step in plan.steps)
    assert len({step.key for step in plan.steps}) == len(plan.steps)


def test_the_codes_of_the_plan_say_what_a_scan_means_and_why_a_thing_may_not_be_used() -> None:
    codes = House().plan("sanderling-28").codes
    assert codes["E-sanderling-28"] == {
        "kind": "endoscope", "id": "sanderling-28", "label": "Sanderling 28 01", "usable": True, "why_not": "",
    }  # fmt: skip
    assert codes["CS-one-set-gastro"]["usable"]
    assert "does not fit" in codes["CS-one-set-colon"]["why_not"]
    assert codes["L-reedwash"]["kind"] == "lot" and codes["CAB-1"]["kind"] == "cabinet"
    assert codes["STN-SINK-1"]["kind"] == "sink"


def test_an_unknown_endoscope_or_station_is_refused_with_what_is_known() -> None:
    house = House()
    with pytest.raises(Refusal) as unknown:
        make_plan(house.world, "nobody", STATION, house.now, "Europe/London")
    assert unknown.value.code == "unknown-endoscope"
    with pytest.raises(Refusal) as nowhere:
        make_plan(house.world, "sanderling-28", "room-9", house.now, "Europe/London")
    assert nowhere.value.code == "unknown-station" and "sink-1" in nowhere.value.hint
