"""Canonical JSON refuses whatever would not have one true byte string."""

from __future__ import annotations

import enum
import hashlib
from types import MappingProxyType
from typing import Any

import pytest

from salvage.canonical import LARGEST_INTEGER, canonical_bytes, sha256_hex


def test_keys_are_sorted_and_nothing_is_padded() -> None:
    """Two devices that record the same event write the same bytes."""
    assert canonical_bytes({"b": [1, None, True], "a": "ö"}) == (
        '{"a":"ö","b":[1,null,true]}'.encode()
    )


def test_order_of_keys_does_not_matter() -> None:
    """The order in which a program fills a record leaves no trace."""
    assert canonical_bytes({"x": 1, "y": {"p": 1, "q": 2}}) == canonical_bytes(
        {"y": {"q": 2, "p": 1}, "x": 1}
    )


def test_tuples_are_lists() -> None:
    """Frozen records and lists from JSON come to the same bytes."""
    assert canonical_bytes((1, (2, 3))) == b"[1,[2,3]]"


@pytest.mark.parametrize("value", [1.0, float("nan"), b"x", {1, 2}, object(), {"a": [0.5]}])
def test_floats_and_foreign_types_are_refused(value: Any) -> None:
    """A float has many spellings, so the journal holds whole micrometres instead."""
    with pytest.raises(TypeError):
        canonical_bytes(value)


@pytest.mark.parametrize("key", ["ö", "😀", 1, None])
def test_keys_other_than_ascii_text_are_refused(key: Any) -> None:
    """RFC 8785 sorts keys by UTF-16 units; with ASCII keys every sort agrees."""
    with pytest.raises(TypeError, match="ASCII"):
        canonical_bytes({key: 1})


@pytest.mark.parametrize("number", [LARGEST_INTEGER + 1, -LARGEST_INTEGER - 1])
def test_numbers_that_a_double_would_bend_are_refused(number: int) -> None:
    """RFC 7493 section 2.2: beyond 2 to the 53rd, readers may differ."""
    with pytest.raises(ValueError, match="too large"):
        canonical_bytes({"n": number})


def test_the_largest_number_is_taken() -> None:
    """The bound itself still has one spelling."""
    assert canonical_bytes([LARGEST_INTEGER, -LARGEST_INTEGER]) == (
        b"[9007199254740991,-9007199254740991]"
    )


def test_half_a_character_is_refused() -> None:
    """A lone surrogate cannot be written as UTF-8."""
    with pytest.raises(ValueError):
        canonical_bytes({"note": "\ud83d"})


def test_any_mapping_is_an_object() -> None:
    """A read-only view of a record is as good as the record."""
    assert canonical_bytes(MappingProxyType({"b": MappingProxyType({}), "a": 1})) == (
        b'{"a":1,"b":{}}'
    )


def test_numbers_with_names_are_plain_numbers() -> None:
    """An enumeration leaves its number only."""

    class Side(enum.IntEnum):
        FRONT = 1

    assert canonical_bytes({"side": Side.FRONT}) == b'{"side":1}'


def test_a_hash_runs_over_all_parts() -> None:
    """A chain link hashes the link before and the event after it."""
    assert sha256_hex(b"a", b"bc") == hashlib.sha256(b"abc").hexdigest()


def test_the_hash_is_sha_256() -> None:
    """FIPS 180-4 example: the digest of "abc" (from memory, equal to the standard library's)."""
    assert sha256_hex(b"abc") == (
        "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    )
