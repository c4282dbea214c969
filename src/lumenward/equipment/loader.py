"""The library and the policy from files or from a stored document: all of it, checked, or nothing.

A library folder holds `endoscopes/*.toml` (one model a file) and the files of `FILES`, each a list a shelf. A
refusal names file and line, the key, what was found and what is allowed.
"""

from __future__ import annotations

import hashlib
import json
import re
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError, create_model

from lumenward.equipment import references, sanity, wording
from lumenward.equipment.common import Described
from lumenward.equipment.endoscope import EndoscopeModel
from lumenward.equipment.finding import Finding, dotted, one_of
from lumenward.equipment.library import Library
from lumenward.equipment.policy import Policy
from lumenward.equipment.toml_places import line_of, places
from lumenward.quantities import Refusal

Model = TypeVar("Model", bound=BaseModel)

FILES: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "connectors.toml": ("connector_sets",),
        "pumps.toml": ("pumps",),
        "sinks.toml": ("sinks", "containers"),
        "basins.toml": ("basins",),
        "washers.toml": ("washers",),
        "dryers.toml": ("dryers",),
        "cabinets.toml": ("cabinets",),
        "waters.toml": ("waters",),
        "brushes.toml": ("brushes",),
        "meters.toml": ("meters", "kits"),
        "detergents.toml": ("detergents",),
        "disinfectants.toml": ("disinfectants",),
        "strips.toml": ("strips",),
    }
)
LARGEST_BYTES = 1_000_000
PROFILES = Path(__file__).parent / "policies"


def _shape(name: str, shelves: Iterable[str]) -> type[BaseModel]:
    fields: dict[str, Any] = {
        s: (Library.model_fields[s].annotation, Library.model_fields[s]) for s in shelves
    }
    return create_model(name.removesuffix(".toml").title(), __base__=Described, **fields)


SHAPES: Mapping[str, type[BaseModel]] = MappingProxyType({name: _shape(name, s) for name, s in FILES.items()})


@dataclass(frozen=True)
class _Source:
    """One file: its name as shown, and where each of its keys stands."""

    name: str
    lines: Mapping[tuple[str | int, ...], int]

    def refusal(self, finding: Finding) -> Refusal:
        line = line_of(self.lines, finding.path)
        key = dotted(finding.path)
        return Refusal(finding.code, f"{self.name}:{line}: {key}: {finding.message}.", key, finding.hint)


def load_library(folder: Path) -> Library:
    """Return the library of `folder`, or raise the first Refusal; nothing is half-loaded.

    The hint says how many more findings there are; `inspect_library` lists them.
    """
    library, refusals = inspect_library(folder)
    if library is None:
        raise _first_of(refusals)
    return library


def inspect_library(folder: Path) -> tuple[Library | None, list[Refusal]]:
    """Return the library and no refusals, or None and every refusal there is reason for."""
    try:
        names = _names_in(folder)
    except Refusal as refusal:
        return None, [refusal]
    things: dict[str, list[Any]] = {shelf: [] for shelf in Library.model_fields}
    origins: dict[tuple[str, int], tuple[_Source, tuple[str | int, ...]]] = {}
    refusals: list[Refusal] = []
    for name in names:
        refusals += _add_file(folder, name, things, origins)
    if refusals:
        return None, refusals
    library = Library(**things)
    for finding in _findings(library):
        shelf, index = str(finding.path[0]), int(finding.path[1])
        source, front = origins[shelf, index]
        refusals.append(
            source.refusal(
                Finding(finding.code, finding.path[2:], finding.message, finding.hint).under(*front)
            )
        )
    return (None, refusals) if refusals else (library, [])


def load_policy(path: Path) -> Policy:
    """Return the policy profile in a TOML file, or raise a Refusal."""
    text = _read(path, path.name)
    source = _Source(path.name, places(text))
    policy, found = _validated(Policy, tomllib.loads(text))
    if policy is not None:
        found = list(sanity.policy(policy))
    if policy is None or found:
        raise _first_of([source.refusal(one) for one in found])
    return policy


def shipped_policies() -> dict[str, Policy]:
    """Return the profiles that come with the tool, by id: places to begin from, none of them in force."""
    found = [load_policy(path) for path in sorted(PROFILES.glob("*.toml"))]
    return {policy.id: policy for policy in found}


def library_from_document(document: Mapping[str, Any]) -> Library:
    """Return the library that `document` (the inverse of `as_document`) describes, or raise a Refusal."""
    library = _from_document(Library, document)
    found = list(_findings(library))
    if found:
        raise _first_of([_plain(one) for one in found])
    return library


def policy_from_document(document: Mapping[str, Any]) -> Policy:
    """Return the policy that `document` describes, or raise a Refusal."""
    policy = _from_document(Policy, document)
    found = list(sanity.policy(policy))
    if found:
        raise _first_of([_plain(one) for one in found])
    return policy


def as_document(model: BaseModel) -> dict[str, Any]:
    """Return a library or policy as plain JSON values, whole numbers as integers; absent values left out."""
    found: dict[str, Any] = _whole(model.model_dump(mode="json", by_alias=True, exclude_none=True))
    return found


def digest(model: BaseModel) -> str:
    """Return the SHA-256 (hex) of the document in canonical JSON: the name of exactly this content.

    >>> from lumenward.equipment.library import Library
    >>> digest(Library())[:12] == digest(library_from_document(as_document(Library())))[:12]
    True
    """
    text = json.dumps(as_document(model), sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    return hashlib.sha256(text.encode()).hexdigest()


def schemas() -> dict[str, dict[str, Any]]:
    """Return the JSON Schema of each kind of file, by file name."""
    shapes: dict[str, type[BaseModel]] = {
        "endoscopes/*.toml": EndoscopeModel,
        **SHAPES,
        "policy.toml": Policy,
    }
    return {name: shape.model_json_schema(by_alias=True) for name, shape in shapes.items()}


def _names_in(folder: Path) -> list[str]:
    if not folder.is_dir():
        raise Refusal("no-library", f"There is no library folder {folder}.", "library", "Name a folder.")
    names = sorted(
        p.relative_to(folder).as_posix() for p in folder.rglob("*.toml") if not p.name.startswith(".")
    )
    if not names:
        raise Refusal(
            "no-library",
            f"The folder {folder} holds no .toml file.",
            "library",
            f"A library holds endoscopes/*.toml and {', '.join(FILES)}.",
        )
    for name in names:
        if name not in FILES and not re.fullmatch(r"endoscopes/[^/]+\.toml", name):
            hint = one_of([*FILES, "endoscopes/NAME.toml"], name)
            raise Refusal("unknown-file", f"{name}:1: the library does not know this file.", name, hint)
    return names


def _add_file(
    folder: Path,
    name: str,
    things: dict[str, list[Any]],
    origins: dict[tuple[str, int], tuple[_Source, tuple[str | int, ...]]],
) -> list[Refusal]:
    try:
        text = _read(folder / name, name)
    except Refusal as refusal:
        return [refusal]
    source = _Source(name, places(text))
    data = tomllib.loads(text)
    read: list[tuple[str, Any, tuple[str | int, ...]]] = []
    if name not in FILES:
        model, found = _validated(EndoscopeModel, data)
        read = [("endoscopes", model, ())] if model else []
    else:
        file, found = _validated(SHAPES[name], data)
        read = [
            (shelf, one, (shelf, i))
            for shelf in FILES[name]
            if file
            for i, one in enumerate(getattr(file, shelf))
        ]
    for shelf, one, front in read:
        origins[shelf, len(things[shelf])] = (source, front)
        things[shelf].append(one)
    return [source.refusal(one) for one in found]


def _read(path: Path, name: str) -> str:
    try:
        raw = path.read_bytes() if path.stat().st_size <= LARGEST_BYTES else None
    except OSError as error:
        raise Refusal(
            "unreadable", f"{name}: cannot be read: {error.strerror}.", name, "Check the file."
        ) from None
    if raw is None:
        message = f"{name}:1: {path.stat().st_size} bytes are too many; at most {LARGEST_BYTES} are read."
        raise Refusal("too-large", message, name, "Is this the right file?")
    text = _decoded(raw, name)
    if not text.strip():
        raise Refusal("empty", f"{name}:1: the file is empty.", name, "Fill it, or remove it.")
    try:
        tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        raise _not_toml(str(error), name, text) from None
    return text


def _decoded(raw: bytes, name: str) -> str:
    try:
        return raw.decode("utf-8-sig").replace("\r\n", "\n")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        message = f"{name}:{line}: byte {raw[error.start]:#04x} is not UTF-8 text."
        raise Refusal("not-utf-8", message, name, "Save the file as UTF-8.") from None


def _not_toml(said: str, name: str, text: str) -> Refusal:
    match = re.search(r"line (\d+)", said)
    line = int(match[1]) if match else text.count("\n") + 1
    what = re.sub(r" \(at .*\)$", "", said) or "nested too deeply"
    return Refusal("not-toml", f"{name}:{line}: this is not TOML: {what}.", name, "Look at that line.")


def _validated(model: type[Model], data: Any) -> tuple[Model | None, list[Finding]]:
    try:
        return model.model_validate(data, strict=True), []
    except ValidationError as error:
        return None, wording.findings(error, model, data)


def _from_document(model: type[Model], document: Mapping[str, Any]) -> Model:
    try:
        return model.model_validate_json(json.dumps(document), strict=True)
    except ValidationError as error:
        found = wording.findings(error, model, document)
    except (TypeError, ValueError) as error:
        raise Refusal("not-json", f"The document is not plain JSON: {error}.", "document") from None
    raise _first_of([_plain(one) for one in found])


def _findings(library: Library) -> Iterable[Finding]:
    for shelf in Library.model_fields:
        for i, one in enumerate(getattr(library, shelf)):
            yield from (finding.under(shelf, i) for finding in sanity.thing(one))
    yield from references.library(library)


def _plain(finding: Finding) -> Refusal:
    key = dotted(finding.path)
    return Refusal(finding.code, f"{key or 'document'}: {finding.message}.", key, finding.hint)


def _first_of(refusals: list[Refusal]) -> Refusal:
    first, more = refusals[0], len(refusals) - 1
    if not more:
        return first
    hint = f"{first.hint} There {'is 1 more finding' if more == 1 else f'are {more} more findings'}.".strip()
    return Refusal(first.code, first.message, first.field, hint)


def _whole(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _whole(inner) for key, inner in value.items()}
    if isinstance(value, list):
        return [_whole(inner) for inner in value]
    return int(value) if isinstance(value, float) and value.is_integer() else value
