"""Who says which number: gathered, converted, and the strictest one decides."""

from __future__ import annotations

from typing import Any

import pytest
from one_cycle import library, policy

from lumenward.equipment.common import Stated
from lumenward.equipment.endoscope import EndoscopeModel
from lumenward.equipment.fittings import Cabinet, ConnectorSet, Detergent, Disinfectant
from lumenward.equipment.policy import Policy
from lumenward.journey.numbers import STEPS, deciding, floor_for_channels, floor_s, pair_at, targets_for
from lumenward.journey.target import NEVER_DEFAULT

MODEL = library().model("sanderling-28")


def stated(step: str, value: float, unit: str, **how: Any) -> Stated:
    fields = {
        "step": step,
        "quantity": "duration",
        "bound": "floor",
        "value": value,
        "unit": unit,
        "page": "p. 1",
    }
    return Stated.model_validate(fields | how)


def model_saying(*states: Stated) -> EndoscopeModel:
    return MODEL.model_copy(update={"ifu": MODEL.ifu.model_copy(update={"states": list(states)})})


def policy_saying(*states: Stated) -> Policy:
    return policy().model_copy(update={"states": list(states)})


SILENT = model_saying()
NOTHING = policy_saying()


def test_where_nobody_speaks_a_default_with_its_source_decides_a_duration() -> None:
    floor = floor_s(SILENT, NOTHING, "flush")
    assert floor is not None
    assert (floor.value, floor.basis, floor.source) == (95, "default", "common practice, no source")


def test_a_shorter_number_of_the_ifu_silences_the_default() -> None:
    floor = floor_s(model_saying(stated("flush", 1, "min")), NOTHING, "flush")
    assert floor is not None
    assert (floor.value, floor.unit, floor.basis) == (60, "s", "IFU")


def test_a_policy_lengthens_what_the_ifu_asks_for_and_never_shortens_it() -> None:
    model = model_saying(stated("dry", 10, "min"))
    longer = floor_s(model, policy_saying(stated("dry", 15, "min")), "dry")
    shorter = floor_s(model, policy_saying(stated("dry", 5, "min")), "dry")
    assert longer is not None
    assert shorter is not None
    assert (longer.value, longer.basis, shorter.value, shorter.basis) == (900, "policy", 600, "IFU")


def test_nothing_that_could_hurt_has_a_default() -> None:
    for step in STEPS:
        for target in targets_for(SILENT, NOTHING, step):
            assert target.basis != "default" or target.quantity not in NEVER_DEFAULT


def test_a_number_for_one_channel_is_not_another_s() -> None:
    model = model_saying(stated("flush", 120, "s", channel="air"), stated("flush", 60, "s"))
    floors = [floor_s(model, NOTHING, "flush", channel) for channel in ("air", "water", None)]
    assert [floor and floor.value for floor in floors] == [120, 60, 60]
    slowest = floor_for_channels(model, NOTHING, "flush", ["water", "air"])
    assert slowest is not None
    assert slowest.value == 120


def test_a_number_for_one_method_is_not_another_s() -> None:
    model = model_saying(
        stated("leak-test", 60, "s", method="machine"), stated("leak-test", 30, "s", method="wet"),
        stated("leak-test", 20, "s"),
    )  # fmt: skip
    floors = {m: floor_s(model, NOTHING, f"leak-test-{m}") for m in ("wet", "dry", "machine")}
    assert {m: f and f.value for m, f in floors.items()} == {"wet": 30, "dry": 20, "machine": 60}
    by_hand = model_saying(
        stated("hld", 15, "min", method="manual"), stated("hld", 9, "min", method="machine")
    )
    assert [f and f.value for r in ("manual", "machine") for f in [floor_s(by_hand, NOTHING, "hld", route=r)]] == [
        900, 540,
    ]  # fmt: skip


def test_units_are_brought_to_one_per_quantity() -> None:
    model = model_saying(
        stated("flush", 0.1, "L", quantity="volume"),
        stated("alcohol", 70, "%", quantity="concentration"),
        stated("store", 3, "d", quantity="life", bound="ceiling"),
        stated("dry", 160, "kPa", quantity="pressure", bound="ceiling"),
    )
    found = {t.quantity: (t.value, t.unit) for s in ("flush", "alcohol", "hang", "dry") for t in
             targets_for(model, NOTHING, s) if t.basis == "IFU"}  # fmt: skip
    assert found["volume"] == (pytest.approx(100), "mL")
    assert found["concentration"] == (pytest.approx(700_000), "ppm")
    assert found["life"] == (72, "h")
    assert found["pressure"] == (160, "kPa")


def test_each_brush_pass_count_names_its_page() -> None:
    passes = [t for t in targets_for(MODEL, NOTHING, "brush", "suction") if t.quantity == "count"]
    assert {t.basis for t in passes} == {"IFU"}
    assert all("p. " in t.source for t in passes)


def disinfectant(thing_id: str = "opa-055") -> Disinfectant:
    found = library().get("disinfectants", thing_id)
    assert isinstance(found, Disinfectant)
    return found


def test_only_a_listed_pair_gives_a_contact_time() -> None:
    label = disinfectant()
    floors = [floor_s(SILENT, NOTHING, "hld", label=label, temperature_c=t) for t in (19.9, 20, 25, 25.1)]
    assert [floor and floor.value for floor in floors] == [None, 720, 720, None]
    assert pair_at(label, "manual", 27) is None
    machine = pair_at(label, "machine", 27)
    assert machine is not None
    assert machine.time_s == 300


def test_of_two_pairs_that_hold_the_one_meant_for_this_temperature_counts() -> None:
    cool = disinfectant().pairs[0]
    warm = cool.model_copy(update={"time_s": 300, "temperature_low_c": 24, "temperature_high_c": 30})
    label = disinfectant().model_copy(update={"pairs": [cool, warm]})
    assert [pair and pair.time_s for t in (23.9, 24, 25, 26) for pair in [pair_at(label, "manual", t)]] == [
        720, 300, 300, 300,
    ]  # fmt: skip


def test_labels_speak_of_rinses_reuse_lives_and_temperatures() -> None:
    rinses = deciding(targets_for(SILENT, NOTHING, "final-rinse", label=disinfectant()), "count", "floor")
    life = deciding(targets_for(SILENT, NOTHING, "charge", label=disinfectant()), "life", "ceiling")
    wash = library().get("detergents", "reedwash")
    assert isinstance(wash, Detergent)
    low = deciding(targets_for(SILENT, NOTHING, "detergent", label=wash), "temperature", "floor")
    assert [t and (t.value, t.basis) for t in (rinses, life, low)] == [
        (3, "label"),
        (336, "label"),
        (20, "label"),
    ]


def test_a_set_s_life_and_a_place_s_limit_come_from_label_and_policy_and_nowhere_else() -> None:
    kind = library().get("connector_sets", "set-gastro")
    tray = library().get("cabinets", "tray-1")
    assert isinstance(kind, ConnectorSet)
    assert isinstance(tray, Cabinet)
    mute_kind = kind.model_copy(update={"life_h": None})
    mute = policy().model_copy(update={"connector_set_life_h": None, "hang_times": policy().hang_times[:2]})
    assert targets_for(SILENT, mute, "connector-set", label=mute_kind) == []
    assert targets_for(SILENT, mute, "hang", label=tray) == []
    hang = deciding(targets_for(SILENT, policy(), "hang", label=tray), "life", "ceiling")
    assert hang is not None
    assert (hang.value, hang.basis) == (3, "policy")


def test_a_step_outside_the_vocabulary_is_an_error_of_the_programmer() -> None:
    with pytest.raises(KeyError):
        targets_for(SILENT, NOTHING, "polish")


def test_what_is_remembered_of_one_policy_is_not_said_of_its_like() -> None:
    shorter, longer = policy_saying(stated("dry", 5, "min")), policy_saying(stated("dry", 15, "min"))
    values = [floor_s(SILENT, one, "dry") for one in (shorter, longer, shorter)]
    assert [found.value for found in values if found] == [300, 900, 300]


def test_a_list_of_numbers_belongs_to_whoever_asked_for_it() -> None:
    first = targets_for(SILENT, NOTHING, "flush")
    first.clear()
    assert targets_for(SILENT, NOTHING, "flush")


def test_no_source_says_the_word_label_twice() -> None:
    labels = [*library().detergents, *library().disinfectants]
    assert {one.on_label.removeprefix(one.name).lower().count("label") for one in labels} == {1}
