"""
One line from a keyboard scanner, put right where the computer's keyboard layout changed it.

A keyboard scanner sends key presses of a United States keyboard. A computer set to another layout
turns them into other characters: a French one types ``BCàààéJ`` for ``BC0002J``. Our codes keep to
letters that do not move, so only the digit row, and the marks of an address, need undoing.

The tables follow the X keyboard data ``xkb-data`` 2.35 (symbols fr, be, cz, de), read for this
purpose; the German ``ß`` for the hyphen is from memory.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from salvage.codes.payload import unwrap
from salvage.errors import BadCode
from salvage.ids import parse_code

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
    yield AS_TYPED, unwrap(line)
    yield "German", unwrap(line.translate(_GERMAN))
    if not any(character in "0123456789" for character in line):
        for layout, table in _DIGIT_ROW_LAYOUTS.items():
            yield layout, unwrap(line.translate(table))
