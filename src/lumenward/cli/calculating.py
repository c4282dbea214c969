"""`lumenward calc`: one JSON object in, one JSON object out, no database."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated, Any

from cyclopts import Parameter

from lumenward import calculations
from lumenward.interchange.strict_json import read_object, to_json
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
    if name == "diagnose":
        keep_tables()
    result = calculations.run(name, case)
    if plot is not None:
        draw(module, name, case, plot)
    print(to_json(result))
    return 0


def keep_tables() -> None:
    """Keep what a diagnosis works out for each model in the house's folder, where there is one."""
    from lumenward.calculations.diagnose import keep_tables_in
    from lumenward.records.environment import text

    home = Path(text("LUMENWARD_HOME", ".lumenward"))
    keep_tables_in(home / "tables" if home.is_dir() else None)


def read_case(file: Path | None) -> dict[str, Any]:
    """Return the case as a plain mapping, or raise a Refusal that says where the JSON is wrong."""
    if file is not None:
        data = _bytes_of(file)
    else:
        if sys.stdin is None or sys.stdin.isatty():
            raise Refusal(
                "no-case", "No case was given.", "", "Give JSON on standard input, or --file CASE.json."
            )
        data = sys.stdin.buffer.read(LARGEST + 1)
    if len(data) > LARGEST:
        raise Refusal("too-large", f"A case has at most {LARGEST} bytes.", "", "Send a shorter case.")
    return read_object(data)


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
