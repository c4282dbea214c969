"""The connector set goes on, and after the last purge comes off."""

from __future__ import annotations

from lumenward.journey.plan import Entry, PlannedStep, Trouble
from lumenward.journey.planner import drawing, usable, words
from lumenward.journey.planner.bench import Bench


def build(bench: Bench) -> list[PlannedStep]:
    """Return the connecting; nothing for a model without channels."""
    if not bench.channels:
        return []
    return [
        PlannedStep(
            key="connect",
            group="Connect",
            title="Connect every port",
            say=_say(bench),
            cautions=["An open wide line takes the flow from the narrow ones."],
            targets=bench.targets("connector-set"),
            entries=[
                Entry(
                    key="connector_set", label="Connector set", kind="scan", scans="connector-set",
                    choices=usable.connector_sets(bench), remember=True,
                ),
                words.tick("ports_on", f"Connected: {words.ports(bench)}"),
            ],
            kind="connected",
            confirm="Every port is connected",
            troubles=[_does_not_fit(), words.damaged("connect")],
            drawing=drawing.of(bench, bench.channels, connecting=True),
        )
    ]  # fmt: skip


def _say(bench: Bench) -> list[str]:
    capped = words.ports(bench, capped=True)
    lines = [f"Ports of this model: {words.ports(bench)}."]
    if capped:
        lines.append(f"Open for aspiration, capped for the flush: {capped}.")
    return bench.say("connect", lines, ["Clamp every line of the set that leads nowhere."])


def _does_not_fit() -> Trouble:
    return Trouble(
        key="connect-does-not-fit",
        label="The set does not fit, or leaks",
        say=["Take another set of the same kind.", "Throw away a cracked or soft one; say so to the lead."],
        kind="work_interrupted",
        body={"step": "connect", "reason": "the connector set did not fit or leaked"},
        back_to="connect",
        confirm="Another set is taken",
    )
