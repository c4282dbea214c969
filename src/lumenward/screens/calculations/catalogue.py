"""Which calculations there are, in the groups of the room where they are used."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from importlib.util import find_spec
from types import ModuleType

from lumenward import calculations
from lumenward.quantities import Refusal

GROUPS: dict[str, tuple[str, ...]] = {
    "Channels": (
        "flow", "clamp-plan", "clamp-schedule", "diagnose", "washout", "rinse", "film", "friction", "annulus", "water",
    ),
    "Air and drying": ("drying", "gas-flow", "moist-air", "leak"),
    "Detergent and sink": ("dose", "sink-volume", "cooling", "mixing"),
    "Disinfection and logs": ("carry-over", "a0", "window", "inactivation"),
    "Look-back": ("reach", "association"),
    "Numbers and proofs": ("uncertainty", "merkle", "merkle-verify"),
}  # fmt: skip


@dataclass(frozen=True)
class Entry:
    """One calculation as the list shows it."""

    name: str
    title: str
    purpose: str


def find(name: str) -> ModuleType:
    """Return a calculation's module, or raise the Refusal of an unknown one."""
    if name not in available():
        hint = "One of: " + ", ".join(available())
        raise Refusal("unknown-calculation", f"There is no calculation named {name[:40]!r}.", "name", hint)
    return calculations.find(name)


@cache
def available() -> tuple[str, ...]:
    """Return the names that can be run here, in the order of the registry."""
    return tuple(name for name, module in calculations.NAMES.items() if find_spec(module))


def groups() -> list[tuple[str, list[Entry]]]:
    """Return every calculation under its group; what no group names stands last."""
    named = {name for names in GROUPS.values() for name in names}
    rest = tuple(name for name in available() if name not in named)
    all_groups = {**GROUPS, "Others": rest}
    found = (
        (title, [entry(name) for name in names if name in available()]) for title, names in all_groups.items()
    )
    return [(title, entries) for title, entries in found if entries]


def entry(name: str) -> Entry:
    """Return name, title and the one sentence that says what it is for."""
    module = find(name)
    return Entry(name, module.TITLE, purpose(module))


def purpose(module: ModuleType) -> str:
    """Return the first sentence of a calculation's own description."""
    return " ".join((module.__doc__ or "").strip().split("\n\n")[0].split())
