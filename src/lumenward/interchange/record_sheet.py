"""A cycle's record as HTML: one sheet, the same on a screen, on paper and in a PDF."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from pathlib import Path

from django.template import Context, Engine

from lumenward.interchange.record_code import picture
from lumenward.interchange.record_parts import CycleRecord

SHEETS = Path(str(files("lumenward.interchange"))) / "sheets"
CAUTION = (
    "The maker's instructions for use, local codes and licensed practice decide. Lumenward supports them, it does not"
    " replace them. A passed test or a negative culture does not prove that an endoscope is free of germs."
)
_SHOWN = 12  # characters of a hash on the sheet; the whole ones are in the JSON file


@dataclass(frozen=True)
class Leaf:
    """One row of the proof."""

    act: int
    index: int
    leaf: str
    path: str


def sheet(record: CycleRecord, correct_at: str = "") -> str:
    """Return the record as HTML. `correct_at` is the address below which acts are corrected; none, no links."""
    context = {
        "record": record, "picture": picture(record.code_text), "caution": CAUTION, "leaves": _leaves(record),
        "correct_at": correct_at,
    }  # fmt: skip
    return str(_engine().get_template("cycle.html").render(Context(context)))


def css() -> str:
    """Return the style of the sheet on paper."""
    return (SHEETS / "sheet.css").read_text(encoding="utf-8")


@cache
def _engine() -> Engine:
    return Engine(dirs=[str(SHEETS)])


def _leaves(record: CycleRecord) -> list[Leaf]:
    lines = [*record.lines, *record.rests_on]
    return [
        Leaf(
            line.number, line.leaf_index, line.leaf[:_SHOWN], _path(record.proof.paths[str(line.leaf_index)])
        )
        for line in lines
    ]


def _path(steps: list[str]) -> str:
    return " ".join(step[:4] for step in steps)
