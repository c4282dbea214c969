"""The calculation pages: forms read off the models, figures with units, pictures, errors beside their field."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from lumenward import calculations
from lumenward.calculations.case import Chart, Series, parse
from lumenward.quantities import Refusal
from lumenward.screens.calculations import catalogue, results, texts
from lumenward.screens.calculations.shape import nodes_of

SignIn = Callable[[str], Client]
NAMES = catalogue.available()


def text_of(answer: Any) -> str:
    return str(answer.content.decode())


def form_of(name: str) -> dict[str, str]:
    module = catalogue.find(name)
    return texts.texts_of(nodes_of(module.Input), module.EXAMPLE)


def raw_result(page: str) -> dict[str, Any]:
    found = re.search(r'The result as JSON</summary><pre tabindex="0">(.*?)</pre>', page, re.DOTALL)
    assert found is not None
    plain = found[1].replace("&quot;", '"').replace("&#x27;", "'").replace("&gt;", ">").replace("&lt;", "<")
    return dict(json.loads(plain.replace("&amp;", "&")))


def beside(page: str, field: str) -> str:
    """Return the sentence that stands beside a field, empty where none does."""
    marked = re.search(
        rf'id="{field}"[^>]*aria-describedby="[^"]*{field}-error"[^>]*aria-invalid="true"', page
    )
    found = re.search(rf'id="{field}-error">(.*?)</p>', page, re.DOTALL)
    return found[1] if found and marked else ""


def test_the_list_names_every_calculation_with_its_purpose(client_as: SignIn) -> None:
    page = text_of(client_as("viewer").get("/calculations/"))
    for name in NAMES:
        assert f'href="/calculations/{name}/"' in page
        assert catalogue.entry(name).title in page.replace("&#x27;", "'")


def test_every_calculation_stands_in_exactly_one_group() -> None:
    listed = [entry.name for _, entries in catalogue.groups() for entry in entries]
    assert sorted(listed) == sorted(NAMES)


def test_every_page_opens_with_its_example_worked_out(client_as: SignIn) -> None:
    client = client_as("viewer")
    for name in NAMES:
        answer = client.get(f"/calculations/{name}/")
        page = text_of(answer)
        module = catalogue.find(name)
        assert answer.status_code == 200, name
        assert module.TITLE in page.replace("&#x27;", "'"), name
        assert "What this leaves out" in page, name
        assert page.count("<li>") >= len(module.LEAVES_OUT), name
        assert f"POST /api/v1/calc/{name}" in page, name
        assert f"lumenward calc {name}" in page, name
        assert raw_result(page).keys() == calculations.run(name, module.EXAMPLE).keys(), name
        assert ("data-chart" in page) == hasattr(module, "picture"), name


def test_sending_a_form_back_unchanged_gives_what_the_shell_gives(client_as: SignIn) -> None:
    client = client_as("viewer")
    for name in NAMES:
        answer = client.post(f"/calculations/{name}/", form_of(name))
        expected = json.loads(json.dumps(calculations.run(name, catalogue.find(name).EXAMPLE)))
        assert answer.status_code == 200, name
        assert raw_result(text_of(answer)) == expected, name


def places(found: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    if path:
        yield path
    pairs = found.items() if isinstance(found, dict) else enumerate(found) if isinstance(found, list) else ()
    for key, inner in pairs:
        yield from places(inner, (*path, key))


def changed(case: dict[str, Any], path: tuple[Any, ...], value: Any) -> dict[str, Any]:
    copy = json.loads(json.dumps(case))
    inner = copy
    for key in path[:-1]:
        inner = inner[key]
    inner[path[-1]] = value
    return dict(copy)


@pytest.mark.parametrize("name", NAMES)
def test_no_wild_value_anywhere_in_a_case_is_a_fault_of_ours(name: str) -> None:
    module = catalogue.find(name)
    tried = list(places(module.EXAMPLE))[:40]
    for path in tried:
        for value in (0, -1.0, 1e-300, 1e308, "", None, [], {}, True, "🙂"):
            case = changed(module.EXAMPLE, path, value)
            try:
                given = parse(module.Input, case)
                result = module.run(given)
            except Refusal as refusal:
                assert refusal.message, (path, value)
                continue
            results.show(result.model_dump(mode="json", by_alias=True), module.Output)
            if hasattr(module, "picture"):
                results.chart_table(module.picture(given, result))


@pytest.mark.parametrize("name", NAMES)
def test_every_example_survives_the_way_through_the_form(name: str) -> None:
    module = catalogue.find(name)
    nodes = nodes_of(module.Input)
    read = texts.read(nodes, texts.texts_of(nodes, module.EXAMPLE))
    assert read.errors == {}
    assert parse(module.Input, read.case) == parse(module.Input, module.EXAMPLE)


def test_a_field_takes_other_units_and_a_decimal_comma(client_as: SignIn) -> None:
    answer = client_as("viewer").post("/calculations/water/", {"temperature_c": "98,6 °F"})
    expected = calculations.run("water", {"temperature_c": 37.0})["viscosity_pa_s"]
    assert raw_result(text_of(answer))["viscosity_pa_s"] == pytest.approx(expected, rel=1e-12)


def test_what_cannot_be_read_is_said_beside_the_field_and_kept(client_as: SignIn) -> None:
    client = client_as("viewer")
    for typed in ("35 kg", "1,234.5", "NaN", "🙂", "9" * 400, "--3"):
        answer = client.post("/calculations/water/", {"temperature_c": typed})
        page = text_of(answer)
        assert answer.status_code == 422, typed
        assert beside(page, "f-temperature-c"), typed
        assert f'value="{typed}"' in page
        assert "The result as JSON" not in page


def test_a_refusal_of_the_physics_stands_beside_the_tube_it_means(client_as: SignIn) -> None:
    typed = form_of("flow") | {"tubes.1.bore_m": "2.8"}
    page = text_of(client_as("viewer").post("/calculations/flow/", typed))
    found = re.search(r'id="f-tubes-1-bore-m-error">(.*?)</p>', page)
    assert found is not None
    assert "0.0028" in found[1]
    assert 'value="2.8"' in page


def test_a_missing_group_is_said_at_the_group(client_as: SignIn) -> None:
    typed = {key: value for key, value in form_of("drying").items() if not key.startswith("air.")}
    page = text_of(client_as("viewer").post("/calculations/drying/", typed))
    assert re.search(r'id="f-air-error">[^<]*none is assumed', page)


def test_every_unreadable_field_is_named_at_once(client_as: SignIn) -> None:
    typed = form_of("gas-flow") | {"bore_m": "wide", "length_m": "long"}
    page = text_of(client_as("viewer").post("/calculations/gas-flow/", typed))
    assert beside(page, "f-bore-m")
    assert beside(page, "f-length-m")


def test_an_emptied_row_of_a_table_is_gone(client_as: SignIn) -> None:
    typed = form_of("uncertainty")
    first = {key: "" for key in typed if key.startswith("components.0.")}
    page = text_of(client_as("viewer").post("/calculations/uncertainty/", typed | first))
    assert len(raw_result(page)["shares"]) == len(catalogue.find("uncertainty").EXAMPLE["components"]) - 1


def test_a_csv_file_is_read_as_a_log(client_as: SignIn) -> None:
    file = SimpleUploadedFile("log.csv", b"time_min;temperature_c\n0;85,0\n10;85,0\n", "text/csv")
    page = text_of(client_as("viewer").post("/calculations/a0/", {"log": file}))
    assert raw_result(page)["a0_s"] == pytest.approx(600 * 10**0.5, rel=1e-9)


def test_a_wrong_line_of_a_log_is_named_by_its_number(client_as: SignIn) -> None:
    answer = client_as("viewer").post(
        "/calculations/window/", {"log": "0, 30\n10, hot\n", "low": "20", "high": "40"}
    )
    assert answer.status_code == 422
    assert "line 2" in beside(text_of(answer), "f-log")


def test_a_case_can_come_in_the_address_and_as_json(client_as: SignIn) -> None:
    case = '{"temperature_c": 50}'
    linked = client_as("viewer").get("/calculations/water/", {"case": case})
    posted = client_as("viewer").post("/calculations/water/from-json/", {"case": case})
    expected = json.loads(json.dumps(calculations.run("water", {"temperature_c": 50})))
    assert raw_result(text_of(linked)) == raw_result(text_of(posted)) == expected


def test_broken_json_is_refused_in_words_and_kept(client_as: SignIn) -> None:
    answer = client_as("viewer").post("/calculations/water/from-json/", {"case": '{"temperature_c": 50'})
    page = text_of(answer)
    assert answer.status_code == 422
    assert "This is not JSON" in page
    assert "{&quot;temperature_c&quot;: 50</textarea>" in page


def test_an_unknown_key_is_named(client_as: SignIn) -> None:
    answer = client_as("viewer").get("/calculations/water/", {"case": '{"temperature_c": 50, "salt": 1}'})
    assert answer.status_code == 422
    assert "salt" in text_of(answer)


def test_pictures_come_as_svg_and_png(client_as: SignIn) -> None:
    client = client_as("viewer")
    svg = client.get("/calculations/water/picture.svg")
    png = client.post("/calculations/water/picture.png", {"case": '{"temperature_c": 50}'})
    assert svg.content.startswith(b"<?xml")
    assert svg.headers["Content-Disposition"] == 'attachment; filename="lumenward-water.svg"'
    assert png.content.startswith(b"\x89PNG")


def test_other_pictures_are_not_there(client_as: SignIn) -> None:
    for kind in ("gif", "SVG"):
        assert client_as("viewer").get(f"/calculations/water/picture.{kind}").status_code == 404


def test_a_calculation_without_a_picture_offers_none(client_as: SignIn) -> None:
    assert client_as("viewer").get("/calculations/merkle/picture.svg").status_code == 404
    assert "--plot" not in text_of(client_as("viewer").get("/calculations/merkle/"))


def test_an_unknown_calculation_is_refused_in_words(client_as: SignIn) -> None:
    answer = client_as("viewer").get("/calculations/astrology/")
    assert answer.status_code == 404
    assert "no calculation named" in text_of(answer)


@pytest.mark.parametrize(
    "address", ["/calculations/", "/calculations/flow/", "/calculations/flow/picture.svg"]
)
def test_a_stranger_is_led_to_the_door(client_as: SignIn, address: str) -> None:
    answer = client_as("stranger").get(address)
    assert answer.status_code == 302
    assert answer.headers["Location"].startswith("/sign-in/?next=%2Fcalculations")


def test_a_charts_numbers_stand_in_one_row_a_place_where_all_series_share_their_places() -> None:
    shared = Chart(
        question="?", x_label="t", y_label="y",
        series=[Series(name="a", x=[1, 2], y=[3, None]), Series(name="b", x=[1, 2], y=[5, 6])],
    )  # fmt: skip
    assert results.chart_table(shared).rows == [["1", "3", "5"], ["2", "none", "6"]]
    apart = Chart(
        question="?", x_label="t", y_label="y",
        series=[Series(name="a", x=[1], y=[3]), Series(name="b", x=[2], y=[6])],
    )  # fmt: skip
    assert results.chart_table(apart).rows == [["a", "1", "3"], ["b", "2", "6"]]
