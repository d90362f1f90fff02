"""
The short way of a look-up: its few words are read without the parser's library.

Loading the library takes longer than the whole look-up. Only command lines are read here that have
one meaning: a command of the list, as many words as it needs, and the options that every command
has. All others, and every mistake, are left to the parser. A test runs each command both ways.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from salvage.cli.command import FORMS, SHARED
from salvage.cli.failures import Misuse
from salvage.cli.look_up_table import LOOK_UPS, Command

if TYPE_CHECKING:
    from collections.abc import Sequence

    from salvage.cli.session import Session

_SWITCHES: dict[str, tuple[str, Any]] = {
    flag: (field, True) for field, flags, more, _w in SHARED if not more for flag in flags
}
_VALUES = {flag: field for field, flags, more, _w in SHARED if more for flag in flags}
_SWITCHES |= {flag: ("form", form) for form, flag, _words in FORMS}


_NARROWEST = 40
"""Columns that the first page of the help needs; the parser sets it for fewer."""


class Call:
    """
    What a command line asks for, and what a command may ask of the parser.

    Args:
        session: The run.
        name: Words of the command's name.
        words: The command's own words.
    """

    def __init__(self, session: Session, name: tuple[str, ...], words: list[str]) -> None:
        self.session = session
        self.name = name
        self.words = words

    @property
    def command_path(self) -> str:
        """The command's whole name."""
        return " ".join(("salvage", *self.name))

    def find_object(self, _kind: type) -> Session:
        """The session that the command runs in."""
        return self.session


def run_look_up(words: Sequence[str], session: Session) -> bool:
    """
    Run a command line if it is a plain look-up; false if the parser has to read it.

    Args:
        words: Without the program's name.
        session: The run; options set its fields.
    """
    world = session.world
    if world.variable("_SALVAGE_COMPLETE"):
        return False
    if [*words] in (["--help"], ["-h"]) and world.width >= _NARROWEST:
        from salvage.cli.front import front_page

        world.stdout.write(front_page(world.width))
        return True
    read = _read(words)
    if read is None:
        return False
    name, own, noted = read
    function = LOOK_UPS[name]()
    if len(own) != _needed(function):
        return False
    for field, value in noted:
        if value:
            setattr(session, field, value)
    call = Call(session, name, own)
    try:
        function(call, *own)
    except Misuse as mistake:
        mistake.ctx = mistake.ctx or call
        raise
    return True


def _needed(function: Command) -> int:
    """How many words a command needs; all its other parameters have defaults."""
    return function.__code__.co_argcount - 1 - len(function.__defaults__ or ())


def _read(
    words: Sequence[str],
) -> tuple[tuple[str, ...], list[str], list[tuple[str, Any]]] | None:
    """The command's name, its words and what its options set; None for the parser to read."""
    noted: list[tuple[str, Any]] = []
    own: list[str] = []
    name: tuple[str, ...] = ()
    left = [*words]
    while left:
        word = left.pop(0)
        if word in _SWITCHES:
            noted.append(_SWITCHES[word])
        elif word in _VALUES and left and not left[0].startswith("-"):
            noted.append((_VALUES[word], left.pop(0)))
        elif word.startswith("-"):
            return None
        elif name:
            own.append(word)
        else:
            name = (word,) if (word,) in LOOK_UPS else (word, *left[:1])
            if name not in LOOK_UPS:
                return None
            del left[: len(name) - 1]
    name = name or ("next",)  # alone, the program tells what to do next
    return (name, own, noted) if name in LOOK_UPS else None
