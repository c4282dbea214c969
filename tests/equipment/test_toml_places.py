"""Every key of a TOML text is found on the line where it stands."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

import lumenward
from lumenward.equipment.toml_places import line_of, places

HOME = Path(lumenward.__file__).parent
SHIPPED = sorted([*HOME.glob("demo/**/*.toml"), *HOME.glob("equipment/policies/*.toml")])

CROOKED = '''# a comment with [brackets] and = signs
title = "a # no comment, \\"quoted\\" = ]"
"quoted key" = 1
a.b.c = 2 # dotted
numbers = [ # opening
  1, [2,
  3], # deep
]
text = """
[not.a.table]
x = 1
"""
literal = \'\'\'
y = 2\'\'\'
inline = { p = { q = 1 }, r = [ { s = 2 },
   { s = 3 } ] }

[tables.one]
k = 2026-01-01
[[many]]
k = 1
[[many]]
k = 2
[many.inner]
deep = true
[[many.list]]
z = 1
[[many.list]]
z = 2
'''


def leaves(value: Any, path: tuple[str | int, ...] = ()) -> Iterator[tuple[str | int, ...]]:
    yield path
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from leaves(inner, (*path, key))
    if isinstance(value, list):
        for i, inner in enumerate(value):
            yield from leaves(inner, (*path, i))


@pytest.mark.parametrize(
    ("path", "line"),
    [
        (("title",), 2),
        (("quoted key",), 3),
        (("a", "b", "c"), 4),
        (("numbers", 1, 1), 7),
        (("text",), 9),
        (("literal",), 13),
        (("inline", "p", "q"), 15),
        (("inline", "r", 1, "s"), 16),
        (("tables", "one", "k"), 19),
        (("many", 0, "k"), 21),
        (("many", 1), 22),
        (("many", 1, "inner", "deep"), 25),
        (("many", 1, "list", 1, "z"), 29),
    ],
)
def test_a_crooked_text_is_read_line_by_line(path: tuple[str | int, ...], line: int) -> None:
    assert places(CROOKED)[path] == line


def test_every_value_of_the_crooked_text_has_a_place() -> None:
    assert set(leaves(tomllib.loads(CROOKED))) - {()} <= set(places(CROOKED))


@pytest.mark.parametrize("path", SHIPPED, ids=lambda p: p.name)
def test_every_key_of_a_shipped_file_stands_on_the_line_found_for_it(path: Path) -> None:
    text = path.read_text("utf-8")
    lines, found = text.splitlines(), places(text)
    for leaf in leaves(tomllib.loads(text)):
        if leaf:
            key = next(part for part in reversed(leaf) if isinstance(part, str))
            assert leaf in found
            assert key in lines[found[leaf] - 1] or isinstance(leaf[-1], int)


@given(st.integers(0, 30), st.text(st.characters(exclude_categories=["Cc", "Cs"]), max_size=30))
def test_blank_lines_and_comments_move_a_key_and_nothing_else(above: int, words: str) -> None:
    text = f"# {words}\n" + "\n" * above + "key = [1]\n"
    assert places(text)[("key",)] == above + 2


def test_a_missing_key_is_shown_at_the_thing_it_is_missing_from() -> None:
    assert line_of(places(CROOKED), ("many", 1, "list", 0, "missing")) == 26
