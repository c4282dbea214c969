"""The connector set comes off."""

from __future__ import annotations

from lumenward.journey.plan import PlannedStep
from lumenward.journey.planner.bench import Bench


def build(bench: Bench) -> list[PlannedStep]:
    """Return the disconnecting; nothing for a model without channels."""
    if not bench.channels:
        return []
    return [
        PlannedStep(
            key="disconnect",
            group="Disconnect",
            title="Take the connector set off",
            say=["Wipe the outside with a fresh, lint-free cloth.", "Rinse the set and hang it to drain."],
            kind="disconnected",
            carry={"connector_set": "connected.connector_set"},
            confirm="The set is off",
        )
    ]
