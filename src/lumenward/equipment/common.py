"""What all equipment descriptions share: strictness, limits with a page, scan codes."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, StringConstraints

Slug = Annotated[str, StringConstraints(pattern=r"^[a-z0-9][a-z0-9-]{0,39}$")]
ONE_LINE = r"^[^\x00-\x1f\x7f\u202a-\u202e\u2066-\u2069]*$"
SCANNED = r"^\S([^\x00-\x1c\x1e\x1f\x7f-\x9f]*\S)?$"
Words = Annotated[
    str, StringConstraints(min_length=1, max_length=200, strip_whitespace=True, pattern=ONE_LINE)
]
Bound = Literal["floor", "ceiling", "aim"]
Quantity = Literal["duration", "pressure", "volume", "temperature", "count", "life", "concentration"]


class Described(BaseModel):
    """Base of everything that is read from a library file: unknown keys and NaN are refused."""

    model_config = ConfigDict(extra="forbid", allow_inf_nan=False, frozen=True)


class Stated(Described):
    """One number that a document states for one step: the raw material of every Target.

    `value` is in `unit` (s, min, h, d, kPa, mL, L, C, times, %, ppm); `channel` narrows it to one channel, `method`
    to one way of doing the step (the leak test: wet, dry, machine); `page` is where the document says so.
    """

    step: Slug
    quantity: Quantity
    bound: Bound
    value: float = Field(ge=0)
    unit: Literal["s", "min", "h", "d", "kPa", "mL", "L", "C", "times", "%", "ppm"]
    channel: Slug | None = None
    method: Slug | None = None
    page: Words


class Coded(Described):
    """A thing with a name that can be scanned: `code` is what its label carries, letter for letter."""

    id: Slug
    name: Words
    code: Annotated[str, StringConstraints(min_length=3, max_length=80, pattern=SCANNED)]
