"""The tree over the ledger's leaves: RFC 6962 section 2.1, RFC 9162 section 2.1 (SHA-256), and its proofs.

leaf = H(00 ‖ data), node = H(01 ‖ left ‖ right), empty = H(""), split at the largest power of two below the size.
The different prefixes keep a node from ever being passed off as a leaf.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from hashlib import sha256

from lumenward.quantities import Refusal

HASH_BYTES = 32
EMPTY_ROOT = sha256(b"").digest()
Span = tuple[int, int]


def leaf_hash(data: bytes) -> bytes:
    """Return the hash of one leaf's data.

    >>> leaf_hash(b"").hex()[:8]
    '6e340b9c'
    """
    return sha256(b"\x00" + data).digest()


def node_hash(left: bytes, right: bytes) -> bytes:
    """Return the hash of an inner node."""
    return sha256(b"\x01" + left + right).digest()


class Frontier:
    """The tree so far, held as the roots of its perfect subtrees: appending and the root cost O(log n).

    >>> frontier = Frontier()
    >>> frontier.extend([leaf_hash(b""), leaf_hash(bytes(1))])
    >>> frontier.size, frontier.root().hex()[:8]
    (2, 'fac54203')
    """

    def __init__(self, size: int = 0, peaks: Iterable[bytes] = ()) -> None:
        self.size = size
        self.peaks = list(peaks)
        if size < 0 or len(self.peaks) != size.bit_count() or any(len(p) != HASH_BYTES for p in self.peaks):
            raise Refusal(
                "bad-frontier",
                f"{len(self.peaks)} stored hashes do not describe a tree of {size} leaves.",
                hint="Build the tree again from the ledger's leaves.",
            )

    def append(self, leaf: bytes) -> None:
        """Add one leaf hash (32 bytes)."""
        _require_hash(leaf)
        merges = (self.size ^ (self.size + 1)).bit_count() - 1
        for _ in range(merges):
            leaf = node_hash(self.peaks.pop(), leaf)
        self.peaks.append(leaf)
        self.size += 1

    def extend(self, leaves: Iterable[bytes]) -> None:
        """Add many leaf hashes in order."""
        for leaf in leaves:
            self.append(leaf)

    def root(self) -> bytes:
        """Return the root of the tree so far."""
        if not self.peaks:
            return EMPTY_ROOT
        top = self.peaks[-1]
        for peak in reversed(self.peaks[:-1]):
            top = node_hash(peak, top)
        return top

    def copy(self) -> Frontier:
        """Return an independent copy."""
        return Frontier(self.size, self.peaks)

    def to_bytes(self) -> bytes:
        """Return size (8 bytes, big-endian) and subtree roots, largest first."""
        return self.size.to_bytes(8, "big") + b"".join(self.peaks)

    @classmethod
    def from_bytes(cls, data: bytes) -> Frontier:
        """Return the frontier that `to_bytes` wrote; raise Refusal `bad-frontier` for anything else."""
        whole, rest = divmod(len(data) - 8, HASH_BYTES)
        if len(data) < 8 or rest:
            raise Refusal("bad-frontier", f"{len(data)} bytes are not a stored tree.")
        peaks = [data[8 + HASH_BYTES * i : 8 + HASH_BYTES * (i + 1)] for i in range(whole)]
        return cls(int.from_bytes(data[:8], "big"), peaks)

    def to_hex(self) -> str:
        """Return `to_bytes` as hexadecimal text."""
        return self.to_bytes().hex()

    @classmethod
    def from_hex(cls, text: str) -> Frontier:
        """Return the frontier that `to_hex` wrote; raise Refusal `bad-frontier` for anything else."""
        try:
            data = bytes.fromhex(text)
        except ValueError:
            raise Refusal("bad-frontier", "A stored tree is hexadecimal text.") from None
        return cls.from_bytes(data)


def root_of(hashes: Iterable[bytes]) -> bytes:
    """Return the root over leaf hashes; the hash of nothing for none.

    >>> root_of([]) == EMPTY_ROOT
    True
    """
    frontier = Frontier()
    frontier.extend(hashes)
    return frontier.root()


def inclusion_spans(index: int, size: int) -> list[Span]:
    """Return the leaf ranges [start, end) whose subtree roots prove leaf `index` in a tree of `size`, leaf first.

    >>> inclusion_spans(5, 8)
    [(4, 5), (6, 8), (0, 4)]
    """
    if not 0 <= index < size:
        raise _no_proof(f"There is no leaf {index} in a tree of {size}.")
    spans: list[Span] = []
    start, end = 0, size
    while end - start > 1:
        middle = start + _split(end - start)
        if index < middle:
            spans.append((middle, end))
            end = middle
        else:
            spans.append((start, middle))
            start = middle
    return spans[::-1]


def consistency_spans(size1: int, size2: int) -> list[Span]:
    """Return the leaf ranges whose subtree roots prove that a tree of `size1` is the beginning of one of `size2`.

    >>> consistency_spans(6, 8)
    [(4, 6), (6, 8), (0, 4)]
    """
    if not 0 < size1 <= size2:
        raise _no_proof(f"There is no consistency proof from {size1} to {size2} leaves.")
    spans: list[Span] = []
    start, end, whole = 0, size2, True
    while size1 != end:
        middle = start + _split(end - start)
        if size1 <= middle:
            spans.append((middle, end))
            end = middle
        else:
            spans.append((start, middle))
            start, whole = middle, False
    return ([] if whole else [(start, end)]) + spans[::-1]


def inclusion_proof(hashes: Sequence[bytes], index: int, size: int | None = None) -> list[bytes]:
    """Return the proof that leaf `index` is in the tree over the first `size` leaf hashes (all by default)."""
    size = _within(hashes, size)
    return proof_of(inclusion_spans(index, size), lambda start, end: root_of(hashes[start:end]))


def consistency_proof(hashes: Sequence[bytes], size1: int, size2: int | None = None) -> list[bytes]:
    """Return the proof that the first `size1` leaves stayed the same when the tree grew to `size2`."""
    size2 = _within(hashes, size2)
    return proof_of(consistency_spans(size1, size2), lambda start, end: root_of(hashes[start:end]))


def proof_of(spans: Iterable[Span], subtree: Callable[[int, int], bytes]) -> list[bytes]:
    """Return the subtree roots of `spans`; `subtree(start, end)` may come from a store of inner nodes."""
    return [subtree(start, end) for start, end in spans]


def verify_inclusion(index: int, size: int, leaf: bytes, proof: Sequence[bytes], root: bytes) -> bool:
    """Return whether `proof` shows the leaf hash `leaf` at `index` of the tree of `size` with `root`.

    Never raises on a malformed proof: wrong lengths, counts and places are simply not a proof.
    """
    if not 0 <= index < size or not _all_hashes(leaf, root, *proof):
        return False
    place, last, top = index, size - 1, leaf
    for step in proof:
        if last == 0:
            return False
        if place & 1 or place == last:
            top = node_hash(step, top)
            while place and not place & 1:
                place, last = place >> 1, last >> 1
        else:
            top = node_hash(top, step)
        place, last = place >> 1, last >> 1
    return last == 0 and top == root


def verify_consistency(size1: int, size2: int, root1: bytes, root2: bytes, proof: Sequence[bytes]) -> bool:
    """Return whether `proof` shows that the tree of `size1` with `root1` is the beginning of the later one.

    An empty first tree proves nothing and is refused; equal sizes need equal roots and an empty proof.
    """
    if not 0 < size1 <= size2 or not _all_hashes(root1, root2, *proof):
        return False
    if size1 == size2:
        return not proof and root1 == root2
    if not proof:
        return False
    steps = list(proof) if size1 & (size1 - 1) else [root1, *proof]
    return _tops(size1 - 1, size2 - 1, steps) == (root1, root2)


def _tops(place: int, last: int, steps: list[bytes]) -> tuple[bytes, bytes] | None:
    while place & 1:
        place, last = place >> 1, last >> 1
    old = new = steps[0]
    for step in steps[1:]:
        if last == 0:
            return None
        if place & 1 or place == last:
            old, new = node_hash(step, old), node_hash(step, new)
            while place and not place & 1:
                place, last = place >> 1, last >> 1
        else:
            new = node_hash(new, step)
        place, last = place >> 1, last >> 1
    return (old, new) if last == 0 else None


def _split(size: int) -> int:
    return 1 << ((size - 1).bit_length() - 1)


def _all_hashes(*values: bytes) -> bool:
    return all(isinstance(value, bytes) and len(value) == HASH_BYTES for value in values)


def _require_hash(value: bytes) -> None:
    if not _all_hashes(value):
        raise Refusal("bad-hash", f"A leaf hash has {HASH_BYTES} bytes; found {len(value)}.")


def _within(hashes: Sequence[bytes], size: int | None) -> int:
    if size is None:
        return len(hashes)
    if not 0 <= size <= len(hashes):
        raise _no_proof(f"A tree of {size} leaves is asked for; there are {len(hashes)}.")
    return size


def _no_proof(message: str) -> Refusal:
    return Refusal("no-proof", message, hint="Indices count from 0; sizes are at most the number of leaves.")
