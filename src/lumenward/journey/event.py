"""An event: one thing that happened, in the past tense, with who, where and when."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from pydantic import AwareDatetime, BaseModel, ConfigDict, Field


class Event(BaseModel):
    """One act as the ledger knows it.

    `id` is a UUIDv7 made where the act happened; `subject` the id of what it is about (an endoscope for everything
    in a cycle); `cycle` the id of the event that opened the cycle, empty outside cycles; `happened_at` carries the
    station's own offset.
    """

    __slots__ = ("_order",)  # no field: a copy begins without it

    model_config = ConfigDict(frozen=True, extra="forbid")

    id: str = Field(pattern=r"^[0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$")
    kind: str = Field(min_length=3, max_length=40)
    version: int = Field(default=1, ge=1)
    subject: str = Field(min_length=1, max_length=80)
    cycle: str = Field(default="", max_length=36)
    person: str = Field(min_length=1, max_length=40)
    station: str = Field(min_length=1, max_length=40)
    happened_at: AwareDatetime
    body: dict[str, Any] = Field(default_factory=dict)

    @property
    def order(self) -> tuple[datetime, str]:
        """The place of this event among others: by instant, then by id.

        The instant is in UTC: Python compares two times of one zone by their wall clocks, which go back in autumn.
        """
        try:
            kept: tuple[datetime, str] = object.__getattribute__(self, "_order")
        except AttributeError:
            kept = (self.happened_at.astimezone(UTC), self.id)
            object.__setattr__(self, "_order", kept)
        return kept
