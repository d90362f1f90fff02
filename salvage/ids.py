"""
Codes that people read, type and scan, and the identifiers of events.

A code is a kind letter, a device letter, a running number of four digits or more, and a check
character, without punctuation: ``BC0002J``. The check character is ISO/IEC 7064 MOD 37-2. Letters
come only from :data:`LETTERS`, which no keyboard layout that was compared moves, so that a keyboard
scanner set to another country still types them right; I, L, O, Q, S and Z, the letters most often
taken for digits, are not among them. Where a letter stands no digit may stand, and the other way
round, so that a B read as 8 is refused.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, NewType

from salvage.errors import BadCode

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

Code = NewType("Code", str)
"""A code whose grammar and check character are right; it need not exist."""

LETTERS = "BCDEFGHJKNPRTUVX"
"""Letters that stand in codes, the check character included."""

KINDS = {
    "B": "board",
    "P": "piece",
    "D": "drop-off",
    "G": "donor",
    "K": "cut",
    "R": "reservation",
    "C": "consignment",
    "H": "recall",
    "T": "stock-take",
    "F": "place",
    "X": "action",
    "J": "plan",
    "V": "batch",
    "E": "waste container",
    "N": "order",
    "U": "outing",
}
"""Kind letters and the words for them."""

# ISO/IEC 7064:2003, pure system MOD 37-2 (radix 2, modulus 37): values 0 to 35 are the digits and
# the letters A to Z, 36 is the asterisk and stands only as check character.
_ALPHABET = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ*"
_MODULUS = 37
_RADIX = 2

_LEAST_DIGITS = 4
# From five digits on there is no leading zero: each number has one spelling only.
_GRAMMAR = re.compile(
    rf"([{''.join(KINDS)}])([{LETTERS}])((?!0000)[0-9]{{4}}|[1-9][0-9]{{4,8}})([{LETTERS}])"
)


def check_character(body: str) -> str:
    """
    ISO/IEC 7064 MOD 37-2 check character of *body*, possibly ``*``.

    Args:
        body: Digits and capital letters.

    >>> check_character("G123489654321")
    'Y'
    """
    total = 0
    for character in body:
        total = (total + _ALPHABET.index(character)) * _RADIX % _MODULUS
    return _ALPHABET[(1 - total) % _MODULUS]


def mint_code(kind: str, device: str, number: int) -> Code | None:
    """
    The code of a running number, or None where its check character is not in :data:`LETTERS`.

    A number whose check character falls outside is skipped; about 43 in 100 are used.

    Args:
        kind: Key of :data:`KINDS`.
        device: Letter of :data:`LETTERS` that tells devices apart.
        number: 1 or more.
    """
    body = f"{kind}{device}{number:0{_LEAST_DIGITS}d}"
    check = check_character(body)
    return Code(body + check) if check in LETTERS else None


def next_code(kind: str, device: str, last: int) -> tuple[Code, int]:
    """
    The first usable code after running number *last*, with its number.

    >>> next_code("B", "C", 0)
    ('BC0002J', 2)
    """
    number = last + 1
    while (code := mint_code(kind, device, number)) is None:
        number += 1
    return code, number


def tidy_code(text: str) -> str:
    """
    Typed or scanned text in capitals, without spaces, hyphens and dots.

    >>> tidy_code(" bc-0002 j ")
    'BC0002J'
    """
    return re.sub(r"[\s\-–_.]", "", text).upper()


def parse_code(text: str, *, kind: str = "", field: str = "") -> Code:
    """
    A code from typed or scanned text.

    Args:
        text: Any case, spaces and hyphens allowed.
        kind: Letters of the kinds that are wanted here; empty for any.
        field: Label for the error.

    Raises:
        BadCode: If the grammar, the check character or the kind is wrong.
    """
    tidy = tidy_code(text)
    match = _GRAMMAR.fullmatch(tidy)
    if not match:
        raise BadCode(
            f"'{text.strip()}' is not one of our codes",
            hint="a code looks like BC0002J: two letters, digits, a letter",
            field=field,
        )
    if check_character(tidy[:-1]) != tidy[-1]:
        raise BadCode(
            f"'{tidy}' is misread or mistyped: its last letter does not fit",
            hint="scan again or type it once more",
            field=field,
        )
    if kind and tidy[0] not in kind:
        wanted = " or ".join(KINDS[letter] for letter in kind)
        found = KINDS[tidy[0]]
        raise BadCode(f"{tidy} is {_article(found)}, not {_article(wanted)}", field=field)
    return Code(tidy)


def _article(words: str) -> str:
    return f"{'an' if words[0] in 'aeiou' else 'a'} {words}"


def kind_of(code: str) -> str:
    """
    The word for a code's kind.

    >>> kind_of("PC0001D")
    'piece'
    """
    return KINDS[code[0]]


def running_number(code: str) -> int:
    """The running number inside a code."""
    return int(code[2:-1])


def nearest_codes(text: str, known: Iterable[str], *, most: int = 3) -> list[str]:
    """
    Known codes that look most like *text*, best first.

    Counts single edits, with a swap of neighbours as one (optimal string alignment distance);
    codes more than two edits away are left out.
    """
    tidy = tidy_code(text)
    scored = ((_edits(tidy, code), code) for code in known if abs(len(code) - len(tidy)) <= 2)
    return [code for distance, code in sorted(scored) if distance <= 2][:most]


def slips_of(text: str) -> set[str]:
    """
    Codes that are a single edit away from *text*, its last letter put right.

    They are found without a list of known codes, so that a mistyped code among a million is.

    >>> sorted(code for code in slips_of("BC0003J") if code.startswith("BC000"))
    ['BC0002J', 'BC0003H', 'BC0004F', 'BC0005D', 'BC0006B']
    """
    tidy = tidy_code(text)
    found: set[str] = set()
    for slip in {tidy, *_single_edits(tidy)}:
        if _GRAMMAR.fullmatch(slip[:-1] + LETTERS[0]):
            right = slip[:-1] + check_character(slip[:-1])
            if right[-1] in LETTERS:
                found.add(right)
    return found


_IN_CODES = sorted({*KINDS, *LETTERS, *"0123456789"})


def _single_edits(text: str) -> Iterator[str]:
    """Texts that differ by one character more, less or other, or by a swap of neighbours."""
    for at in range(len(text) + 1):
        head, tail = text[:at], text[at:]
        for letter in _IN_CODES:
            yield head + letter + tail
            yield head + letter + tail[1:]
        yield head + tail[1:]
        yield head + tail[1:2] + tail[:1] + tail[2:]


def _edits(left: str, right: str) -> int:
    before: list[int] = []
    row = list(range(len(right) + 1))
    for i, a in enumerate(left, 1):
        previous, row = row, [i]
        for j, b in enumerate(right, 1):
            cost = min(previous[j] + 1, row[j - 1] + 1, previous[j - 1] + (a != b))
            if i > 1 and j > 1 and a == right[j - 2] and left[i - 2] == b:
                cost = min(cost, before[j - 2] + 1)
            row.append(cost)
        before = previous
    return row[-1]


def uuid7(unix_ms: int, random_bytes: bytes) -> str:
    """
    A UUID version 7 as text (RFC 9562, section 5.7).

    Args:
        unix_ms: Milliseconds since 1970-01-01 UTC.
        random_bytes: Ten bytes.

    >>> uuid7(0x017F22E279B0, bytes.fromhex("0cc318c4dc0c0c07398f"))
    '017f22e2-79b0-7cc3-98c4-dc0c0c07398f'
    """
    number = (unix_ms & (2**48 - 1)) << 80 | int.from_bytes(random_bytes[:10], "big")
    number = number & ~(0xF << 76) | 0x7 << 76
    number = number & ~(0x3 << 62) | 0x2 << 62
    text = f"{number:032x}"
    return f"{text[:8]}-{text[8:12]}-{text[12:16]}-{text[16:20]}-{text[20:]}"
