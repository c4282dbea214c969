"""`lumenward warm-up`: what somebody would wait for, made ahead."""

from __future__ import annotations

import os
import threading
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

from cyclopts import Parameter

from lumenward.cli.shell import DONE, say, start_django
from lumenward.quantities import Refusal

if TYPE_CHECKING:
    from lumenward.equipment.library import Library

_INPUT = 0  # the file number of standard input
GENTLE = 15  # how far the niceness rises beside the server


def warm_up(
    *,
    beside: Annotated[bool, Parameter(negative="")] = False,
    as_json: Annotated[bool, Parameter(name="--json", negative="")] = False,
) -> int:
    """Make ahead what somebody would wait for: compiled code, and each model's table for finding faults.

    `serve` does this by itself soon after its start. What is there already stays.

    Example: lumenward warm-up

    Parameters
    ----------
    beside
        give way to all other work, and end when standard input closes.
    """
    if beside:
        _give_way()
    start_django()
    from lumenward.hydraulics import solver
    from lumenward.records import environment

    home = environment.home()
    keep_compiled_in(home / "compiled")
    compiled = solver.warm_up()
    prepared, without = _tables(home / "tables")
    words = f"Compiled code: {'ready' if compiled else 'none; plain arrays do the same'}. "
    words += f"Tables for finding faults: {len(prepared)} ready."
    say(
        {"compiled": compiled, "tables": prepared, "without": without},
        "\n".join([words, *(f"None for {name}: {why}" for name, why in without.items())]),
        as_json,
    )
    return DONE


def keep_compiled_in(folder: Path) -> None:
    """Let the compiler keep its code in `folder` where it cannot keep it beside ours. To be said before it loads."""
    from lumenward import hydraulics

    ours = Path(hydraulics.__path__[0])
    place = ours / "__pycache__" if (ours / "__pycache__").is_dir() else ours
    if not os.access(place, os.W_OK):
        os.environ.setdefault("NUMBA_CACHE_DIR", str(folder))


def _tables(folder: Path) -> tuple[list[str], dict[str, str]]:
    """Prepare the tables of the library in force; return which there are, and why there is none for others."""
    from lumenward.calculations import diagnose
    from lumenward.records.world import StoredWorld

    diagnose.keep_tables_in(folder)
    prepared: list[str] = []
    without: dict[str, str] = {}
    try:
        library = StoredWorld().library(datetime.now(UTC))
    except Refusal as refusal:
        return [], {"any model": refusal.message}
    for name, case in _cases(library):
        try:
            diagnose.table_of(diagnose.Input.model_validate(case))
            prepared.append(name)
        except Refusal as refusal:
            without[name] = refusal.message
    return prepared, without


def _cases(library: Library) -> Iterator[tuple[str, dict[str, Any]]]:
    """Yield what the page of channels asks of every model, set and pump in water of the usual temperature."""
    from lumenward.hydraulics.assemble import assemble, port_tube
    from lumenward.screens.channels.finding import network_case
    from lumenward.screens.channels.question import USUAL_C

    for model in library.endoscopes:
        for kind in (one for one in library.connector_sets if model.id in one.fits and model.channels):
            ports = [port_tube(tube.port) for tube in kind.tubes if tube.clamp]
            for pump in library.pumps:
                network = network_case(assemble(model, kind, pump, USUAL_C))
                yield (
                    f"{model.id}, {kind.id}, {pump.id}",
                    {"network": network, "ports": ports, "readings": []},
                )


def _give_way() -> None:
    if hasattr(os, "nice"):
        os.nice(GENTLE)
    threading.Thread(target=_end_with_input, daemon=True).start()


def _end_with_input() -> None:
    while os.read(_INPUT, 1024):  # unbuffered: a lock held here would trouble the end of the process
        pass
    os._exit(DONE)
