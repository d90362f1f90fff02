"""Changes to inputs by the rules of their formats, so that they get past the first check."""

from __future__ import annotations

import json
import re
import zlib
from collections.abc import Callable, Sequence
from random import Random
from typing import Any

NUMBERS = (
    *("0", "-0", "1", "-1", "0.0000001", "1e5", "1e308", "-1e308", "1e-320", "1e999", "nan"),
    *("inf", "-inf", "2147483648", "-9223372036854775809", "18446744073709551616", "0x10", "1_000"),
    *("9" * 400, "1" * 5000, "٣", "²", "½", "1,000", "1.000,5", "00012", "+5", "1e", ".", "-"),
)
"""Numbers that trip readers."""

TEXTS = (
    *("", " ", "\t", "\0", "\r\n", "\u202e", "\u200b", "\ufeff", "\u2028", "\ud7ff", "\uffff"),
    *("\U0001f9ed", "e\u0301", "é", "ﷺ", "a\u0300\u0301\u0302" * 40, "\x1b[31m", "\x1b]0;x\x07"),
    *("=1+1", "@x", "'", '"', '"""', "''", "`", "\\", "%s", "%n", "{}", "{0.__class__}", "${x}"),
    *("'; DROP TABLE board; --", "<script>alert(1)</script>", "]]>", "&amp;", "&#0;", '#read("x")'),
    *(
        "../../x",
        "/etc/passwd",
        "C:\\x",
        "NUL",
        "con.jpg",
        ".",
        "..",
        "x" * 300,
        "\u00a0",
        "ı",
        "ß",
    ),
)
"""Texts that trip readers, writers and screens."""


def pick(rng: Random, *choices: Sequence[str]) -> str:
    """One of several lists, any of its words."""
    return rng.choice(rng.choice(choices))


def change_bytes(rng: Random, data: bytes) -> bytes:
    """Flips, cuts, doublings and runs, without knowing the format."""
    out = bytearray(data)
    for _ in range(rng.choice((1, 1, 2, 4, 8))):
        at = rng.randrange(len(out) + 1)
        deed = rng.randrange(7)
        if deed == 0 and out:
            out[at % len(out)] ^= 1 << rng.randrange(8)
        elif deed == 1:
            out[at:at] = rng.randbytes(rng.randrange(1, 9))
        elif deed == 2:
            del out[at : at + rng.choice((1, 2, 8, 64))]
        elif deed == 3:
            out[at:at] = out[at : at + rng.randrange(1, 200)]
        elif deed == 4:
            del out[at:]
        elif deed == 5:
            out[at : at + 4] = rng.choice((0, 1, 0x7FFFFFFF, 0xFFFFFFFF)).to_bytes(
                4, rng.choice(("big", "little"))
            )
        elif out:
            out[at % len(out)] = rng.choice((0, 0x20, 0x22, 0x7F, 0x80, 0xFF, 0x0A, 0x3C))
    return bytes(out)


_TOKEN = re.compile(r"[^\W\d]+|\d+(?:\.\d+)?|\s+|.", re.DOTALL)


def change_tokens(rng: Random, data: bytes, words: Sequence[str]) -> bytes:
    """Words, numbers and marks of a text exchanged, dropped, doubled or moved."""
    tokens = _TOKEN.findall(data.decode("utf-8", "surrogateescape"))
    for _ in range(rng.choice((1, 1, 2, 3, 6))):
        if not tokens:
            break
        at = rng.randrange(len(tokens))
        deed = rng.randrange(6)
        if deed == 0:
            tokens[at] = pick(rng, NUMBERS, TEXTS, words)
        elif deed == 1:
            numbers = [i for i, token in enumerate(tokens) if token[:1].isdigit()]
            tokens[rng.choice(numbers or [at])] = rng.choice(NUMBERS)
        elif deed == 2:
            tokens.insert(at, pick(rng, words, words, TEXTS, NUMBERS))
        elif deed == 3:
            del tokens[at : at + rng.choice((1, 1, 3))]
        elif deed == 4:
            other = rng.randrange(len(tokens))
            tokens[at], tokens[other] = tokens[other], tokens[at]
        else:
            start = max(0, at - rng.randrange(40))
            tokens[at:at] = tokens[start:at] * rng.choice((1, 1, 2, 20))
    return "".join(tokens).encode("utf-8", "surrogateescape")


def text_mutator(*words: str) -> Callable[[Random, bytes], bytes]:
    """Changes of a text format that knows some words."""

    def change(rng: Random, data: bytes) -> bytes:
        if rng.random() < 0.2:
            return change_bytes(rng, data)
        return change_tokens(rng, data, words or ("x",))

    return change


_ODD: tuple[Any, ...] = (
    *(None, True, False, 0, -1, 1, 2**53, 2**63, -(2**63) - 1, 10**400, 0.5, 1e308, float("nan")),
    *("", [], {}, [[]], [None], {"": None}, [[[0, 0], [1, 0], [0, 1]]], [[0, 0]], "BC0002J"),
    *("2026-13-45", "9999-12-31", "\ud800", float("inf")),
)


def odd_value(rng: Random) -> Any:  # plain JSON of any shape
    """A JSON value that nobody expects there."""
    return rng.choice(TEXTS) if rng.random() < 0.3 else rng.choice(_ODD)


def change_value(rng: Random, value: Any) -> Any:  # plain JSON of any shape
    """The same JSON value with one place of it changed."""
    if isinstance(value, dict) and value and rng.random() < 0.9:
        key = rng.choice(list(value))
        deed = rng.randrange(12)
        if deed == 0:
            return {k: v for k, v in value.items() if k != key}
        if deed == 1:
            return {**value, rng.choice(TEXTS): odd_value(rng)}
        if deed == 2:
            return {**value, key: value[rng.choice(list(value))]}
        return {**value, key: change_value(rng, value[key])}
    if isinstance(value, list) and value and rng.random() < 0.9:
        at = rng.randrange(len(value))
        deed = rng.randrange(12)
        if deed == 0:
            return value[:at] + value[at + 1 :]
        if deed == 1:
            return [*value, value[at]]
        if deed == 2:
            return value[::-1]
        return [*value[:at], change_value(rng, value[at]), *value[at + 1 :]]
    if isinstance(value, int) and not isinstance(value, bool) and rng.random() < 0.4:
        return value + rng.choice((-1, 1, 1000, -(10**6), 2**31, 2**52))
    return odd_value(rng)


def change_json(rng: Random, data: bytes) -> bytes:
    """A JSON text with a value changed, or its marks."""
    if rng.random() < 0.25:
        return change_tokens(rng, data, ("NaN", "Infinity", "-0", "null", "\\ud800", "[" * 2000))
    try:
        value = json.loads(data)
    except (ValueError, RecursionError):
        return change_bytes(rng, data)
    for _ in range(rng.choice((1, 1, 2, 3))):
        value = change_value(rng, value)
    try:
        return json.dumps(value).encode()
    except (ValueError, RecursionError):
        return data


def change_png(rng: Random, data: bytes) -> bytes:
    """A PNG with a chunk changed and its check sum made good again; other files by bytes."""
    if not data.startswith(b"\x89PNG") or rng.random() < 0.3:
        return change_bytes(rng, data)
    parts, at = [], 8
    while at + 8 <= len(data):
        size = int.from_bytes(data[at : at + 4], "big")
        parts.append((data[at + 4 : at + 8], data[at + 8 : at + 8 + size]))
        at += 12 + size
    if parts:
        at = rng.randrange(len(parts))
        kind, body = parts[at]
        parts[at] = (kind, change_bytes(rng, body))
        if rng.random() < 0.2:
            parts.insert(
                at, (rng.choice((b"eXIf", b"iCCP", b"tEXt", b"acTL", b"tRNS", b"PLTE")), body)
            )
    chunks = (
        len(body).to_bytes(4, "big") + kind + body + zlib.crc32(kind + body).to_bytes(4, "big")
        for kind, body in parts
    )
    return data[:8] + b"".join(chunks)
