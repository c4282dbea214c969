"""The numbers of a plan: each with its basis, none below what anybody stated, none invented."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest
from planned_house import House, house_policy, library, policies

from lumenward.equipment.common import Stated
from lumenward.equipment.library import Library
from lumenward.hydraulics.assemble import channel_volumes_m3
from lumenward.journey import needs
from lumenward.journey.numbers import floor_for_channels, targets_for
from lumenward.journey.plan import PlannedStep
from lumenward.journey.planner.turning import MOST_TURNS, SWITCH_S, Turning, _turning, turning
from lumenward.journey.target import NEVER_DEFAULT, Target

MODELS = [model.id for model in library().endoscopes]
STEPS_OF = {
    "leak-test": ["leak-test-wet", "leak-test-dry", "leak-test-machine"], "aspirate": ["aspirate"], "flush": ["flush"],
    "purge": ["purge"], "rinse": ["rinse"], "final-rinse": ["final-rinse"], "dry": ["dry"], "exterior": ["clean"],
}  # fmt: skip


def steps() -> Iterator[tuple[str, PlannedStep]]:
    house = House()
    for model in MODELS:
        for step in house.plan(model).steps:
            yield model, step


def without(library: Library, model: str, **change: object) -> Library:
    """Return the library with one model changed."""
    models = [one.model_copy(update=change) if one.id == model else one for one in library.endoscopes]
    return library.model_copy(update={"endoscopes": models})


def test_every_target_has_a_basis_and_a_source() -> None:
    found = [target for _, step in steps() for target in step.targets]
    assert len(found) > 100
    assert all(target.basis and target.source.strip() for target in found)


def test_no_number_that_could_hurt_is_a_default() -> None:
    for model, step in steps():
        idle = [t for t in step.targets if t.basis == "default" and t.quantity in NEVER_DEFAULT]
        assert not idle, (model, step.key)


@pytest.mark.parametrize("policy", sorted(policies()))
def test_every_timed_step_lasts_at_least_as_long_as_anybody_states(policy: str) -> None:
    house = House(policy=policies()[policy])
    timed = 0
    for model in library().endoscopes:
        for step in house.plan(model.id).steps:
            for name in STEPS_OF.get(step.key.split("-")[0] if "purge" in step.key else step.key, []):
                if name.startswith("leak") and name.removeprefix("leak-test-") not in model.ifu.leak_methods:
                    continue
                for channel in [*step.body.get("channels", []), None]:
                    floors = [
                        t.value
                        for t in targets_for(model, house.policy, name, channel)
                        if (t.quantity, t.bound) == ("duration", "floor") and t.basis != "default"
                    ]
                    assert step.timer is not None and step.timer.floor_s >= max(floors, default=0.0)
                    timed += 1
    assert timed > 100


def test_a_computed_number_lengthens_a_step_and_never_shortens_it(monkeypatch: pytest.MonkeyPatch) -> None:
    house = House()
    stated = house.step("turnstone-42", "flush").timer
    assert stated is not None

    def answer(value: float) -> float:
        target = Target(
            step="flush", quantity="duration", bound="floor", value=value, unit="s", basis="computed", source="test"
        )  # fmt: skip
        monkeypatch.setattr(
            "lumenward.journey.planner.bench.computed_targets",
            lambda bench, step: [target] if step == "flush" else [],
        )
        timer = house.step("turnstone-42", "flush").timer
        assert timer is not None
        return timer.floor_s

    assert answer(5.0) == 120.0
    assert answer(500.0) == 500.0


def test_a_rinse_is_as_long_as_the_flush_where_nobody_states_it() -> None:
    long_flush = Stated(step="flush", quantity="duration", bound="floor", value=200, unit="s", page="p. 3")
    policy = house_policy().model_copy(update={"states": [long_flush]})
    model = library().model("dunlin-22")
    ifu = model.ifu.model_copy(update={"states": [s for s in model.ifu.states if s.step != "rinse"]})
    house = House(policy=policy, library=without(library(), "dunlin-22", ifu=ifu))
    rinse = house.step("dunlin-22", "rinse")
    assert rinse.timer is not None and rinse.timer.floor_s == 200
    assert next(t.source for t in rinse.targets if t.value == 200).startswith("as long as the flush (policy")


def test_a_rinse_lasts_what_the_ifu_says_where_it_says_so() -> None:
    rinse = House().step("turnstone-42", "rinse")
    assert rinse.timer and rinse.timer.floor_s == max(
        t.value for t in rinse.targets if t.quantity == "duration"
    )
    assert 120 in [t.value for t in rinse.targets if t.basis == "IFU"]
    assert not [t for t in rinse.targets if t.source.startswith("as long as the flush")]


def test_the_turns_of_the_clamps_together_last_as_long_as_the_flush() -> None:
    flush = House().step("turnstone-42", "flush")
    assert flush.timer is not None and flush.drawing is not None
    turns = flush.drawing["turns"]
    assert 2 <= len(turns) <= MOST_TURNS
    assert sum(turn["seconds"] for turn in turns) == flush.timer.floor_s
    assert all(turn["seconds"] > SWITCH_S and turn["seconds"] == round(turn["seconds"]) for turn in turns)
    ports = {channel.id: channel.port for channel in library().model("turnstone-42").channels}
    served = {channel for turn in turns for channel in turn["focus"]}
    assert served == set(ports)
    for turn in turns:
        assert turn["shut"] and not set(turn["shut"]) & {ports[channel] for channel in turn["focus"]}
    assert turns[0]["then"].startswith("shut ") and "open " in turns[0]["then"] and turns[-1]["then"] == ""
    said = [line for line in flush.say if line.startswith(("First ", "Then "))]
    assert len(said) == len(turns) and turns[0]["shut_words"] in said[0] and turns[0]["then"] in said[1]


def found_turns(model_id: str, pump_id: str = "pump-750") -> Turning:
    model, pump = library().model(model_id), next(one for one in library().pumps if one.id == pump_id)
    kind = next(one for one in library().connector_sets if model_id in one.fits)
    return turning(model, kind, pump, 35, 10, "flush", house_policy())


@pytest.mark.parametrize(
    "model", ["sanderling-28", "turnstone-42", "phalarope-37", "whimbrel-38", "dunlin-22"]
)
@pytest.mark.parametrize("pump", ["pump-750", "pump-500"])
def test_the_turns_are_few_keep_the_ifu_s_pressures_and_beat_all_open_by_more_than_the_changes(
    model: str, pump: str
) -> None:
    found = found_turns(model, pump)
    assert found.plan is not None and 1 <= len(found.parts) <= MOST_TURNS
    stated = floor_for_channels(
        library().model(model), house_policy(), "flush", needs.channels(library().model(model))
    )
    least = stated.value if stated else 0.0
    assert sum(turn.seconds for turn in found.lasting(least)) >= least
    capped = found.plan.settings
    for turn in found.plan.turns:
        assert capped.allowed[capped.open.index(turn.open)]
    for channel in library().model(model).channels:
        held = channel_volumes_m3(library().model(model))[channel.id]
        assert found.plan.volume_m3(channel.tubes[0]) >= 10 * held * (1 - 1e-6)
    if len(found.parts) > 1 and found.plan.all_open_s is not None:
        assert max(found.seconds, least) < found.plan.all_open_s


def test_a_pump_too_strong_for_every_setting_is_named_with_the_way_on() -> None:
    model = library().model("plover-12")
    weak = [one.model_copy(update={"max_pressure_kpa": 60}) for one in model.channels]
    flush = House(library=without(library(), model.id, channels=weak)).step(model.id, "flush")
    assert any(
        "no setting of the clamps keeps every channel within the pressure" in line for line in flush.say
    )


def test_without_the_optimiser_the_narrow_channels_go_first_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    def missing(*_: object) -> None:
        raise ImportError("scipy")

    monkeypatch.setattr("lumenward.journey.planner.turning._clamp_plan", missing)
    _turning.cache_clear()
    try:
        flush, too_strong = (House().step(one, "flush") for one in ("whimbrel-38", "turnstone-42"))
    finally:
        _turning.cache_clear()
    assert flush.timer is not None and flush.drawing is not None and too_strong.drawing is not None
    first, second = flush.drawing["turns"]
    assert first["focus"] == ["air", "water", "aux-water"] and first["shut"] == ["suction", "biopsy"]
    assert second["shut"] == [] and first["then"] == "open suction valve and biopsy port"
    assert 0 < first["seconds"] < first["seconds"] + second["seconds"] == flush.timer.floor_s
    assert too_strong.drawing["turns"] == []  # its narrow channels alone would go above 140 kPa


def test_what_a_cup_should_catch_stands_beside_the_flush() -> None:
    flush = House().step("turnstone-42", "flush")
    assert flush.drawing is not None
    turns = flush.drawing["turns"]
    rows = {(row["turn"], row["outlet"]): row for turn in turns for row in turn["expect"]}
    assert flush.drawing["expect"] == turns[0]["expect"]
    for place, turn in enumerate(turns, start=1):
        runs = rows[place, "elevator-wire"]["ml"] > 0
        assert runs == ("elevator-wire" in turn["focus"])
    assert any(row["look_ml"] < row["ml"] for (_, outlet), row in rows.items() if outlet == "elevator-wire")
    assert rows[1, "nozzle"]["name"] == "air and water" and rows[1, "nozzle"]["seconds"] == 10


def test_without_a_connector_set_nothing_is_computed_and_the_stated_numbers_stand() -> None:
    bare = library().model_copy(update={"connector_sets": []})
    flush = House(library=bare).step("turnstone-42", "flush")
    assert flush.timer is not None and flush.timer.floor_s == 120.0
    assert flush.drawing is not None and flush.drawing["turns"] == flush.drawing["expect"] == []
    assert not [target for target in flush.targets if target.basis == "computed"]


def test_a_stated_volume_lengthens_the_turns() -> None:
    house = House()
    model = library().model("turnstone-42")
    dry_ifu = model.ifu.model_copy(update={"states": [s for s in model.ifu.states if s.quantity != "volume"]})
    other = House(library=without(library(), "turnstone-42", ifu=dry_ifu))

    def whole(one: House) -> float:
        drawing = one.step("turnstone-42", "flush").drawing
        assert drawing is not None
        return float(sum(turn["seconds"] for turn in drawing["turns"]))

    assert whole(house) > whole(other)


def test_drying_says_which_channel_dries_last_and_its_bound_never_shortens_the_floor() -> None:
    dry = House().step("turnstone-42", "dry")
    computed = next(target for target in dry.targets if target.basis == "computed")
    assert "elevator wire" in computed.source and 60 < computed.value < 600
    assert dry.timer is not None and dry.timer.floor_s == 900


def test_without_the_dew_point_of_the_air_no_drying_time_is_computed() -> None:
    dryers = [one.model_copy(update={"dew_point_c": None}) for one in library().dryers]
    house = House(library=library().model_copy(update={"dryers": dryers}))
    assert not [t for t in house.step("turnstone-42", "dry").targets if t.basis == "computed"]


def test_without_channels_the_rinse_lasts_as_its_ifu_says_or_has_no_timer() -> None:
    decided = House().step("wagtail-34", "rinse")
    assert decided.timer and decided.timer.floor_s == 95 and decided.body["channels"] == []
    nothing = house_policy().model_copy(update={"states": []})
    by_ifu = House(policy=nothing).step("wagtail-34", "rinse").timer
    assert by_ifu and by_ifu.floor_s == 30
    model = library().model("wagtail-34")
    silent = model.ifu.model_copy(update={"states": [s for s in model.ifu.states if s.step != "rinse"]})
    house = House(library=without(library(), "wagtail-34", ifu=silent), policy=nothing)
    rinse = house.step("wagtail-34", "rinse")
    assert rinse.timer is None and not rinse.targets


def test_nothing_is_computed_for_a_model_without_channels() -> None:
    steps_of = House().plan("wagtail-34").steps
    assert not [
        t for step in steps_of if step.key != "leak-test" for t in step.targets if t.basis == "computed"
    ]


def test_the_leak_step_says_what_each_gauge_cannot_see() -> None:
    leak = House().step("sanderling-28", "leak-test")
    seen = [t for t in leak.targets if t.quantity == "visible leak"]
    assert [t.basis for t in seen] == ["computed"] * 2 and seen[0].value < seen[1].value
    # Dial of 0.5 kPa, 0.35 L at 24 kPa for 60 s, 0.2 K: 3.29 V/dt sqrt(2 u_p^2 + 2 (p u_T / T)^2), worked out by hand.
    hold, kpa = 60, 24
    spread = ((500 / 12**0.5) ** 2 + ((101325 + kpa * 1000) * 0.2 / 293.15) ** 2) ** 0.5
    assert seen[1].value == pytest.approx(3.29 * 0.35e-3 / hold * 2**0.5 * spread * 592.15, rel=2e-3)
    assert "assumed steady to 0.2 K" in seen[1].source
    assert (
        sum("this gauge cannot see a leak below" in line and "in 60\u202fs" in line for line in leak.say) == 2
    )


def test_a_missing_volume_or_digit_is_named_and_not_invented() -> None:
    hollow = without(library(), "sanderling-28", inner_volume_leak_l=None)
    leak = House(library=hollow).step("sanderling-28", "leak-test")
    assert any("the library lacks the volume inside the Sanderling 28" in line for line in leak.say)
    assert not [t for t in leak.targets if t.basis == "computed"]
    meters = [one.model_copy(update={"digit_kpa": None}) for one in library().meters]
    house = House(library=library().model_copy(update={"meters": meters}))
    assert any("lacks the digit of this gauge" in line for line in house.step("plover-12", "leak-test").say)


def test_drying_is_blocked_where_the_ifu_states_no_highest_pressure() -> None:
    model = library().model("sanderling-28")
    channels = [
        c.model_copy(update={"max_pressure_kpa": None, "pressure_page": None}) for c in model.channels
    ]
    ifu = model.ifu.model_copy(update={"states": [s for s in model.ifu.states if s.quantity != "pressure"]})
    house = House(library=without(library(), "sanderling-28", channels=channels, ifu=ifu))
    dry = house.step("sanderling-28", "dry")
    assert "highest air pressure is not entered" in dry.blocked
    assert not [
        t for step in house.plan("sanderling-28").steps for t in step.targets if t.quantity == "pressure"
    ]
    leak = house.step("sanderling-28", "leak-test")
    assert any("No test pressure is entered" in line for line in leak.say)
    gauge = next(entry for entry in leak.entries if entry.key == "pressure_kpa")
    assert gauge.low is None and gauge.high is None and not gauge.required


def test_the_drying_pressure_is_that_of_the_weakest_channel_and_stronger_air_says_why_not() -> None:
    house = House()
    model = library().model("sanderling-28")
    weak = [c.model_copy(update={"max_pressure_kpa": 100.0}) if c.id == "air" else c for c in model.channels]
    house = House(library=without(library(), "sanderling-28", channels=weak))
    dry = house.step("sanderling-28", "dry")
    pressure = next(entry for entry in dry.entries if entry.key == "pressure_kpa")
    assert pressure.high == 100.0
    dryers = {choice.code: choice.why_not for choice in dry.entries[0].choices}
    assert "at most 100 kPa" in dryers["DRYER-1"] and dryers["DRYER-2"] == ""


def test_each_mark_of_the_sink_has_its_row_in_the_dose_table_and_doses_rise_with_the_water() -> None:
    dose = House().step("sanderling-28", "dose-sink")
    assert {table.detergent for table in dose.dosings} == {"reedwash", "mereclean"}
    for table in dose.dosings:
        fills = [row[0] for row in table.rows]
        assert fills == sorted(fills) and {float(mark.value) for mark in table.marks} <= set(fills)
        assert all(row[3] < row[4] for row in table.rows)
        assert [row[2] for row in table.rows] == sorted(row[2] for row in table.rows)
        assert table.low_ppm < table.high_ppm and table.basis == "label"


def test_sixty_millilitres_go_into_fifteen_litres() -> None:
    """60 mL in 15 L: a published worked dose (training page, read). Sink 1's low line holds 0.5 x 0.4 x 0.075 m3."""
    tables = House().step("sanderling-28", "dose-sink").dosings
    table = next(one for one in tables if one.detergent == "reedwash")
    row = next(row for row in table.rows if row[0] == 0.075)
    assert row[1:3] == [pytest.approx(15.0), pytest.approx(60.0)]
    assert row[3] < 1e6 * 60 / 15060 < row[4]


def test_each_container_of_a_second_dose_has_its_own_table() -> None:
    dose = House().step("sanderling-28", "dose-container")
    assert {table.vessel for table in dose.dosings} == {"container-1", "container-2"}
    plain = House(policy=policies()["seven-days"]).plan("sanderling-28")
    assert policies()["seven-days"].second_container == ("dose-container" in [s.key for s in plain.steps])


def test_the_contact_time_follows_the_charge_and_its_temperature() -> None:
    house = House()
    rows = house.step("sanderling-28", "hld-out").timer.rows  # type: ignore[union-attr]
    floors = {house.world.charge(row.value).disinfectant: row.floor_s for row in rows}  # type: ignore[union-attr]
    assert floors["opa-055"] == 720.0 and floors["improved-20"] == 480.0 and floors["glut-24"] == 2700.0


def test_no_label_is_a_word_of_software_or_a_player_sign() -> None:
    banned = re.compile(
        r"^(next|submit|ok|okay|start|stop|go|continue|save|done|play|pause|cancel)\W*$", re.I
    )
    for model, step in steps():
        labels = [step.confirm, step.instead_label, step.skip_words]
        labels += [step.timer.start] if step.timer else []
        labels += [t.confirm for t in step.troubles] + [t.label for t in step.troubles]
        wrong = [label for label in labels if label and (banned.match(label) or re.search("[▶■⏸►]", label))]
        assert not wrong, (model, step.key, wrong)
        assert step.title and step.confirm and all(t.say and t.confirm for t in step.troubles)


def test_lines_are_short_enough_to_be_read_with_gloves_on() -> None:
    for model, step in steps():
        for line in step.say:
            sentences = re.split(r"(?<=[.:;])\s", line)
            assert max(len(part.split()) for part in sentences) <= 26, (model, step.key, line)
        assert len(step.say) <= 8, (model, step.key)


def test_words_on_screens_speak_of_channels() -> None:
    for _, step in steps():
        shown = " ".join([step.title, *step.say, *step.cautions, step.confirm])
        assert "lumen" not in shown.lower()
