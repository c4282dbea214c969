"""Fault tables kept on disk: worked out once for each model and supply, read back in milliseconds.

    kept(folder, network, ports, …) -> Table

The file's name is the digest of everything the table depends on, so a changed model never meets an old table. A file
that cannot be read is made anew; where nothing can be written, the table is only not kept.
"""

from __future__ import annotations

import os
import zipfile
from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path

import numpy as np

from lumenward.hydraulics.fault_table import Sheet, Table, digest, usual_settings
from lumenward.hydraulics.faults import Rig, rig
from lumenward.hydraulics.network import Network

_PARTS = ("row", "mean", "slope", "left")


def kept(
    folder: Path,
    network: Network,
    ports: Sequence[str],
    gauge: str | None = None,
    places: Sequence[str] | None = None,
    doubles: bool = True,
) -> Table:
    """Return the table from `folder`, prepared and written there first if need be; arguments as in `prepare`."""
    made = rig(network, ports, gauge, places, doubles)
    path = folder / f"faults-{digest(made)}.npz"
    found = _load(path, made)
    if found is None:
        found = Table(made, {}).with_settings(usual_settings(ports))
        with suppress(OSError):
            _save(path, found)
    return found


def _load(path: Path, made: Rig) -> Table | None:
    settings = usual_settings(made.ports)
    try:
        with np.load(path, allow_pickle=False) as data:
            sheets = {
                frozenset(setting): Sheet(*(data[f"{part}{i}"] for part in _PARTS))
                for i, setting in enumerate(settings)
            }
    except (OSError, KeyError, ValueError, EOFError, zipfile.BadZipFile):
        return None
    return Table(made, sheets)


def _save(path: Path, table: Table) -> None:
    """Write beside the place and move, so that nobody ever reads half a table."""
    path.parent.mkdir(parents=True, exist_ok=True)
    arrays = {
        f"{part}{i}": getattr(table.sheets[frozenset(setting)], part)
        for i, setting in enumerate(usual_settings(table.rig.ports))
        for part in _PARTS
    }
    beside = path.with_suffix(f".{os.getpid()}.tmp")
    with beside.open("wb") as file:
        np.savez_compressed(file, **arrays)
    beside.replace(path)
