"""A cycle's record as one JSON document: every act as it was hashed, the verdicts, and the proof to check it by."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from lumenward.interchange.record_parts import CycleRecord, Line

HOW = (
    "Each act: leaf = SHA-256(0x00 || leaf_data as UTF-8). Path: fold leaf and path to the root by RFC 9162, section"
    " 2.1.3.2, with leaf_number and tree.size. Code: root over the leaves of this cycle's acts in the order of"
    " leaf_number, first 80 bits, Crockford base 32."
)


def record_json(record: CycleRecord) -> dict[str, Any]:
    """Return everything the record holds, so that it can be checked without this program."""
    own = len(record.lines)
    events = [_event(event, record.proof.paths) for event in record.events]
    return {
        "format": "lumenward cycle record", "version": 1, "cycle": record.cycle, "endoscope": record.endoscope,
        "name": record.name, "headline": record.headline, "unit": record.unit, "demo": record.demo,
        "zone": record.zone, "as_of": record.printed.iso, "verification_code": record.code,
        "facts": dict(record.facts), "documents": record.documents, "acts": events[:own], "rests_on": events[own:],
        "told": [_line(line) for line in (*record.lines, *record.rests_on)],
        "signature": asdict(record.signature) if record.signature else None,
        "verdict_at_release": asdict(record.verdict_then) if record.verdict_then else None,
        "verdict_now": asdict(record.verdict_now) if record.verdict_now else None,
        "tree": {"size": record.proof.size, "root": record.proof.root}, "how_to_check": HOW,
    }  # fmt: skip


def _event(event: dict[str, Any], paths: dict[str, list[str]]) -> dict[str, Any]:
    plain = {key: value for key, value in event.items() if key != "leaf_index"}
    number = event["leaf_index"]
    return plain | {"leaf_number": number, "path": paths.get(str(number), [])}


def _line(line: Line) -> dict[str, Any]:
    return {
        "act": line.number, "id": line.id, "sentence": line.sentence,
        "numbers": [asdict(number) for number in line.numbers], "late_entry": line.late_entry,
        "corrections": [asdict(one) for one in line.corrections],
    }  # fmt: skip
