"""A changed, cut, swapped or inserted leaf is found, and named."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from lumenward.ledger import (
    TreeHead,
    canonical_json,
    head_of,
    leaf_hash,
    verify_head,
    verify_leaves,
    verify_ledger,
)

DATA = [canonical_json({"n": n, "dose_ml": n * 1.5}) for n in range(30)]
LEAVES = [(data, leaf_hash(data).hex()) for data in DATA]
HEADS = [head_of(DATA[:n]) for n in (0, 1, 7, 16, 30)]


def test_an_untouched_ledger_is_sound() -> None:
    assert verify_leaves(LEAVES) is None
    report = verify_ledger(iter(LEAVES), HEADS)
    assert report.sound
    assert report.head == HEADS[-1]
    assert all(verify_head(DATA, head) for head in HEADS)


@given(st.integers(0, 29), st.data())
def test_any_changed_byte_is_found_at_its_leaf(index: int, data: st.DataObject) -> None:
    original = DATA[index]
    place = data.draw(st.integers(0, len(original) - 1))
    flip = data.draw(st.integers(1, 255))
    changed = original[:place] + bytes([original[place] ^ flip]) + original[place + 1 :]
    leaves = [*LEAVES[:index], (changed, LEAVES[index][1]), *LEAVES[index + 1 :]]
    assert verify_leaves(leaves) == index
    findings = verify_ledger(leaves, HEADS).findings
    assert ("leaf-changed", index) in {(f.code, f.index) for f in findings}
    assert any(f.code == "head-broken" for f in findings)


def test_a_leaf_changed_together_with_its_hash_still_breaks_the_head() -> None:
    forged = canonical_json({"n": 3, "dose_ml": 9500})
    leaves = [*LEAVES[:3], (forged, leaf_hash(forged).hex()), *LEAVES[4:]]
    assert verify_leaves(leaves) is None
    assert [(f.code, f.index) for f in verify_ledger(leaves, HEADS).findings] == [
        ("head-broken", 2),
        ("head-broken", 3),
        ("head-broken", 4),
    ]


def test_swapped_inserted_and_deleted_leaves_break_the_head() -> None:
    swapped = [*DATA[:4], DATA[5], DATA[4], *DATA[6:]]
    inserted = [*DATA[:4], b"{}", *DATA[4:]]
    deleted = [*DATA[:4], *DATA[5:], b"{}"]
    for data in (swapped, inserted, deleted):
        assert not verify_head(data, HEADS[-1])


def test_a_ledger_cut_off_or_rolled_back_is_found_against_an_outside_head() -> None:
    report = verify_ledger(LEAVES[:20], HEADS)
    assert [(f.code, f.index) for f in report.findings] == [("leaves-missing", 4)]
    assert "30 leaves; only 20" in report.findings[0].message


def test_a_head_of_a_negative_size_is_broken() -> None:
    assert not verify_head(DATA, TreeHead(-1, HEADS[0].root_hex))


def test_a_hash_written_in_capitals_is_the_same_hash() -> None:
    assert verify_leaves([(DATA[0], LEAVES[0][1].upper())]) is None


def test_many_findings_are_cut_at_the_number_asked_for() -> None:
    leaves = [(data, "00" * 32) for data in DATA]
    assert len(verify_ledger(leaves, worst=5).findings) == 5
