"""`lumenward evidence`: our figures beside somebody else's."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

from cyclopts import Parameter

from lumenward import evidence as checks
from lumenward.cli.shell import DONE, FOUND, say
from lumenward.quantities import Refusal


def evidence(
    *,
    topic: str = "",
    folder: Path | None = None,
    as_json: Annotated[bool, Parameter(name="--json", negative="")] = False,
) -> int:
    """Print check, expected, ours, deviation, tolerance, source. Exit 1 when one is out of tolerance.

    Example: lumenward evidence --topic dosing

    Parameters
    ----------
    topic
        only checks whose topic contains this.
    folder
        where the checks are; `tests/evidence` of the source tree by default.
    """
    rows = [_row(check) for check in checks.load(_folder(folder)) if topic in check.topic]
    lines = [_line(row) for row in rows]
    failed = sum(not row["holds"] for row in rows)
    say(
        {"checks": rows, "failed": failed},
        "\n".join([*lines, f"{len(rows)} checks, {failed} failed."]),
        as_json,
    )
    return FOUND if failed else DONE


def _folder(given: Path | None) -> Path:
    folder = given or Path(__file__).resolve().parents[3] / "tests" / "evidence"
    if not folder.is_dir():
        raise Refusal(
            "no-file", f"There are no checks in {folder}.", "folder", "Give --folder, or use the source tree."
        )
    return folder


def _row(check: checks.Check) -> dict[str, Any]:
    ours, deviation = check.measure()
    return {
        "topic": check.topic, "check": check.name, "expected": check.expected, "ours": ours, "deviation": deviation,
        "tolerance": check.tolerance, "relative": check.relative, "holds": deviation <= check.tolerance,
        "source": check.source, "known": check.known,
    }  # fmt: skip


def _line(row: dict[str, Any]) -> str:
    mark = "holds " if row["holds"] else "FAILS "
    ours = f"{row['ours']:.6g}" if isinstance(row["ours"], float) else str(row["ours"])[:40]
    expected = f"{row['expected']:.6g}" if isinstance(row["expected"], float) else str(row["expected"])[:40]
    figures = (
        f"expected {expected} · ours {ours} · deviation {row['deviation']:.2g} of {row['tolerance']:.2g}"
    )
    return f"{mark} {row['topic']}: {row['check']} · {figures} · {row['source']} ({row['known']})"
