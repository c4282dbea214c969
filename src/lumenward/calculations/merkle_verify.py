"""Whether a proof of inclusion or consistency holds."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from lumenward.calculations.case import CaseInput, CaseOutput
from lumenward.ledger import leaf_hash, verify_consistency, verify_inclusion
from lumenward.ledger.hexadecimal import read_hex
from lumenward.quantities import Refusal

TITLE = "Checking a proof of the ledger's tree"
LEAVES_OUT = [
    "The root must come from outside the system that is being checked: a print, a mail, another site.",
    "A valid proof says the leaf was recorded, not that what it says is true.",
]
EXAMPLE = {
    "kind": "inclusion",
    "index": 0,
    "size": 2,
    "leaf_hex": "",
    "root_hex": "fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125",
    "proof_hex": ["96a296d224f285c67bee93c30f8a309157f0daa35dc5b87e410b78630a09cfc7"],
}

Count = Annotated[int, Field(ge=0)]
_NEEDED = {
    "inclusion": ("index", "size", "leaf_hex", "root_hex"),
    "consistency": ("size1", "size2", "root1_hex", "root2_hex"),
}


class Input(CaseInput):
    """One proof; which keys it needs depends on `kind`."""

    kind: Literal["inclusion", "consistency"]
    proof_hex: list[str]
    index: Count | None = None
    size: Count | None = None
    leaf_hex: str | None = Field(None, description="The leaf's data, or its 32-byte leaf hash.")
    root_hex: str | None = None
    size1: Count | None = None
    size2: Count | None = None
    root1_hex: str | None = None
    root2_hex: str | None = None


class Output(CaseOutput):
    """`leaf_read_as` says whether `leaf_hex` held as the leaf's `data` or as its `hash`; empty otherwise."""

    valid: bool
    leaf_read_as: Literal["data", "hash", ""] = ""


def run(case: Input) -> Output:
    """Return whether the proof holds; a malformed proof is not valid, a malformed case is refused."""
    _require_keys(case)
    proof = [read_hex(text, f"proof_hex[{i}]") for i, text in enumerate(case.proof_hex)]
    if case.kind == "inclusion":
        return _inclusion(case, proof)
    root1, root2 = read_hex(case.root1_hex or "", "root1_hex"), read_hex(case.root2_hex or "", "root2_hex")
    return Output(valid=verify_consistency(case.size1 or 0, case.size2 or 0, root1, root2, proof))


def _inclusion(case: Input, proof: list[bytes]) -> Output:
    leaf, root = read_hex(case.leaf_hex or "", "leaf_hex"), read_hex(case.root_hex or "", "root_hex")
    place = (case.index or 0, case.size or 0)
    if verify_inclusion(*place, leaf_hash(leaf), proof, root):
        return Output(valid=True, leaf_read_as="data")
    if verify_inclusion(*place, leaf, proof, root):
        return Output(valid=True, leaf_read_as="hash")
    return Output(valid=False)


def _require_keys(case: Input) -> None:
    for kind, keys in _NEEDED.items():
        for key in keys:
            given = getattr(case, key) is not None
            if kind == case.kind and not given:
                raise Refusal("missing", f"{key}: a proof of {kind} needs it.", key, "Add this key.")
            if kind != case.kind and given:
                raise Refusal(
                    "unknown-key",
                    f"{key} belongs to a proof of {kind}.",
                    key,
                    "Remove this key, or change kind.",
                )
