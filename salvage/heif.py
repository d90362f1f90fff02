"""What must be known of an HEIF file before its decoder sees it."""

from __future__ import annotations


def has_plain_items(data: bytes) -> bool:
    """
    Whether the items of an ISO base media file are called by plain letters.

    The HEIC decoder dies of others. Boxes ``meta`` and ``infe``: ISO/IEC 14496-12 (from memory).

    Args:
        data: The whole file.
    """
    start = data.find(b"meta")
    if start < 4:
        return True
    whole = data[start : start - 4 + int.from_bytes(data[start - 4 : start], "big")]
    at = whole.find(b"infe")
    while at >= 4:
        size, version = int.from_bytes(whole[at - 4 : at], "big"), whole[at + 4 : at + 5]
        if not whole[at + (14 if version == b"\3" else 12) : at - 4 + size].isascii():
            return False
        at = whole.find(b"infe", at + 4)
    return True
