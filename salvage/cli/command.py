"""The commands of one file, and the options of all, noted down without the parser's library."""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from typing import Any, TypeVar

from salvage.frozen import dataclass

Function = TypeVar("Function", bound=Callable[..., Any])

Rewrite = Callable[[list[str], Collection[str]], list[str]]
"""Gives the words to read for those typed after a group's name, and the names of its commands."""


SHARED = (
    ("shop", ("--shop",), "DIR", "The workshop's folder (or SALVAGE_SHOP)."),
    ("by", ("--by",), "NAME", "Who works (or SALVAGE_BY)."),
    ("no_color", ("--no-color",), "", "Never colour (or NO_COLOR)."),
    ("no_input", ("--no-input",), "", "Never ask; name what is missing."),
    ("yes", ("-y", "--yes"), "", "Answer every question with yes."),
)
"""Options of every command: field of the session, flags, what follows them, what it is for."""


FORMS = (
    ("json", "--json", "Print JSON."),
    ("plain", "--plain", "Print one record a line, split by tabs."),
)
"""Forms of an answer beside that for people: the session's word, flag, what it is for."""


@dataclass(frozen=True, slots=True)
class Known:
    """
    One command.

    Args:
        name: What people type.
        function: What it runs.
        example: A whole command line.
        changes: Whether it writes to the journal.
    """

    name: str
    function: Callable[..., Any]
    example: str
    changes: bool


class CommandSet:
    """
    The commands of one file: either one command, or a group of them.

    Args:
        name: The group's name; empty for a single command.
        words: What the group is for.
        example: A command line of the group.
        alone: What a group reads where no command's name follows; None for its help.
        complete_as: Commands and their parameters whose completions stand beside the names.
    """

    def __init__(
        self,
        name: str = "",
        words: str = "",
        example: str = "",
        *,
        alone: Rewrite | None = None,
        complete_as: Sequence[tuple[str, str]] = (),
    ) -> None:
        self.name = name
        self.words = words
        self.example = example
        self.alone = alone
        self.complete_as = complete_as
        self.known: list[Known] = []

    def command(
        self, name: str, *, example: str, changes: bool = False
    ) -> Callable[[Function], Function]:
        """
        Make a function a command.

        Args:
            name: What people type.
            example: A whole command line, for the help.
            changes: Whether it writes to the journal, so that it takes ``--dry-run``.
        """

        def note(function: Function) -> Function:
            self.known.append(Known(name, function, example, changes))
            return function

        return note
