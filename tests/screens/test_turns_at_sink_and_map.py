"""The turns of the clamps are the same at the sink and on the channel map."""

from __future__ import annotations

from urllib.parse import urlencode

import pytest
from django.http import QueryDict
from planned_house import House, house_policy, library

from lumenward.quantities import show_duration
from lumenward.screens.channels.figures import VOLUMES
from lumenward.screens.channels.plans import plan_for
from lumenward.screens.channels.question import read


@pytest.mark.parametrize("model", ["sanderling-28", "turnstone-42", "phalarope-37", "whimbrel-38"])
def test_the_map_shows_the_turns_that_the_flush_shows(model: str) -> None:
    house = House()
    drawing = house.step(model, "flush").drawing
    assert drawing is not None and drawing["turns"]
    pump = next(sink.pump for sink in library().sinks if sink.id == "sink-1")
    coldest = min(one.temperature_low_c for one in library().detergents)
    asked = QueryDict(urlencode({"pump": pump, "c": f"{coldest:g}"}))
    question = read(house.library, house.library.model(model), asked)
    assert question is not None
    plan = plan_for(question, VOLUMES, house_policy())
    assert [turn.duration for turn in plan.turns] == [
        show_duration(turn["seconds"]) for turn in drawing["turns"]
    ]
    for shown, turn in zip(plan.turns, drawing["turns"], strict=True):
        assert (
            shown.address
            == question.only(tuple(port for port in question.clamps if port not in turn["shut"])).address
        )
