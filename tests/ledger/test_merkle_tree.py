"""The tree and its proofs, for every size up to 40, and every way a proof can be wrong."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lumenward.ledger import (
    EMPTY_ROOT,
    Frontier,
    consistency_proof,
    inclusion_proof,
    leaf_hash,
    node_hash,
    root_of,
    verify_consistency,
    verify_inclusion,
)
from lumenward.quantities import Refusal

HASHES = [leaf_hash(bytes([n]) * n) for n in range(41)]
ROOTS = [root_of(HASHES[:n]) for n in range(41)]
PAIRS = [(index, size) for size in range(1, 41) for index in range(size)]


def recursive_root(hashes: list[bytes]) -> bytes:
    """The definition, word by word."""
    if not hashes:
        return EMPTY_ROOT
    if len(hashes) == 1:
        return hashes[0]
    k = 1
    while 2 * k < len(hashes):
        k *= 2
    return node_hash(recursive_root(hashes[:k]), recursive_root(hashes[k:]))


@pytest.mark.parametrize("size", range(41))
def test_the_incremental_root_is_the_root_by_definition(size: int) -> None:
    assert ROOTS[size] == recursive_root(HASHES[:size])


def test_every_leaf_of_every_size_is_proved() -> None:
    for index, size in PAIRS:
        assert verify_inclusion(
            index, size, HASHES[index], inclusion_proof(HASHES, index, size), ROOTS[size]
        ), (index, size)


def test_every_growth_is_proved() -> None:
    for size2 in range(1, 41):
        for size1 in range(1, size2 + 1):
            proof = consistency_proof(HASHES, size1, size2)
            assert verify_consistency(size1, size2, ROOTS[size1], ROOTS[size2], proof), (size1, size2)


def mutations(proof: list[bytes]) -> list[list[bytes]]:
    """Every proof with one step flipped, dropped, doubled, cut short, lengthened or swapped."""
    changed = [[*proof, bytes(32)], [bytes(32), *proof], [*proof, b""]]
    for i, step in enumerate(proof):
        changed.append([*proof[:i], bytes([step[0] ^ 1]) + step[1:], *proof[i + 1 :]])
        changed.append([*proof[:i], *proof[i + 1 :]])
        changed.append([*proof[: i + 1], *proof[i:]])
        changed.append([*proof[:i], step[:-1], *proof[i + 1 :]])
    if len(proof) > 1:
        changed.append(proof[::-1])
    return [one for one in changed if one != proof]


def test_no_mutated_inclusion_proof_passes() -> None:
    for index, size in PAIRS:
        proof = inclusion_proof(HASHES, index, size)
        for wrong in mutations(proof):
            assert not verify_inclusion(index, size, HASHES[index], wrong, ROOTS[size]), (index, size)


def test_no_mutated_consistency_proof_passes() -> None:
    for size2 in range(1, 41):
        for size1 in range(1, size2 + 1):
            for wrong in mutations(consistency_proof(HASHES, size1, size2)):
                assert not verify_consistency(size1, size2, ROOTS[size1], ROOTS[size2], wrong), (size1, size2)


def test_another_place_leaf_or_root_fails() -> None:
    for index, size in PAIRS:
        proof = inclusion_proof(HASHES, index, size)
        assert not verify_inclusion(index, size, HASHES[40], proof, ROOTS[size])
        assert not verify_inclusion(index, size, HASHES[index], proof, EMPTY_ROOT)
        assert not verify_inclusion(index + 1, size, HASHES[index], proof, ROOTS[size])
        assert not verify_inclusion(index - 1, size, HASHES[index], proof, ROOTS[size])


@pytest.mark.parametrize(
    ("size1", "size2", "root1", "root2", "proof"),
    [
        (0, 5, EMPTY_ROOT, ROOTS[5], []),
        (0, 0, EMPTY_ROOT, EMPTY_ROOT, []),
        (5, 4, ROOTS[5], ROOTS[4], []),
        (5, 5, ROOTS[5], ROOTS[4], []),
        (5, 5, ROOTS[5], ROOTS[5], [ROOTS[5]]),
        (4, 5, ROOTS[4], ROOTS[5], []),
        (5, 5, b"", b"", []),
        (4, 5, ROOTS[4][:31], ROOTS[5], consistency_proof(HASHES, 4, 5)),
        (-1, 5, ROOTS[4], ROOTS[5], consistency_proof(HASHES, 4, 5)),
        (5, 9, ROOTS[4], ROOTS[9], consistency_proof(HASHES, 5, 9)),
        (5, 9, ROOTS[5], ROOTS[8], consistency_proof(HASHES, 5, 9)),
    ],
)
def test_a_hardened_verifier_refuses(
    size1: int, size2: int, root1: bytes, root2: bytes, proof: list[bytes]
) -> None:
    assert not verify_consistency(size1, size2, root1, root2, proof)


@pytest.mark.parametrize(("index", "size"), [(0, 0), (1, 1), (-1, 3), (3, 3), (2**64, 2**64 - 1)])
def test_a_leaf_outside_the_tree_is_never_included(index: int, size: int) -> None:
    assert not verify_inclusion(index, size, HASHES[0], [], HASHES[0])


@pytest.mark.parametrize(("index", "size"), [(0, 0), (3, 3), (-1, 3), (0, 42), (0, -1)])
def test_a_proof_that_cannot_exist_is_refused(index: int, size: int) -> None:
    with pytest.raises(Refusal) as caught:
        inclusion_proof(HASHES, index, size)
    assert caught.value.code == "no-proof"


@pytest.mark.parametrize(("size1", "size2"), [(0, 5), (6, 5), (-1, 5), (5, 42)])
def test_a_growth_that_cannot_exist_is_refused(size1: int, size2: int) -> None:
    with pytest.raises(Refusal) as caught:
        consistency_proof(HASHES, size1, size2)
    assert caught.value.code == "no-proof"


@given(st.integers(0, 300), st.integers(0, 300))
def test_a_stored_frontier_goes_on_where_it_was(first: int, more: int) -> None:
    frontier = Frontier()
    frontier.extend(leaf_hash(n.to_bytes(4, "big")) for n in range(first))
    again = Frontier.from_hex(frontier.to_hex())
    for tree in (frontier, again):
        tree.extend(leaf_hash(n.to_bytes(4, "big")) for n in range(first, first + more))
    assert (again.size, again.root(), again.to_bytes()) == (
        first + more,
        frontier.root(),
        frontier.to_bytes(),
    )
    assert len(again.peaks) == again.size.bit_count()


def test_a_copied_frontier_is_independent() -> None:
    frontier = Frontier()
    frontier.append(HASHES[0])
    frontier.copy().append(HASHES[1])
    assert (frontier.size, frontier.root()) == (1, HASHES[0])


@pytest.mark.parametrize(
    "text", ["", "00", "zz", "0000000000000001", "00" * 8 + "11" * 32, "00" * 7 + "01" + "11" * 31]
)
def test_a_damaged_frontier_is_refused(text: str) -> None:
    with pytest.raises(Refusal) as caught:
        Frontier.from_hex(text)
    assert caught.value.code == "bad-frontier"


def test_a_leaf_that_is_no_hash_is_refused() -> None:
    with pytest.raises(Refusal):
        Frontier().append(b"short")
