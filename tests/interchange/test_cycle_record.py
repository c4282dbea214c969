"""One cycle as a record: its sentences, its numbers with who asks for them, corrections, verdicts, the proof."""

from __future__ import annotations

import hashlib
import json
from dataclasses import replace
from datetime import timedelta
from zoneinfo import ZoneInfo

import pytest

from lumenward.interchange.record import read_record
from lumenward.interchange.record_code import acts_covered
from lumenward.interchange.record_json import record_json
from lumenward.interchange.record_sheet import sheet
from lumenward.interchange.telling import TELLERS
from lumenward.journey.kinds import KINDS
from lumenward.ledger.merkle import verify_inclusion
from lumenward.quantities import THIN, Refusal
from lumenward.records import accounts
from lumenward.records.releasing import Signature, sign_release
from lumenward.records.roles import Actor
from lumenward.records.service import record_many

LONDON = ZoneInfo("Europe/London")
GASTRO, RHINO = "one-sanderling-28", "one-wagtail-34"
MIRA = Actor("mira", "Mira Okafor", "technician")


def work_dry(house, endoscope):
    """Record the whole cycle, without alcohol at the bedside; return its id."""
    cycle = ""
    for act in house.acts_until(endoscope):
        if act.kind == "point_of_use_treated":
            act = act.model_copy(update={"body": act.body | {"alcohol_used": False}})
        record_many([[(act, act.happened_at + timedelta(seconds=2))]])
        cycle = cycle or act.cycle
    return cycle


def cycle_of(acts):
    return next(act.cycle for act in acts if act.cycle)


def read(house, cycle):
    return read_record(cycle, house.now, LONDON, "Lena Ruo")


def release(house, endoscope, cycle):
    accounts.give_pin(accounts.open_account("mira", badge="B-MIRA"), "4711")
    house.now += timedelta(seconds=5)
    signature = Signature(endoscope, cycle, "sink-1", "mira", "4711", house.new_id(), house.now)
    return sign_release(signature, MIRA, house.now)


@pytest.mark.django_db
def test_every_act_is_a_sentence_with_its_numbers_and_who_asks_for_them(house) -> None:
    record = read(house, cycle_of(house.work(GASTRO)))
    flush = next(line for line in record.lines if line.kind == "flushed")
    assert flush.sentence.startswith("Flushed suction, biopsy, air, water and water jet with detergent")
    assert flush.sentence.endswith("fluid was seen leaving each.")
    assert flush.person == "Mira Okafor" and flush.station == "Sink 1"
    [time] = flush.numbers
    assert time.label == "time" and time.shown.replace(THIN, " ") == "96 s"
    assert time.basis.replace(THIN, " ").startswith("at least 95 s (policy, ")
    leak = next(line for line in record.lines if line.kind == "leak_tested")
    assert leak.numbers[0].basis.replace(THIN, " ") == "18 to 24 kPa (IFU, p. 18)"
    out = next(line for line in record.lines if line.kind == "hld_ended")
    assert out.numbers[0].shown.replace(THIN, " ") == "8 min 1 s"
    assert "at least 8" in out.numbers[0].basis and "label" in out.numbers[0].basis
    assert all(line.sentence and line.sentence[0].isupper() for line in record.lines)


@pytest.mark.django_db
def test_the_head_says_which_model_ifu_case_and_policy(house) -> None:
    record = read(house, cycle_of(house.work(RHINO, stop="leak-test")))
    facts = dict(record.facts)
    assert facts["Endoscope"] == "Wagtail 34 01, serial S1, label E-wagtail-34"
    assert "edition" in facts["IFU"] and facts["Case"] == "case-4471"
    assert facts["Policy"].startswith("Reedmarsh endoscopy unit (invented), edition 3")
    assert record.headline == "Wagtail 34 01 is not released: it is waiting."
    assert record.signature is None and record.verdict_then is None
    assert record.verdict_now is not None and not record.verdict_now.ready


@pytest.mark.django_db
def test_the_disinfection_shows_the_charge_and_the_test_it_rests_on(house) -> None:
    record = read(house, cycle_of(house.work(GASTRO)))
    assert [line.kind for line in record.rests_on] == ["charge_poured", "mec_tested"]
    assert record.rests_on[1].sentence.endswith("lot A1: pass.")
    assert record.rests_on[0].number == len(record.lines) + 1


@pytest.mark.django_db
def test_a_release_shows_its_signature_and_the_verdict_of_that_moment(house) -> None:
    cycle = work_dry(house, RHINO)
    document, _ = release(house, RHINO, cycle)
    record = read(house, cycle)
    assert record.signature is not None and record.signature.person == "Mira Okafor"
    assert record.verdict_then is not None and record.verdict_then.ready
    assert len(record.verdict_then.rules) == len(document["findings"])
    assert record.headline.startswith("Wagtail 34 01 was released, ready until")
    assert not any(line.correctable for line in record.lines)


@pytest.mark.django_db
def test_a_correction_strikes_the_old_value_and_keeps_it_with_the_reason(house) -> None:
    acts = house.work(RHINO, stop="exterior")
    leak = next(act for act in acts if act.kind == "leak_tested")
    body = {
        "event": leak.id,
        "reason": "read from the wrong gauge",
        "new_body": leak.body | {"pressure_kpa": 19},
    }
    house.do("corrected", leak.id, body, cycle=leak.cycle, person="mira")
    record = read(house, leak.cycle)
    line = next(one for one in record.lines if one.id == leak.id)
    assert line.struck and line.corrections[0].reason == "read from the wrong gauge"
    assert line.corrections[0].numbers[0].shown.replace(THIN, " ") == "19 kPa"
    page = sheet(record)
    assert f"<del>{line.sentence}</del>" in page and "read from the wrong gauge" in page
    assert record.corrected == 1 and any(one.kind == "corrected" for one in record.lines)


@pytest.mark.django_db
def test_an_act_entered_long_after_it_happened_is_marked(house) -> None:
    house.work(RHINO, stop="leak-test")
    cycle = house.plan(RHINO).cycle
    act = house.event("held", RHINO, {"reason": "culture awaited"}, cycle=cycle)
    record_many([[(act, act.happened_at + timedelta(hours=3))]])
    record = read(house, cycle)
    late = [line for line in record.lines if line.late_entry]
    assert [line.id for line in late] == [act.id] and "recorded 3" in late[0].late_entry
    assert "◆ late entry" in sheet(record)
    assert record.headline.endswith("is held, not for use: culture awaited.")


@pytest.mark.django_db
def test_the_json_proves_every_act_without_the_program(house) -> None:
    record = read(house, cycle_of(house.work(RHINO)))
    plain = json.loads(json.dumps(record_json(record)))
    size, root = plain["tree"]["size"], bytes.fromhex(plain["tree"]["root"])
    for act in plain["acts"] + plain["rests_on"]:
        leaf = hashlib.sha256(b"\x00" + act["leaf_data"].encode()).digest()
        assert leaf.hex() == act["leaf"]
        assert json.loads(act["leaf_data"])["id"] == act["id"]
        path = [bytes.fromhex(step) for step in act["path"]]
        assert verify_inclusion(act["leaf_number"], size, leaf, path, root)
    assert len(plain["acts"]) == len(record.lines)


@pytest.mark.django_db
def test_an_older_print_stays_true_when_acts_are_added(house) -> None:
    cycle = cycle_of(house.work(RHINO, stop="exterior"))
    older = read(house, cycle)
    house.work(RHINO)
    newer = read(house, cycle)
    leaves = [line.leaf for line in sorted(newer.lines, key=lambda line: line.leaf_index)]
    assert acts_covered(older.code, leaves) == len(older.lines) < len(leaves)
    assert acts_covered(newer.code, leaves) == len(leaves)


@pytest.mark.django_db
def test_nothing_a_person_wrote_becomes_markup(house) -> None:
    house.work(RHINO, stop="leak-test")
    cycle = house.plan(RHINO).cycle
    house.do("held", RHINO, {"reason": "other", "note": "<script>alert(1)</script>"}, cycle=cycle)
    page = sheet(read(house, cycle))
    assert "<script>" not in page and "&lt;script&gt;" in page


@pytest.mark.django_db
def test_a_cycle_that_is_not_there_is_refused(house) -> None:
    with pytest.raises(Refusal, match="There is no cycle"):
        read_record("01a20fbb-dd4d-7028-b51d-4532fe318027", house.now, LONDON)


def test_every_act_of_a_cycle_has_words_of_its_own() -> None:
    silent = {name for name, kind in KINDS.items() if kind.about != "person" and kind.about != "house"} - set(
        TELLERS
    )
    assert silent == {"endoscope_registered"}


@pytest.mark.django_db
def test_a_demo_house_is_marked_on_the_sheet(house) -> None:
    record = read(house, cycle_of(house.work(RHINO, stop="leak-test")))
    assert "Demo: invented" not in sheet(record)
    assert "Demo: invented" in sheet(replace(record, demo=True))
