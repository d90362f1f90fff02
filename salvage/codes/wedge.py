"""
Lines from a keyboard scanner, put right where the computer's keyboard layout changed them.

A keyboard scanner sends key presses of a United States keyboard. A computer set to another layout
turns them into other characters: a French one types ``BCàààéJ`` for ``BC0002J``. Our codes keep to
letters that do not move, so only the digit row, and the marks of an address, need undoing.

The tables follow the X keyboard data ``xkb-data`` 2.35 (symbols fr, be, cz, de), read for this
purpose; the German ``ß`` for the hyphen is from memory.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from salvage.codes.payload import unwrap
from salvage.errors import BadCode
from salvage.frozen import dataclass
from salvage.ids import Code, parse_code

if TYPE_CHECKING:
    from collections.abc import Iterator

AS_TYPED = ""
"""Layout of a scan that needed no undoing."""


@dataclass(frozen=True, slots=True)
class Scan:
    """
    What a scanned line most likely says.

    Args:
        text: Candidate for a code; judge it with :func:`salvage.ids.parse_code`.
        layout: Keyboard layout that was undone, such as ``French``; empty when none was.
    """

    text: str
    layout: str = AS_TYPED


def _table(typed: str, meant: str) -> dict[int, str]:
    pairs = dict(zip(typed, meant, strict=True))
    # With caps lock on, the accented letters of the digit row come as capitals.
    pairs |= {key.upper(): value for key, value in pairs.items() if key in "éèçàěščřžýáí"}
    return str.maketrans(pairs)


# Every mark that a typed code may be spaced with has its place in each table, so that it is never
# overlooked where it stands for a digit or for another mark.
_AZERTY_TYPED, _AZERTY_MEANT = "aAqQwWzZ;:.mM,?$", "qQaAzZwW,.<;:mM]"

# Each table goes from what the computer typed to the key that the scanner meant.
_DIGIT_ROW_LAYOUTS = {
    "French": _table("&é\"'(-è_çà)!" + _AZERTY_TYPED, "1234567890-/" + _AZERTY_MEANT),
    "Belgian": _table("&é\"'(§è!çà)=-_" + _AZERTY_TYPED, "1234567890-/=+" + _AZERTY_MEANT),
    "Czech": _table('+ěščřžýáíé=-_")yYzZ', "1234567890-/?:]zZyY"),
}
_GERMAN = _table("yYzZß-Öö+", "zZyY-/:;]")


def parse_scan(line: str) -> Scan:
    """
    The code candidate of one scanned line, with the layout that had to be undone.

    A layout is undone only when exactly one reading of the line, over all layouts and the line as
    it stands, is one of our codes. Otherwise the line is given as typed, never guessed. Layouts
    that move the digit row are considered only for lines without plain digits, since on those
    layouts a scanner cannot type one; so a mistyped code is never turned into another one.

    Args:
        line: As read from the terminal, line end and scanner prefix included.

    >>> parse_scan("BCàààéJ\\r\\n")
    Scan(text='BC0002J', layout='French')
    >>> parse_scan("]C1bc0002j")
    Scan(text='bc0002j', layout='')
    """
    found: dict[str, Scan] = {}
    for layout, text in _readings(line):
        try:
            code = parse_code(text)
        except BadCode:
            continue
        found.setdefault(code, Scan(text, layout))
    as_typed = Scan(unwrap(line))
    return next(iter(found.values())) if len(found) == 1 else as_typed


def _readings(line: str) -> Iterator[tuple[str, str]]:
    for layout, text in _layouts(line):
        yield layout, unwrap(text)


def _layouts(line: str) -> Iterator[tuple[str, str]]:
    yield AS_TYPED, line
    yield "German", line.translate(_GERMAN)
    if not any(character in "0123456789" for character in line):
        for layout, table in _DIGIT_ROW_LAYOUTS.items():
            yield layout, line.translate(table)


def parse_scans(line: str) -> tuple[Scan, ...]:
    """
    All code candidates of one line, for scanners that leave out the Enter between two codes.

    A line is split only where nothing but whole codes of ours comes of it, split by blanks, marks,
    control characters, or not at all; a code that follows itself counts once. Else it is given as
    :func:`parse_scan` gives it.

    Args:
        line: As read from the terminal.

    >>> [scan.text for scan in parse_scans("]C1BC0002JBC0003H")]
    ['BC0002J', 'BC0003H']
    >>> parse_scans("two words")
    (Scan(text='twowords', layout=''),)
    """
    single = parse_scan(line)
    if _code_of(single.text):
        return (single,)
    found: dict[tuple[Code, ...], str] = {}
    for layout, text in _layouts(line):
        if codes := _split_codes(text):
            found.setdefault(codes, layout)
    if len(found) != 1:
        return (single,)
    ((codes, layout),) = found.items()
    return tuple(Scan(code, layout) for code in codes)


_BETWEEN = re.compile(r"[\s\x00-\x1f\x7f,;|]+")
_MARKS = "*#!$%&+-./:=?@^_~<>()[]{}'\""
_AIM = re.compile(r"\][A-Za-z][0-9A-Za-z]")
_GLUED = re.compile(r"[A-Z]{2}[0-9]{4,9}[A-Z]")


def _split_codes(text: str) -> tuple[Code, ...]:
    """The codes of a text that holds nothing else; empty where it does."""
    found: list[Code] = []
    for part in _BETWEEN.split(text):
        # Some scanners send the symbology before each code, and some frame it with marks.
        for piece in _AIM.split(part):
            bare = unwrap(piece).strip(_MARKS).upper()
            codes = _GLUED.findall(bare)
            if "".join(codes) != bare:
                return ()
            found += codes
    codes = [_code_of(text) for text in found]
    return tuple(dict.fromkeys(code for code in codes if code)) if all(codes) else ()


def _code_of(text: str) -> Code | None:
    try:
        return parse_code(text)
    except BadCode:
        return None
