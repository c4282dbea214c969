"""What somebody would wait for is made ahead, beside the server, and nothing depends on it."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from collections.abc import Iterator
from importlib.resources import files
from pathlib import Path

import pytest
from django.http import QueryDict

from lumenward.calculations import diagnose
from lumenward.cli import serving, shell, warming
from lumenward.equipment.loader import load_library
from lumenward.hydraulics import solver
from lumenward.screens.channels import finding, question

LIBRARY = Path(str(files("lumenward.demo"))) / "library"
SMALL = "dunlin-22"


@pytest.fixture
def home(db: None, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """An empty house of its own, and no tables kept in this process afterwards."""
    monkeypatch.setenv("LUMENWARD_HOME", str(tmp_path))
    monkeypatch.delenv("NUMBA_CACHE_DIR", raising=False)
    yield tmp_path
    diagnose.keep_tables_in(None)


@pytest.fixture
def one_model(monkeypatch: pytest.MonkeyPatch) -> None:
    every = warming._cases
    monkeypatch.setattr(warming, "_cases", lambda library: (one for one in every(library) if SMALL in one[0]))


def test_the_page_of_channels_finds_its_table_ready(
    home: Path, one_model: None, capsys: pytest.CaptureFixture[str]
) -> None:
    assert shell.run(["library", "adopt", str(LIBRARY)]) == 0
    capsys.readouterr()
    assert shell.run(["warm-up", "--json"]) == 0
    said = json.loads(capsys.readouterr().out)
    assert said["tables"] == [f"{SMALL}, set-broncho, pump-750", f"{SMALL}, set-broncho, pump-500"]
    assert said["without"] == {}
    before = {path.name: path.stat().st_mtime_ns for path in (home / "tables").iterdir()}
    diagnose.keep_tables_in(home / "tables")
    library = load_library(LIBRARY)
    asked = question.read(library, library.model(SMALL), QueryDict())
    assert asked is not None
    assert finding.look_for(asked, QueryDict("r0.kpa=60")).classes
    assert {path.name: path.stat().st_mtime_ns for path in (home / "tables").iterdir()} == before


def test_a_house_without_a_library_has_no_tables_to_make(
    home: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert shell.run(["warm-up"]) == 0
    assert "0 ready" in capsys.readouterr().out


def test_without_numba_every_engine_but_the_compiled_one_works() -> None:
    program = (
        "import sys; sys.modules['numba'] = None\n"
        "from lumenward.demo.geometry import load_family\n"
        "from lumenward.hydraulics.solver import Variants, solve_many, warm_up, WORTH_LOADING\n"
        "assert warm_up() is False\n"
        "batch = solve_many(load_family('bronchoscope'), Variants(count=WORTH_LOADING + 1))\n"
        "assert batch.converged.all()\n"
        "from lumenward.cli.shell import run\n"
        "sys.exit(run(['calc', 'water']))"
    )
    done = subprocess.run(
        [sys.executable, "-c", program], input='{"temperature_c": 20}', capture_output=True, text=True
    )
    assert done.returncode == 0, done.stderr
    assert json.loads(done.stdout)["density_kg_m3"] > 990


def test_a_compiler_that_does_not_load_is_as_good_as_none(monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(name: str) -> None:
        raise RuntimeError("cannot cache function: no locator available")

    monkeypatch.setattr(solver, "import_module", broken)
    solver._loads.cache_clear()
    try:
        assert solver.warm_up() is False
        assert solver._chosen("auto", 10**6) == "numpy"
    finally:
        solver._loads.cache_clear()


@pytest.mark.parametrize("writable", [True, False])
def test_compiled_code_goes_to_the_house_where_the_program_may_not_be_written(
    writable: bool, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("NUMBA_CACHE_DIR", raising=False)
    monkeypatch.setattr(os, "access", lambda path, mode: writable)
    warming.keep_compiled_in(tmp_path / "compiled")
    found = os.environ.pop("NUMBA_CACHE_DIR", None)
    assert found == (None if writable else str(tmp_path / "compiled"))


def test_the_server_begins_it_beside_and_ends_it_with_itself(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    begun = tmp_path / "begun"
    program = f"import pathlib, time; pathlib.Path({str(begun)!r}).write_text('x'); time.sleep(60)"
    monkeypatch.setattr(serving, "_WARM_UP", (sys.executable, "-c", program))
    start = time.monotonic()
    with serving.made_ahead(0.0):
        while not begun.exists() and time.monotonic() < start + 30:
            time.sleep(0.05)
    assert begun.exists()
    assert time.monotonic() < start + 40


def test_a_server_stopped_early_begins_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    begun: list[object] = []
    monkeypatch.setattr(subprocess, "Popen", lambda *words, **how: begun.append(words))
    with serving.made_ahead(60.0):
        pass
    assert begun == []


def test_what_cannot_begin_is_said_and_the_server_goes_on(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(serving, "_WARM_UP", ("/nowhere/python",))
    with serving.made_ahead(0.0):
        time.sleep(0.3)
    assert "Nothing is made ahead" in capsys.readouterr().err


def test_beside_the_server_it_ends_when_the_server_does() -> None:
    program = "from lumenward.cli import warming; import time; warming._give_way(); time.sleep(60)"
    process = subprocess.Popen([sys.executable, "-c", program], stdin=subprocess.PIPE)
    assert process.stdin is not None
    process.stdin.close()
    assert process.wait(timeout=30) == 0


def test_done_beside_the_server_it_ends_in_peace_while_the_server_goes_on() -> None:
    program = "from lumenward.cli import warming; import time; warming._give_way(); time.sleep(0.2)"
    with subprocess.Popen(
        [sys.executable, "-c", program], stdin=subprocess.PIPE, stderr=subprocess.PIPE
    ) as process:
        assert process.stderr is not None
        assert process.stderr.read() == b""
        assert process.wait(timeout=30) == 0
