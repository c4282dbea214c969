"""What a scan at this station can mean: every code of things usable here, and why one may not be used."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

from lumenward.journey.plan import Choice, Entry, PlannedStep
from lumenward.journey.planner.bench import Bench

Code = dict[str, Any]


def codes_of(bench: Bench, steps: Iterable[PlannedStep]) -> dict[str, Code]:
    """Return `{code: {kind, id, label, usable, why_not}}`.

    A code that several steps know is usable where any of them takes it: the step's own choices say which.
    """
    found: dict[str, Code] = {bench.endoscope.code: _endoscope(bench)} if bench.endoscope.code else {}
    for kind, choice in _choices(steps):
        if not choice.code:
            continue
        known = found.get(choice.code)
        if known is None or (not known["usable"] and not choice.why_not):
            found[choice.code] = _code(kind, choice)
    found.setdefault(
        bench.sink.code,
        {"kind": "sink", "id": bench.sink.id, "label": bench.sink.name, "usable": True, "why_not": ""},
    )
    return found


def _endoscope(bench: Bench) -> Code:
    return {
        "kind": "endoscope",
        "id": bench.endoscope.id,
        "label": bench.endoscope.name,
        "usable": True,
        "why_not": "",
    }


def _choices(steps: Iterable[PlannedStep]) -> Iterator[tuple[str, Choice]]:
    for step in steps:
        for entry in (*step.entries, *(entry for trouble in step.troubles for entry in trouble.entries)):
            if entry.kind == "scan":
                yield from _of(entry)


def _of(entry: Entry) -> Iterator[tuple[str, Choice]]:
    for choice in entry.choices:
        yield entry.scans, choice


def _code(kind: str, choice: Choice) -> Code:
    return {
        "kind": kind,
        "id": choice.value,
        "label": choice.label,
        "usable": not choice.why_not,
        "why_not": choice.why_not,
    }
