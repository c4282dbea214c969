"""The server is killed at random instants while a cycle is recorded: nothing acknowledged is lost or doubled."""

from __future__ import annotations

import json
import os
import random
import signal
import socket
import sqlite3
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from http.client import HTTPConnection, HTTPException
from pathlib import Path
from typing import Any

import pytest

from lumenward.journey.event import Event

KILLS = 50
COMMAND = str(Path(sys.executable).parent / "lumenward")
SCOPES = ("one-sanderling-28", "one-whimbrel-38", "one-dunlin-22")


class Server:
    """A real server on an SQLite file, which can be killed and started again on the same port."""

    def __init__(self, home: Path) -> None:
        self.home = home
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.port = free.getsockname()[1]
        self.process: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        env = {key: value for key, value in os.environ.items() if not key.startswith("LUMENWARD")}
        env["LUMENWARD_HOME"] = str(self.home)
        words = [COMMAND, "serve", "--quiet", "--threads", "4", "--port", str(self.port)]
        self.process = subprocess.Popen(
            words, env=env, start_new_session=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
        )

    def kill(self) -> None:
        """Kill the server and its worker with SIGKILL: only the group that was started here."""
        if self.process is not None:
            os.killpg(self.process.pid, signal.SIGKILL)
            self.process.wait()
            self.process = None


class Station:
    """A page's outbox: it sends the same act until it hears an answer, and believes only answers."""

    def __init__(self, port: int, key: str) -> None:
        self.port, self.key = port, key
        self.acknowledged: list[str] = []
        self.heard = threading.Event()

    def send(self, act: Event, until: float) -> None:
        while time.monotonic() < until:
            answer = self._post(act)
            if answer is not None:
                assert answer["answer"] in ("recorded", "already recorded"), answer
                self.acknowledged.append(act.id)
                self.heard.set()
                return
            time.sleep(0.02)
        raise AssertionError("the server did not come back")

    def _post(self, act: Event) -> dict[str, Any] | None:
        connection = HTTPConnection("127.0.0.1", self.port, timeout=10)
        body = json.dumps({"acts": [act.model_dump(mode="json")]})
        headers = {"Content-Type": "application/json", "Authorization": f"Bearer {self.key}"}
        try:
            connection.request("POST", "/api/v1/acts", body, headers)
            response = connection.getresponse()
            text = response.read()
        except (OSError, HTTPException):
            return None
        finally:
            connection.close()
        assert response.status == 200, text
        found: dict[str, Any] = json.loads(text)["answers"][0]
        return found


@contextmanager
def nemesis(server: Server, station: Station, done: threading.Event) -> Iterator[list[float]]:
    """Kill the server again and again, each time at a random instant after it has answered again."""
    draw, kills = random.Random(20260301), []

    def run() -> None:
        while not done.is_set():
            station.heard.clear()
            if not station.heard.wait(timeout=60):
                break
            time.sleep(draw.uniform(0.0, 0.08))
            server.kill()
            kills.append(time.monotonic())
            if len(kills) >= KILLS:
                done.set()
            server.start()

    thread = threading.Thread(target=run)
    server.start()
    thread.start()
    try:
        yield kills
    finally:
        done.set()
        thread.join(timeout=60)
        server.kill()


@pytest.fixture
def furnished_file(shared_house, tmp_path) -> tuple[Any, Path, str]:
    """The furnished house, copied by SQLite's own backup into the file that the server will use."""
    from django.db import connection

    from lumenward.records import accounts, environment

    if connection.vendor != "sqlite":
        pytest.fail("run the crash test on SQLite: unset LUMENWARD_TEST_DATABASE")
    key = accounts.make_token("mira", "station", datetime.now(UTC))
    home = tmp_path / "home"
    environment.prepare(home)
    connection.ensure_connection()
    target = sqlite3.connect(home / "lumenward.sqlite3")
    connection.connection.backup(target)
    target.close()
    return shared_house, home, key


@pytest.mark.crash
@pytest.mark.django_db(transaction=True)
def test_fifty_kills_lose_nothing_double_nothing_and_the_cycle_goes_on(furnished_file) -> None:
    house, home, key = furnished_file
    server, done = Server(home), threading.Event()
    station = Station(server.port, key)
    acts = _planned(house)
    until = time.monotonic() + 540
    with nemesis(server, station, done) as kills:
        for act in acts:
            station.send(act, until)
        place = 0
        while (
            not done.is_set()
        ):  # the cycle is over: what was acknowledged is sent again, as a lost answer would be
            station.send(acts[place % len(acts)], until)
            place += 1
    assert len(kills) >= KILLS
    _verify(home, station, [act.id for act in acts])
    print(f"{len(kills)} kills, {len(station.acknowledged)} answers, {len(acts)} acts")  # noqa: T201


def _planned(house: Any) -> list[Event]:
    """Work whole cycles through in the house of the test; the server has heard of none of them."""
    return [act for scope in SCOPES for act in house.work(scope)]


def _verify(home: Path, station: Station, expected: list[str]) -> None:
    env = {key: value for key, value in os.environ.items() if not key.startswith("LUMENWARD")}
    env["LUMENWARD_HOME"] = str(home)
    checked = subprocess.run(
        [COMMAND, "check", "--json"], env=env, capture_output=True, text=True, check=False
    )
    assert checked.returncode == 0, checked.stdout
    database = sqlite3.connect(home / "lumenward.sqlite3")
    stored = [row[0] for row in database.execute("SELECT id FROM records_storedevent ORDER BY seq")]
    assert database.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    database.close()
    assert len(stored) == len(set(stored))
    assert set(station.acknowledged) <= set(stored)
    assert [one for one in stored if one in set(expected)] == expected
