"""The channel map: figures as the hydraulics give them, starving channels in words, cups, plans, bad input."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from typing import Any

import pytest
from django.http import QueryDict
from django.test import Client

from lumenward.hydraulics.assemble import assemble, port_tube
from lumenward.hydraulics.outflow import expected_outflow
from lumenward.screens.channels import plans
from lumenward.screens.channels.drawing import draw
from lumenward.screens.channels.figures import VOLUMES, Figures, work_out
from lumenward.screens.channels.finding import look_for
from lumenward.screens.channels.layout import Layout, thickness
from lumenward.screens.channels.question import Question, read

SignIn = Callable[[str], Client]
GASTRO, DUODENO, ECHO, URETERO, NONE = (
    "sanderling-28", "turnstone-42", "phalarope-37", "plover-12", "wagtail-34",
)  # fmt: skip


def text_of(answer: Any) -> str:
    return str(answer.content.decode()).replace("\u202f", " ")


def asked(library: Any, model: str, query: str = "") -> Question:
    question = read(library, library.model(model), QueryDict(query))
    assert question is not None
    return question


@pytest.fixture(scope="module")
def library() -> Any:
    from importlib.resources import files
    from pathlib import Path

    from lumenward.equipment.loader import load_library

    return load_library(Path(str(files("lumenward.demo"))) / "library")


@pytest.fixture
def gastro(library: Any) -> Figures:
    return work_out(asked(library, GASTRO))


def test_the_list_shows_every_model_and_says_which_has_no_channel(client_as: SignIn) -> None:
    page = text_of(client_as("viewer").get("/channels/"))
    assert f'href="/channels/{GASTRO}/"' in page
    assert "no channel, nothing to flush" in page
    assert f'href="/channels/{NONE}/"' not in page


@pytest.mark.parametrize(
    "model", [GASTRO, DUODENO, ECHO, URETERO, "dunlin-22", "redshank-23", "whimbrel-38", NONE]
)
def test_every_model_has_its_page(client_as: SignIn, model: str) -> None:
    answer = client_as("viewer").get(f"/channels/{model}/")
    assert answer.status_code == 200
    assert "<h1>" in text_of(answer)


def test_starving_channels_are_named_in_the_first_line(client_as: SignIn) -> None:
    page = text_of(client_as("viewer").get(f"/channels/{GASTRO}/"))
    assert "Air, water and water jet get too little in this setting." in page
    assert "starving-outline" in page
    assert "too little: 28% of what it gets alone" in page


def test_shutting_the_wide_clamps_feeds_the_narrow_channels(library: Any, gastro: Figures) -> None:
    narrow = work_out(asked(library, GASTRO, "shut=suction&shut=biopsy"))
    now = {one.id: one for one in narrow.channels}
    assert not narrow.starving
    assert now["suction"].state == "shut"
    assert now["suction"].ml_min == 0.0
    assert now["air"].ml_min > 2 * next(one for one in gastro.channels if one.id == "air").ml_min


def test_what_leaves_the_outlets_is_what_the_pump_gives(gastro: Figures) -> None:
    assert sum(cup.ml for cup in gastro.cups) * 6 == pytest.approx(gastro.pump_ml_min, rel=1e-6)


def test_the_cups_are_those_of_the_outflow_card(library: Any, gastro: Figures) -> None:
    question = asked(library, GASTRO)
    network = assemble(question.model, question.kind, question.pump, question.temperature_c)
    ports = [port_tube(port) for port in question.clamps]
    expected = expected_outflow(network, ports, 10.0, [ports])
    assert [(cup.outlet, cup.ml) for cup in gastro.cups] == [(one.outlet, one.volume_ml) for one in expected]


def test_a_wire_makes_a_range(library: Any) -> None:
    cups = {cup.outlet: cup for cup in work_out(asked(library, DUODENO)).cups}
    assert cups["elevator-wire"].ranged
    assert cups["elevator-wire"].most_ml / cups["elevator-wire"].least_ml > 2
    assert not cups["nozzle"].ranged


def test_warmer_water_runs_faster_through_narrow_channels(library: Any) -> None:
    def jet(query: str) -> float:
        found = work_out(asked(library, GASTRO, query)).channels
        return next(one.ml_min for one in found if one.id == "aux-water")

    assert jet("c=45") > jet("c=15")


def test_every_clamp_shut_leaves_the_pump_on_its_relief_valve(client_as: SignIn) -> None:
    every = "&".join(f"shut={port}" for port in ("suction", "biopsy", "air", "water", "aux-water"))
    page = text_of(client_as("viewer").get(f"/channels/{GASTRO}/?{every}"))
    assert "Every clamp is shut: the pump works against its relief valve." in page
    assert "never" in page


def test_a_pressure_above_the_ifu_is_said_with_its_page(client_as: SignIn) -> None:
    page = text_of(client_as("viewer").get(f"/channels/{DUODENO}/?shut=suction&shut=biopsy"))
    assert re.search(
        r"Air, water and elevator wire: 151 kPa at the port, above the 140 kPa that the IFU allows", page
    )


def test_a_clamp_is_a_link_that_turns_it_and_keeps_the_rest(client_as: SignIn) -> None:
    page = text_of(client_as("viewer").get(f"/channels/{GASTRO}/?shut=air&c=30"))
    opens = re.search(r'<a href="\?([^"]*)" data-live="air"', page)
    shuts = re.search(r'<a href="\?([^"]*)" data-live="suction"', page)
    assert opens is not None
    assert shuts is not None
    assert "shut=air" not in opens[1]
    assert "c=30" in opens[1]
    assert {"shut=suction", "shut=air"} <= set(shuts[1].replace("&amp;", "&").split("&"))


def test_the_figures_alone_are_the_same_without_the_frame(client_as: SignIn) -> None:
    client = client_as("viewer")
    part = text_of(client.get(f"/channels/{GASTRO}/figures/?shut=air"))
    assert part.strip() in text_of(client.get(f"/channels/{GASTRO}/?shut=air"))
    assert "<html" not in part


def test_a_wrong_temperature_is_said_beside_it_and_kept(client_as: SignIn) -> None:
    for typed in ("hot", "-5", "250", "1e400", "🙂", "36 kPa"):
        answer = client_as("viewer").get(f"/channels/{GASTRO}/", {"c": typed})
        page = text_of(answer)
        assert answer.status_code == 422, typed
        assert 'id="ask-c-error"' in page, typed
        assert f'value="{typed}"' in page


def test_unknown_choices_fall_back_to_what_there_is(client_as: SignIn) -> None:
    for query in ("set=none-such", "pump=&shut=nowhere", "shut=../../etc"):
        answer = client_as("viewer").get(f"/channels/{GASTRO}/?{query}")
        assert answer.status_code == 200, query
        assert "Gastroscope set" in text_of(answer)


def test_an_unknown_model_is_refused_in_words(client_as: SignIn) -> None:
    answer = client_as("viewer").get("/channels/unicorn-1/")
    assert answer.status_code == 404
    assert "unicorn-1" in text_of(answer)


def test_a_house_without_a_library_says_what_will_stand_here(
    client_as: SignIn, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("lumenward.screens.channels.views._library", lambda: None)
    page = text_of(client_as("viewer").get("/channels/"))
    assert "No model is known yet" in page


def test_a_stranger_is_led_to_the_door(client_as: SignIn) -> None:
    for address in ("/channels/", f"/channels/{GASTRO}/", f"/channels/{GASTRO}/find/"):
        assert client_as("stranger").get(address).headers["Location"].startswith("/sign-in/")


def test_the_plan_gives_every_channel_its_volumes_and_saves_time(library: Any, gastro: Figures) -> None:
    plan = plans.plan_for(asked(library, GASTRO), VOLUMES)
    assert len(plan.turns) >= 2
    assert not plan.why_not
    assert plan.turns[0].say.startswith("Open only")
    assert gastro.all_open_s == pytest.approx(max(one.seconds for one in gastro.channels))
    assert math.isfinite(gastro.one_at_a_time_s)


def test_a_plan_that_no_pressure_allows_says_why(library: Any) -> None:
    model = library.model(URETERO)
    weak = model.model_copy(
        update={"channels": [one.model_copy(update={"max_pressure_kpa": 60}) for one in model.channels]}
    )
    plan = plans.plan_for(asked(library.model_copy(update={"endoscopes": [weak]}), URETERO), VOLUMES)
    assert plan.turns == ()
    assert "kPa" in plan.why_not


def test_lines_are_as_thick_as_their_bores_and_merge_at_one_place(library: Any, gastro: Figures) -> None:
    at = Layout(gastro.tubes)
    tubes = {tube.id: tube for tube in gastro.tubes}
    assert at.path(tubes["air"]).split()[-1] == at.path(tubes["water"]).split()[-1]
    assert at.y("N") == (at.y("a0") + at.y("w0")) / 2
    assert at.x("a0") < at.x("N") < at.x("out")
    assert at.x("b0") > at.x("s0")
    widths = {line.width for line in draw(asked(library, GASTRO), gastro).lines}
    assert thickness(3.5) in widths


@pytest.mark.parametrize("model", [GASTRO, DUODENO, ECHO, URETERO, "dunlin-22", "redshank-23", "whimbrel-38"])
def test_every_map_keeps_its_places_inside_the_picture(library: Any, model: str) -> None:
    question = asked(library, model)
    drawing = draw(question, work_out(question))
    for word in drawing.words:
        assert 0 <= word.x <= drawing.width
        assert 0 < word.y <= drawing.height
    assert len(drawing.clamps) == len(question.clamps)


def test_the_fault_page_shows_what_each_cup_should_catch(client_as: SignIn) -> None:
    page = text_of(client_as("viewer").get(f"/channels/{GASTRO}/find/"))
    assert "all clamps open" in page
    assert "expect 106" in page
    assert 'name="r0.nozzle"' in page


def test_a_wrong_reading_is_said_beside_it_and_kept(client_as: SignIn) -> None:
    for typed in ("much", "-3", "5 kg"):
        answer = client_as("viewer").get(f"/channels/{GASTRO}/find/", {"r0.nozzle": typed})
        assert answer.status_code == 422, typed
        assert re.search(rf'name="r0.nozzle" value="{typed}"[^>]*aria-invalid="true"', text_of(answer))


def test_readings_name_the_class_of_faults_that_fits_them_and_the_next_reading(client_as: SignIn) -> None:
    readings = {
        "r5.aux-water": "0",
        "r5.kpa": "152",
        "r5.total": "0",
        "r0.biopsy-distal": "109",
        "r0.nozzle": "12",
    }
    page = text_of(client_as("viewer").get(f"/channels/{GASTRO}/find/", readings))
    first = re.search(r"<tbody>\s*<tr><td>(.*?)</td><td[^>]*>(\d+) %", page, re.DOTALL)
    assert first is not None
    assert "water jet channel blocked" in first[1]
    assert int(first[2]) >= 80
    assert "The next reading worth taking" in page


def test_probabilities_shown_and_the_rest_sum_to_one(library: Any) -> None:
    found = look_for(asked(library, GASTRO), QueryDict("r0.nozzle=6&r0.biopsy-distal=112"))
    assert sum(one.probability for one in found.classes) + found.others == pytest.approx(1.0, abs=1e-9)
    assert "; or " in found.classes[0].say


def test_nothing_typed_means_nothing_said(library: Any) -> None:
    found = look_for(asked(library, GASTRO), QueryDict(""))
    assert found.classes == []
    assert found.words == ""
