"""What every calculation shares: strict input, open output, one way to be refused, one neutral picture."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, TypeVar

from pydantic import BaseModel, ConfigDict, ValidationError

from lumenward.quantities import Refusal

Model = TypeVar("Model", bound=BaseModel)
_BRANCHES = (
    "float",
    "dict[str,float]",
)  # pydantic's names for the ways a key may be given; nobody typed them


class CaseInput(BaseModel):
    """Base of every input: unknown keys, NaN and infinities are refused; numbers are not guessed from text."""

    model_config = ConfigDict(extra="forbid", allow_inf_nan=False, strict=True, populate_by_name=True)


class CaseOutput(BaseModel):
    """Base of every output."""

    model_config = ConfigDict(populate_by_name=True, allow_inf_nan=True)


class Series(BaseModel):
    """One line, set of points or set of bars of a picture; `y` as long as `x`."""

    name: str
    x: list[float | str]
    y: list[float | None]
    kind: str = "line"  # line | points | bars | band-low | band-high


class Limit(BaseModel):
    """A horizontal or vertical line with the reason it is there."""

    label: str
    value: float
    axis: str = "y"


class Chart(BaseModel):
    """A picture that answers one question, drawn by any engine: axes carry units, limits carry sources."""

    question: str
    x_label: str
    y_label: str
    series: list[Series]
    limits: list[Limit] = []
    log_y: bool = False


def parse(model: type[Model], data: Mapping[str, Any]) -> Model:
    """Return `data` as `model`, or raise a Refusal that names the first wrong field."""
    try:
        return model.model_validate(data)
    except ValidationError as error:
        raise refusal_from(error) from None


def refusal_from(error: ValidationError) -> Refusal:
    """Turn pydantic's first finding into our one error shape."""
    first = error.errors(include_url=False)[0]
    field = _path(first["loc"])
    found = "" if first["type"] == "missing" else f" Found {_short(first.get('input'))}."
    return Refusal(
        _code(first["type"]), f"{field or 'The case'}: {first['msg']}.{found}", field, _hint(first["type"])
    )


def _path(parts: tuple[int | str, ...]) -> str:
    text = ""
    for part in (part for part in parts if part not in _BRANCHES):
        text += f"[{part}]" if isinstance(part, int) else (f".{part}" if text else part)
    return text


def _short(value: object) -> str:
    text = repr(value)
    return text if len(text) <= 60 else text[:57] + "..."


def _code(kind: str) -> str:
    return {"missing": "missing", "extra_forbidden": "unknown-key", "finite_number": "not-finite"}.get(
        kind, "not-valid"
    )


def _hint(kind: str) -> str:
    return {
        "missing": "Add this key.",
        "extra_forbidden": "Remove this key, or check its spelling against --schema.",
        "finite_number": "Give a finite number.",
    }.get(kind, "See --schema for what is allowed.")
