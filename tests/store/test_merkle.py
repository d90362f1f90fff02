"""Merkle trees: the published tree, and paths that lead to no other root."""

from __future__ import annotations

from hashlib import sha256

import pytest
from hypothesis import given
from hypothesis import strategies as st

from salvage.store.merkle import leaf_hash, path_of, root_of_path, tree_levels, tree_root

# Leaves and roots of the reference tests of Certificate Transparency (RFC 6962), from memory.
INPUTS = tuple(
    bytes.fromhex(text)
    for text in (
        "",
        "00",
        "10",
        "2021",
        "3031",
        "40414243",
        "5051525354555657",
        "606162636465666768696a6b6c6d6e6f",
    )
)
ROOTS = {
    0: "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855",
    1: "6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d",
    2: "fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125",
    8: "5dc9da79a70659a9ad559cb701ded9a2ab9d823aad2f4960cfe370eff4604328",
}


@pytest.mark.parametrize("count", ROOTS)
def test_roots_are_those_of_the_reference(count: int) -> None:
    """The tree is the one that other people's verifiers know."""
    assert tree_root([leaf_hash(one) for one in INPUTS[:count]]).hex() == ROOTS[count]


def _by_the_book(leaves: list[bytes]) -> bytes:
    """RFC 9162, section 2.1.1, word for word: split at the largest power of two."""
    if len(leaves) == 1:
        return leaves[0]
    split = 1 << ((len(leaves) - 1).bit_length() - 1)
    left, right = _by_the_book(leaves[:split]), _by_the_book(leaves[split:])
    return sha256(b"\x01" + left + right).digest()


@given(st.integers(1, 70), st.data())
def test_every_path_leads_to_the_root_and_only_there(count: int, data: st.DataObject) -> None:
    """A leaf in its place leads to the root; otherwise it does not."""
    leaves = [leaf_hash(bytes([number])) for number in range(count)]
    place = data.draw(st.integers(0, count - 1))
    path = path_of(tree_levels(leaves), place)
    root = tree_root(leaves)
    other = data.draw(st.integers(0, count - 1).filter(lambda one: one != place or count == 1))

    assert root == _by_the_book(leaves)
    assert root_of_path(leaves[place], place, count, path) == root
    assert count == 1 or root_of_path(leaves[place], other, count, path) != root
    assert root_of_path(leaf_hash(b"other"), place, count, path) != root
    assert not path or root_of_path(leaves[place], place, count, path[:-1]) != root
    assert root_of_path(leaves[place], place, count, [*path, root]) != root
    assert root_of_path(leaves[place], count, count, path) is None
