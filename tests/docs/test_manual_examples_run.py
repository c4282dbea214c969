"""What the manual shows to type can be typed: shell lines are run, Python lines are compared."""

from __future__ import annotations

import doctest
import io
import json
import re
import shlex
import shutil
import sys
from collections.abc import Iterator
from importlib.resources import files
from pathlib import Path

import pytest

from lumenward.calculations import find
from lumenward.cli.shell import run
from lumenward.screens.manual import pages

DEMO = Path(str(files("lumenward.demo")))
NOT_RUN = {
    "lumenward serve": "serves until it is stopped",
    "lumenward evidence": "runs the evidence tests, which run by themselves",
    "lumenward bench": "measures for minutes",
    "curl": "needs a server and a key",
}
ANSWERED_BY_STATE = {
    "lumenward person add": "already-added",
    "lumenward demo load": "not-empty",
    "lumenward demo remove": "not-a-demo",
    "lumenward check --head": "bad-head",
}
"""Lines that a furnished house with real people refuses, and how."""


def shell_lines() -> Iterator[tuple[str, str]]:
    for page in (*pages.pages().values(), pages.index()):
        for block in re.findall(r"```console\n(.*?)```", page.text, re.DOTALL):
            for line in block.splitlines():
                if line.startswith("$ "):
                    yield page.name, line[2:]


LINES = sorted(set(shell_lines()))


def starts(line: str, table: dict[str, str]) -> str:
    return next((answer for front, answer in table.items() if line.startswith(front)), "")


def parts_of(line: str) -> tuple[list[str], str]:
    """Return the words after `lumenward` and what is piped in."""
    front, _, rest = line.rpartition("| ")
    said = shlex.split(front)[1] if front else ""
    words = shlex.split(rest.split(" > ")[0])
    assert words[0] == "lumenward"
    return words[1:], said


@pytest.fixture
def bench(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    shutil.copytree(DEMO / "library", tmp_path / "library")
    shutil.copy(DEMO / "policy.toml", tmp_path / "policy.toml")
    (tmp_path / "case.json").write_text(json.dumps(find("flow").EXAMPLE))
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_the_manual_shows_shell_lines_of_every_group() -> None:
    shown = " ".join(line for _, line in LINES)
    assert all(
        f"lumenward {group}" in shown for group in ("calc", "library", "policy", "person", "demo", "check")
    )


@pytest.mark.parametrize(("page", "line"), [one for one in LINES if not starts(one[1], NOT_RUN)])
def test_a_shell_line_of_the_manual_runs(
    page: str, line: str, house: object, bench: Path, monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    words, said = parts_of(line)
    given = said or ("2580\n" if "pin" in words else "heron at the river bend\n")
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(given.encode())))
    expected = starts(line, ANSWERED_BY_STATE)
    code = run([*words, "--json"] if expected and "--json" not in words else words)
    printed = capsys.readouterr()
    if expected:
        assert json.loads(printed.out)["error"]["code"] == expected
    else:
        assert code == 0, printed.err or printed.out
    if "--plot" in words:
        assert (bench / "flow.svg").stat().st_size > 1000


@pytest.mark.parametrize("name", [name for name, page in pages.pages().items() if ">>> " in page.text])
def test_the_python_lines_of_a_page_answer_as_shown(name: str) -> None:
    blocks = re.findall(r"```python\n(.*?)```", pages.pages()[name].text, re.DOTALL)
    shown = "\n".join(block for block in blocks if ">>> " in block)
    test = doctest.DocTestParser().get_doctest(shown, {}, name, f"docs/{name}.md", 0)
    assert test.examples
    outcome = doctest.DocTestRunner(verbose=False, optionflags=doctest.NORMALIZE_WHITESPACE).run(test)
    assert outcome.failed == 0
