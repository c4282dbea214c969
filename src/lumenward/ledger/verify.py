"""Checking a stored ledger against its own hashes and against tree heads kept elsewhere.

Everything streams: 10⁷ leaves need no more memory than ten.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from lumenward.ledger.merkle import Frontier, leaf_hash

Leaf = tuple[bytes, str]


@dataclass(frozen=True)
class TreeHead:
    """What was promised at some time: so many leaves, this root (hexadecimal)."""

    size: int
    root_hex: str


@dataclass(frozen=True)
class LedgerFinding:
    """One thing wrong: `code` for programs, the leaf or head it belongs to, a sentence for people."""

    code: str
    index: int
    message: str


@dataclass(frozen=True)
class LedgerReport:
    """What a whole pass over the ledger found; `head` is the head of what was read."""

    head: TreeHead
    findings: tuple[LedgerFinding, ...]

    @property
    def sound(self) -> bool:
        """Whether nothing was found."""
        return not self.findings


def verify_leaves(leaves: Iterable[Leaf]) -> int | None:
    """Return the index of the first leaf whose bytes do not have the hash beside them, or None.

    >>> verify_leaves([(b"a", leaf_hash(b"a").hex()), (b"b", leaf_hash(b"c").hex())])
    1
    """
    for index, (data, expected_hex) in enumerate(leaves):
        if leaf_hash(data).hex() != expected_hex.lower():
            return index
    return None


def head_of(leaves: Iterable[bytes]) -> TreeHead:
    """Return the tree head over leaf data in order."""
    frontier = Frontier()
    frontier.extend(leaf_hash(data) for data in leaves)
    return TreeHead(frontier.size, frontier.root().hex())


def verify_head(leaves: Iterable[bytes], head: TreeHead) -> bool:
    """Return whether the first `head.size` leaves have the promised root (later leaves do not matter)."""
    return not _head_findings(verify_ledger(((d, leaf_hash(d).hex()) for d in leaves), [head]).findings)


def verify_ledger(leaves: Iterable[Leaf], heads: Sequence[TreeHead] = (), worst: int = 100) -> LedgerReport:
    """Return every difference between leaf bytes, leaf hashes and promised heads, at most `worst` of each kind.

    The tree is built from the bytes, not from the stored hashes, so a leaf changed together with its hash still
    breaks every head that covers it. A head larger than the ledger means leaves were cut off or rolled back.
    """
    frontier = Frontier()
    findings: list[LedgerFinding] = []
    waiting = sorted(enumerate(heads), key=lambda pair: pair[1].size)
    done = _due(waiting, frontier)
    for index, (data, stored_hex) in enumerate(leaves):
        actual = leaf_hash(data)
        if actual.hex() != stored_hex.lower() and len(findings) < worst:
            findings.append(
                LedgerFinding("leaf-changed", index, f"Leaf {index} does not have its recorded hash.")
            )
        frontier.append(actual)
        if waiting and waiting[0][1].size == frontier.size:
            done += _due(waiting, frontier)
    done += [_cut_off(number, head, frontier.size) for number, head in waiting]
    return LedgerReport(TreeHead(frontier.size, frontier.root().hex()), (*findings, *done[:worst]))


def _due(waiting: list[tuple[int, TreeHead]], frontier: Frontier) -> list[LedgerFinding]:
    found = []
    while waiting and waiting[0][1].size <= frontier.size:
        number, head = waiting.pop(0)
        if head.size != frontier.size or head.root_hex.lower() != frontier.root().hex():
            message = f"The first {head.size} leaves do not have the root promised in head {number}."
            found.append(LedgerFinding("head-broken", number, message))
    return found


def _cut_off(number: int, head: TreeHead, size: int) -> LedgerFinding:
    message = f"Head {number} promised {head.size} leaves; only {size} are here."
    return LedgerFinding("leaves-missing", number, message)


def _head_findings(findings: tuple[LedgerFinding, ...]) -> list[LedgerFinding]:
    return [finding for finding in findings if finding.code != "leaf-changed"]
