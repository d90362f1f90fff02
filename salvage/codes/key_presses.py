"""Key presses gathered into lines, as a keyboard scanner and slow fingers send them."""

from __future__ import annotations

import re

IDLE_S = 2.0
"""After so long a scan without its Enter is told; a scanner types a code in a fraction of it."""

REPEAT_S = 1.0
"""A code that comes again within this time is one trigger held too long."""

# What ends a line: the Enter and Tab that scanners send, and the separators of data in symbols (FS,
# GS, RS, US), which some send at the end. CR with LF makes an empty line more, which is none.
_ENDERS = "\r\n\t\x1c\x1d\x1e\x1f"
_BACKSPACES = "\x08\x7f"
_CLEAR = "\x15"  # Ctrl-U
END_OF_INPUT = "\x04"
"""Ctrl-D; it ends the input where nothing is typed."""

# Arrow and function keys, and the marks that a terminal puts round pasted text.
_ESCAPE = re.compile("\x1b(?:\\[[0-9;?]*[ -/]*[@-~]|O[ -~])")
_ESCAPE_BEGUN = re.compile("\x1b(?:\\[[0-9;?]*[ -/]*|O)?$")
_LONGEST = 500


class KeyPresses:
    """
    Gathers characters into lines, however they are cut into pieces on the way.

    >>> keys = KeyPresses()
    >>> keys.feed("BC00", at_s=0.0), keys.feed("02J\\r\\n", at_s=0.3)
    ((), ('BC0002J',))
    """

    def __init__(self) -> None:
        self.pending = ""
        self.has_ended = False
        self._escape = ""
        self._since_s = 0.0
        self._is_told = False

    def feed(self, text: str, *, at_s: float) -> tuple[str, ...]:
        """
        Take characters and give the lines that they complete, without the empty ones.

        Args:
            text: As read; a line, an escape sequence or a CR with LF may be cut anywhere.
            at_s: When, in seconds of any clock that goes on evenly.
        """
        whole = _ESCAPE.sub("", self._escape + text)
        begun = _ESCAPE_BEGUN.search(whole)
        self._escape = begun[0] if begun else ""
        typed = whole[: begun.start()] if begun else whole
        lines = [self._press(character) for character in typed]
        if text:
            self._since_s, self._is_told = at_s, False
        return tuple(line for line in lines if line)

    def _press(self, character: str) -> str:
        """Take one character; gives the line that it ends, or nothing."""
        if character in _BACKSPACES:
            self.pending = self.pending[:-1]
        elif character == _CLEAR:
            self.pending = ""
        elif character == END_OF_INPUT and not self.pending.strip():
            self.has_ended = True
        elif character in _ENDERS + END_OF_INPUT or len(self.pending) >= _LONGEST:
            return self.forget().strip()
        else:
            self.pending += character
        return ""

    def forget(self) -> str:
        """Drop what is typed and not ended yet, and give it."""
        dropped, self.pending, self._escape = self.pending, "", ""
        return dropped

    def is_stuck(self, *, at_s: float) -> bool:
        """True once for a text that has waited for its Enter for :data:`IDLE_S`."""
        if not self.pending or self._is_told or at_s - self._since_s < IDLE_S:
            return False
        self._is_told = True
        return True


class Repeats:
    """Tells a trigger held too long from a code that is scanned twice on purpose."""

    def __init__(self) -> None:
        self._text = ""
        self._at_s = 0.0

    def is_repeat(self, text: str, *, at_s: float) -> bool:
        """
        True where the same text came within :data:`REPEAT_S` before.

        Args:
            text: The code as it was read.
            at_s: When, in seconds of any clock that goes on evenly.
        """
        again = text == self._text and at_s - self._at_s <= REPEAT_S
        self._text, self._at_s = text, at_s
        return again
