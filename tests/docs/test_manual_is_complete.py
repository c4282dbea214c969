"""The manual names everything there is: a missing heading fails here and says what to write."""

from __future__ import annotations

import ast
import importlib.util
import re
from pathlib import Path
from types import ModuleType

import pytest

from lumenward import calculations
from lumenward.cli import commands
from lumenward.equipment.loader import FILES, shipped_policies
from lumenward.equipment.policy import Policy
from lumenward.journey.kinds import KINDS
from lumenward.records.environment import VARIABLES
from lumenward.rulebook import RULES
from lumenward.screens import urls
from lumenward.screens.manual import pages

ROOT = Path(__file__).parents[2]
SCREEN_NAMES = {"door": "Sign-in", "setup": "Set-up"}
RENEW = "run: .venv/bin/python tools/manual_lists.py"


def lists() -> ModuleType:
    spec = importlib.util.spec_from_file_location("manual_lists", ROOT / "tools" / "manual_lists.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def headings(page: str) -> set[str]:
    return {section.title for section in pages.pages()[page].sections}


def test_every_setting_has_a_heading() -> None:
    assert set(VARIABLES) <= headings("settings"), RENEW


def test_every_command_has_a_heading() -> None:
    names = {
        f"lumenward {group} {name}".replace("  ", " ")
        for group, members in commands._COMMANDS.items()
        for name in members
    }
    assert names <= headings("commands"), f"{names - headings('commands')}; {RENEW}"


def test_every_screen_has_a_heading() -> None:
    there = [name for _, name in urls.SLICES if importlib.util.find_spec(f"lumenward.screens.{name}")]
    wanted = {SCREEN_NAMES.get(name, name.replace("_", "-").capitalize()) for name in there}
    assert wanted <= headings("screens"), f"docs/screens.md lacks {sorted(wanted - headings('screens'))}"


def test_every_rule_is_named_with_its_id_and_title() -> None:
    text = pages.pages()["rules"].text
    missing = [
        rule.id
        for rule in RULES.values()
        if f"`{rule.id}`" not in text or rule.title not in headings("rules")
    ]
    assert not missing, RENEW


def test_every_event_kind_has_a_heading() -> None:
    assert set(KINDS) <= headings("events"), f"{set(KINDS) - headings('events')}; {RENEW}"


@pytest.mark.parametrize("name", calculations.NAMES)
def test_every_calculation_has_a_heading_and_says_what_it_leaves_out(name: str) -> None:
    section = next((s for s in pages.pages()["calculations"].sections if s.title == name), None)
    assert section is not None, RENEW
    for sentence in calculations.find(name).LEAVES_OUT:
        assert sentence in section.text, RENEW


def test_every_error_code_of_the_source_is_listed() -> None:
    text = pages.pages()["errors"].text
    found = set(lists().codes())
    assert len(found) > 200
    missing = sorted(code for code in found if f"`{code}`" not in text)
    assert not missing, f"{missing}; {RENEW}"


def test_every_file_of_a_library_and_every_key_of_a_policy_is_described() -> None:
    equipment, policies = pages.pages()["equipment"].text, pages.pages()["policies"].text
    assert all(name in equipment for name in (*FILES, "endoscopes/*.toml"))
    assert not [key for key in Policy.model_fields if f"`{key}`" not in policies], RENEW
    assert all(f"`{policy_id}`" in policies for policy_id in shipped_policies())


def test_every_page_is_reached_from_the_first_one() -> None:
    linked = set(re.findall(r"\]\(([a-z-]+)\.md", pages.index().text))
    assert set(pages.pages()) <= linked


def test_every_link_between_pages_leads_to_a_heading() -> None:
    known = pages.pages()
    anchors = {name: {section.anchor for section in page.sections} for name, page in known.items()}
    anchors["index"] = set()
    for page in (*known.values(), pages.index()):
        for name, anchor in re.findall(r"\]\(([a-z-]+)\.md(?:#([a-z0-9_-]+))?\)", page.text):
            assert name in anchors, f"{page.name} links to {name}.md"
            assert not anchor or anchor in anchors[name], f"{page.name} links to {name}.md#{anchor}"


def test_the_readme_links_to_pages_that_are_there() -> None:
    for place in re.findall(r"\]\((docs/[\w/.-]+\.md)\)", (ROOT / "README.md").read_text("utf-8")):
        assert (ROOT / place).is_file(), place


def test_the_collector_of_error_codes_reads_all_the_ways_in_which_something_is_refused() -> None:
    source = """
raise Refusal("a" if x else "b", f"{n} is wrong.", "f")
desk.no("c", "No " + n)
Finding("d", ("k",), "Not so.")
"""
    assert dict(lists()._codes_in(ast.parse(source))) == {
        "a": "… is wrong.", "b": "… is wrong.", "c": "No …", "d": "Not so.",
    }  # fmt: skip
