"""The frame of an event body."""

from __future__ import annotations

from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field, StringConstraints

Words = Annotated[str, StringConstraints(min_length=1, max_length=500, strip_whitespace=True)]
Ref = Annotated[str, StringConstraints(min_length=1, max_length=80, pattern=r"^[^\x00-\x1f\x7f]+$")]
Seconds = Annotated[float, Field(ge=0, le=7 * 86400)]
Celsius = Annotated[float, Field(gt=0, lt=100)]
Litres = Annotated[float, Field(gt=0, le=200)]
Millilitres = Annotated[float, Field(gt=0, le=20000)]
Kilopascals = Annotated[float, Field(gt=0, le=1000)]


class Body(BaseModel):
    """Base of every body: unknown keys, NaN and infinities are refused."""

    model_config = ConfigDict(extra="forbid", allow_inf_nan=False, frozen=True)


class Ends(Body):
    """A body of a timed step: `started` is the id of the `step_started` event; the duration is the difference."""

    started: Ref | None = None
