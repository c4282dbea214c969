"""`lumenward bench`: how fast it is here, beside a peer in the same run."""

from __future__ import annotations

from typing import Annotated, Any

from cyclopts import Parameter

from lumenward.cli.shell import DONE, FOUND, say


def channels(*, as_json: Annotated[bool, Parameter(name="--json", negative="")] = False) -> int:
    """Measure how fast channels are calculated on this machine, beside EPANET and HiGHS in the same run.

    Takes about a minute. Exit 1 when a figure misses what the project set itself. A peer whose package is not
    installed is named and counts neither way.

    Example: lumenward bench channels --json
    """
    from lumenward.cli.bench_channels import channels_benchmark

    report = channels_benchmark()
    missed = [row["name"] for row in report["measures"] if row["met"] is False]
    said = [*map(_line, report["measures"]), *report["notes"], _summary(report, missed)]
    say(report | {"missed": missed}, "\n".join(said), as_json)
    return FOUND if missed else DONE


def _line(row: dict[str, Any]) -> str:
    mark = {True: "met   ", False: "MISSED", None: "      "}[row["met"]]
    wanted = "" if row["wanted"] is None else f" (wanted {_figure(row['wanted'])})"
    note = f" · {row['note']}" if row["note"] else ""
    return f"{mark} {row['name']}: {_figure(row['value'])} {row['unit']}{wanted}{note}"


def _figure(value: float) -> str:
    return f"{value:,.0f}" if abs(value) >= 1000 else f"{value:.3g}"


def _summary(report: dict[str, Any], missed: list[str]) -> str:
    judged = sum(row["met"] is not None for row in report["measures"])
    gone = ", ".join(report["missing"])
    return f"{judged} figures judged, {len(missed)} missed." + (f" Not measured: {gone}." if gone else "")
