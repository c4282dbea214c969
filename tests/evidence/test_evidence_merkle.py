"""The ledger's tree against published roots and proofs, and against pymerkle in the same run."""

from __future__ import annotations

from functools import lru_cache

import pytest
from pymerkle import InmemoryTree
from pymerkle.hasher import MerkleHasher

from lumenward.evidence import Check
from lumenward.ledger import (
    canonical_json,
    consistency_proof,
    inclusion_proof,
    leaf_hash,
    parse_id,
    root_of,
    verify_consistency,
    verify_inclusion,
)

_LEAVES = [
    bytes.fromhex(text)
    for text in ("", "00", "10", "2021", "3031", "40414243", "5051525354555657", "606162636465666768696a6b6c6d6e6f")
]  # fmt: skip
_HASHES = [leaf_hash(leaf) for leaf in _LEAVES]
_ROOTS = (
    "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855",
    "6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d",
    "fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125",
    "aeb6bcfe274b70a14fb067a5e5578264db0fa9b51af5e0ba159158f329e06e77",
    "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7",
    "4e3bbb1f7b478dcfe71fb631631519a3bca12c9aefca1612bfce4c13a86264d4",
    "76e67dadbcdf1e10e1b74ddc608abd2f98dfb16fbce75277b5232a127f2087ef",
    "ddb89be403809e325750d3d263cd78929c2942b7942a34b77e122c9594a74c8c",
    "5dc9da79a70659a9ad559cb701ded9a2ab9d823aad2f4960cfe370eff4604328",
)
_PUBLISHED = "transparency-dev/merkle, test data at 417fb0c (RFC 6962 section 2.1)"
_INCLUSION = {
    (0, 8): ["96a296d2", "5f083f0a", "6b47aaf2"],
    (5, 8): ["bc1a0643", "ca854ea1", "d37ee418"],
    (2, 3): ["fac54203"],
}
_CONSISTENCY = {
    (1, 8): ["96a296d2", "5f083f0a", "6b47aaf2"],
    (6, 8): ["0ebc5d34", "ca854ea1", "d37ee418"],
    (2, 5): ["5f083f0a", "bc1a0643"],
}


@lru_cache(maxsize=1)
def _peer() -> InmemoryTree:
    tree = InmemoryTree(algorithm="sha256")
    for n in range(64):
        tree.append_entry(_ours(n))
    return tree


@lru_cache(maxsize=1)
def _hasher() -> MerkleHasher:
    return MerkleHasher("sha256")


def _ours(n: int) -> bytes:
    return canonical_json({"n": n})


def _peer_agrees_on_roots() -> bool:
    hashes = [leaf_hash(_ours(n)) for n in range(64)]
    return all(root_of(hashes[:size]) == _peer().get_root(size) for size in range(1, 65))


def _peer_path_is_ours(index: int, size: int) -> bool:
    hashes = [leaf_hash(_ours(n)) for n in range(size)]
    theirs = _peer().prove_inclusion(index + 1, size).path
    return list(theirs[1:]) == inclusion_proof(hashes, index, size) and theirs[0] == hashes[index]


def _every_inclusion_path() -> bool:
    return all(_peer_path_is_ours(index, size) for size in (1, 2, 3, 7, 40, 64) for index in range(size))


def _every_proof_of_ours_verifies() -> bool:
    sizes = range(1, 9)
    roots = [bytes.fromhex(root) for root in _ROOTS]
    included = all(
        verify_inclusion(i, n, _HASHES[i], inclusion_proof(_HASHES, i, n), roots[n]) for n in sizes for i in range(n)
    )  # fmt: skip
    grown = all(
        verify_consistency(m, n, roots[m], roots[n], consistency_proof(_HASHES, m, n))
        for n in sizes
        for m in range(1, n + 1)
    )
    return included and grown


def _root(size: int) -> str:
    return root_of(_HASHES[:size]).hex()


def _inclusion(i: int, n: int) -> list[str]:
    return _short(inclusion_proof(_HASHES, i, n))


def _consistency(m: int, n: int) -> list[str]:
    return _short(consistency_proof(_HASHES, m, n))


def _short(proof: list[bytes]) -> list[str]:
    return [step.hex()[:8] for step in proof]


_PEER = ("pymerkle", "computed by pymerkle 7.0")

CHECKS = [
    *(
        Check("merkle", f"root of {n} leaves", root, lambda n=n: _root(n), 0, _PUBLISHED, "read")
        for n, root in enumerate(_ROOTS)
    ),
    *(
        Check(
            "merkle", f"inclusion {i} of {n}", steps, lambda i=i, n=n: _inclusion(i, n), 0, _PUBLISHED, "read"
        )
        for (i, n), steps in _INCLUSION.items()
    ),
    *(
        Check(
            "merkle",
            f"consistency {m} to {n}",
            steps,
            lambda m=m, n=n: _consistency(m, n),
            0,
            _PUBLISHED,
            "read",
        )
        for (m, n), steps in _CONSISTENCY.items()
    ),
    Check(
        "merkle",
        "every proof against the published roots",
        True,
        _every_proof_of_ours_verifies,
        0,
        _PUBLISHED,
        "read",
    ),
    Check("merkle", "roots of 1 to 64 leaves", True, _peer_agrees_on_roots, 0, *_PEER),
    Check("merkle", "inclusion paths of six sizes", True, _every_inclusion_path, 0, *_PEER),
    Check(
        "merkle",
        "hash of one leaf",
        True,
        lambda: _hasher().hash_buff(b"leaf") == leaf_hash(b"leaf"),
        0,
        *_PEER,
    ),
    Check(
        "ids",
        "instant of the sample id",
        1645557742000,
        lambda: parse_id("017F22E2-79B0-7CC3-98C4-DC0C0C07398F").milliseconds,
        0,
        "RFC 9562 appendix",
        "recalled",
    ),
    Check(
        "canonical form",
        "numbers of the sample",
        "[333333333.3333333,1e+30,4.5,0.002,1e-27]",
        lambda: canonical_json([333333333.33333329, 1e30, 4.50, 2e-3, 1e-27]).decode(),
        0,
        "RFC 8785 section 3.2.2",
        "recalled",
    ),
]


@pytest.mark.parametrize("check", CHECKS, ids=str)
def test_the_tree_agrees_with_the_world_outside(check: Check) -> None:
    check.assert_holds()
