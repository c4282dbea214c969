"""Clocks: at a limit, just inside it and just outside it, and who says so."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from one_cycle import START, library, policy

from lumenward.equipment import fittings
from lumenward.equipment.fittings import Cabinet, ConnectorSet, Disinfectant
from lumenward.journey import clocks
from lumenward.journey.numbers import floor_s
from lumenward.quantities import Refusal

SECOND = timedelta(seconds=1)
MODEL = library().model("sanderling-28")


def of(shelf: str, thing_id: str) -> object:
    return library().get(shelf, thing_id)


def words(clock: clocks.Clock, at: datetime) -> tuple[str, str, str]:
    return clock.word(at - SECOND), clock.word(at), clock.word(at + SECOND)


def test_the_delay_is_soon_at_45_minutes_and_late_only_after_60() -> None:
    clock = clocks.delay(MODEL, policy(), START)
    assert words(clock, START + timedelta(minutes=45)) == ("in time", "soon", "soon")
    assert words(clock, START + timedelta(minutes=60)) == ("soon", "soon", "late")


def test_a_stricter_ifu_shortens_the_delay_and_its_warning() -> None:
    stricter = MODEL.model_copy(
        update={
            "ifu": MODEL.ifu.model_copy(
                update={
                    "states": [
                        s.model_copy(update={"value": 30}) if s.step == "delay" else s
                        for s in MODEL.ifu.states
                    ]
                }
            )
        }
    )
    clock = clocks.delay(stricter, policy(), START)
    assert (clock.limit_at - START, clock.soon_at - START) == (timedelta(minutes=30), timedelta(minutes=22.5))
    assert clock.basis == "IFU"


def test_contact_time_is_reached_at_its_floor_and_not_a_second_before() -> None:
    label = of("disinfectants", "opa-055")
    assert isinstance(label, Disinfectant)
    floor = floor_s(MODEL, policy(), "hld", label=label, temperature_c=20)
    assert floor is not None
    clock = clocks.contact(START, floor)
    assert clock.sense == "floor"
    assert words(clock, START + timedelta(minutes=12)) == ("running", "reached", "reached")


def test_hang_time_takes_the_shorter_of_policy_and_cabinet() -> None:
    cabinet = of("cabinets", "cabinet-1")
    assert isinstance(cabinet, Cabinet)
    clock = clocks.hang(MODEL, policy(), cabinet, START)
    assert clock is not None
    assert (clock.limit_at - START, clock.basis) == (timedelta(days=7), "policy")
    shorter = clocks.hang(MODEL, policy(), cabinet.model_copy(update={"validated_h": 72}), START)
    assert shorter is not None
    assert (shorter.limit_at - START, shorter.basis) == (timedelta(hours=72), "label")
    assert words(shorter, START + timedelta(hours=72)) == ("soon", "soon", "late")


def test_a_place_nobody_states_a_limit_for_has_no_clock() -> None:
    cabinet = of("cabinets", "cabinet-3")
    assert isinstance(cabinet, Cabinet)
    silent = policy().model_copy(update={"hang_times": policy().hang_times[:1]})
    assert clocks.hang(MODEL, silent, cabinet, START) is None


def test_a_connector_set_lives_24_hours_from_its_first_use() -> None:
    kind = of("connector_sets", "set-gastro")
    assert isinstance(kind, ConnectorSet)
    clock = clocks.connector_set(MODEL, policy(), kind, START)
    assert clock is not None
    assert words(clock, START + timedelta(hours=24)) == ("soon", "soon", "late")


def test_a_charge_lives_as_many_days_of_24_hours_as_its_label_says() -> None:
    label = of("disinfectants", "opa-055")
    assert isinstance(label, Disinfectant)
    clock = clocks.reuse(label, START)
    assert clock is not None
    assert clock.limit_at - START == timedelta(days=14)
    assert clocks.reuse(label.model_copy(update={"reuse_d": None}), START) is None


def test_a_lot_is_usable_to_the_end_of_its_printed_day_on_the_wall() -> None:
    clock = clocks.expiry(date(2026, 3, 28), START, ZoneInfo("Europe/London"))
    end = datetime.fromisoformat("2026-03-29T00:00:00+00:00")
    assert words(clock, end) == ("soon", "soon", "late")


def test_opened_strips_end_with_their_life_or_their_printed_date_whichever_is_first() -> None:
    label = of("strips", "strip-opa")
    assert isinstance(label, fittings.TestStrip)
    zone = ZoneInfo("Europe/London")
    long_dated = clocks.strips(label, date(2027, 1, 1), START, zone)
    assert long_dated.limit_at - START == timedelta(days=90)
    assert clocks.strips(label, date(2026, 3, 5), START, zone).name == "expiry"


def test_a_time_without_an_offset_is_refused_by_name() -> None:
    with pytest.raises(Refusal, match="does not say its offset"):
        clocks.utc(datetime(2026, 3, 1, 8, 0))


def test_time_left_turns_negative_after_the_limit() -> None:
    clock = clocks.delay(MODEL, policy(), START)
    assert clock.left_s(START + timedelta(minutes=50)) == 600
    assert clock.left_s(START + timedelta(minutes=61)) == -60
