"""A wrong setting stops the start: variable, value, what is allowed."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from lumenward.quantities import Refusal
from lumenward.records import environment

COMMAND = str(Path(sys.executable).parent / "lumenward")


@pytest.mark.parametrize(
    ("variable", "value", "allowed"),
    [
        ("LUMENWARD_DATABASE", "mysql://x", "postgresql://"),
        ("LUMENWARD_DATABASE", "sqlite:///", "sqlite:///PATH"),
        ("LUMENWARD_DATABASE", "postgresql://u:secret@h:99x/n", "HOST:PORT"),
        ("LUMENWARD_DATABASE", "postgresql://h/", "NAME"),
        ("LUMENWARD_DATABASE", "postgresql://h/n?async=1", "sslmode"),
        ("LUMENWARD_ZONE", "Europe/Nowhere", "UTC"),
        ("LUMENWARD_ZONE", "../etc/passwd", "UTC"),
        ("LUMENWARD_DEMO", "maybe", "on, off"),
        ("LUMENWARD_HTTPS", "2", "on, off"),
        ("LUMENWARD_HOSTS", "*", "no star"),
        ("LUMENWARD_HOSTS", "a b", "commas"),
    ],
)
def test_a_wrong_setting_stops_the_start_and_says_what_is_allowed(variable, value, allowed, tmp_path) -> None:
    env = os.environ | {"LUMENWARD_HOME": str(tmp_path), variable: value}
    found = subprocess.run([COMMAND, "status"], env=env, capture_output=True, text=True, check=False)
    assert found.returncode == 2
    assert variable in found.stderr and allowed in found.stderr
    assert "Traceback" not in found.stderr and "secret@" not in found.stderr


def test_every_setting_has_a_default_that_needs_nothing(tmp_path) -> None:
    env: dict[str, str] = {}
    assert environment.zone("LUMENWARD_ZONE", "UTC", env) == "UTC"
    assert environment.hosts("LUMENWARD_HOSTS", env) == ["localhost", "127.0.0.1", "[::1]"]
    assert environment.switch("LUMENWARD_DEMO", False, env) is False
    found = environment.database("LUMENWARD_DATABASE", tmp_path, env)
    assert found["NAME"] == str(tmp_path / "lumenward.sqlite3")


def test_sqlite_is_opened_so_that_a_commit_is_on_the_disk() -> None:
    options = environment.described("sqlite:////x.sqlite3")["OPTIONS"]
    assert options["transaction_mode"] == "IMMEDIATE"
    assert "journal_mode=WAL" in options["init_command"] and "synchronous=FULL" in options["init_command"]


def test_a_postgresql_address_is_taken_apart_and_pooled() -> None:
    found = environment.described("postgresql://mara:s%40cret@db:5433/house?sslmode=require")
    assert (found["USER"], found["PASSWORD"], found["HOST"], found["PORT"]) == (
        "mara",
        "s@cret",
        "db",
        "5433",
    )
    assert found["OPTIONS"]["sslmode"] == "require" and found["OPTIONS"]["pool"]


def test_a_short_secret_key_is_refused(tmp_path) -> None:
    (tmp_path / "secret-key").write_text("short")
    with pytest.raises(Refusal, match="secret key"):
        environment.secret_key(tmp_path)


def test_the_framework_finds_nothing_to_warn_about_in_production(tmp_path) -> None:
    env = os.environ | {
        "LUMENWARD_HOME": str(tmp_path),
        "LUMENWARD_HTTPS": "on",
        "LUMENWARD_HOSTS": "bench.example.org",
        "DJANGO_SETTINGS_MODULE": "lumenward.records.settings",
    }
    environment.prepare(tmp_path)
    command = [sys.executable, "-m", "django", "check", "--deploy", "--fail-level", "WARNING"]
    found = subprocess.run(command, env=env, capture_output=True, text=True, check=False)
    assert found.returncode == 0, found.stderr
    assert "no issues" in found.stdout


def test_the_database_of_this_run_really_is_opened_that_way(db) -> None:
    from django.db import connection

    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("SHOW synchronous_commit")
            assert cursor.fetchone()[0] == "on"
        return
    with connection.cursor() as cursor:
        found = [
            cursor.execute(f"PRAGMA {name}").fetchone()[0]
            for name in ("journal_mode", "synchronous", "foreign_keys")
        ]
    assert found == ["wal", 2, 1]
