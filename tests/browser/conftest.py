"""A real server on a fresh house, a real Chromium, and a way to let both go forward in time together."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any
from urllib.request import urlopen

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect, sync_playwright

sys.path.insert(0, str(Path(__file__).parent))

from rigging import ARTEFACTS, FLAGS, HERE, ROOT, WIDE, House, sign_in


@pytest.fixture(scope="session")
def house(tmp_path_factory: pytest.TempPathFactory) -> Iterator[House]:
    """Fill a fresh house and serve it in a process of its own."""
    home = tmp_path_factory.mktemp("house")
    surroundings = {
        **{name: value for name, value in os.environ.items() if not name.startswith("LUMENWARD_")},
        "LUMENWARD_HOME": str(home),
        "LUMENWARD_ZONE": "Europe/Berlin",
        "PYTHONPATH": os.pathsep.join([str(ROOT / "src"), str(HERE)]),
    }
    made = subprocess.run(
        [sys.executable, str(HERE / "house.py")],
        env=surroundings,
        capture_output=True,
        text=True,
        check=False,
    )
    assert made.returncode == 0, made.stderr
    process = subprocess.Popen(
        [sys.executable, str(HERE / "serve.py")],
        env=surroundings,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    assert process.stdout
    port = process.stdout.readline().strip()
    address = f"http://127.0.0.1:{port}"
    with urlopen(f"{address}/sign-in/", timeout=120) as answer:
        assert answer.status == 200
    yield House(address, json.loads(made.stdout), process)
    process.kill()
    process.wait()


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """Debian's own Chromium."""
    expect.set_options(timeout=15_000)  # other work may share the machine
    root = ["--no-sandbox"] if os.geteuid() == 0 else []
    with sync_playwright() as playwright:
        found = playwright.chromium.launch(executable_path="/usr/bin/chromium", args=[*FLAGS, *root])
        yield found
        found.close()


@pytest.fixture(scope="session")
def passes(browser: Browser, house: House) -> Callable[[str], Any]:
    """Return the cookies of a person; each comes in by the door once."""
    known: dict[str, Any] = {}

    def cookies(person: str) -> Any:
        if person not in known:
            context = browser.new_context(base_url=house.address)
            sign_in(context.new_page(), person, house)
            known[person] = context.storage_state()
            context.close()
        return known[person]

    return cookies


@pytest.fixture
def opened(browser: Browser, house: House, passes: Callable[[str], Any]) -> Iterator[Callable[..., Page]]:
    """Open pages of people who are signed in; a page that fails in its script fails the test."""
    contexts: list[BrowserContext] = []
    failures: list[str] = []

    def open_page(person: str = "okafor", size: dict[str, int] | None = None, dark: bool = False) -> Page:
        context = browser.new_context(
            base_url=house.address,
            viewport=size or WIDE,  # type: ignore[arg-type]
            has_touch=True,
            color_scheme="dark" if dark else "light",
            storage_state=passes(person) if person else None,
        )
        context.set_default_timeout(20_000)
        contexts.append(context)
        page = context.new_page()
        page.on("pageerror", lambda error: failures.append(str(error)))
        page.on(
            "console",
            lambda said: failures.append(said.text) if "Content Security Policy" in said.text else None,
        )
        return page

    yield open_page
    for context in contexts:
        context.close()
    assert failures == []


@pytest.fixture(scope="session")
def artefacts() -> Path:
    """Where pictures of the screens are kept."""
    ARTEFACTS.mkdir(exist_ok=True)
    return ARTEFACTS
