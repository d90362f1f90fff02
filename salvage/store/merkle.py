"""
Merkle trees over a chain's hashes, so that one event can be shown to be in it without the others.

The tree is that of RFC 9162, section 2.1 (as in RFC 6962): a leaf is SHA-256 over a zero byte and
the event's hash, a node is SHA-256 over a one byte and both children; the left branch of n leaves
holds the largest power of two smaller than n.
"""

from __future__ import annotations

from collections.abc import Sequence
from hashlib import sha256


def leaf_hash(data: bytes) -> bytes:
    """The leaf of some bytes (RFC 9162, section 2.1.1)."""
    return sha256(b"\x00" + data).digest()


def _node(left: bytes, right: bytes) -> bytes:
    return sha256(b"\x01" + left + right).digest()


def tree_root(leaves: Sequence[bytes]) -> bytes:
    """
    The root over some leaves (RFC 9162, section 2.1.1).

    Adding level by level, a last node without a partner going up as it is, gives the same tree.
    """
    level = list(leaves)
    if not level:
        return sha256(b"").digest()
    while len(level) > 1:
        level = _above(level)
    return level[0]


def _above(level: list[bytes]) -> list[bytes]:
    pairs = zip(level[::2], level[1::2], strict=False)
    rest = level[-1:] if len(level) % 2 else []
    return [*(_node(left, right) for left, right in pairs), *rest]


def tree_levels(leaves: Sequence[bytes]) -> tuple[tuple[bytes, ...], ...]:
    """All nodes of the tree over some leaves, from the leaves up to the root."""
    levels = [list(leaves)]
    while len(levels[-1]) > 1:
        levels.append(_above(levels[-1]))
    return tuple(map(tuple, levels))


def path_of(levels: Sequence[Sequence[bytes]], place: int) -> list[bytes]:
    """
    The nodes beside the way from a leaf up to the root, lowest first (RFC 9162, section 2.1.3.1).

    Args:
        levels: From :func:`tree_levels`.
        place: The leaf's, counted from 0.
    """
    path = []
    for level in levels[:-1]:
        beside = place ^ 1
        if beside < len(level):
            path.append(level[beside])
        place //= 2
    return path


def root_of_path(leaf: bytes, place: int, count: int, path: Sequence[bytes]) -> bytes | None:
    """
    The root that a leaf and its path lead to, or None where the path has not the right length.

    RFC 9162, section 2.1.3.2.

    Args:
        leaf: The leaf.
        place: Counted from 0.
        count: Leaves of the whole tree.
        path: From :func:`path_of`.
    """
    here, last, found = place, count - 1, leaf
    if not 0 <= place < count:
        return None
    for node in path:
        if last == 0:
            return None
        if here % 2 or here == last:
            found = _node(node, found)
            while here % 2 == 0 and here:
                here, last = here // 2, last // 2
        else:
            found = _node(found, node)
        here, last = here // 2, last // 2
    return found if last == 0 else None
