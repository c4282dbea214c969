"""The ledger's mathematics: canonical form, hashes, tree, proofs, ids, verification. Pure, no storage."""

from __future__ import annotations

from lumenward.ledger.canonical import canonical_json, read_canonical
from lumenward.ledger.merkle import (
    EMPTY_ROOT,
    Frontier,
    consistency_proof,
    consistency_spans,
    inclusion_proof,
    inclusion_spans,
    leaf_hash,
    node_hash,
    proof_of,
    root_of,
    verify_consistency,
    verify_inclusion,
)
from lumenward.ledger.uuid7 import ParsedId, make_id, parse_id
from lumenward.ledger.verify import (
    LedgerFinding,
    LedgerReport,
    TreeHead,
    head_of,
    verify_head,
    verify_leaves,
    verify_ledger,
)

__all__ = [
    "EMPTY_ROOT",
    "Frontier",
    "LedgerFinding",
    "LedgerReport",
    "ParsedId",
    "TreeHead",
    "canonical_json",
    "consistency_proof",
    "consistency_spans",
    "head_of",
    "inclusion_proof",
    "inclusion_spans",
    "leaf_hash",
    "make_id",
    "node_hash",
    "parse_id",
    "proof_of",
    "read_canonical",
    "root_of",
    "verify_consistency",
    "verify_head",
    "verify_inclusion",
    "verify_leaves",
    "verify_ledger",
]
