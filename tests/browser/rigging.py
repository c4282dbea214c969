"""What the browser tests stand on: where things are, the running house, the way in."""

from __future__ import annotations

import subprocess
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from playwright.sync_api import Page

HERE = Path(__file__).parent
ROOT = HERE.parents[1]
ARTEFACTS = ROOT / "artefacts"
FLAGS = [
    "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync", "--disable-dev-shm-usage",
]  # fmt: skip
WIDE = {"width": 1280, "height": 800}
PHONE = {"width": 390, "height": 844}


@dataclass
class House:
    """One running house: where it answers, its words, and its clock."""

    address: str
    words: dict[str, Any]
    process: subprocess.Popen[str]

    def forward(self, seconds: float) -> None:
        """Let the server's clock go forward."""
        assert self.process.stdin and self.process.stdout
        self.process.stdin.write(f"{seconds}\n")
        self.process.stdin.flush()
        assert self.process.stdout.readline() == "moved\n"


def sign_in(page: Page, person: str, house: House) -> None:
    """Come in by the door."""
    answer = page.goto("/sign-in/")
    assert answer is not None and answer.status == 200, page.inner_text("body")
    page.fill("#id_person", person)
    page.fill("#id_password", house.words["password"])
    page.click("button.filled")
