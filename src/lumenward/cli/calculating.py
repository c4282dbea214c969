"""`lumenward calc`: one JSON object in, one JSON object out, no database."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Annotated, Any, NoReturn

from cyclopts import Parameter

from lumenward import calculations
from lumenward.cli.shell import to_json
from lumenward.quantities import Refusal

LARGEST = 50_000_000  # characters of one case


def calc(
    name: str = "",
    /,
    *,
    file: Path | None = None,
    schema: bool = False,
    plot: Path | None = None,
    json: Annotated[bool, Parameter(negative="")] = True,
) -> int:
    """Run one calculation on a JSON object from standard input or a file; without a name, list them.

    Example: echo '{"temperature_c": 20}' | lumenward calc water

    Parameters
    ----------
    name
        which calculation.
    file
        read the case from this file instead of standard input.
    schema
        print the JSON Schemas of input and output instead.
    plot
        draw the result into this .svg or .png file as well.
    json
        always on; accepted so that scripts may say it everywhere.
    """
    if not name:
        print(to_json({"calculations": list(calculations.NAMES)}))
        return 0
    if schema:
        print(to_json(calculations.schema(name)))
        return 0
    module = calculations.find(name)
    case = read_case(file)
    result = calculations.run(name, case)
    if plot is not None:
        draw(module, name, case, plot)
    print(to_json(result))
    return 0


def read_case(file: Path | None) -> dict[str, Any]:
    """Return the case as a plain mapping, or raise a Refusal that says where the JSON is wrong."""
    if file is not None:
        data = _bytes_of(file)
    else:
        if sys.stdin.isatty():
            raise Refusal(
                "no-case", "No case was given.", "", "Give JSON on standard input, or --file CASE.json."
            )
        data = sys.stdin.buffer.read(LARGEST + 1)
    if len(data) > LARGEST:
        raise Refusal("too-large", f"A case has at most {LARGEST} bytes.", "", "Send a shorter case.")
    return parse(data)


def parse(data: bytes) -> dict[str, Any]:
    """Return JSON bytes as a mapping; NaN, doubled keys and anything but an object are refused.

    >>> parse(b'{"temperature_c": 20}')
    {'temperature_c': 20}
    """
    try:
        case = json.loads(data.decode("utf-8-sig"), parse_constant=_not_a_number, object_pairs_hook=_once)
    except UnicodeDecodeError as error:
        raise Refusal("not-json", f"Byte {error.start} is not UTF-8.", "", "Give UTF-8 JSON.") from None
    except json.JSONDecodeError as error:
        message = f"This is not JSON: {error.msg} at line {error.lineno}, column {error.colno}."
        raise Refusal(
            "not-json", message, "", "Decimal points, no commas in numbers, double quotes."
        ) from None
    except (RecursionError, ValueError):
        raise Refusal("not-json", "This JSON cannot be read: too deep or too long a number.", "") from None
    if not isinstance(case, dict):
        raise Refusal("not-an-object", "A case is one JSON object.", "", "Begin with { and end with }.")
    return case


def draw(module: Any, name: str, case: dict[str, Any], path: Path) -> None:
    """Draw a calculation's picture into a file; a calculation without one says so."""
    from lumenward.calculations.case import parse as read
    from lumenward.interchange.pictures import save

    if not hasattr(module, "picture"):
        raise Refusal("no-picture", f"The calculation {name!r} has no picture.", "plot", "Leave --plot away.")
    given = read(module.Input, case)
    save(module.picture(given, module.run(given)), path)


def _bytes_of(file: Path) -> bytes:
    try:
        with file.open("rb") as source:
            return source.read(LARGEST + 1)
    except OSError as error:
        raise Refusal("no-file", f"{file}: {error.strerror}.", "file", "Check the path.") from None


def _not_a_number(word: str) -> NoReturn:
    raise Refusal("not-finite", f"{word} is not a number that JSON knows.", "", "Give a finite number.")


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) < len(pairs):
        keys = [key for key, _ in pairs]
        twice = next(key for key in keys if keys.count(key) > 1)
        raise Refusal("doubled-key", f"The key {twice!r} is there twice.", twice, "Give each key once.")
    return found
