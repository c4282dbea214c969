"""The shell as a script meets it: JSON for success and failure, exit codes that mean something, a fast start."""

from __future__ import annotations

import contextlib
import io
import json
import os
import socket
import subprocess
import sys
from importlib.resources import files
from pathlib import Path
from typing import Any, NamedTuple

import pytest

from lumenward import calculations
from lumenward.cli import shell
from lumenward.cli.calculating import read_case
from lumenward.cli.commands import _COMMANDS
from lumenward.quantities import Refusal


class Done(NamedTuple):
    """What a command line left behind."""

    returncode: int
    stdout: str
    stderr: str


COMMAND = str(Path(sys.executable).parent / "lumenward")
DEMO = Path(str(files("lumenward.demo")))
SECRET = "seven grey herons\n"


@pytest.fixture
def home(db, tmp_path, monkeypatch) -> Path:
    """An empty, migrated house; what the shell writes beside the database goes to a folder of its own."""
    monkeypatch.setenv("LUMENWARD_HOME", str(tmp_path / "home"))
    return tmp_path / "home"


def run(*words: str, given: str | bytes = "") -> Done:
    """Run a command line in this process, as `lumenward` would."""
    data = given.encode() if isinstance(given, str) else given
    out, err, before = io.StringIO(), io.StringIO(), sys.stdin
    sys.stdin = io.TextIOWrapper(io.BytesIO(data), encoding="utf-8")
    try:
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
            code = shell.run(list(words))
    finally:
        sys.stdin = before
    return Done(code, out.getvalue(), err.getvalue())


def run_apart(*words: str, home: Path, given: str = "") -> Done:
    """Run a command line in a process of its own."""
    env = {key: value for key, value in os.environ.items() if not key.startswith("LUMENWARD")}
    env["LUMENWARD_HOME"] = str(home)
    done = subprocess.run(
        [COMMAND, *words], env=env, input=given, capture_output=True, text=True, check=False
    )
    return Done(done.returncode, done.stdout, done.stderr)


def plain(done: Done) -> Any:
    assert "Traceback" not in done.stderr + done.stdout
    return json.loads(done.stdout)


def error_of(done: Done, code: int = 2) -> dict[str, str]:
    assert done.returncode == code, done.stdout + done.stderr
    found = plain(done)
    assert set(found) == {"error"} and set(found["error"]) == {"code", "message", "field", "hint"}
    return found["error"]


@pytest.mark.parametrize(
    "path", [f"{group} {name}".strip() for group, names in _COMMANDS.items() for name in names]
)
def test_every_command_explains_itself_with_an_example(path) -> None:
    done = run(*path.split(), "--help")
    assert done.returncode == 0
    assert f"lumenward {path}" in done.stdout and "Example:" in done.stdout


def test_a_calculation_reads_an_object_and_prints_an_object() -> None:
    case = {"leaves_hex": ["", "00", "10"]}
    done = run("calc", "merkle", given=json.dumps(case))
    assert done.returncode == 0 and done.stderr == ""
    assert plain(done) == calculations.run("merkle", case)


def test_a_calculation_reads_a_file_and_prints_its_schema(tmp_path) -> None:
    (tmp_path / "case.json").write_text('{"leaves_hex": []}')
    assert plain(run("calc", "merkle", "--file", str(tmp_path / "case.json")))["root_hex"].startswith(
        "e3b0c442"
    )
    assert set(plain(run("calc", "merkle", "--schema"))) == {"input", "output"}
    assert plain(run("calc"))["calculations"] == list(calculations.NAMES)


@pytest.mark.parametrize(
    ("words", "given", "code"),
    [
        (["nonsense"], "{}", "unknown-calculation"),
        (["merkle"], "", "not-json"),
        (["merkle"], "[]", "not-an-object"),
        (["merkle"], '{"leaves_hex": [NaN]}', "not-finite"),
        (["merkle"], '{"leaves_hex": [], "leaves_hex": []}', "doubled-key"),
        (["merkle"], '{"leaves": []}', "missing"),
        (["merkle"], b"\xff", "not-json"),
        (["merkle"], "[" * 100_000, "not-json"),
        (["merkle", "--file", "/nowhere.json"], "", "no-file"),
        (["merkle", "--wrong"], "{}", "bad-command"),
        (["merkle", "--plot", "x.svg"], '{"leaves_hex": []}', "no-picture"),
    ],
    ids=str,
)
def test_a_calculation_refuses_in_one_shape_with_exit_code_two(words, given, code) -> None:
    assert error_of(run("calc", *words, given=given))["code"] == code


@pytest.mark.parametrize(
    ("given", "field"),
    [
        ('{"leaves_hex": [], "inclusion": [0, NaN]}', "inclusion[1]"),
        ('{"a": {"b": [1, {"c": -Infinity}]}}', "a.b[1].c"),
        ('{"size": Infinity}', "size"),
        ("NaN", ""),
    ],
)
def test_a_number_that_json_does_not_know_is_named_with_its_field(given, field) -> None:
    error = error_of(run("calc", "merkle", given=given))
    assert (error["code"], error["field"]) == ("not-finite", field)


def test_a_calculation_without_any_standard_input_is_refused_in_words(monkeypatch) -> None:
    monkeypatch.setattr("sys.stdin", None)
    with pytest.raises(Refusal) as caught:
        read_case(None)
    assert caught.value.code == "no-case"


def test_a_calculation_draws_its_picture_as_well(tmp_path) -> None:
    name = next(
        one for one in ("cooling", "film", "a0", "washout") if hasattr(calculations.find(one), "picture")
    )
    example = calculations.find(name).EXAMPLE
    for ending, start in (("svg", b"<?xml"), ("png", b"\x89PNG")):
        done = run("calc", name, "--plot", str(tmp_path / f"x.{ending}"), given=json.dumps(example))
        assert done.returncode == 0, done.stdout
        assert plain(done) == json.loads(json.dumps(calculations.run(name, example)))
        assert (tmp_path / f"x.{ending}").read_bytes().startswith(start)
    assert error_of(run("calc", name, "--plot", "x.pdf", given=json.dumps(example)))["code"] == "bad-ending"


def test_a_calculation_loads_neither_the_database_nor_the_drawing_nor_the_compiler() -> None:
    heavy = ("django", "matplotlib", "scipy", "numba", "granian", "biip", "weasyprint", "rich.console")
    script = (
        "import sys, io; sys.stdin = io.TextIOWrapper(io.BytesIO(b'{\"leaves_hex\": []}'));"
        "from lumenward.cli.shell import run; code = run(['calc', 'merkle']);"
        f"print([m for m in {heavy!r} if m in sys.modules], code)"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-1] == "[] 0"


def test_a_calculation_starts_as_fast_as_its_two_libraries_load(tmp_path) -> None:
    """Absolute seconds say more about the machine's other work than about us."""
    floor = min(_processor_s([sys.executable, "-c", "import pydantic, cyclopts"]) for _ in range(3))
    ours = min(_processor_s([COMMAND, "calc", "merkle", "--file", _empty_case(tmp_path)]) for _ in range(3))
    assert ours < 2 * floor + 0.2, f"{ours:.2f} s of processor time; the libraries alone take {floor:.2f} s"


def _empty_case(folder: Path) -> str:
    (folder / "case.json").write_text('{"leaves_hex": []}')
    return str(folder / "case.json")


def _processor_s(command: list[str]) -> float:
    before = os.times()
    subprocess.run(command, capture_output=True, check=False)
    after = os.times()
    return after.children_user + after.children_system - before.children_user - before.children_system


def test_a_house_is_set_up_from_the_shell_and_verifies(home) -> None:
    added = run(
        "person", "add", "mira", "--name", "Mira Okafor", "--role", "technician", "--json", given=SECRET
    )
    assert plain(added) == {"person": "mira"}
    assert plain(run("person", "pin", "mira", "--json", given="4711\n")) == {"person": "mira"}
    assert plain(run("person", "badge", "mira", "B-77", "--json")) == {"person": "mira"}
    assert len(plain(run("person", "token", "mira", "bridge", "--json"))["token"]) > 30
    adopted = plain(run("library", "adopt", str(DEMO / "library"), "--json"))
    checked = plain(run("library", "check", str(DEMO / "library"), "--json"))
    assert adopted["digest"] == checked["digest"] and checked["sound"]
    policy = run("policy", "adopt", str(DEMO / "policy.toml"), "--reason", "agreed", "--json")
    assert (
        plain(policy)["digest"]
        == plain(run("policy", "check", str(DEMO / "policy.toml"), "--json"))["digest"]
    )
    found = plain(run("status", "--json"))
    assert (found["events"], found["people"], found["demo"]) == (3, 1, False)
    report = run("check", "--head", found["head"], "--json")
    assert report.returncode == 0 and plain(report)["sound"]
    assert plain(run("rebuild", "--json")) == {"events": 3, "states": 1}
    assert plain(run("person", "list", "--json"))["people"][0]["name"] == "Mira Okafor"


def test_a_check_that_finds_something_exits_with_one(home) -> None:
    run("library", "adopt", str(DEMO / "library"))
    done = run("check", "--head", f"99:{'ab' * 32}", "--json")
    assert done.returncode == 1
    assert plain(done)["findings"][0]["code"] == "leaves-missing"


@pytest.mark.parametrize(
    ("words", "given", "code"),
    [
        ("person add mira --name X --role technician", SECRET, "already-added"),
        ("person add set-up --name X --role lead", SECRET, "reserved"),
        ("person add bo --name Bo --role viewer", "short\n", "weak-password"),
        ("person add bo --name Bo --role surgeon", SECRET, "bad-command"),
        ("person leave nobody", "", "unknown-person"),
        ("person pin nobody", "4711\n", "unknown-person"),
        ("person pin mira", "1234\n", "weak-pin"),
        ("library adopt /nowhere", "", "no-library"),
        ("policy adopt /nowhere --reason x", "", "no-file"),
        ("check --head nonsense", "", "bad-head"),
        ("demo load", "", "not-empty"),
        ("demo remove", "", "not-confirmed"),
        ("demo remove --yes", "", "not-a-demo"),
        ("serve --port 99999", "", "bad-command"),
        ("nonsense", "", "bad-command"),
    ],
)
def test_what_the_shell_refuses_is_one_object_and_exit_code_two(home, words, given, code) -> None:
    run("person", "add", "mira", "--name", "Mira", "--role", "technician", given=SECRET)
    assert error_of(run(*words.split(), "--json", given=given))["code"] == code


def test_several_processes_on_one_file_or_servers_on_one_port_are_refused(home, monkeypatch) -> None:
    from lumenward.cli import serving

    started: list[object] = []
    monkeypatch.setattr(serving, "_granian", lambda *words: started.append(words))
    monkeypatch.setenv("LUMENWARD_DATABASE", f"sqlite:///{home}/x.sqlite3")
    done = run("serve", "--workers", "2", "--quiet")
    assert (done.returncode, started) == (2, []) and "SQLite serves one" in done.stderr
    with socket.create_server(("127.0.0.1", 0)) as listening:
        port = listening.getsockname()[1]
        taken = run("serve", "--port", str(port), "--quiet")
    assert (taken.returncode, started) == (2, []) and "Nothing can listen" in taken.stderr
    assert run("serve", "--port", str(port), "--quiet").returncode == 0
    assert started == [("127.0.0.1", port, 1, 64)]


def test_without_a_database_the_exit_code_is_three_and_says_what_to_do(tmp_path) -> None:
    found = error_of(run_apart("status", "--json", home=tmp_path), 3)
    assert found["code"] == "no-database" and "migrate" in found["hint"]
    migrated = run_apart("migrate", "--json", home=tmp_path)
    assert migrated.returncode == 0 and plain(migrated)["migrations"] > 20
    assert plain(run_apart("migrate", "--json", home=tmp_path)) == {"migrations": 0}
    assert plain(run_apart("status", "--json", home=tmp_path))["events"] == 0


def test_words_for_people_go_to_the_right_stream(home) -> None:
    done = run("person", "leave", "nobody")
    assert done.returncode == 2 and done.stdout == ""
    assert "works here" in done.stderr and "Traceback" not in done.stderr


def test_a_broken_library_is_listed_finding_by_finding(tmp_path) -> None:
    (tmp_path / "pumps.toml").write_text('[[pumps]]\nid = "p"\nspeed = 3\n')
    done = run("library", "check", str(tmp_path), "--json")
    assert done.returncode == 1
    assert any("pumps.toml:" in one["message"] for one in plain(done)["findings"])


def test_the_schemas_are_published() -> None:
    assert "pumps.toml" in plain(run("library", "schema"))
    assert plain(run("policy", "schema"))["title"] == "Policy"


def test_the_evidence_is_printed_as_a_table_and_as_data(tmp_path) -> None:
    line = "Check('t', {!r}, 2.0, lambda: {}, 0.1, 'a book', 'read')"
    checks = f"from lumenward.evidence import Check\nCHECKS = [{line.format('two', 2.05)}, {line.format('three', 3)}]\n"
    (tmp_path / "test_x.py").write_text(checks)
    done = run("evidence", "--folder", str(tmp_path), "--json")
    found = plain(done)
    assert (done.returncode, found["failed"], [row["holds"] for row in found["checks"]]) == (
        1,
        1,
        [True, False],
    )
    assert {"check", "expected", "ours", "deviation", "tolerance", "source", "known"} <= set(
        found["checks"][0]
    )
    assert "2 checks, 1 failed." in run("evidence", "--folder", str(tmp_path)).stdout
    assert error_of(run("evidence", "--folder", "/nowhere", "--json"))["code"] == "no-file"
