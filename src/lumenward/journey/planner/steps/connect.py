"""The connector set goes on, and after the last purge comes off."""

from __future__ import annotations

from lumenward.journey.plan import Entry, PlannedStep, Trouble
from lumenward.journey.planner import drawing, usable, words
from lumenward.journey.planner.bench import Bench
from lumenward.journey.target import Target


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
            targets=_targets(bench),
            entries=[
                Entry(
                    key="connector_set", label="Connector set", kind="scan", scans="connector-set",
                    choices=usable.connector_sets(bench), remember=True,
                ),
                words.tick("ports_on", f"On: {words.in_a_row(port.name for port in bench.model.ports)}"),
            ],
            kind="connected",
            confirm="Every port is connected",
            troubles=[_does_not_fit(), words.damaged("connect")],
            drawing=drawing.of(bench, bench.channels, connecting=True),
        )
    ]  # fmt: skip


def _say(bench: Bench) -> list[str]:
    capped = [port.name for port in bench.model.ports if port.capped_for_flush]
    lines = [f"Ports of this model: {words.in_a_row(port.name for port in bench.model.ports)}."]
    lines.append("Clamp every line of the set that leads nowhere.")
    if capped:
        lines.append(f"Leave open for aspiration, capped for the flush: {words.in_a_row(capped)}.")
    return lines + bench.advice("connect")


def _targets(bench: Bench) -> list[Target]:
    found: dict[Target, None] = {}
    for kind in bench.library.connector_sets:
        if bench.model.id in kind.fits:
            for target in bench.targets("connector-set", label=kind):
                found[target] = None
    return list(found)


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
