"""The root of a ledger's tree over given leaves, and a proof of inclusion or consistency."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from lumenward.calculations.case import CaseInput, CaseOutput
from lumenward.ledger import consistency_proof, inclusion_proof, leaf_hash, root_of
from lumenward.ledger.hexadecimal import read_hex
from lumenward.quantities import Refusal

TITLE = "Root and proofs of the ledger's tree"
LEAVES_OUT = [
    "A root proves that leaves have not changed since it was noted, not that what they say is true.",
    "A root that nobody keeps outside the system proves nothing.",
]
EXAMPLE = {"leaves_hex": ["", "00", "10", "2021", "3031"], "inclusion": [2, 5]}

Pair = Annotated[list[Annotated[int, Field(ge=0)]], Field(min_length=2, max_length=2)]


class Input(CaseInput):
    """Leaf data in order; at most one of the two proofs."""

    leaves_hex: list[str] = Field(
        description="Data of each leaf, hexadecimal; an empty text is an empty leaf."
    )
    inclusion: Pair | None = Field(None, description="Leaf index (from 0) and tree size.")
    consistency: Pair | None = Field(None, description="Earlier and later tree size.")


class Output(CaseOutput):
    """The root over all leaves, and what was asked to be proved."""

    root_hex: str
    proof_hex: list[str]
    leaf_hashes_hex: list[str]
    proof_root_hex: str = Field(description="Root of the tree size that the proof leads to.")
    earlier_root_hex: str | None = Field(None, description="Root of the earlier size of a consistency proof.")


def run(case: Input) -> Output:
    """Return root and proof; raise Refusal `two-proofs`, `not-hex` or `no-proof`."""
    if case.inclusion and case.consistency:
        raise Refusal(
            "two-proofs", "Inclusion and consistency are both asked for.", "consistency", "Ask for one."
        )
    hashes = [leaf_hash(read_hex(text, f"leaves_hex[{i}]")) for i, text in enumerate(case.leaves_hex)]
    proof, size, earlier = _proof(case, hashes)
    return Output(
        root_hex=root_of(hashes).hex(),
        proof_hex=[step.hex() for step in proof],
        leaf_hashes_hex=[value.hex() for value in hashes],
        proof_root_hex=root_of(hashes[:size]).hex(),
        earlier_root_hex=None if earlier is None else root_of(hashes[:earlier]).hex(),
    )


def _proof(case: Input, hashes: list[bytes]) -> tuple[list[bytes], int, int | None]:
    try:
        if case.inclusion:
            index, size = case.inclusion
            return inclusion_proof(hashes, index, size), size, None
        if case.consistency:
            earlier, later = case.consistency
            return consistency_proof(hashes, earlier, later), later, earlier
    except Refusal as refusal:
        refusal.field = "inclusion" if case.inclusion else "consistency"
        raise
    return [], len(hashes), None
