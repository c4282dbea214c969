"""The form of a calculation, read off its input model: which fields, of which kind, in which group or table."""

from __future__ import annotations

import types
from dataclasses import dataclass
from functools import cache
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo
from pydantic_core import PydanticUndefined

from lumenward.screens.calculations.wording import choice_words, split

Kind = Literal["number", "whole", "text", "choice", "readings", "json", "group", "table"]


@dataclass(frozen=True)
class Node:
    """One key of an input: a field, a group of fields, or a table of them."""

    key: str
    kind: Kind
    label: str
    unit: str
    hint: str
    required: bool
    default: str
    choices: tuple[tuple[str, str], ...] = ()
    children: tuple[Node, ...] = ()


@cache
def nodes_of(model: type[BaseModel]) -> tuple[Node, ...]:
    """Return the nodes of a model in its own order; text of a CSV file is asked for with its readings."""
    named = [(info.alias or name, info) for name, info in model.model_fields.items()]
    has_log = any(_kind(_bare(info.annotation)) == "readings" for _, info in named)
    return tuple(_node(key, info) for key, info in named if not (key == "csv" and has_log))


def _node(key: str, info: FieldInfo) -> Node:
    bare = _bare(info.annotation)
    kind = _kind(bare)
    label, unit = split(key)
    children: tuple[Node, ...] = ()
    if kind in ("group", "table"):
        children = nodes_of(bare if kind == "group" else _bare(get_args(bare)[0]))
    required = info.is_required()
    hint = (info.description or "").replace("`", "")
    if kind == "text" and not required:
        hint = f'{hint} Two quotes ("") say an empty text.'.strip()
    choices = _choices(bare, required)
    return Node(key, kind, label, unit, hint, required, _default(info), choices, children)


def _bare(annotation: Any) -> Any:
    """Return a type without `| None` and without `Annotated`."""
    while get_origin(annotation) is Annotated:
        annotation = get_args(annotation)[0]
    if get_origin(annotation) in (Union, types.UnionType):
        rest = [one for one in get_args(annotation) if one is not type(None)]
        return _bare(rest[0]) if len(rest) == 1 else annotation
    return annotation


_PLAIN: dict[Any, Kind] = {float: "number", int: "whole", str: "text", bool: "choice"}


def _kind(bare: Any) -> Kind:
    if bare in _PLAIN:
        return _PLAIN[bare]
    if get_origin(bare) is Literal:
        return "choice"
    if _is_model(bare):
        return "group"
    if get_origin(bare) is list:
        return _list_kind(_bare(get_args(bare)[0]))
    return "json"


def _list_kind(item: Any) -> Kind:
    if _is_model(item):
        flat = all(child.kind in ("number", "whole", "text", "choice") for child in nodes_of(item))
        return "table" if flat else "json"
    pairs = get_origin(item) is list and get_args(item) == (float,)
    return "readings" if pairs else "json"


def _is_model(found: Any) -> bool:
    return isinstance(found, type) and issubclass(found, BaseModel)


def _choices(bare: Any, required: bool) -> tuple[tuple[str, str], ...]:
    empty = () if required else (("", "not given"),)
    if bare is bool:
        return (*empty, ("true", "yes"), ("false", "no"))
    if get_origin(bare) is Literal:
        return (*empty, *((str(one), choice_words(str(one))) for one in get_args(bare)))
    return ()


def _default(info: FieldInfo) -> str:
    value = info.default
    if value is PydanticUndefined or value is None:
        return ""
    return {True: "yes", False: "no"}[value] if isinstance(value, bool) else str(value)
