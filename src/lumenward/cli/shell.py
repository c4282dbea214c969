"""How every command speaks: words for people, one JSON object for scripts, exit codes that mean something.

0 done · 1 a check found something · 2 refused (bad input, bad setting, not allowed) · 3 the database cannot be
reached or is not migrated · 70 a fault of ours.
"""

from __future__ import annotations

import os
import sys
import traceback
from collections.abc import Sequence
from typing import Any

from lumenward.interchange.strict_json import to_json
from lumenward.quantities import Refusal

DONE, FOUND, REFUSED, NO_DATABASE, FAULT = 0, 1, 2, 3, 70
_TOP = 100


def run(argv: Sequence[str]) -> int:
    """Run one command line; return the exit code. Nothing is raised."""
    as_json = "--json" in argv or argv[:1] == ["calc"]
    try:
        from lumenward.cli.commands import build

        app = build(with_words=len(argv) < 2 or "--help" in argv or "-h" in argv)
        code = app(list(argv), exit_on_error=False, print_error=False, result_action="return_value")
        sys.stdout.flush()
        return code if isinstance(code, int) else DONE
    except Refusal as refusal:
        return _say_no(refusal, as_json, REFUSED)
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
        return DONE
    except KeyboardInterrupt:
        return 130
    except Exception as error:
        return _say_no(*_explained(error, as_json))


def say(data: dict[str, Any], words: str, as_json: bool) -> None:
    """Print the result: one JSON object for scripts, words for people."""
    print(to_json(data) if as_json else words)


def start_django() -> None:
    """Make the home and load the records; only commands that need them pay for it."""
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "lumenward.records.settings")
    from lumenward.records import environment

    environment.prepare(environment.home())
    import django

    django.setup()


def _say_no(refusal: Refusal, as_json: bool, code: int) -> int:
    if as_json:
        print(to_json({"error": refusal.as_dict()}))
    else:
        where = f" [{refusal.field}]" if refusal.field else ""
        print(f"{refusal.message}{where}", refusal.hint, sep="\n" if refusal.hint else "", file=sys.stderr)
    return code


def _explained(error: Exception, as_json: bool) -> tuple[Refusal, bool, int]:
    kind = type(error)
    if kind.__module__.startswith("cyclopts"):
        message = " ".join(str(error).split())
        return Refusal("bad-command", message, "", "See lumenward --help."), as_json, REFUSED
    if kind.__module__.startswith("django.db") and kind.__name__ in ("OperationalError", "ProgrammingError"):
        message = f"The database cannot be used: {str(error).splitlines()[0]}"
        hint = "Check LUMENWARD_DATABASE; run `lumenward migrate` if it is new."
        return Refusal("no-database", message, "LUMENWARD_DATABASE", hint), as_json, NO_DATABASE
    if isinstance(error, OSError):
        message = f"{error.strerror or error}: {error.filename or ''}".rstrip(": ")
        return Refusal("no-file", message, "", "Check the path and its permissions."), as_json, REFUSED
    place = traceback.extract_tb(error.__traceback__)[-1]
    message = f"A fault of ours: {kind.__name__}: {error}"[: 5 * _TOP]
    return Refusal("our-fault", message, "", f"At {place.filename}:{place.lineno}."), as_json, FAULT
