"""The form as the page shows it: each field with its text and the sentence beside it."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from lumenward.quantities import Refusal
from lumenward.screens.calculations.shape import Node
from lumenward.screens.calculations.texts import Texts, rows_in, sentence


@dataclass(frozen=True)
class Field:
    """One input with its label."""

    node: Node
    name: str
    text: str
    error: str

    @property
    def template(self) -> str:
        """Return how it is drawn."""
        return f"calculations/parts/{self.node.kind}.html"

    @property
    def id(self) -> str:
        """Return the id of its element."""
        return "f-" + re.sub(r"[^a-zA-Z0-9]+", "-", self.name)

    @property
    def described(self) -> str:
        """Return the ids of what explains it."""
        ids = [f"{self.id}-hint"] if self.node.hint else []
        return " ".join([*ids, f"{self.id}-error"] if self.error else ids)


@dataclass(frozen=True)
class Group(Field):
    """Fields under one heading."""

    parts: tuple[Field, ...] = ()


@dataclass(frozen=True)
class Table(Field):
    """Rows of fields; the last row is empty and waits for the next."""

    rows: tuple[tuple[Field, ...], ...] = ()


def fill(
    nodes: Iterable[Node], texts: Texts, errors: Mapping[str, str], prefix: str = ""
) -> tuple[Field, ...]:
    """Return the form of `nodes` with texts and errors in place."""
    return tuple(_part(node, texts, errors, prefix + node.key) for node in nodes)


def _part(node: Node, texts: Texts, errors: Mapping[str, str], path: str) -> Field:
    error = errors.get(path, "")
    if node.kind == "group":
        return Group(node, path, "", error, fill(node.children, texts, errors, f"{path}."))
    if node.kind == "table":
        rows = rows_in(texts, path)
        numbers = [*rows, (rows[-1] + 1) if rows else 0]
        made = tuple(fill(node.children, texts, errors, f"{path}.{row}.") for row in numbers)
        return Table(node, path, "", error, made)
    return Field(node, path, texts.get(path, ""), error)


def place(refusal: Refusal, nodes: Iterable[Node], texts: Texts) -> dict[str, str]:
    """Return the refusal's sentence under the field it names, or under "" when no field of the form is meant."""
    path = re.sub(r"\[(\d+)\]", r".\1", refusal.field.split(" line ")[0])
    path = re.sub(r"^csv$", "log", path)
    known = set(_paths(nodes, texts, ""))
    while path and path not in known:
        path = path.rpartition(".")[0]
    return {path: sentence(refusal)}


def _paths(nodes: Iterable[Node], texts: Texts, prefix: str) -> Iterable[str]:
    for node in nodes:
        path = prefix + node.key
        yield path
        if node.kind == "group":
            yield from _paths(node.children, texts, f"{path}.")
        elif node.kind == "table":
            for row in rows_in(texts, path):
                yield from _paths(node.children, texts, f"{path}.{row}.")
