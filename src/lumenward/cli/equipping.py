"""`lumenward library` and `lumenward policy`: descriptions of equipment and decisions, checked before adopted."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated, Any

from cyclopts import Parameter

from lumenward.cli.shell import DONE, FOUND, say, start_django
from lumenward.equipment import loader
from lumenward.interchange.strict_json import to_json
from lumenward.quantities import Refusal

Json = Annotated[bool, Parameter(name="--json", negative="")]


def check_library(folder: Path, /, *, as_json: Json = False) -> int:
    """Check a library folder and list everything wrong: file, line, key, found, allowed. Exit 1 on any finding.

    Example: lumenward library check ./library
    """
    library, refusals = loader.inspect_library(folder)
    found: dict[str, Any] = {"sound": library is not None, "findings": [r.as_dict() for r in refusals]}
    words = "\n".join(f"{refusal.message} {refusal.hint}".strip() for refusal in refusals)
    if library is not None:
        found["digest"] = loader.digest(library)
        words = f"{len(library.endoscopes)} models, nothing found. Digest {found['digest'][:16]}…"
    say(found, words, as_json)
    return DONE if library is not None else FOUND


def adopt_library(folder: Path, /, *, as_json: Json = False) -> int:
    """Put a library in force from now on; the whole of it goes into the record.

    Example: lumenward library adopt ./library
    """
    library = loader.load_library(folder)
    start_django()
    from lumenward.records.housekeeping import SHELL, adopt_library

    digest = adopt_library(library, SHELL, datetime.now(UTC))
    say({"digest": digest}, f"The library {digest[:16]}… is in force.", as_json)
    return DONE


def library_schema() -> int:
    """Print the JSON Schema of every kind of library file.

    Example: lumenward library schema > library.schema.json
    """
    print(to_json({name: one for name, one in loader.schemas().items() if name != "policy.toml"}))
    return DONE


def check_policy(file: Path, /, *, as_json: Json = False) -> int:
    """Check a policy file. Exit 2 where it is refused.

    Example: lumenward policy check policy.toml
    """
    policy = loader.load_policy(file)
    digest = loader.digest(policy)
    say({"sound": True, "digest": digest}, f"{policy.name}: nothing found. Digest {digest[:16]}…", as_json)
    return DONE


def adopt_policy(file: str, /, *, reason: str, as_json: Json = False) -> int:
    """Put a policy in force from now on: a file, or the id of a profile that comes with the tool.

    Example: lumenward policy adopt policy.toml --reason "agreed on 3 March"

    Parameters
    ----------
    file
        the policy file, or a shipped profile's id.
    reason
        why, in the words that will stand in the record.
    """
    policy = _policy(file)
    start_django()
    from lumenward.records.housekeeping import SHELL, adopt_policy

    digest = adopt_policy(policy, reason, SHELL, datetime.now(UTC))
    say({"digest": digest}, f"The policy {policy.name!r} ({digest[:16]}…) is in force.", as_json)
    return DONE


def policy_schema() -> int:
    """Print the JSON Schema of a policy file.

    Example: lumenward policy schema > policy.schema.json
    """
    print(to_json(loader.schemas()["policy.toml"]))
    return DONE


def _policy(name: str) -> Any:
    if Path(name).exists():
        return loader.load_policy(Path(name))
    shipped = loader.shipped_policies()
    if name in shipped:
        return shipped[name]
    raise Refusal(
        "no-file",
        f"There is no file {name} and no profile of that id.",
        "file",
        f"Profiles: {', '.join(shipped)}.",
    )
