"""A library is loaded whole, or refused with file, line, key, what was found and what is allowed."""

from __future__ import annotations

import json
import re
import shutil
import tempfile
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import lumenward
from lumenward.equipment import loader
from lumenward.equipment.library import Library
from lumenward.ledger import canonical_json
from lumenward.quantities import Refusal

DEMO = Path(lumenward.__file__).parent / "demo" / "library"
GASTRO = "endoscopes/sanderling-28.toml"
DUODENO = "endoscopes/turnstone-42.toml"
FAMILIES = {
    "gastroscope", "colonoscope", "duodenoscope", "echoendoscope", "bronchoscope", "cystoscope", "ureteroscope",
    "rhino-laryngoscope",
}  # fmt: skip

# file, text found once in it (first occurrence), text put in its place, code, key, what the message or hint must say
WRONG: list[tuple[str, str, str, str, str, list[str]]] = [
    (GASTRO, "high_risk = false", "high_risk = false\ncolour = 3", "unknown-key", "colour", ["no key 'colour'"]),
    (GASTRO, "bore_mm = 3.5", "bore_m = 3.5", "unknown-key", "tubes[0].bore_m", ["Did you mean bore_mm"]),
    (GASTRO, "length_m = 1.6", "length_m = '1.6'", "wrong-type", "tubes[0].length_m", ["a number", "without quotes"]),
    (GASTRO, "length_m = 1.6", "length_m = true", "wrong-type", "tubes[0].length_m", ["True"]),
    (GASTRO, "length_m = 1.6", "length_m = nan", "not-finite", "tubes[0].length_m", ["finite", "nan"]),
    (GASTRO, "length_m = 1.6", "length_m = inf", "not-finite", "tubes[0].length_m", ["inf"]),
    (GASTRO, "length_m = 1.6", "length_m = 1600", "too-high", "tubes[0].length_m", ["Did you mean 1.6?"]),
    (GASTRO, "length_m = 1.6", "length_m = -1", "too-low", "tubes[0].length_m", ["above 0", "found -1"]),
    (GASTRO, "bore_mm = 3.5", "bore_mm = 0.0035", "too-low", "tubes[0].bore_mm", ["Did you mean 3.5?"]),
    (GASTRO, "bore_mm = 3.5", "bore_mm = 3500", "too-high", "tubes[0].bore_mm", ["Did you mean 3.5?"]),
    (GASTRO, "working_length_mm = 1030", "working_length_mm = 1.03", "too-low", "working_length_mm", ["mean 1030?"]),
    (GASTRO, 'family = "gastroscope"', 'family = "telescope"', "not-allowed", "family", ["'gastroscope'", "telescope"]),
    (GASTRO, 'name = "Sanderling 28"\n', "", "missing", "name", ["'name' is missing"]),
    (GASTRO, 'gtin = "09501101530010"', 'gtin = "09501101530011"', "bad-check-digit", "gtin", ["mean 09501101530010"]),
    (GASTRO, 'gtin = "09501101530010"', "gtin = 9501101530010", "wrong-type", "gtin", ["text in quotes"]),
    (GASTRO, 'gtin = "09501101530010"', 'gtin = "950110"', "not-allowed", "gtin", ["GTIN of 14 digits"]),
    (GASTRO, 'gtin = "09501101530010"', 'gtin = "09501101530027"', "duplicate", "gtin", ["Sanderling 28"]),
    (GASTRO, ', page = "p. 34" }', " }", "missing", "channels[0].brush.page", ["'page' is missing"]),
    (GASTRO, 'page = "p. 18" },\n  { step = "leak-test"', 'page = "" },\n  { step = "leak-test"',
     "not-allowed", "ifu.states[2].page", ["at least 1 character"]),
    (GASTRO, 'tubes = ["air", "nozzle"]', 'tubes = ["ari", "nozzle"]', "not-in-library", "channels[2].tubes[0]",
     ["Did you mean air?"]),
    (GASTRO, 'tubes = ["air", "nozzle"]', 'tubes = ["air"]', "no-way-out", "channels[2].tubes", ["ends at 'N'"]),
    (GASTRO, 'tubes = ["air", "nozzle"]', 'tubes = ["nozzle", "air"]', "not-connected", "channels[2].tubes[0]",
     ["does not begin at 'a0'"]),
    (GASTRO, 'port = "air"', 'port = "airs"', "not-in-library", "channels[2].port", ["'airs'", "Did you mean air?"]),
    (GASTRO, 'node = "x0"', 'node = "y0"', "no-way-out", "ports[4].node", ["'y0'", "x0"]),
    (GASTRO, 'from = "N", to = "out"', 'from = "N", to = "tip"', "no-way-out", "tubes[3].to", ["not connected"]),
    (GASTRO, 'id = "air", from', 'id = "water", from', "duplicate", "tubes[4].id", ["'water' is there twice"]),
    (GASTRO, "diameter_mm = 5.0", "diameter_mm = 2.0", "brush-size", "channels[0].brush.diameter_mm", ["2.8 to 8.4"]),
    (GASTRO, "diameter_mm = 5.0", "diameter_mm = 5.5", "contradiction", "channels[0].brush.diameter_mm", ["5 mm"]),
    (GASTRO, 'code = "BR-50"', 'code = "BR-55"', "not-in-library", "channels[0].brush.code", ["Did you mean BR-50"]),
    (GASTRO, 'unbrushable_page = "p. 35"\n', "", "missing", "channels[2].brush", ["neither a brush nor the page"]),
    (GASTRO, 'pressure_page = "p. 52"\n', "", "missing", "channels[0].pressure_page", ["no page"]),
    (GASTRO, "max_pressure_kpa = 200", "max_pressure_kpa = 1500", "too-high", "channels[0].max_pressure_kpa", ["1500"]),
    (GASTRO, 'chemistries = ["opa"', 'chemistries = ["opaa"', "not-in-library", "ifu.chemistries[0]", ["mean opa?"]),
    (GASTRO, 'value = 24, unit = "kPa"', 'value = 12, unit = "kPa"', "contradiction", "ifu.states[3].value",
     ["12 kPa, lies below its floor, 18 kPa"]),
    (GASTRO, 'value = 18, unit = "kPa"', 'value = 160, unit = "kPa"', "too-high", "ifu.states[2].value",
     ["in mmHg, write 21.33"]),
    (GASTRO, 'value = 18, unit = "kPa"', 'value = 18, unit = "min"', "wrong-unit", "ifu.states[2].unit", ["kPa"]),
    (GASTRO, 'step = "purge", quantity', 'step = "puge", quantity', "unknown-step", "ifu.states[20].step",
     ["Did you mean purge?"]),
    (GASTRO, 'method = "wet"', 'method = "damp"', "not-allowed", "ifu.states[4].method", ["Known: dry, machine, wet"]),
    (GASTRO, 'channel = "suction"', 'channel = "sucktion"', "not-in-library", "ifu.states[9].channel", ["suction"]),
    (GASTRO, "dated = 2025-02-17", 'dated = "last week"', "wrong-type", "ifu.dated", ["a date like"]),
    (GASTRO, "tubes = [\n", "tubes = \n[", "not-toml", GASTRO, ["this is not TOML"]),
    (DUODENO, "wire_mm = 0.45", "wire_mm = 0.95", "too-high", "tubes[6].wire_mm", ["0.95 mm does not fit", "0.9 mm"]),
    (DUODENO, "eccentricity = 0.5", "eccentricity = 1.5", "too-high", "tubes[6].eccentricity", ["at most 1"]),
    ("sinks.toml", 'pump = "pump-750"', 'pump = "pump-75"', "not-in-library", "sinks[0].pump", ["mean pump-750?"]),
    ("sinks.toml", 'water = "utility"', 'water = "tap"', "not-in-library", "sinks[0].water", ["Known: critical"]),
    ("sinks.toml", 'code = "STN-SINK-2"', 'code = "STN-SINK-1"', "duplicate", "sinks[1].code", ["that of 'Sink 1'"]),
    ("sinks.toml", 'code = "STN-SINK-2"', 'code = "BASIN-1"', "duplicate", "basins[0].code", ["'Sink 2'"]),
    ("sinks.toml", 'code = "STN-SINK-2"', 'code = "STN SINK 2 "', "not-allowed", "sinks[1].code", ["at its ends"]),
    ("sinks.toml", 'code = "STN-SINK-2"', 'code = "STN\\nSINK"', "not-allowed", "sinks[1].code", ["control"]),
    ("sinks.toml", 'name = "Sink 2"', 'name = "Sink\\t2"', "not-allowed", "sinks[1].name", ["one line of plain text"]),
    ("sinks.toml", 'id = "sink-2"', 'id = "Sink 2"', "not-allowed", "sinks[1].id", ["digits and hyphens"]),
    ("sinks.toml", 'id = "container-1"', 'id = "sink-1"', "duplicate", "containers[0].id", ["'Sink 1'"]),
    ("sinks.toml", 'shape = "box"', 'shape = "round"', "not-allowed", "sinks[0].vessel", ["'box', 'tapered'"]),
    ("sinks.toml", "length_m = 0.5,", "length_m = 50,", "too-high", "sinks[0].vessel.length_m", ["Did you mean 0.5?"]),
    ("sinks.toml", "height_m = 0.28", "hight_m = 0.28", "missing", "sinks[1].vessel.height_m", ["'height_m'"]),
    ("sinks.toml", "fill_m = 0.14", "fill_m = 0.34", "too-high", "sinks[1].marks[1].fill_m", ["0.28 m"]),
    ("connectors.toml", 'fits = ["sanderling-28"]', 'fits = ["sanderling-29"]', "not-in-library",
     "connector_sets[0].fits[0]", ["Did you mean sanderling-28?"]),
    ("connectors.toml", 'port = "aux-water"', 'port = "balloon"', "not-in-library", "connector_sets[0].tubes[4].port",
     ["'sanderling-28'", "no port 'balloon'"]),
    ("pumps.toml", "flow_ml_min = 750", "flow_ml_min = 0.75", "too-low", "pumps[0].flow_ml_min", ["mean 750?"]),
    ("meters.toml", 'meter = "light-meter-1"', 'meter = "light-meter-2"', "not-in-library", "kits[0].meter",
     ["Did you mean light-meter-1?"]),
    ("meters.toml", "action = 200", "action = 100", "contradiction", "kits[0].action", ["100 lies below"]),
    ("meters.toml", 'meter = "colour-reader-1"', 'meter = "light-meter-1"', "wrong-unit", "kits[2].unit", ["RLU"]),
    ("washers.toml", 'chemistry = "glutaraldehyde"', 'chemistry = "bleach"', "not-in-library", "washers[1].chemistry",
     ["'bleach'"]),
    ("strips.toml", 'chemistry = "opa"', 'chemistry = "opo"', "not-in-library", "strips[0].chemistry", ["mean opa?"]),
    ("detergents.toml", "dilution_aim = 4", "dilution_aim = 6", "contradiction", "detergents[0].dilution_high", ["5"]),
    ("detergents.toml", "temperature_high_c = 40", "temperature_high_c = 104", "too-high",
     "detergents[0].temperature_high_c", ["80 C", "104"]),
    ("disinfectants.toml", "mec_percent = 0.3", "mec_percent = 0.6", "contradiction", "disinfectants[0].mec_percent",
     ["0.55 lies below"]),
    ("disinfectants.toml", "time_s = 720", "time_s = 0", "too-low", "disinfectants[0].pairs[0].time_s", ["above 0"]),
]  # fmt: skip


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return Path(shutil.copytree(DEMO, tmp_path / "library"))


def refusal_of(folder: Path) -> Refusal:
    with pytest.raises(Refusal) as caught:
        loader.load_library(folder)
    return caught.value


def test_the_demo_library_holds_a_model_of_each_family_and_what_they_need() -> None:
    library = loader.load_library(DEMO)
    assert sorted(model.family for model in library.endoscopes) == sorted(FAMILIES)
    assert [len(getattr(library, shelf)) for shelf in ("pumps", "sinks", "washers", "basins")] == [2, 4, 2, 3]
    assert {sink.vessel.shape for sink in library.sinks} == {"box", "tapered"}
    assert library.model("wagtail-34").channels == []


@pytest.mark.parametrize("wrong", WRONG, ids=lambda w: f"{w[0]} {w[4]} {w[3]}")
def test_a_wrong_file_is_refused_at_its_line_and_key(
    folder: Path, wrong: tuple[str, str, str, str, str, list[str]]
) -> None:
    name, old, new, code, field, words = wrong
    path = folder / name
    text = path.read_text("utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), "utf-8")
    library, refusals = loader.inspect_library(folder)
    assert library is None
    found = [refusal for refusal in refusals if (refusal.code, refusal.field) == (code, field)]
    assert found, [(r.code, r.field, r.message) for r in refusals]
    said = f"{found[0].message} {found[0].hint}"
    assert all(word in said for word in words), said
    file, line, _ = found[0].message.split(":", 2)
    assert (folder / file).is_file()
    assert 1 <= int(line) <= (folder / file).read_text("utf-8").count("\n") + 1


def test_the_line_named_is_the_line_of_the_fault(folder: Path) -> None:
    path = folder / GASTRO
    path.write_text(path.read_text("utf-8").replace("bore_mm = 3.5", "bore_mm = 0.0035"), "utf-8")
    refusal = refusal_of(folder)
    line = int(refusal.message.split(":")[1])
    assert "0.0035" in path.read_text("utf-8").splitlines()[line - 1]
    assert refusal.message.startswith(f"{GASTRO}:{line}: tubes[0].bore_mm: ")


def test_one_fault_in_one_file_leaves_no_library_at_all(folder: Path) -> None:
    (folder / "strips.toml").write_text('[[strips]]\nid = "x"\n', "utf-8")
    library, refusals = loader.inspect_library(folder)
    assert library is None
    assert len(refusals) > 1
    assert f"{len(refusals) - 1} more findings" in refusal_of(folder).hint


@pytest.mark.parametrize(
    ("content", "code", "line", "words"),
    [
        (b"", "empty", 1, "empty"),
        (b" \n\n", "empty", 1, "empty"),
        (b"[[pumps]]\nname = 'caf\xe9'\n", "not-utf-8", 2, "0xe9"),
        (b"[[pumps]\n", "not-toml", 1, "not TOML"),
        (b"[[pumps]]\nid = 'a'\nid = 'b'\n", "not-toml", 3, "not TOML"),
        (b"x = " + b"[" * 5000 + b"]" * 5000, "not-toml", 1, "not TOML"),
        (b"# " + b"x" * 1_000_001, "too-large", 1, "too many"),
        (b"pumps = 3\n", "wrong-type", 1, "a list in square brackets"),
        (b"pomps = []\n", "unknown-key", 1, "pumps"),
    ],
    ids=["empty", "blank", "latin-1", "syntax", "key twice", "deep", "huge", "no list", "other shelf"],
)
def test_a_file_that_is_no_library_file_is_refused(
    folder: Path, content: bytes, code: str, line: int, words: str
) -> None:
    (folder / "pumps.toml").write_bytes(content)
    refusal = refusal_of(folder)
    assert refusal.code == code
    assert refusal.message.startswith(f"pumps.toml:{line}: ")
    assert words in f"{refusal.message} {refusal.hint}"


def test_a_file_with_a_name_nobody_reads_is_refused_rather_than_ignored(folder: Path) -> None:
    (folder / "pumps.toml").rename(folder / "pump.toml")
    refusal = refusal_of(folder)
    assert (refusal.code, refusal.field) == ("unknown-file", "pump.toml")
    assert "Did you mean pumps.toml?" in refusal.hint


@settings(max_examples=80, deadline=None)
@given(data=st.data())
def test_a_file_spoilt_anywhere_gives_a_library_or_refusals_and_never_a_traceback(
    data: st.DataObject,
) -> None:
    text = (DEMO / "sinks.toml").read_text("utf-8")
    start = data.draw(st.integers(0, len(text)))
    end = data.draw(st.integers(start, min(len(text), start + 40)))
    put = data.draw(st.text(st.sampled_from("[]{}=,.#'\"\\\n \tabe019-+_😀\x00"), max_size=12))
    with tempfile.TemporaryDirectory() as name:
        folder = Path(shutil.copytree(DEMO, Path(name) / "library"))
        (folder / "sinks.toml").write_text(text[:start] + put + text[end:], "utf-8")
        library, refusals = loader.inspect_library(folder)
    assert (library is None) == bool(refusals)
    assert all(re.match(r"[a-z0-9/-]+\.toml:\d+: ", refusal.message) for refusal in refusals)


def test_a_missing_shelf_shows_at_whoever_needs_it(folder: Path) -> None:
    (folder / "waters.toml").unlink()
    assert refusal_of(folder).message.startswith("sinks.toml:")


@pytest.mark.parametrize("name", ["nowhere", "empty"])
def test_no_folder_and_an_empty_folder_are_refused(tmp_path: Path, name: str) -> None:
    (tmp_path / "empty").mkdir()
    assert refusal_of(tmp_path / name).code == "no-library"


def test_windows_line_ends_and_a_byte_order_mark_change_nothing(folder: Path) -> None:
    for path in folder.rglob("*.toml"):
        path.write_bytes(b"\xef\xbb\xbf" + path.read_bytes().replace(b"\n", b"\r\n"))
    assert loader.digest(loader.load_library(folder)) == loader.digest(loader.load_library(DEMO))


def test_a_document_gives_back_the_same_library_and_digest() -> None:
    library = loader.load_library(DEMO)
    document = json.loads(json.dumps(loader.as_document(library)))
    again = loader.library_from_document(document)
    assert again == library
    assert loader.digest(again) == loader.digest(library)


def test_the_digest_is_that_of_the_canonical_form_of_the_ledger() -> None:
    import hashlib

    library = loader.load_library(DEMO)
    canonical = canonical_json(loader.as_document(library))
    raw = canonical if isinstance(canonical, bytes) else canonical.encode()
    assert loader.digest(library) == hashlib.sha256(raw).hexdigest()


def test_one_changed_figure_changes_the_digest() -> None:
    library = loader.load_library(DEMO)
    document = loader.as_document(library)
    document["pumps"][0]["flow_ml_min"] = 751
    assert loader.digest(loader.library_from_document(document)) != loader.digest(library)


@pytest.mark.parametrize(
    ("change", "code", "field"),
    [
        ({"pumps": []}, "not-in-library", "sinks[0].pump"),
        ({"pomps": []}, "unknown-key", "pomps"),
        ({"pumps": 5}, "wrong-type", "pumps"),
        ({"pumps": [{"flow_ml_min": float("nan")}]}, "missing", "pumps[0].id"),
        ({"pumps": {1, 2}}, "not-json", "document"),
    ],
    ids=["dangling", "unknown key", "wrong type", "missing", "no JSON"],
)
def test_a_wrong_document_is_refused_by_its_key(change: dict[str, object], code: str, field: str) -> None:
    document = {**loader.as_document(loader.load_library(DEMO)), **change}
    with pytest.raises(Refusal) as caught:
        loader.library_from_document(document)
    assert (caught.value.code, caught.value.field) == (code, field)


def test_an_empty_library_is_a_library() -> None:
    assert loader.library_from_document({}) == Library()
