"""
Canonical JSON (RFC 8785) for the values that the journal holds, and its hashes.

The journal holds only strings, whole numbers, booleans, null, lists and objects with ASCII keys.
For those the standard library writes exactly the bytes that RFC 8785 asks for; floats, for which it
would not, are refused. The tests compare with the reference package ``rfc8785``.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from typing import TypeAlias

Json: TypeAlias = "bool | int | str | Sequence[Json] | Mapping[str, Json] | None"

# RFC 8785, section 3.2.2.3 with RFC 7493, section 2.2: whole numbers that a double keeps exactly.
LARGEST_INTEGER = 2**53 - 1


def canonical_bytes(value: Json) -> bytes:
    """
    The one true byte string of *value*.

    Raises:
        TypeError: If the value holds a float, a key that is not ASCII text, or another type.
        ValueError: If a whole number is too large, or text has a lone surrogate.

    >>> canonical_bytes({"b": 1, "a": "ö"})
    b'{"a":"\\xc3\\xb6","b":1}'
    """
    _check(value)
    return _WRITER.encode(value).encode("utf-8")


# What is left after the check and unknown to json is a mapping other than dict. A value that
# holds itself has failed in the check, so the writer need not look for one.
_WRITER = json.JSONEncoder(
    ensure_ascii=False, sort_keys=True, separators=(",", ":"), default=dict, check_circular=False
)


def _check(value: Json) -> None:
    # Every value of the journal passes here, so what is frequent is asked first, and texts and
    # numbers within lists and objects are looked at without a call of their own.
    if value is None:
        return
    if isinstance(value, str):
        if not value.isascii():
            value.encode("utf-8")
    elif isinstance(value, int):
        if not -LARGEST_INTEGER <= value <= LARGEST_INTEGER:
            raise ValueError(f"{value} is too large for canonical JSON")
    elif isinstance(value, (list, tuple)):
        for inner in value:
            if type(inner) is not int or not -LARGEST_INTEGER <= inner <= LARGEST_INTEGER:
                _check(inner)
    elif isinstance(value, Mapping):
        for key, inner in value.items():
            if type(key) is not str or not key.isascii():
                raise TypeError(f"key {key!r} is not ASCII text")
            if type(inner) is not str or not inner.isascii():
                _check(inner)
    else:
        raise TypeError(f"{type(value).__name__} cannot stand in canonical JSON")


def sha256_hex(*parts: bytes) -> str:
    """SHA-256 of the parts one after the other, in hexadecimal."""
    import hashlib  # loads the machine's cryptography, which a look-up can do without

    digest = hashlib.sha256()
    for part in parts:
        digest.update(part)
    return digest.hexdigest()
