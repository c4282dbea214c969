"""Who may act, on which cycle, and what a hold or a correction stops."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from asking import attempt, code
from one_cycle import Unit, policy

from lumenward.journey.event import Event
from lumenward.journey.legality import refuse


def test_the_delay_limit_holds_to_the_second_and_the_delayed_protocol_opens_the_way() -> None:
    unit = Unit().to("dosed")
    end_of_use = unit.world.event(unit.cycle)
    assert end_of_use is not None
    unit.now = end_of_use.happened_at + timedelta(minutes=60)
    assert unit.tries("cleaning_started", batches=[unit.batch.id]) is None
    assert code(unit.tries("delay_branch_taken", instruction="Soak.", agreed_by="lea")) == "not-late"
    unit.wait(1)
    late = unit.tries("cleaning_started", batches=[unit.batch.id])
    assert code(late) == "late"
    assert late is not None and "IFU" in late.message
    assert code(unit.tries("delay_branch_taken", instruction="Soak.", agreed_by="tom")) == "wrong-role"
    assert code(unit.tries("delay_branch_taken", instruction="Soak.", agreed_by="nobody")) == "unknown-person"
    unit.do("delay_branch_taken", after_s=0, instruction="Soak.", agreed_by="lea")
    unit._cleaning_started()


def test_after_a_leak_only_holding_repair_or_lifting_go_on() -> None:
    unit = Unit().to("received")
    unit.do("leak_tested", method="wet", result="leak")
    for kind in ("detergent_dosed", "received", "step_started", "handed_over"):
        assert code(attempt(unit, kind)) == "held"
    assert code(unit.tries("leak_tested", method="wet", result="tight")) == "held"
    unit.do("hold_lifted", cycle=unit.cycle, person="lea", reason="the cap was off")
    unit._dosed()
    refusal = unit.tries("cleaning_started", batches=[unit.batch.id])
    assert code(refusal) == "leak"
    unit._leak_tested()
    unit._cleaning_started()


def test_a_hold_is_lifted_by_a_lead_or_infection_prevention_only() -> None:
    unit = Unit()
    unit.do("held", reason="recall", person="ana")
    assert code(unit.tries("hold_lifted", reason="fine")) == "wrong-role"
    assert unit.tries("hold_lifted", reason="fine", person="ivo") is None


def test_a_suspected_prion_disease_stops_everything_until_a_hold_on_it_is_lifted() -> None:
    unit = Unit(use={"prion_risk": True}).to("used")
    assert code(attempt(unit, "received")) == "prion-risk"
    unit.do("held", cycle=unit.cycle, reason="prion risk")
    unit.do("hold_lifted", cycle=unit.cycle, person="ivo", reason="diagnosis excluded")
    assert attempt(unit, "received") is None


def test_a_second_person_takes_over_before_going_on() -> None:
    unit = Unit().to("cleaning_started")
    refusal = unit.tries("exterior_cleaned", person="tom")
    assert code(refusal) == "somebody-else-works"
    assert refusal is not None and "take over" in refusal.hint
    assert code(unit.tries("handed_over", person="tom", from_person="lea")) == "not-the-worker"
    assert code(unit.tries("handed_over", person="tom", from_person="tom")) == "same-person"
    unit.do("handed_over", person="tom", from_person="ana")
    unit.do("exterior_cleaned", person="tom", after_s=300)
    assert (
        code(unit.tries("channel_brushed", channel="suction", brush="BR-50", passes=3))
        == "somebody-else-works"
    )


def test_two_tablets_the_second_hears_who_did_it_and_when() -> None:
    unit = Unit().to("inspected")
    refusal = unit.tries("inspected", person="tom", tools=["magnifier"], result="clean and whole")
    assert code(refusal) == "already-done"
    assert refusal is not None
    assert f"{unit.now:%H:%M} by Ana" in refusal.message


def test_the_same_id_twice_is_named_as_recorded_already() -> None:
    unit = Unit().to("received")
    act = unit.world.acts(unit.cycle)[-1]
    assert code(refuse(unit.world, act, unit.now)) == "already-recorded"


def test_people_who_left_or_are_not_competent_are_refused() -> None:
    unit = Unit()
    unit.do("person_added", subject="new", name="New", role="technician")
    unit.to("received")
    assert code(attempt(unit, "leak_tested", person="new")) == "not-competent"
    unit.do(
        "competency_recorded", subject="new", model="dunlin-22", valid_until="2027-01-31", assessed_by="lea"
    )
    assert code(attempt(unit, "leak_tested", person="new")) == "not-competent"
    unit.do(
        "competency_recorded",
        subject="new",
        model="sanderling-28",
        valid_until="2026-03-02",
        assessed_by="lea",
    )
    assert attempt(unit, "leak_tested", person="new") is None
    unit.do("person_left", subject="new", person="lea")
    assert code(attempt(unit, "leak_tested", person="new")) == "person-left"


def test_competency_ends_with_its_last_day() -> None:
    unit = Unit()
    unit.do("competency_recorded", subject="ana", model="*", valid_until="2026-03-02", assessed_by="lea")
    assert code(
        unit.tries(
            "competency_recorded", subject="ana", model="*", valid_until="2026-03-01", assessed_by="lea"
        )
    )
    unit.to("received")
    assert attempt(unit, "leak_tested") is None
    unit.wait(86400)
    assert code(unit.tries("leak_tested", method="wet", result="tight", pressure_kpa=20)) == "not-competent"


def test_a_house_that_asks_for_no_competency_takes_anybody_known() -> None:
    unit = Unit(policy=policy().model_copy(update={"competency_required": False}))
    unit.do("person_added", subject="new", name="New", role="technician")
    unit.to("received")
    assert attempt(unit, "leak_tested", person="new") is None


def test_a_release_needs_a_role_a_verdict_and_a_hang_time_that_holds() -> None:
    unit = Unit(policy=policy().model_copy(update={"release_roles": ["lead"]})).to("stored")
    assert code(attempt(unit, "released")) == "wrong-role"
    assert attempt(unit, "released", person="lea") is None
    bad = {"findings": [{"answer": "unknown", "sentence": "No leak test is recorded."}]}
    refusal = attempt(unit, "released", person="lea", verdict=bad)
    assert code(refusal) == "not-ready"
    assert refusal is not None and "No leak test is recorded." in refusal.message
    late = (unit.now + timedelta(days=8)).isoformat()
    assert code(attempt(unit, "released", person="lea", ready_until=late)) == "hang-time"
    over = (unit.now - timedelta(minutes=1)).isoformat()
    assert code(attempt(unit, "released", person="lea", ready_until=over)) == "hang-time-over"


def test_acts_on_a_cycle_that_is_over_or_never_was_are_refused() -> None:
    unit = Unit().to("taken")
    old = unit.cycle
    unit.to("used")
    assert code(unit.tries("received", cycle=old, place="sink-1")) == "cycle-closed"
    assert code(unit.tries("received", cycle=unit.charge.id, place="sink-1")) == "no-cycle"
    assert code(unit.tries("received", subject="e9", place="sink-1")) == "unknown-endoscope"
    assert code(unit.tries("held", cycle=old, reason="other")) == "wrong-cycle"


def test_a_cycle_opened_twice_says_when_it_was_opened() -> None:
    unit = Unit().to("used")
    refusal = unit.tries("patient_use_ended", case="C-2", person="tom")
    assert code(refusal) == "cycle-open"
    assert refusal is not None and "by Ana" in refusal.message


def test_corrections_name_an_act_that_counts_and_a_body_that_its_kind_allows() -> None:
    unit = Unit().to("received")
    arrival = unit.world.acts(unit.cycle)[-1]

    def correct(named: Event, **how: Any) -> str:
        body = {"subject": named.id, "event": named.id, "reason": "a slip", **how}
        return code(unit.tries("corrected", **body))

    assert correct(arrival, new_body={"place": "sink-2"}) == ""
    assert correct(arrival, new_body={"plaice": "sink-2"}) == "bad-body"
    assert correct(arrival, event="nothing") == "unknown-event"
    assert correct(arrival, subject="e1") == "wrong-subject"
    opening = unit.world.event(unit.cycle)
    assert opening is not None
    assert correct(opening) == "rests-on-it"
    withdrawal = unit.do("corrected", subject=arrival.id, event=arrival.id, reason="a slip")
    assert correct(arrival) == "withdrawn"
    assert correct(withdrawal) == "not-correctable"
    assert attempt(unit, "received") is None


def test_endoscopes_people_and_sets_join_once_under_a_code_of_their_own() -> None:
    unit = Unit()
    assert code(attempt(unit, "endoscope_registered", subject="e1")) == "already-registered"
    assert code(attempt(unit, "endoscope_registered", code="E-0007")) == "code-taken"
    assert code(attempt(unit, "endoscope_registered", model="walrus")) == "not-in-library"
    assert code(attempt(unit, "person_added", subject="ana")) == "already-added"
    assert code(attempt(unit, "role_given", subject="nobody")) == "unknown-person"
    assert code(attempt(unit, "competency_recorded", subject="lea")) == "own-assessor"
    assert code(attempt(unit, "connector_set_opened", subject="set-9")) == "already-open"
    assert code(attempt(unit, "connector_set_opened", kind="set-walrus")) == "not-in-library"
    assert code(attempt(unit, "lot_opened", subject="lot-d")) == "already-open"
    assert code(attempt(unit, "lot_opened", product="soap")) == "not-in-library"
    assert code(attempt(unit, "lot_opened", expires="2026-03-01")) == "lot-expired"
    assert attempt(unit, "lot_opened", expires="2026-03-02") is None
    unit.do("person_left", subject="tom")
    assert attempt(unit, "person_added", subject="tom") is None
    assert code(attempt(unit, "role_given", subject="tom")) == "person-left"


def test_only_a_loaner_goes_back() -> None:
    unit = Unit()
    assert code(attempt(unit, "loan_ended")) == "not-a-loan"
    unit.do(
        "endoscope_registered",
        subject="e2",
        name="Lent",
        model="sanderling-28",
        serial="9",
        code="E-8",
        owner="loan",
    )
    assert attempt(unit, "loan_ended", subject="e2") is None


def test_an_unknown_kind_or_a_body_with_a_stray_key_is_refused_by_name() -> None:
    unit = Unit().to("used")
    act = unit.make("received", place="sink-1")
    assert code(refuse(unit.world, act.model_copy(update={"kind": "beamed_up"}), unit.now)) == "unknown-kind"
    stray = refuse(unit.world, act.model_copy(update={"body": {"place": "x", "wish": 1}}), unit.now)
    assert stray is not None
    assert (stray.code, stray.field) == ("bad-body", "body.wish")
    assert stray.message == "wish: there is no key 'wish' here."


def test_cleaning_waits_until_somebody_said_how_it_was_treated_at_the_bedside() -> None:
    unit = Unit().to("used")
    unit._received()
    unit._leak_tested()
    unit._dosed()
    refusal = unit.tries("cleaning_started", batches=[unit.batch.id])
    assert refusal is not None
    assert "bedside" in refusal.message
    unit.do("point_of_use_treated", product="not treated", kept_moist=False)
    unit._cleaning_started()
    assert code(unit.tries("sent", closed_labelled=True, sharps_removed=True)) == "out-of-order"


def test_a_leak_seen_after_cleaning_is_proved_tight_before_disinfection() -> None:
    unit = Unit().before("hld_started")
    unit.do("leak_tested", method="wet", result="leak")
    unit.do("hold_lifted", cycle=unit.cycle, person="lea", reason="a loose cap")
    assert code(attempt(unit, "hld_started")) == "leak"
    unit._leak_tested()
    assert attempt(unit, "hld_started") is None


def test_a_cycle_without_a_patient_has_no_bedside_and_no_delay() -> None:
    unit = Unit()
    unit.cycle = unit.do("reprocessing_required", reason="policy").id
    assert code(attempt(unit, "point_of_use_treated")) == "no-patient"
    assert code(attempt(unit, "delay_branch_taken")) == "no-patient"
    assert attempt(unit, "received") is None
    assert code(unit.tries("reprocessing_required", cycle=unit.cycle, reason="policy")) == "wrong-cycle"


def test_a_leak_may_be_recorded_again_but_a_held_endoscope_only_once_for_one_reason() -> None:
    unit = Unit().to("received")
    unit.do("held", cycle=unit.cycle, reason="recall")
    assert code(unit.tries("held", cycle=unit.cycle, reason="recall")) == "already-held"
    assert unit.tries("held", cycle=unit.cycle, reason="outbreak") is None
