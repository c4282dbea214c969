"""When it is not as it should be: late, leaking, dirty, failed, interrupted, held."""

from __future__ import annotations

from datetime import timedelta

import pytest
from planned_house import STATION, ZONE, House, Tablet, library

from lumenward.journey.acting import draft
from lumenward.journey.plan import Progress, Trouble
from lumenward.journey.planner import make_plan
from lumenward.quantities import Refusal

SCOPE = "sanderling-28"
HIGH_RISK = "turnstone-42"


def at(house: House, until: str, model: str = SCOPE) -> Tablet:
    """Return a freshly loaded page of a cycle in which `until` comes next."""
    house.tablet(model).work(until=until)
    return house.tablet(model)


def trouble(tablet: Tablet, step: str, key: str) -> Trouble:
    return next(one for one in tablet.step(step).troubles if one.key == key)


def report(tablet: Tablet, step: str, key: str) -> None:
    tablet.record(trouble(tablet, step, key))


def test_in_time_there_is_no_delayed_branch() -> None:
    tablet = at(House(), "leak-test")
    assert "delay" in tablet.stands().left_out


def test_the_delayed_branch_comes_up_by_itself_once_the_limit_has_passed() -> None:
    house = House()
    tablet = at(house, "leak-test")
    house.wait(3600)
    assert tablet.stands().next == "delay"
    tablet.perform(tablet.step("delay"), agreed_by="ana")
    assert tablet.stands().next == "leak-test"
    tablet.work()
    assert tablet.stands().next == ""


def test_an_unknown_end_of_use_counts_as_late() -> None:
    tablet = House().tablet(SCOPE)
    tablet.perform(tablet.step("used"), time_known=False)
    assert "delay" not in tablet.stands().left_out
    tablet.work(until="delay")
    assert tablet.stands().next == "delay"


def test_the_delayed_branch_is_agreed_by_a_lead_and_names_the_ifu() -> None:
    delay = House().step(HIGH_RISK, "delay")
    people = [choice.value for entry in delay.entries if entry.key == "agreed_by" for choice in entry.choices]
    assert people == ["ana"]
    assert delay.body["instruction"].startswith("Turnstone 42, cleaning and disinfection handbook")


def test_an_ifu_without_a_delayed_protocol_says_so_and_asks_what_was_agreed() -> None:
    model = library().model(SCOPE)
    silent = model.ifu.model_copy(update={"advice": [a for a in model.ifu.advice if a.step != "delay"]})
    models = [m.model_copy(update={"ifu": silent}) if m.id == SCOPE else m for m in library().endoscopes]
    house = House(library=library().model_copy(update={"endoscopes": models}))
    delay = house.step(SCOPE, "delay")
    assert "says nothing about a late start" in delay.say[0]
    assert [entry.key for entry in delay.entries] == ["instruction", "agreed_by"]


def test_a_leak_stops_the_work_and_holds_the_endoscope() -> None:
    house = House()
    tablet = at(house, "leak-test")
    report(tablet, "leak-test", "leak")
    assert tablet.stands().next == "" and tablet.stands().stopped
    loaded = house.tablet(SCOPE)
    assert "is held: leak found" in loaded.plan.held and loaded.stands().next == ""


def test_a_lifted_hold_lets_the_work_go_on_at_the_leak_test() -> None:
    house = House()
    tablet = at(house, "leak-test")
    report(tablet, "leak-test", "leak")
    house.event("hold_lifted", SCOPE, {"reason": "the gauge was loose"}, cycle=tablet.cycle)
    loaded = house.tablet(SCOPE)
    assert loaded.plan.held == ""
    assert loaded.stands().next == "leak-test"
    loaded.work()
    assert house.tablet(SCOPE).stands().next == ""


def test_debris_at_the_inspection_sends_it_back_to_fresh_detergent() -> None:
    house = House()
    tablet = at(house, "inspect")
    report(tablet, "inspect", "inspect-debris")
    stands = tablet.stands()
    assert stands.next == "dose-sink" and "leak-test" in stands.done and "flush" not in stands.done
    done = tablet.work()
    assert done[:3] == ["dose-sink", "dose-container", "immerse"] and done[-1] == "release"


def test_the_second_failure_holds_the_endoscope_and_says_so() -> None:
    house = House()
    tablet = at(house, "inspect", HIGH_RISK)
    report(tablet, "inspect", "inspect-debris")
    tablet.work(until="verify")
    failed = trouble(tablet, "verify", "verify-failed")
    assert failed.attempts == house.policy.cleaning_attempts == 2 and failed.say_stop
    tablet.record(failed, value=9000)
    assert tablet.stands().stopped and tablet.stands().next == ""
    assert failed.holds == "verification failed twice"
    house.event("held", HIGH_RISK, {"reason": failed.holds}, cycle=tablet.cycle)
    assert "verification failed twice" in house.tablet(HIGH_RISK).plan.held


def test_a_stop_that_no_hold_followed_is_not_taken_for_lifted() -> None:
    house = House()
    tablet = at(house, "inspect", HIGH_RISK)
    report(tablet, "inspect", "inspect-debris")
    tablet.work(until="verify")
    tablet.record(trouble(tablet, "verify", "verify-failed"), value=9000)
    loaded = house.tablet(HIGH_RISK)
    assert loaded.plan.lifted == "" and loaded.stands().next == ""


def test_a_value_is_graded_by_the_limits_of_its_own_kit() -> None:
    verify = House().step(HIGH_RISK, "verify")
    by_kit = {choice.value: choice.grades for choice in verify.entries[0].choices}
    assert [(g.below, g.value) for g in by_kit["kit-atp-channel"]] == [
        (150, "pass"),
        (200, "alert"),
        (None, "fail"),
    ]
    assert [g.below for g in by_kit["kit-protein"]] == [3.0, 6.4, None]
    tablet = at(House(), "verify", HIGH_RISK)
    assert tablet.record(tablet.step("verify"), kit="kit-atp-surface", value=120).body["result"] == "alert"


def test_a_failed_strip_asks_for_the_test_of_another_charge() -> None:
    house = House()
    tablet = at(house, "mec")
    first = tablet.step("mec").entries[0].choices[0].value
    tablet.record(trouble(tablet, "mec", "mec-failed"), subject=first)
    assert tablet.stands().next == "mec"
    choices = {choice.value: choice.why_not for choice in house.step(SCOPE, "mec").entries[0].choices}
    assert "failed its test" in choices[first]


def test_a_contact_cut_short_does_not_count_in_part() -> None:
    house = House()
    tablet = at(house, "hld-out")
    house.wait(60)
    tablet.record(trouble(tablet, "hld-out", "hld-cut-short"), temperature_c=20)
    stands = tablet.stands()
    assert stands.next == "mec" and not {"mec", "hld-in", "hld-out"} & set(stands.done)
    tablet.work()
    assert house.tablet(SCOPE).stands().next == ""


def test_an_aborted_machine_leaves_both_ways_open_again() -> None:
    house = House()
    house.tablet(SCOPE).work(until="machine-out", route="machine")
    tablet = house.tablet(SCOPE)
    report(tablet, "machine-out", "machine-aborted")
    assert not {"mec", "machine-in"} & set(tablet.stands().left_out)
    tablet.work(route="manual")
    assert house.tablet(SCOPE).stands().next == ""


def test_a_plan_loaded_before_the_machine_was_chosen_asks_for_that_machine_s_own_contact_time() -> None:
    step = House().tablet(SCOPE).step("machine-out")
    entry = next(one for one in step.entries if one.key == "contact_s")
    own = {washer.id: washer.contact_s for washer in library().washers if SCOPE in washer.fits}
    assert entry.lows == own and entry.low == min(own.values())
    assert "reports less: aborted" in entry.low_why and entry.low_why.endswith(f"“{step.troubles[0].label}”")
    nothing = Progress(done={}, started={}, next="")
    given = {"contact_s": 719, "temperature_c": 60, "dose_confirmed": True}
    for washer, least in {"long": 720, "short": 600}.items():
        other = entry.model_copy(update={"lows": {"long": 720, "short": 600}})
        body = {**step.body, "washer": washer}
        asked = step.model_copy(update={"entries": [other, *step.entries[1:]], "body": body})
        if least > 719:
            with pytest.raises(Refusal, match="719 s is below 720 s"):
                draft(asked, given, [], nothing)
        else:
            assert draft(asked, given, [], nothing).body["contact_s"] == 719


def test_moisture_sends_it_back_to_drying() -> None:
    tablet = at(House(), "dry")
    tablet.begin("dry")
    report(tablet, "dry", "dry-moist")
    assert tablet.stands().next == "dry" and "dry" not in tablet.stands().started


def test_interrupted_work_begins_its_step_again() -> None:
    tablet = at(House(), "flush")
    tablet.begin("flush")
    assert "flush" in tablet.stands().started
    report(tablet, "flush", "flush-interrupted")
    assert tablet.stands().next == "flush" and "flush" not in tablet.stands().started


def test_a_page_loaded_in_the_middle_of_a_step_keeps_its_running_time() -> None:
    house = House()
    tablet = at(house, "flush")
    begun = tablet.begin("flush")
    house.wait(40)
    again = house.tablet(SCOPE)
    assert again.stands().started == {"flush": begun.id} and again.stands().next == "flush"
    house.wait(again.step("flush").timer.floor_s - 40)  # type: ignore[union-attr]
    assert again.record(again.step("flush")).body["started"] == begun.id


def test_a_contact_time_runs_from_the_immersion_without_a_second_start() -> None:
    house = House()
    tablet = at(house, "hld-out")
    started = tablet.stands().started["hld-out"]
    assert next(act.kind for act in tablet.acts if act.id == started) == "hld_started"


def test_a_step_can_be_held_by_hand_and_goes_on_where_it_was_when_the_hold_is_lifted() -> None:
    house = House()
    tablet = at(house, "connect")
    report(tablet, "connect", "connect-held")
    assert tablet.stands().stopped and house.tablet(SCOPE).plan.held
    house.event("hold_lifted", SCOPE, {"reason": "a false alarm"}, cycle=tablet.cycle)
    assert house.tablet(SCOPE).stands().next == "connect"


def test_prion_suspicion_stops_everything_and_stays_stopped_after_a_reload() -> None:
    house = House()
    tablet = house.tablet(SCOPE)
    suspected = trouble(tablet, "used", "prion")
    tablet.record(suspected)
    assert tablet.stands().next == "" and suspected.holds == "prion risk"
    assert house.tablet(SCOPE).stands().next == ""


def test_a_dropped_endoscope_begins_a_new_cycle_of_its_own() -> None:
    house = House()
    tablet = at(house, "store")
    report(tablet, "store", "store-touched")
    loaded = house.tablet(SCOPE)
    assert loaded.plan.cycle == loaded.cycle != tablet.plan.cycle
    assert loaded.stands().next == "receive"


def test_opa_is_not_offered_for_a_urological_endoscope_unless_bladder_cancer_was_denied() -> None:
    model = library().model("redshank-23")
    ifu = model.ifu.model_copy(update={"chemistries": [*model.ifu.chemistries, "opa"]})
    models = [m.model_copy(update={"ifu": ifu}) if m is model else m for m in library().endoscopes]
    allowing = library().model_copy(update={"endoscopes": models})

    def offered(answer: str) -> str:
        house = House(library=allowing)
        tablet = house.tablet("redshank-23")
        tablet.perform(tablet.step("used"), bladder_cancer_history=answer)
        choices = house.step("redshank-23", "hld-in").entries[0].choices
        return next(choice.why_not for choice in choices if "OPA" in choice.label)

    assert offered("no") == ""
    assert "bladder cancer" in offered("yes") and "bladder cancer" in offered("not asked")


def test_a_spent_charge_and_an_expired_lot_say_why_not() -> None:
    house = House()
    house.now += timedelta(days=15)
    why = {choice.label: choice.why_not for choice in house.step(SCOPE, "mec").entries[0].choices}
    assert "reuse life ended" in next(found for label, found in why.items() if "OPA" in label)
    house.now += timedelta(days=400)
    assert "expired on 31 January 2027" in house.step(SCOPE, "dose-sink").entries[0].choices[0].why_not


def test_without_a_usable_charge_the_manual_way_says_so_and_the_machine_stays_open() -> None:
    plan = House(pouring=()).plan(SCOPE)
    mec = next(step for step in plan.steps if step.key == "mec")
    assert "No basin holds a charge" in mec.blocked and mec.instead == "machine-in"


def test_a_worn_connector_set_says_why_not() -> None:
    house = House()
    at(house, "connect").work(until="flush")
    house.tablet(SCOPE).work()
    house.now += timedelta(hours=25)
    choice = next(c for c in house.step(SCOPE, "connect").entries[0].choices if c.code == "CS-one-set-gastro")
    assert choice.why_not.startswith("Its life of 24") and "is over" in choice.why_not


def test_a_strip_of_another_chemistry_cannot_be_taken_for_a_charge() -> None:
    tablet = at(House(), "mec")
    mec = tablet.step("mec")
    charge = next(choice.value for choice in mec.entries[0].choices if "Basin 1" in choice.label)
    with pytest.raises(Refusal, match="does not go with"):
        tablet.record(mec, subject=charge, strip_lot="lot-strip-opa", read_after_s=80)


def test_the_delay_clock_runs_until_cleaning_begins() -> None:
    house = House()
    tablet = at(house, "immerse")
    clocks = house.plan(SCOPE).clocks
    assert [clock["name"] for clock in clocks] == ["delay since the end of use"]
    assert clocks[0]["word"] == "in time" and clocks[0]["source"]
    tablet.work(until="exterior")
    assert house.plan(SCOPE).clocks == []


def test_an_endoscope_that_is_away_or_retired_is_not_planned_for() -> None:
    house = House()
    house.event("sent_for_repair", SCOPE, {"reason": "torn sheath"})
    assert "is away" in house.plan(SCOPE).held
    house.event("retired", HIGH_RISK, {"reason": "worn out"})
    assert "is retired" in house.plan(HIGH_RISK).held


def test_every_timed_step_offers_what_to_do_when_it_is_not_as_it_should_be() -> None:
    for step in House().plan(HIGH_RISK).steps:
        if step.timer is not None:
            assert step.troubles, step.key
        assert all(t.kind and t.say and t.confirm for t in step.troubles)


def test_a_ready_endoscope_says_so_and_its_next_cycle_can_be_begun() -> None:
    house = House()
    house.tablet(SCOPE).work()
    plan = house.plan(SCOPE)
    assert plan.again and house.stands(SCOPE).next == ""
    assert plan.standing.startswith("Sanderling 28 01 is ready until ")
    assert "Take it on the Shelf" in plan.standing and plan.standing.endswith("begin its next cycle.")
    anew = make_plan(house.world, SCOPE, STATION, house.now, ZONE, again=True)
    assert (anew.cycle, anew.acts, anew.again) == ("", [], False)
    assert anew.steps[0].say[0] == plan.standing
    house.wait(1200)
    Tablet(house, anew).work(until="leak-test")
    under_way = make_plan(house.world, SCOPE, STATION, house.now, ZONE, again=True)
    assert under_way.cycle not in ("", plan.cycle) and not under_way.again and under_way.standing == ""


def test_past_its_hang_time_it_says_that_it_is_for_no_patient() -> None:
    house = House()
    house.tablet(SCOPE).work()
    house.wait(2 * 3600)
    assert "it is not for a patient any more. Begin its next cycle." in house.plan(SCOPE).standing


def test_with_a_patient_the_plan_says_what_begins_the_next_cycle() -> None:
    house = House()
    house.tablet(SCOPE).work()
    house.event("taken_for_use", SCOPE, {"case": "C-9"}, cycle=house.plan(SCOPE).cycle)
    plan = house.plan(SCOPE)
    assert plan.cycle == "" and "is with a patient since" in plan.standing
    assert plan.standing == plan.steps[0].say[0]


def test_a_held_endoscope_says_who_can_change_that() -> None:
    house = House()
    report(at(house, "leak-test"), "leak-test", "leak")
    plan = house.plan(SCOPE)
    assert plan.held.endswith("A lead lifts the hold, or it goes to repair.") and plan.standing == ""
