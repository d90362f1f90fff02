"""All mistakes of one form or command line, gathered before it is refused."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar

from salvage.errors import ManyMistakes, SalvageError

Parsed = TypeVar("Parsed")


class Gatherer:
    """Runs parsers one by one and keeps what they complain about."""

    def __init__(self) -> None:
        self.mistakes: list[SalvageError] = []

    def take(self, parse: Callable[[], Parsed], otherwise: Parsed) -> Parsed:
        """What *parse* gives, or *otherwise* with its complaint kept."""
        try:
            return parse()
        except SalvageError as mistake:
            self.mistakes.append(mistake)
            return otherwise

    def finish(self) -> None:
        """
        Go on only if there was no mistake.

        Raises:
            SalvageError: The only mistake, as it is.
            ManyMistakes: All of them, where there are several.
        """
        if len(self.mistakes) == 1:
            raise self.mistakes[0]
        if self.mistakes:
            raise ManyMistakes(self.mistakes)
