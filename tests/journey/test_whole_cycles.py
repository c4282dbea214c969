"""A whole cycle of every model goes through, and folds to the states one would say aloud."""

from __future__ import annotations

import pytest
from one_cycle import MODELS, Unit

MACHINE = ("sanderling-28", "turnstone-42", "dunlin-22", "redshank-23")


@pytest.mark.parametrize("model", MODELS)
def test_a_whole_cycle_by_hand_is_legal_for_every_model(model: str) -> None:
    unit = Unit(model).to("released")
    endoscope = unit.world.endoscope("e1")
    assert endoscope is not None
    assert (endoscope.stage, endoscope.place, endoscope.slot, endoscope.uses) == ("ready", "cabinet-1", 3, 1)


@pytest.mark.parametrize("model", MACHINE)
def test_a_whole_cycle_by_machine_is_legal(model: str) -> None:
    unit = Unit(model, route="machine").to("taken")
    cycle = unit.world.cycle(unit.cycle)
    assert cycle is not None
    assert cycle.closed_at is not None
    assert cycle.released_by == "ana"
