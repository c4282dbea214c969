"""The whole verdict: ready only when nothing speaks against it, the same whenever it is asked, and never later's."""

from __future__ import annotations

from datetime import timedelta

import pytest
from one_cycle import MODELS, Unit
from planned_house import House, policies, routes
from what_if import change, drop, finished, verdict, world_of

from lumenward.quantities import Refusal
from lumenward.rulebook import RULES, assess
from lumenward.rulebook.registry import Opinion, rule
from lumenward.rulebook.verdict import Finding, Verdict

HOUSE = "reedmarsh"
WAYS = [(model, route, HOUSE) for model, route in routes()]
WAYS += [("turnstone-42", "manual", policy) for policy in sorted(policies()) if policy != HOUSE]


@pytest.mark.parametrize(("model", "route", "policy"), WAYS)
def test_what_the_plan_leads_to_is_ready_by_every_rule(model: str, route: str, policy: str) -> None:
    house = House(policy=policies()[policy])
    house.tablet(model).work(until="machine-out" if route == "machine" else "release", route=route)
    house.work(model, until="release", route=route)  # loaded anew, the plan knows which machine it is
    found = assess(house.world, model, house.world.endoscope(model).cycle, house.now)
    assert {one.rule: one.sentence for one in found.against} == {}
    assert found.ready
    assert found.ready_until is not None


@pytest.mark.parametrize("model", MODELS)
def test_no_unfinished_cycle_is_ready_at_any_step(model: str) -> None:
    unit = Unit(model)
    for name, step in unit.steps():
        step()
        found = assess(unit.world, "e1", unit.cycle, unit.now)
        assert found.ready == (name in ("stored", "released")), name
        if name == "released":
            return


def test_a_verdict_has_one_finding_of_each_rule_in_the_order_of_the_book() -> None:
    assert [one.rule for one in verdict().findings] == list(RULES)


def test_what_is_broken_comes_before_what_is_not_known() -> None:
    found = verdict(drop("leak_tested"), change("final_rinsed", water="utility"))
    answers = [one.answer for one in found.against]
    assert answers == sorted(answers)
    assert {"broken", "unknown"} == set(answers)
    assert not found.ready


def test_nothing_asked_is_not_ready() -> None:
    empty = Verdict(endoscope="e1", cycle="c", at="now", policy="none", findings=[])
    assert not empty.ready


def test_unknown_alone_is_not_ready() -> None:
    found = verdict(drop("leak_tested"))
    assert {one.answer for one in found.against} == {"unknown"}
    assert not found.ready


def test_every_finding_rests_on_acts_that_exist_and_says_who_asks_for_it() -> None:
    unit = finished("turnstone-42")
    for one in verdict(unit=unit).findings:
        assert one.source, one.rule
        assert all(unit.world.event(event_id) is not None for event_id in one.evidence), one.rule
        assert one.evidence or one.answer == "not applicable", one.rule


def test_asking_changes_nothing_and_asking_twice_gives_the_same() -> None:
    unit = finished()
    before = unit.world.events()
    assert verdict() == verdict()
    assert unit.world.events() == before


def test_acts_that_came_later_do_not_count_in_an_earlier_verdict() -> None:
    unit = Unit().to("stored")
    dried = next(act for act in unit.world.acts(unit.cycle) if act.kind == "dried")
    early = assess(unit.world, "e1", unit.cycle, dried.happened_at - timedelta(seconds=1))
    assert {one.rule for one in early.against} >= {"drying.dry", "storage.place"}
    assert assess(unit.world, "e1", unit.cycle, unit.now).ready


def test_a_correction_changes_the_verdict_and_its_withdrawal_of_an_act_leaves_it_unknown() -> None:
    unit = Unit().to("stored")
    rinse = next(act for act in unit.world.acts(unit.cycle) if act.kind == "final_rinsed")
    slip = {"subject": rinse.id, "event": rinse.id, "reason": "wrong tap"}
    unit.do("corrected", **slip, new_body={**rinse.body, "water": "utility"})
    wet = assess(unit.world, "e1", unit.cycle, unit.now)
    assert [one.rule for one in wet.against] == ["rinsing.water"]
    unit.do("corrected", **slip)
    gone = {one.rule: one.answer for one in assess(unit.world, "e1", unit.cycle, unit.now).against}
    assert gone["rinsing.final"] == "unknown"


def test_another_policy_can_be_tried_on_the_past_without_adopting_it() -> None:
    stricter = finished().policy.model_copy(update={"verification": "each use"})
    tried = verdict(policy=stricter)
    assert [one.rule for one in tried.against] == [
        "sequence.complete",
        "sequence.order",
        "verification.passed",
    ]
    assert verdict().ready


def test_an_endoscope_nobody_registered_is_refused_by_name() -> None:
    with pytest.raises(Refusal, match="No endoscope e9"):
        assess(finished().world, "e9", finished().cycle, finished().now)


def test_ready_until_is_the_end_of_hang_time_and_nothing_before_it_is_dry() -> None:
    unit = finished()
    dried = unit.world.cycle(unit.cycle).dried_at
    assert verdict().ready_until == (dried + timedelta(days=7)).isoformat()
    world = world_of(unit, [drop("dried")])
    assert assess(world, "e1", unit.cycle, unit.now).ready_until is None


def test_rule_ids_are_their_group_and_are_given_once() -> None:
    for rule_id, one in RULES.items():
        assert rule_id == one.id
        subject, _, name = rule_id.partition(".")
        assert subject and name and subject == one.check.__module__.rsplit(".", 1)[1]
    with pytest.raises(ValueError, match="already"):
        rule(id="leak.tight", title="Again", group="Leak test", source="nobody")(
            lambda case: Opinion("met", "Yes.")
        )


def test_a_finding_says_what_was_found_and_what_was_asked_for() -> None:
    found = {one.rule: one for one in verdict(change("leak_tested", pressure_kpa=9)).findings}
    finding: Finding = found["leak.pressure"]
    assert finding.sentence.replace("\u202f", " ") == "Tested at 9 kPa; at least 18 kPa."
    assert finding.authority == "IFU"
    assert "p. 18" in finding.source
