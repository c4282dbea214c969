"""What a command loads before it answers: counted, because seconds say more about the machine's other work."""

from __future__ import annotations

import json
import subprocess
import sys

import pytest

from lumenward import calculations

HEAVY = {"django", "scipy", "numba", "matplotlib", "granian", "biip", "weasyprint", "PIL", "ninja", "argon2"}
COUNT = (
    "import contextlib, io, json, sys\n"
    "from lumenward.cli.shell import run\n"
    "with contextlib.redirect_stdout(io.StringIO()):\n"
    "    code = run(sys.argv[1:])\n"
    "print(json.dumps([code, sorted(sys.modules)]))\n"
)


def loaded(*words: str, given: str = "") -> list[str]:
    """Run a command line in a process of its own and return the modules it loaded."""
    done = subprocess.run(
        [sys.executable, "-c", COUNT, *words], input=given, capture_output=True, text=True, check=True
    )
    code, modules = json.loads(done.stdout)
    assert code == 0, done.stderr
    return list(modules)


def test_the_flow_in_channels_loads_arrays_and_nothing_heavier() -> None:
    case = json.dumps(calculations.find("flow").EXAMPLE)
    modules = loaded("calc", "flow", given=case)
    packages = {name.partition(".")[0] for name in modules}
    assert not HEAVY & packages
    assert "rich.console" not in modules and "lumenward.cli.serving" not in modules
    assert len(modules) < 500


@pytest.mark.parametrize("words", [("--help",), ("calc", "--help"), ("serve", "--help"), ("--version",)])
def test_help_loads_no_more_than_it_prints_with(words: tuple[str, ...]) -> None:
    modules = loaded(*words)
    assert not (HEAVY | {"numpy"}) & {name.partition(".")[0] for name in modules}
    assert len(modules) < 500
