"""Files that would kill the decoder of HEIF are known before it sees them."""

from __future__ import annotations

import pytest

from salvage.heif import has_plain_items


def _file(item: bytes, *, version: int = 2) -> bytes:
    """A file with one item of a kind; made by hand after ISO/IEC 14496-12 (from memory)."""
    entry = b"infe" + bytes([version]) + bytes(3) + bytes(6 if version == 3 else 4) + item + b"\0"
    meta = b"meta" + bytes(4) + (len(entry) + 4).to_bytes(4, "big") + entry
    return b"\0\0\0\x0cftypheic" + (len(meta) + 4).to_bytes(4, "big") + meta


@pytest.mark.parametrize("version", [2, 3])
def test_an_item_without_plain_letters_is_noticed(version: int) -> None:
    """The kind of an item is four plain letters; the decoder dies of others."""
    assert has_plain_items(_file(b"hvc1", version=version))
    assert not has_plain_items(_file(b"hv\xff1", version=version))


def test_a_file_without_items_has_none_that_harm() -> None:
    """No box of items, or one that begins too early to have a size."""
    assert has_plain_items(b"\0\0\0\x0cftypheic")
    assert has_plain_items(b"meta")
