"""The seam to the hydraulics: numbers computed for this endoscope, this pump and this water.

They stand beside the stated numbers with the basis "computed", and may lengthen a step, never shorten one. Where
geometry is missing the list is empty and the stated numbers stand alone.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from lumenward.journey.target import Target

if TYPE_CHECKING:
    from lumenward.journey.planner.bench import Bench


def computed_targets(bench: Bench, step: str) -> list[Target]:
    """Return the computed targets of a step; empty where nothing can be computed."""
    return []


def expected(bench: Bench) -> list[dict[str, Any]]:
    """Return what should leave each outlet into a cup; empty where nothing can be computed."""
    return []
