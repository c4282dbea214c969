"""The sink before any script runs: the stations, who waits and how pressing it is, the plan as data."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client

from lumenward.records.world import StoredWorld
from lumenward.screens.sink.rows import Lists, lists, stations

SANDERLING = "one-sanderling-28"


def rows_now(house: Any, station: str = "sink-1", minutes: float = 0) -> Lists:
    return lists(StoredWorld(), station, house.now + timedelta(minutes=minutes))


def used(house: Any) -> None:
    house.do("patient_use_ended", SANDERLING, {"case": "c-1"}, person="mira")


def test_a_used_endoscope_says_how_long_there_is_to_start(house: Any) -> None:
    used(house)
    row = rows_now(house, minutes=18).used[0]
    assert (row.name, row.word) == ("Sanderling 28 01", "")
    assert row.sentence.replace("\u202f", " ") == "18 min after the case"
    assert row.clock.replace("\u202f", " ") == "42 min left to start"


def test_it_grows_loud_before_it_is_late(house: Any) -> None:
    used(house)
    assert [rows_now(house, minutes=m).used[0].word for m in (10, 46, 61)] == ["", "soon", "late"]
    assert rows_now(house, minutes=75).used[0].clock.replace("\u202f", " ") == "late by 15 min"


def test_an_unknown_end_of_use_counts_as_late(house: Any) -> None:
    house.do("patient_use_ended", SANDERLING, {"case": "c-1", "time_known": False}, person="mira")
    row = rows_now(house).used[0]
    assert (row.word, row.sentence) == ("late", "end of use not known: treated as late")


def test_work_under_way_stands_first_at_its_own_sink_only(house: Any) -> None:
    house.work(SANDERLING, stop="connect")
    assert [row.id for row in rows_now(house, "sink-1").here] == [SANDERLING]
    assert rows_now(house, "sink-2").here == []
    assert [row.id for row in rows_now(house, "sink-2").elsewhere] == [SANDERLING]
    said = {one.id: one.sentence for one in stations(StoredWorld())}
    assert said["sink-1"] == "Sanderling 28 01 being cleaned"
    assert said["sink-2"] == "free"


def test_a_held_endoscope_says_that_it_is_held(house: Any) -> None:
    house.do("held", SANDERLING, {"reason": "recall"})
    row = rows_now(house).held[0]
    assert (row.id, row.word) == (SANDERLING, "held")
    assert "recall" in row.sentence


@pytest.mark.parametrize(
    "address", ["/sink/", "/sink/bench-card/", "/sink/sink-1/", f"/sink/sink-1/{SANDERLING}/"]
)
def test_the_pages_open_for_a_technician(client_as: Callable[[str], Client], address: str) -> None:
    answer = client_as("technician").get(address)
    assert answer.status_code == 200
    page = answer.content.decode()
    assert re.search(r"\sstyle=|<style|\son[a-z]+=", page) is None
    assert "licensed practice decide" in page


@pytest.mark.parametrize("role", ["infection prevention", "engineer", "viewer"])
def test_who_does_not_reprocess_is_told_so_at_the_sink(client_as: Callable[[str], Client], role: str) -> None:
    answer = client_as(role).get("/sink/sink-1/")
    assert answer.status_code == 403
    assert "may not reprocess" in answer.content.decode()


def test_the_plan_reaches_the_page_as_data(client_as: Callable[[str], Client]) -> None:
    page = client_as("technician").get(f"/sink/sink-2/{SANDERLING}/").content.decode()
    found = re.search(r'<script id="plan" type="application/json">(.*?)</script>', page, re.S)
    assert found is not None
    plan = json.loads(found[1])
    assert (plan["endoscope"], plan["station"]) == (SANDERLING, "sink-2")
    assert plan["steps"][0]["confirm"]


@pytest.mark.parametrize(
    "address", ["/sink/no-such-sink/", "/sink/sink-1/no-such-endoscope/", "/sink/no/no/"]
)
def test_what_is_not_there_is_said_in_words(client_as: Callable[[str], Client], address: str) -> None:
    answer = client_as("technician").get(address)
    assert answer.status_code == 404
    assert re.search(r"There is no sink|No endoscope", answer.content.decode())


def test_every_code_of_the_bench_card_is_one_the_page_reads(client_as: Callable[[str], Client]) -> None:
    from lumenward.screens.sink.card import CARD

    page = client_as("viewer").get("/sink/bench-card/").content.decode()
    assert page.count("data:image/svg+xml") == len(CARD) == len({code for code, _ in CARD})
    for code, _ in CARD:
        assert re.fullmatch(r"LW-(GO-ON|YES|BACK|POINT|\d|[A-H])", code)
