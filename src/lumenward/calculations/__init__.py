"""Every calculation by name: one input model, one output model, one function, three doors.

Each name is a module of this room with `Input` (a CaseInput), `Output` (a CaseOutput), `run(case) -> Output`,
`TITLE`, `LEAVES_OUT` (what the model does not know, in sentences), `EXAMPLE` (a valid input as a dict) and, where
a picture helps, `picture(case, result) -> Chart`. Modules are imported only when asked for.
"""

from __future__ import annotations

from collections.abc import Mapping
from importlib import import_module
from types import ModuleType
from typing import Any

from lumenward.calculations.case import parse
from lumenward.quantities import Refusal

NAMES: dict[str, str] = {
    name: f"lumenward.calculations.{name.replace('-', '_')}"
    for name in (
        "water", "flow", "friction", "annulus", "clamp-plan", "clamp-schedule", "diagnose", "washout", "film",
        "rinse", "gas-flow", "moist-air", "drying", "leak", "sink-volume", "dose", "cooling", "mixing", "carry-over",
        "a0", "window", "inactivation", "uncertainty", "merkle", "merkle-verify",
    )
}  # fmt: skip


def find(name: str) -> ModuleType:
    """Return the module of the calculation `name`, or raise a Refusal that lists what exists."""
    if name not in NAMES:
        raise Refusal(
            "unknown-calculation",
            f"There is no calculation named {name!r}.",
            "name",
            "One of: " + ", ".join(NAMES),
        )
    return import_module(NAMES[name])


def run(name: str, data: Mapping[str, Any]) -> dict[str, Any]:
    """Run one calculation on a plain mapping and return a plain mapping; raise Refusal on bad input."""
    module = find(name)
    result = module.run(parse(module.Input, data))
    answer: dict[str, Any] = result.model_dump(mode="json", by_alias=True)
    return answer


def schema(name: str) -> dict[str, Any]:
    """Return the JSON Schemas of input and output of one calculation."""
    module = find(name)
    return {
        "input": module.Input.model_json_schema(by_alias=True),
        "output": module.Output.model_json_schema(by_alias=True),
    }
