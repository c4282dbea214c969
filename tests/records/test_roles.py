"""One table says who may do what; every kind of event stands in it."""

from __future__ import annotations

import pytest

from lumenward.journey.kinds import KINDS
from lumenward.records.roles import MAY, ROLES, SET_UP, allowed, may, needed_for, refuse_kind

HANDS = ("leak_tested", "channel_brushed", "hld_started", "machine_cycle_ended", "dried", "stored")


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_of_event_needs_a_right_that_somebody_has(kind) -> None:
    needed = needed_for(kind)
    assert any(allowed(role, needed) for role in (*ROLES, SET_UP)), needed


def test_a_viewer_records_nothing() -> None:
    assert all(refuse_kind("viewer", "Vera", kind) is not None for kind in KINDS)
    assert MAY["see"] == MAY["calculate"] == frozenset(ROLES)


def test_the_shell_sets_up_the_house_and_touches_no_endoscope() -> None:
    in_cycle = [kind.name for kind in KINDS.values() if kind.in_cycle]
    assert all(refuse_kind(SET_UP, "Set-up", kind) is not None for kind in in_cycle)
    assert refuse_kind(SET_UP, "Set-up", "person_added") is None
    assert refuse_kind(SET_UP, "Set-up", "released") is not None


@pytest.mark.parametrize("kind", HANDS)
def test_work_on_an_endoscope_is_for_technician_and_lead(kind) -> None:
    assert [role for role in ROLES if refuse_kind(role, "X", kind) is None] == ["technician", "lead"]


def test_a_refusal_names_the_person_the_role_and_who_may() -> None:
    found = refuse_kind("engineer", "Egon Pale", "hold_lifted")
    assert found is not None
    assert found.message == "Egon Pale (engineer) may not record hold lifted."
    assert found.hint == "Allowed for: infection prevention, lead."


def test_a_page_cannot_ask_for_a_right_that_is_not_in_the_table() -> None:
    with pytest.raises(KeyError):
        may("fly")


def test_somebody_without_a_role_may_nothing() -> None:
    assert not any(allowed("", right) for right in MAY)
