"""Checks against the world outside: what was expected, by whom, and what we get.

A file in `tests/evidence/` lists its checks in `CHECKS`; the test run asserts each one, and
`lumenward evidence` prints them as a table.
"""

from __future__ import annotations

import importlib.util
import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any


@dataclass(frozen=True)
class Check:
    """One figure of ours beside one figure of somebody else's.

    `ours` is called without arguments. `tolerance` is absolute unless `relative`; text and lists are compared
    for equality. `known` says how the expected value is known: `read`, `recalled`, `closed form`,
    `common practice, no source`, or `computed by NAME VERSION`.
    """

    topic: str
    name: str
    expected: Any
    ours: Callable[[], Any]
    tolerance: float
    source: str
    known: str
    relative: bool = False

    def measure(self) -> tuple[Any, float]:
        """Return our value and its deviation (absolute, or relative where the check says so; inf if unequal)."""
        value = self.ours()
        if isinstance(self.expected, bool) or not isinstance(self.expected, int | float):
            return value, 0.0 if value == self.expected else math.inf
        deviation = abs(float(value) - float(self.expected))
        return value, deviation / abs(float(self.expected)) if self.relative else deviation

    def assert_holds(self) -> None:
        """Fail with one sentence when the deviation is larger than the tolerance."""
        value, deviation = self.measure()
        sentence = f"{self}: expected {self.expected!r} ({self.source}), got {value!r}"
        assert deviation <= self.tolerance, sentence

    def __str__(self) -> str:
        return f"{self.topic}: {self.name}"


def load(folder: Path) -> Iterator[Check]:
    """Yield the checks of every file in `folder`, in file order."""
    for path in sorted(folder.glob("test_*.py")):
        spec = importlib.util.spec_from_file_location(f"lumenward_evidence_{path.stem}", path)
        if spec is None or spec.loader is None:
            continue
        module = importlib.util.module_from_spec(spec)
        spec.loader.exec_module(module)
        yield from getattr(module, "CHECKS", [])
