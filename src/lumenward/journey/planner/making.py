"""`make_plan`: the whole plan of one endoscope's cycle at one station, as data."""

from __future__ import annotations

from datetime import datetime

from lumenward.journey.event import Event
from lumenward.journey.plan import Plan, PlannedStep, progress
from lumenward.journey.planner import codes, drawing, running, standing
from lumenward.journey.planner.bench import Bench, set_up
from lumenward.journey.planner.order import steps_of
from lumenward.journey.states import World


def make_plan(
    world: World, endoscope_id: str, station_id: str, now: datetime, zone: str, *, again: bool = False
) -> Plan:
    """Return the plan of the cycle that is under way, or of the one that would begin now.

    The cycle of a ready endoscope is over: its plan has nothing left to do, unless `again` asks for the next one.
    `station_id` is a sink of the library, `now` an aware instant, `zone` the house's time zone. Raises Refusal
    `unknown-endoscope`, `unknown-station`, `not-in-library`.
    """
    bench = set_up(world, endoscope_id, station_id, now, zone, again=again)
    steps = steps_of(bench)
    acts = _acts(bench)
    return Plan(
        endoscope=bench.endoscope.id,
        endoscope_name=bench.endoscope.name,
        model=bench.model.id,
        model_name=bench.model.name,
        family=bench.model.family,
        station=bench.sink.id,
        cycle=bench.cycle.id if bench.cycle else "",
        policy=f"{bench.policy.name}, edition {bench.policy.edition}",
        ifu=bench.ifu,
        made_at=now.isoformat(),
        steps=steps,
        acts=[act.model_dump(mode="json") for act in acts],
        clocks=running.clocks_of(bench),
        codes=codes.codes_of(bench, steps),
        channels=drawing.channel_map(bench),
        held=standing.held(bench),
        standing=standing.said(bench),
        again=bench.cycle is not None and bench.endoscope.stage == "ready",
        lifted=_lifted(bench, steps, acts),
    )


def _acts(bench: Bench) -> list[Event]:
    """Return the cycle's events and the tests of charges made for it, in their order."""
    return sorted([*bench.acts, *_tests(bench)], key=lambda act: act.order)


def _tests(bench: Bench) -> list[Event]:
    """Return the passed tests made at this station since cleaning began: a test belongs to a charge, not a cycle."""
    since = bench.cycle.cleaning_started_at if bench.cycle else None
    if since is None:
        return []
    found = [
        bench.world.event(test.event)
        for charge in bench.world.charges()
        for test in charge.tests
        if test.result == "pass" and test.at >= since
    ]
    return [event for event in found if event is not None and event.station == bench.sink.id]


def _lifted(bench: Bench, steps: list[PlannedStep], acts: list[Event]) -> str:
    """Return the act that stopped this cycle, where it led to a hold and the endoscope is held no more."""
    stopped = progress(steps, acts, bench.now).stopped
    act = next((act for act in acts if act.id == stopped), None)
    if act is None or bench.endoscope.stage == "held":
        return ""
    holds_by_itself = act.kind == "held" or act.body.get("result") in ("leak", "damage seen")
    return stopped if holds_by_itself else ""
