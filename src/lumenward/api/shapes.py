"""What the API takes and gives, as schemas."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import AwareDatetime, BaseModel, ConfigDict, Field, WithJsonSchema

from lumenward.journey.event import Event

_EVENT = Event.model_json_schema()
ActIn = Annotated[
    dict[str, Any],
    WithJsonSchema(
        {**_EVENT, "title": "Act", "properties": {**_EVENT["properties"], "badge": {"type": "string"}}}
    ),
]


class Taken(BaseModel):
    """Base of what comes in: unknown keys, NaN and infinities are refused."""

    model_config = ConfigDict(extra="forbid", allow_inf_nan=False)


class Acts(Taken):
    """A batch of acts from a station; `badge` in an act is the code of who acted, if not the signed-in person."""

    acts: list[ActIn] = Field(min_length=1, max_length=500)


class Problem(BaseModel):
    """Why not: a word for programs, a sentence for people, the field, what to do."""

    code: str
    message: str
    field: str = ""
    hint: str = ""


class Trouble(BaseModel):
    """The one shape of every error."""

    error: Problem


class ActAnswer(BaseModel):
    """What became of one act."""

    id: str
    answer: Literal["recorded", "already recorded", "refused", "conflict"]
    error: Problem | None = None


class Answers(BaseModel):
    """One answer an act, in the order sent."""

    answers: list[ActAnswer]


class ScanIn(Taken):
    """A scan: what came from the scanner, where, and which kind of thing is asked for (empty: any)."""

    code: str = Field(max_length=2000)
    station: str = Field(default="", max_length=40)
    expects: str = Field(default="", max_length=20)


class ScanOut(BaseModel):
    """What the code stands for and whether it may be used now."""

    kind: str
    id: str
    label: str
    sentence: str
    usable: bool
    why_not: str
    parts: dict[str, str]
    warnings: list[str]


class ReleaseIn(Taken):
    """A signed release. `pin` is the PIN of `person`; `badge` is needed where somebody else is signed in."""

    endoscope: str = Field(min_length=1, max_length=80)
    cycle: str = Field(min_length=1, max_length=36)
    station: str = Field(min_length=1, max_length=40)
    person: str = Field(min_length=1, max_length=40)
    badge: str = Field(default="", max_length=80)
    pin: str = Field(min_length=1, max_length=20)
    act_id: str = Field(min_length=36, max_length=36)
    happened_at: AwareDatetime


class ReleaseOut(BaseModel):
    """The verdict that was signed and what became of the act."""

    verdict: dict[str, Any]
    answer: ActAnswer
