"""Every rule: a case in which it is met, one in which it is broken, one in which it does not know."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from one_cycle import Unit
from what_if import add, by, change, drop, finished, judged, lasting, model_with, move, only_with

from lumenward.rulebook import RULES, Finding

HIGH = "dunlin-22"  # a high-risk model: verification and borescope each use
Case = tuple[str, str, str, Callable[[], Finding]]


def say(rule: str, answer: str, words: str, find: Callable[[], Finding]) -> Case:
    return rule, answer, words, find


def case(rule: str, answer: str, words: str, *edits: object, **how: object) -> Case:
    return rule, answer, words, lambda: judged(rule, *edits, **how)  # type: ignore[arg-type]


def setback(kind: str, **body: object) -> Callable[[], Unit]:
    def make() -> Unit:
        unit = Unit(HIGH).before("inspected" if kind == "inspected" else "verified")
        unit.do(kind, **body)
        return unit

    return make


debris = setback("inspected", tools=["magnifier"], result="debris seen")
failed = setback("cleaning_verified", kit="kit-atp-channel", site="tip", value=500, result="fail")


def opa_cystoscope(answer: str | None) -> Finding:
    use = {"bladder_cancer_history": answer} if answer else {}
    unit = finished("redshank-23")
    opening = (
        change("patient_use_ended", bladder_cancer_history=answer)
        if use
        else change("patient_use_ended", bladder_cancer_history=None)
    )
    return judged(
        "disinfection.bladder-history", opening, change("charge_poured", disinfectant="opa-055"), unit=unit
    )


def without_pressures(unit: Unit) -> object:
    ifu = unit.described.ifu
    states = [s for s in ifu.states if s.quantity != "pressure"]
    return model_with(unit, ifu=ifu.model_copy(update={"states": states}))


CASES: list[Case] = [
    case("sequence.this-cycle", "met", "none since"),
    case(
        "sequence.this-cycle", "broken", "newer cycle", add("patient_use_ended", "stored", case="C-2"),
        later_s=60
    ),
    case("sequence.this-cycle", "unknown", "Nothing says", drop("patient_use_ended")),
    case("sequence.complete", "met", "All 9 steps"),
    case(
        "sequence.complete", "unknown", "Not recorded: the leak test and the rinse", drop("leak_tested"),
        drop("rinsed"),
    ),
    case("sequence.order", "met", "in their order"),
    case("sequence.order", "broken", "The inspection came before the rinse", move("inspected", -400)),
    case("sequence.order", "unknown", "still to come", drop("stored")),
    case("holds.free", "met", "Nobody holds it"),
    case("holds.free", "broken", "held: recall", add("held", "stored", reason="recall"), later_s=60),
    case("holds.free", "broken", "away", add("sent_for_repair", "stored", reason="x"), later_s=60),
    case("holds.free", "unknown", "Nothing is known", drop("patient_use_ended")),
    case("holds.prions", "met", "Nobody suspects"),
    case("holds.prions", "broken", "suspected", change("patient_use_ended", prion_risk=True)),
    case("holds.prions", "unknown", "last patient", drop("patient_use_ended")),
    case("holds.came-in", "not applicable", "did not come from outside"),
    case("holds.came-in", "met", "Processed here since", change("endoscope_registered", owner="loan")),
    case(
        "holds.came-in", "broken", "not processed here", change("endoscope_registered", owner="loan"),
        drop("patient_use_ended"),
    ),
    case(
        "holds.came-in", "unknown", "not complete", change("endoscope_registered", owner="loan"),
        drop("hld_ended"),
    ),
    case("delay.in-time", "met", "at most 1 h is allowed"),
    case("delay.in-time", "met", "allowed", move("patient_use_ended", -(60 - 9) * 60 + 30)),
    case("delay.in-time", "broken", "after the end of use", move("patient_use_ended", -(60 - 9) * 60 - 31)),
    case(
        "delay.in-time", "met", "agreed by Lea", move("patient_use_ended", -7200),
        add("delay_branch_taken", "detergent_dosed", instruction="Soak.", agreed_by="lea"),
    ),
    case("delay.in-time", "unknown", "Nobody knows when", change("patient_use_ended", time_known=False)),
    case("delay.in-time", "unknown", "not started", drop("cleaning_started")),
    case("leak.tight", "met", "before it was immersed"),
    case("leak.tight", "broken", "It leaked", change("leak_tested", result="leak")),
    case("leak.tight", "broken", "before it was found tight", move("leak_tested", 300)),
    case("leak.tight", "unknown", "No leak test", drop("leak_tested")),
    case("leak.pressure", "met", "Tested at 20 kPa"),
    case("leak.pressure", "broken", "at least", change("leak_tested", pressure_kpa=5)),
    case("leak.pressure", "broken", "at most", change("leak_tested", pressure_kpa=50)),
    case("leak.pressure", "unknown", "not recorded", change("leak_tested", pressure_kpa=None)),
    say(
        "leak.pressure", "not applicable", "No IFU value entered",
        lambda: judged("leak.pressure", library=without_pressures(finished())),  # type: ignore[arg-type]
    ),
    case("leak.time", "met", "at least 30 s", lasting("leak_tested", 30)),
    case("leak.time", "broken", "Watched for 29 s", lasting("leak_tested", 29)),
    case("leak.time", "unknown", "Nobody knows how long", change("leak_tested", started=None)),
    case("leak.handled", "met", "Every knob"),
    case("leak.handled", "broken", "knobs", change("leak_tested", knobs_moved=False)),
    case("leak.handled", "broken", "pressure", change("leak_tested", released=False)),
    case("leak.handled", "unknown", "No tight", drop("leak_tested")),
    case("leak.machine-alone", "not applicable", "not left to a machine"),
    case("leak.machine-alone", "met", "match the IFU", change("leak_tested", method="machine")),
    case(
        "leak.machine-alone", "broken", "59 s", change("leak_tested", method="machine"),
        lasting("leak_tested", 59),
    ),
    case(
        "leak.machine-alone", "unknown", "pressure and duration",
        change("leak_tested", method="machine", pressure_kpa=None, started=None),
    ),
    case("detergent.fresh", "met", "Mixed for it alone"),
    case("detergent.fresh", "broken", "mixed for", move("detergent_dosed", 0), lambda events: [
        e.model_copy(update={"cycle": e.id}) if e.kind == "detergent_dosed" else e for e in events
    ]),
    case("detergent.fresh", "unknown", "not recorded", drop("detergent_dosed")),
    case("detergent.fresh", "unknown", "not started", drop("cleaning_started")),
    case("detergent.dose", "met", "52.5", change("detergent_dosed", dose_ml=51.5)),
    case("detergent.dose", "met", "75", change("detergent_dosed", dose_ml=76)),
    case("detergent.dose", "broken", "51.4", change("detergent_dosed", dose_ml=51.4)),
    case("detergent.dose", "broken", "76.1", change("detergent_dosed", dose_ml=76.1)),
    case("detergent.dose", "unknown", "No dosing", drop("detergent_dosed")),
    case("detergent.temperature", "met", "20", change("detergent_dosed", temperature_c=20)),
    case("detergent.temperature", "met", "40", change("detergent_dosed", temperature_c=40)),
    case("detergent.temperature", "broken", "19.9", change("detergent_dosed", temperature_c=19.9)),
    case("detergent.temperature", "broken", "40.1", change("detergent_dosed", temperature_c=40.1)),
    case("detergent.temperature", "unknown", "no label", change("detergent_dosed", detergent="soap")),
    case("cleaning.outside", "met", "removable parts off"),
    case("cleaning.outside", "met", "both positions", model="turnstone-42"),
    case("cleaning.outside", "broken", "left on", change("exterior_cleaned", parts_dismantled=False)),
    case(
        "cleaning.outside", "broken", "both positions",
        change("exterior_cleaned", elevator_both_positions=False),
        model="turnstone-42",
    ),
    case(
        "cleaning.outside", "unknown", "Nothing says",
        change("exterior_cleaned", elevator_both_positions=None),
        model="turnstone-42",
    ),
    case("cleaning.outside", "unknown", "No cleaning", drop("exterior_cleaned")),
    case("cleaning.brushed", "met", "Suction and Biopsy"),
    case(
        "cleaning.brushed", "broken", "Debris was still coming from: Suction",
        change("channel_brushed", {"channel": "suction"}, debris="still coming"),
    ),
    case("cleaning.brushed", "unknown", "Not brushed: Biopsy", drop("channel_brushed", channel="biopsy")),
    case("cleaning.brushed", "not applicable", "no brush", model="wagtail-34"),
    case("cleaning.brush", "met", "its own brush"),
    case("cleaning.brush", "broken", "1.8", change("channel_brushed", brush="BR-18")),
    case("cleaning.brush", "broken", "1 of", change("channel_brushed", passes=1)),
    case("cleaning.brush", "unknown", "no brush mop", change("channel_brushed", brush="mop")),
    case("cleaning.brush", "unknown", "No brushing", drop("channel_brushed")),
    case("cleaning.connected", "met", "All 5 ports"),
    case("cleaning.connected", "broken", "Not connected", only_with("connected", "ports", 4)),
    case("cleaning.connected", "unknown", "Nothing says", drop("connected")),
    case("cleaning.connected", "not applicable", "no channel", model="wagtail-34"),
    case("cleaning.aspirated", "met", "at least 30 s", lasting("aspirated", 30)),
    case("cleaning.aspirated", "broken", "29 s", lasting("aspirated", 29)),
    case("cleaning.aspirated", "unknown", "Not aspirated: Biopsy", drop("aspirated")),
    case("cleaning.flushed", "met", "at least 95 s", lasting("flushed", 95)),
    case("cleaning.flushed", "broken", "94 s", lasting("flushed", 94)),
    case("cleaning.flushed", "broken", "No fluid was seen", change("flushed", seen_leaving=False)),
    case("cleaning.flushed", "unknown", "Air, Water", only_with("flushed", "channels", 2)),
    case("cleaning.flushed", "unknown", "no start", change("flushed", started=None)),
    case("cleaning.purged", "met", "at least 30 s", lasting("purged", 30, after="flush")),
    case("cleaning.purged", "broken", "29 s", lasting("purged", 29, after="flush")),
    case("cleaning.purged", "unknown", "No record", drop("purged", after="flush")),
    case("cleaning.time", "met", "at least 5 min"),
    case("cleaning.time", "met", "Cleaned for 5 min; ", move("cleaning_started", 600)),
    case("cleaning.time", "broken", "Cleaned for 4 min 59 s; ", move("cleaning_started", 601)),
    case("cleaning.time", "unknown", "Nobody knows", drop("rinsed")),
    case("cleaning.alcohol-first", "met", "No alcohol"),
    case(
        "cleaning.alcohol-first", "met", "test after cleaning passed",
        change("point_of_use_treated", alcohol_used=True), model=HIGH,
    ),
    case(
        "cleaning.alcohol-first", "broken", "fixes protein",
        change("point_of_use_treated", alcohol_used=True),
    ),
    case("cleaning.alcohol-first", "unknown", "Nothing says", drop("point_of_use_treated")),
    case("inspection.clean", "met", "clean and whole"),
    case("inspection.clean", "broken", "Damage seen", change("inspected", result="damage seen")),
    say("inspection.clean", "broken", "Debris was seen", lambda: judged("inspection.clean", unit=debris())),
    case("inspection.clean", "unknown", "No inspection", drop("inspected")),
    case("inspection.borescope", "met", "A borescope was used", model=HIGH),
    case(
        "inspection.borescope", "broken", "without a borescope", change("inspected", tools=["magnifier"]),
        model=HIGH,
    ),
    case("inspection.borescope", "unknown", "No inspection", drop("inspected"), model=HIGH),
    case("inspection.borescope", "not applicable", "Neither"),
    case("verification.passed", "met", "40 RLU", model=HIGH),
    case(
        "verification.passed", "met", "alert", change("cleaning_verified", value=199, result="alert"),
        model=HIGH,
    ),
    case("verification.passed", "broken", "200 RLU", change("cleaning_verified", value=200), model=HIGH),
    say("verification.passed", "broken", "failed", lambda: judged("verification.passed", unit=failed())),
    case("verification.passed", "unknown", "No verification", drop("cleaning_verified"), model=HIGH),
    case("verification.passed", "unknown", "no kit", change("cleaning_verified", kit="nose"), model=HIGH),
    case("verification.passed", "not applicable", "asks for no verification"),
    case("verification.attempts", "met", "0 times"),
    say("verification.attempts", "met", "1 times", lambda: judged("verification.attempts", unit=debris())),
    say("verification.attempts", "broken", "2 times", lambda: judged(
        "verification.attempts",
        add("inspected", "inspected", tools=["magnifier"], result="debris seen"),
        unit=debris(), later_s=60,
    )),
    case("verification.attempts", "unknown", "never opened", drop("patient_use_ended")),
    case("disinfection.complete", "met", "Disinfected"),
    case("disinfection.complete", "broken", "cut short", change("hld_ended", result="cut short")),
    case("disinfection.complete", "unknown", "No complete", drop("hld_ended")),
    case("disinfection.allowed", "met", "The IFU allows"),
    case("disinfection.allowed", "met", "Washer 1", route="machine"),
    case(
        "disinfection.allowed", "broken", "does not allow", change("charge_poured", disinfectant="opa-055"),
        model="redshank-23",
    ),
    case("disinfection.allowed", "unknown", "Nobody knows", drop("hld_started")),
    case("disinfection.contact", "met", "at least 8 min", move("hld_ended", 480 - 3600)),
    case("disinfection.contact", "broken", "7 min 59 s", move("hld_ended", 479 - 3600)),
    case("disinfection.contact", "unknown", "lists no contact time", change("hld_started", temperature_c=5)),
    case("disinfection.contact", "met", "12 min", route="machine"),
    case(
        "disinfection.contact", "broken", "11 min", change("machine_cycle_ended", contact_s=719),
        route="machine",
    ),
    case(
        "disinfection.contact", "unknown", "not recorded", change("machine_cycle_ended", contact_s=None),
        route="machine",
    ),
    case("disinfection.temperature", "met", "at the end"),
    case(
        "disinfection.temperature", "broken", "none of the label's pairs",
        change("hld_started", temperature_c=5),
    ),
    case("disinfection.temperature", "broken", "at the end", change("hld_ended", temperature_c=5)),
    case("disinfection.temperature", "unknown", "not recorded", drop("hld_ended")),
    case(
        "disinfection.temperature", "met", "at least 50", change("machine_cycle_ended", temperature_c=50),
        route="machine",
    ),
    case(
        "disinfection.temperature", "broken", "49.9", change("machine_cycle_ended", temperature_c=49.9),
        route="machine",
    ),
    case(
        "disinfection.temperature", "unknown", "not recorded",
        change("machine_cycle_ended", temperature_c=None),
        route="machine",
    ),
    case("disinfection.filled", "met", "filled"),
    case("disinfection.filled", "broken", "filled", change("hld_started", channels_filled=False)),
    case(
        "disinfection.filled", "broken", "connected", change("machine_cycle_started", connected_all=False),
        route="machine",
    ),
    case("disinfection.filled", "unknown", "No disinfection", drop("hld_started"), drop("hld_ended")),
    case("disinfection.concentration", "met", "passed at"),
    case("disinfection.concentration", "broken", "had failed", change("mec_tested", result="fail")),
    case("disinfection.concentration", "unknown", "No passing test", drop("mec_tested")),
    case("disinfection.concentration", "unknown", "for this load", move("mec_tested", 120)),
    case("disinfection.concentration", "met", "confirmed", route="machine"),
    case(
        "disinfection.concentration", "broken", "did not confirm",
        change("machine_cycle_ended", dose_confirmed=False), route="machine",
    ),
    case(
        "disinfection.concentration", "unknown", "Nothing says",
        change("machine_cycle_ended", dose_confirmed=None), route="machine",
    ),
    case("disinfection.reuse-life", "met", "the label allows"),
    case("disinfection.reuse-life", "broken", "the label allows", move("charge_poured", -40 * 86400)),
    case("disinfection.reuse-life", "unknown", "No disinfection", drop("hld_started"), drop("hld_ended")),
    case("disinfection.present-charge", "met", "present one"),
    say("disinfection.present-charge", "broken", "emptied", lambda: judged(
        "disinfection.present-charge",
        add("charge_discarded", "hld_started", subject=finished().charge.id, reason="soiled"),
    )),
    case("disinfection.present-charge", "unknown", "No disinfection", drop("hld_started"), drop("hld_ended")),
    say("disinfection.bladder-history", "met", "no history", lambda: opa_cystoscope("no")),
    say("disinfection.bladder-history", "broken", "is known", lambda: opa_cystoscope("yes")),
    say("disinfection.bladder-history", "unknown", "Nobody asked", lambda: opa_cystoscope("not asked")),
    say("disinfection.bladder-history", "unknown", "Nobody asked", lambda: opa_cystoscope(None)),
    case("disinfection.bladder-history", "met", "not forbidden", model="redshank-23"),
    case("rinsing.rinsed", "met", "at least 95 s", lasting("rinsed", 95)),
    case("rinsing.rinsed", "broken", "94 s", lasting("rinsed", 94)),
    case("rinsing.rinsed", "unknown", "No record", only_with("rinsed", "channels", 1)),
    case("rinsing.outside", "met", "at least 95 s", lasting("rinsed", 95), model="wagtail-34"),
    case("rinsing.outside", "broken", "94 s", lasting("rinsed", 94), model="wagtail-34"),
    case("rinsing.outside", "unknown", "No rinse", drop("rinsed"), model="wagtail-34"),
    case("rinsing.outside", "not applicable", "together with the channels"),
    case("rinsing.purged", "met", "30 s", lasting("purged", 30, after="rinse")),
    case("rinsing.purged", "broken", "29 s", lasting("purged", 29, after="rinse")),
    case("rinsing.purged", "unknown", "No record", drop("purged", after="rinse")),
    case("rinsing.water", "met", "critical water"),
    case("rinsing.water", "broken", "utility", change("final_rinsed", water="utility")),
    case("rinsing.water", "unknown", "Nobody knows the water", change("rinsed", water="rain")),
    case("rinsing.final", "met", "Rinsed 3 times"),
    case(
        "rinsing.final", "broken", "2 times", change("final_rinsed", count=2),
        change("charge_poured", disinfectant="opa-055"),
    ),
    case("rinsing.final", "broken", "59 s", lasting("final_rinsed", 59)),
    case("rinsing.final", "unknown", "No final rinse", drop("final_rinsed")),
    case("rinsing.final", "not applicable", "machine rinses", route="machine"),
    case("drying.dry", "met", "no drops"),
    case("drying.dry", "broken", "Moisture", change("dried", result="moisture seen")),
    case("drying.dry", "unknown", "No drying", drop("dried")),
    case("drying.dry", "unknown", "No record that these were dried", only_with("dried", "channels", 3)),
    case("drying.time", "met", "at least 10 min", lasting("dried", 600)),
    case("drying.time", "broken", "9 min 59 s", lasting("dried", 599)),
    case("drying.time", "unknown", "no start", change("dried", started=None)),
    case("drying.air", "met", "the IFU allows", change("dried", pressure_kpa=160)),
    case("drying.air", "broken", "161", change("dried", pressure_kpa=161)),
    case("drying.air", "unknown", "not recorded", change("dried", pressure_kpa=None)),
    case("drying.air", "unknown", "Nobody knows the air", change("dried", dryer="towel")),
    case("drying.alcohol", "not applicable", "no alcohol"),
    say("drying.alcohol", "broken", "policy says no", lambda: judged(
        "drying.alcohol", add("alcohol_flushed", "final_rinsed", strength_percent=70, channels=["suction"])
    )),
    say("drying.alcohol", "met", "through every channel", lambda: judged(
        "drying.alcohol",
        add("alcohol_flushed", "final_rinsed", strength_percent=70, channels=finished().channels),
        policy=finished().policy.model_copy(update={"alcohol": True}),
    )),
    say("drying.alcohol", "unknown", "none is recorded", lambda: judged(
        "drying.alcohol", policy=finished().policy.model_copy(update={"alcohol": True})
    )),
    case("storage.place", "met", "Drying cabinet 1"),
    case("storage.place", "broken", "valves in", change("stored", valves_out=False)),
    case("storage.place", "broken", "gloves", change("stored", clean_gloves=False)),
    case("storage.place", "unknown", "Nobody knows the place", change("stored", cabinet="shelf")),
    case("storage.place", "unknown", "not in its place", drop("stored")),
    case("storage.hang-time", "met", "7 days", later_s=7 * 86400 - 30),
    case("storage.hang-time", "broken", "7 days", later_s=7 * 86400 - 29),
    case("storage.hang-time", "unknown", "not dry and in its place", drop("stored")),
    case("supplies.connector-set", "met", "24 h"),
    case(
        "supplies.connector-set", "broken", "does not fit", change("connector_set_opened", kind="set-colon"),
    ),
    say("supplies.connector-set", "broken", "are allowed", lambda: judged(
        "supplies.connector-set",
        add("connected", "lot_opened", cycle="0" * 36, connector_set="set-9", ports=["air"]),
        move("connected", -90000, ports=["air"]),
    )),
    case(
        "supplies.connector-set", "unknown", "Nobody knows the set",
        change("connected", connector_set="set-1"),
    ),
    case("supplies.lots", "met", "In date: lot-d"),
    case(
        "supplies.lots", "broken", "had expired",
        change("lot_opened", {"lot": "lot-d"}, expires="2026-03-01"),
    ),
    say("supplies.lots", "broken", "withdrawn", lambda: judged(
        "supplies.lots", add("lot_withdrawn", "stored", subject="lot-x", reason="recalled"), later_s=60
    )),
    case("supplies.lots", "unknown", "Nobody knows lot", drop("lot_opened", lot="lot-d")),
    case("supplies.strips", "met", "proved"),
    case("supplies.strips", "broken", "2 failed in diluted", change("strips_checked", diluted_failed=2)),
    case(
        "supplies.strips", "broken", "another chemistry",
        change("lot_opened", {"lot": "lot-s"}, product="strip-opa"),
    ),
    case("supplies.strips", "broken", "90 days are allowed", move("lot_opened", -91 * 86400, lot="lot-s")),
    case("supplies.strips", "unknown", "never proved", drop("strips_checked")),
    case("supplies.strips", "unknown", "No strip test", drop("mec_tested")),
    case("supplies.strips", "not applicable", "No strip", route="machine"),
    case("people.competent", "met", "Competent for the Sanderling 28: Ana"),
    case(
        "people.competent", "broken", "ended on 1 March 2026",
        change("competency_recorded", valid_until="2026-03-01"),
    ),
    case("people.competent", "unknown", "No competency", drop("competency_recorded")),
    case("people.competent", "unknown", "Nobody knows who", by("flushed", "ghost")),
    case("people.hand-over", "met", "At the sink: Ana"),
    case("people.hand-over", "broken", "without taking over", by("flushed", "tom")),
    case("people.hand-over", "unknown", "Nobody has worked", *(
        drop(kind) for kind in (
            "leak_tested", "cleaning_started", "exterior_cleaned", "channel_brushed", "connected", "aspirated",
            "flushed", "purged", "rinsed", "disconnected",
        )
    )),
    case("people.late-entry", "met", "within 30 min"),
    case("people.late-entry", "broken", "entered", move("exterior_cleaned", -1801)),
]  # fmt: skip

NEVER_UNKNOWN = {"people.late-entry"}  # an act that is there always says when it was entered
NEVER_BROKEN = {"sequence.complete"}  # a step that is missing is not known; it is never known to be missing


@pytest.mark.parametrize(
    ("rule", "answer", "words", "find"), CASES, ids=[f"{i} {c[0]} {c[1]}" for i, c in enumerate(CASES)]
)
def test_a_rule_answers_with_the_sentence_of_its_case(
    rule: str, answer: str, words: str, find: Callable[[], Finding]
) -> None:
    finding = find()
    assert finding.answer == answer, finding.sentence
    plain = finding.sentence.replace("\u202f", " ")
    assert words in plain
    assert plain.endswith(".")
    assert finding.source
    assert bool(finding.fix) == (answer in ("broken", "unknown"))


@pytest.mark.parametrize("rule", RULES)
def test_every_rule_has_a_case_for_each_answer(rule: str) -> None:
    answers = {case[1] for case in CASES if case[0] == rule}
    assert "met" in answers
    assert "broken" in answers or rule in NEVER_BROKEN
    assert "unknown" in answers or rule in NEVER_UNKNOWN


@pytest.mark.parametrize("rule", RULES)
def test_nothing_recorded_is_never_met(rule: str) -> None:
    unit = Unit().to("used")
    everything = [drop(act.kind) for act in unit.world.acts(unit.cycle)]
    finding = judged(rule, *everything, unit=unit)
    assert finding.answer in ("unknown", "broken", "not applicable"), finding.sentence
