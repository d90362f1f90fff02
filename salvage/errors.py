"""
Every error a user can meet.

::

    SalvageError
    ├── BadValue        a text or number that does not parse (also a ValueError)
    │   ├── BadCode     a code with a wrong check character or grammar
    │   ├── BadOutline  a ring that crosses itself, has no area, or lies outside
    │   └── NoGlyph     a character that no font here can print
    ├── ManyMistakes    several of them in one form or file
    ├── BadFile         a photo, drawing or table that cannot be used
    ├── BadTemplate     a page description that cannot be understood
    ├── NotFound        a code that the workshop does not hold
    ├── Refused         a rule of the trade says no
    │   ├── Held        the board may not be cut yet
    │   └── NoRoom      a shape overlaps something, or leaves the board
    ├── StoreTrouble    the database is locked, full, read-only, newer, or damaged
    └── MissingTool     a library on this machine is missing

Each carries its facts as attributes; the text is built from them: what is wrong, where, the mend.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence


class SalvageError(Exception):
    """
    Base of all errors that are shown to a user.

    Args:
        message: What is wrong, with the offending value, as one sentence without a full stop.
        hint: What to do about it; empty when the message says it already.
        field: The label the person saw, such as ``--kerf-mm`` or a column name.
    """

    def __init__(self, message: str, *, hint: str = "", field: str = "") -> None:
        super().__init__(message)
        self.message = message
        self.hint = hint
        self.field = field

    def __str__(self) -> str:
        text = f"{self.field}: {self.message}" if self.field else self.message
        return f"{text}; {self.hint}" if self.hint else text


class BadValue(SalvageError, ValueError):
    """A text or number that cannot be read as what the field wants."""


class BadCode(BadValue):
    """A code whose letters, digits or check character are wrong."""


class BadOutline(BadValue):
    """A ring that crosses itself, has no area, or is too large for the grid."""


class NoGlyph(BadValue):
    """
    A character that no font here can print.

    Args:
        character: It.
        name: Its name in Unicode, or its number.
        document: What was to be printed, such as "the story card of PC0001D".
    """

    def __init__(self, character: str, name: str, *, document: str = "") -> None:
        self.character = character
        self.name = name
        where = f" on {document}" if document else ""
        super().__init__(
            f"no font here can print '{character}' ({name}){where}",
            hint=f"leave the character out, or install a font that has it{_such_as(name)}, or set a"
            " folder with one: salvage setup fonts-folder=DIR",
        )


# Scripts by the first word of a character's name in Unicode. Free fonts for each are called by it.
_HAN = ("cjk", "hiragana", "katakana", "hangul", "ideographic")
_SCRIPTS = (
    *("arabic", "armenian", "bengali", "devanagari", "ethiopic", "georgian", "gujarati"),
    *("gurmukhi", "hebrew", "kannada", "khmer", "lao", "malayalam", "myanmar", "sinhala"),
    *("tamil", "telugu", "thaana", "thai", "tibetan"),
)


def _such_as(name: str) -> str:
    script = name.partition(" ")[0].partition("-")[0]
    if script in _HAN:
        return ", such as Noto Sans CJK"
    return f", such as Noto Sans {script.capitalize()}" if script in _SCRIPTS else ""


class BadTemplate(SalvageError):
    """
    A page description that cannot be understood.

    Args:
        reason: What the engine says.
        file: The template's file name; empty where it is not known.
        line: Line, from 1; 0 where it is not known.
        column: Column, from 1.
    """

    def __init__(self, reason: str, *, file: str = "", line: int = 0, column: int = 0) -> None:
        self.reason = reason
        self.file = file
        self.line = line
        self.column = column
        where = f" ({file}, line {line}, column {column})" if line else ""
        super().__init__(
            f"the page could not be set: {reason}{where}",
            hint="look at the text and pictures that go on it",
        )


class ManyMistakes(SalvageError):
    """
    All mistakes of one form or file, gathered before refusing.

    Args:
        mistakes: The single errors, in the order of the form or file.
        hint: What to do about all of them.
    """

    def __init__(self, mistakes: Sequence[SalvageError], *, hint: str = "") -> None:
        self.mistakes = tuple(mistakes)
        count = len(self.mistakes)
        lines = "\n".join(f"  {mistake}" for mistake in self.mistakes)
        super().__init__(f"{count} {'mistake' if count == 1 else 'mistakes'}:\n{lines}")
        self.hint = hint

    def __str__(self) -> str:
        return f"{self.message}\n{self.hint}" if self.hint else self.message


class BadFile(SalvageError):
    """A file that is no picture, is cut short, is too large, or holds no usable outline."""


class NotFound(SalvageError):
    """
    Something that this workshop does not hold.

    Args:
        message: What was looked for.
        nearest: Codes or names that exist and look alike, best first.
    """

    def __init__(self, message: str, *, nearest: Sequence[str] = (), hint: str = "") -> None:
        self.nearest = tuple(nearest)
        if self.nearest and not hint:
            hint = "nearest: " + ", ".join(self.nearest)
        super().__init__(message, hint=hint)


class Refused(SalvageError):
    """A rule of the trade forbids the step."""


class Held(Refused):
    """The board may not be cut: something on it is not cleared, or it is recalled."""


class NoRoom(Refused):
    """A shape overlaps a cut, a keep-out or a reservation, or reaches over the edge."""


class StoreTrouble(SalvageError):
    """The database or its folder cannot be used as it is."""


class MissingTool(SalvageError):
    """A library that this step needs is not on this machine."""
