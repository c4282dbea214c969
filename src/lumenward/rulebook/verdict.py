"""What a rule finds, and what the findings add up to."""

from __future__ import annotations

from typing import Literal

from pydantic import BaseModel, ConfigDict

from lumenward.journey.target import Basis

Answer = Literal["met", "broken", "unknown", "not applicable"]


class Finding(BaseModel):
    """One rule's answer: one plain sentence, the events it rests on, and who says so."""

    model_config = ConfigDict(frozen=True)

    rule: str
    title: str
    answer: Answer
    sentence: str
    evidence: list[str] = []
    source: str
    authority: Basis
    fix: str = ""  # what would make it met, when something can


class Verdict(BaseModel):
    """The whole judgement at one instant. Ready only when every finding is met or not applicable."""

    model_config = ConfigDict(frozen=True)

    endoscope: str
    cycle: str
    at: str
    policy: str
    findings: list[Finding]
    ready_until: str | None = None

    @property
    def ready(self) -> bool:
        """Unknown is not ready; nothing asked is not ready."""
        return bool(self.findings) and all(f.answer in ("met", "not applicable") for f in self.findings)

    @property
    def against(self) -> list[Finding]:
        """The findings that stand in the way, broken before unknown."""
        order = {"broken": 0, "unknown": 1}
        return sorted((f for f in self.findings if f.answer in order), key=lambda f: order[f.answer])
