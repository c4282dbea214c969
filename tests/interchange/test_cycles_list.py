"""Cycles as a list: what is found, what an export holds."""

from __future__ import annotations

import csv
import io
import json
from datetime import timedelta
from zoneinfo import ZoneInfo

import pytest

from lumenward.interchange import cycles
from lumenward.interchange.cycles import COLUMNS, Wanted
from lumenward.records.world import StoredWorld

LONDON = ZoneInfo("Europe/London")
GASTRO, RHINO = "one-sanderling-28", "one-wagtail-34"


@pytest.fixture
def three(house):
    """Two cycles after patients, a day and a half apart, and one without a patient."""
    first = house.do("patient_use_ended", GASTRO, {"case": "C-100"}, person="mira")
    house.now += timedelta(hours=3)
    second = house.do("patient_use_ended", RHINO, {"case": "C-200"}, person="jonas")
    third = house.do("reprocessing_required", "one-plover-12", {"reason": "new"}, person="lena")
    return house, first, second, third


def ids(found):
    return [row.id for row in found]


def find(**wanted):
    return ids(cycles.find(Wanted(**wanted), LONDON, StoredWorld()))


@pytest.mark.django_db
def test_cycles_are_found_by_endoscope_model_person_case_and_day(three) -> None:
    _, first, second, third = three
    assert find() == [third.id, second.id, first.id]
    assert find(endoscope="gastro") == [first.id] and find(endoscope="WAGTAIL") == [second.id]
    assert find(person="weir") == [second.id] and find(person="lena") == [third.id]
    assert find(case="c-2") == [second.id] and find(case="Nobody") == []
    day = first.happened_at.astimezone(LONDON).date()
    assert first.id in find(first=day, last=day)
    assert find(last=day - timedelta(days=1)) == []


@pytest.mark.django_db
def test_a_case_that_was_corrected_is_found_by_its_new_name(three) -> None:
    house, first, _, _ = three
    body = {"event": first.id, "reason": "wrong label", "new_body": {"case": "C-900"}}
    house.do("corrected", first.id, body, cycle=first.id, person="mira")
    assert find(case="C-900") == [first.id]


@pytest.mark.django_db
@pytest.mark.parametrize("text", ['"', "%", "_", "\\", "'; drop table", "🦆"])
def test_odd_text_finds_nothing_and_breaks_nothing(three, text: str) -> None:
    assert find(case=text) == [] and find(endoscope=text) == [] and find(person=text) == []


@pytest.mark.django_db
def test_an_export_has_units_in_its_columns_and_times_with_offset_and_zone(three) -> None:
    house, first, _, _ = three
    found = cycles.find(Wanted(), LONDON, StoredWorld())
    lines = "".join(cycles.as_csv(cycles.rows(found, StoredWorld(), house.now, LONDON)))
    assert lines.startswith("\ufeff")
    table = list(csv.DictReader(io.StringIO(lines.lstrip("\ufeff"))))
    assert list(table[0]) == list(COLUMNS) and len(table) == 3
    row = next(one for one in table if one["cycle"] == first.id)
    assert row["opened_at"] == first.happened_at.astimezone(LONDON).isoformat(timespec="seconds")
    assert row["zone"] == "Europe/London" and row["case"] == "C-100" and row["people"] == "Mira Okafor"
    assert row["delay_s"] == "" and row["standing"] == "waiting"


@pytest.mark.django_db
def test_the_json_export_says_how_many_and_holds_them_all(three) -> None:
    house, *_ = three
    found = cycles.find(Wanted(), LONDON, StoredWorld())
    rows = cycles.rows(found, StoredWorld(), house.now, LONDON)
    plain = json.loads("".join(cycles.as_json(rows, {"unit": "reedmarsh", "count": found.count()})))
    assert plain["count"] == len(plain["cycles"]) == 3 and set(plain["cycles"][0]) == set(COLUMNS)


@pytest.mark.django_db
def test_a_cell_never_becomes_a_formula(house) -> None:
    house.do("patient_use_ended", GASTRO, {"case": "=1+1"}, person="mira")
    found = cycles.find(Wanted(), LONDON, StoredWorld())
    lines = "".join(cycles.as_csv(cycles.rows(found, StoredWorld(), house.now, LONDON)))
    assert ",'=1+1," in lines
