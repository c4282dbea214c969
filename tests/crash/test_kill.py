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
from http.client import HTTPConnection, HTTPException, IncompleteRead
from pathlib import Path
from typing import Any

import pytest

from lumenward.journey.event import Event

COMMAND = str(Path(sys.executable).parent / "lumenward")
SCOPES = ("one-sanderling-28", "one-whimbrel-38", "one-dunlin-22")


class Server:
    """The house's own server (granian) on an SQLite file: it can be killed and started again on the same port."""

    def __init__(self, home: Path) -> None:
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.port = int(free.getsockname()[1])
        self.env = {key: value for key, value in os.environ.items() if not key.startswith("LUMENWARD")}
        self.env["LUMENWARD_HOME"] = str(home)
        self.process: subprocess.Popen[str] | None = None

    def start(self) -> None:
        self._begin(COMMAND, "serve", "--quiet", "--threads", "4", "--port", str(self.port))

    def kill(self) -> None:
        """Kill server and workers with SIGKILL: only the group that was started here."""
        self.close()

    def close(self) -> None:
        if self.process is not None:
            os.killpg(self.process.pid, signal.SIGKILL)
            self.process.wait()
            self.process = None

    def _begin(self, *words: str) -> None:
        self.process = subprocess.Popen(
            words, env=self.env, start_new_session=True, text=True, stdin=subprocess.PIPE, stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
        )  # fmt: skip


class Forked(Server):
    """The same application, forked from a process that has loaded it already: killed and back in milliseconds."""

    child = 0

    def start(self) -> None:
        if self.process is None:
            self._begin(sys.executable, str(Path(__file__).with_name("zygote.py")), str(self.port))
        assert self.process is not None and self.process.stdin is not None and self.process.stdout is not None
        self.process.stdin.write("\n")
        self.process.stdin.flush()
        self.child = int(self.process.stdout.readline())

    def kill(self) -> None:
        os.kill(self.child, signal.SIGKILL)


class Station:
    """A page's outbox: it sends the same act until it hears an answer, and believes only answers."""

    def __init__(self, port: int, key: str) -> None:
        self.port, self.key = port, key
        self.acknowledged: list[str] = []
        self.heard = threading.Event()
        self.lost = 0

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
            if not text:  # only the head of an answer came: without a length, its end looks like any other
                raise IncompleteRead(text)
        except ConnectionRefusedError:
            return None
        except (OSError, HTTPException):
            self.lost += 1  # it was on its way when the server died
            return None
        finally:
            connection.close()
        assert response.status == 200, text
        found: dict[str, Any] = json.loads(text)["answers"][0]
        return found


@contextmanager
def nemesis(server: Server, station: Station, count: int, done: threading.Event) -> Iterator[list[float]]:
    """Kill the server `count` times, each time at a random instant after it has answered again."""
    draw, kills = random.Random(20260301), []

    def run() -> None:
        try:
            while len(kills) < count and station.heard.wait(timeout=120):
                time.sleep(draw.uniform(0.0, 0.06))
                server.kill()
                station.heard.clear()
                kills.append(time.monotonic())
                server.start()
        finally:
            done.set()

    thread = threading.Thread(target=run)
    server.start()
    thread.start()
    try:
        yield kills
    finally:
        thread.join(timeout=120)
        server.close()


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
@pytest.mark.parametrize(("kind", "count"), [(Forked, 60), (Server, 6)], ids=["forked", "granian"])
def test_kills_lose_nothing_double_nothing_and_the_cycle_goes_on(furnished_file, kind, count) -> None:
    house, home, key = furnished_file
    server, done = kind(home), threading.Event()
    station = Station(server.port, key)
    acts = [act for scope in SCOPES for act in house.work(scope)]  # the server has heard of none of them
    until = time.monotonic() + 300
    with nemesis(server, station, count, done) as kills:
        for act in acts:
            station.send(act, until)
        place = 0
        while not done.is_set():  # all is recorded: it is sent again, as after an answer that was lost
            station.send(acts[place % len(acts)], until)
            place += 1
    assert len(kills) == count
    assert station.lost > 0, "no kill hit an act on its way: the instants are not random enough"
    _verify(home, station, [act.id for act in acts])


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
