"""The cells of one row of an imported table."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import date
from typing import TypeVar

from salvage.errors import BadValue, SalvageError
from salvage.records.choices import parse_choice

Parsed = TypeVar("Parsed")


class Cells:
    """
    One row's cells, read with every mistake gathered.

    Args:
        row: Column to text.
        today: The workshop's date.
    """

    def __init__(self, row: Mapping[str, str], today: date) -> None:
        self.row = row
        self.today = today
        self.mistakes: list[SalvageError] = []

    def add(self, column: str, mistake: SalvageError) -> None:
        """Keep a mistake of a column."""
        self.mistakes.append(BadValue(mistake.message, hint=mistake.hint, field=column))

    def is_wrong(self, column: str) -> bool:
        """True if a mistake of the column is known."""
        return any(mistake.field == column for mistake in self.mistakes)

    def text(self, column: str, *, needed: bool = False) -> str:
        """The cell as it stands."""
        text = self.row.get(column, "")
        if needed and not text:
            self.mistakes.append(BadValue("the cell is empty", field=column))
        return text

    def parse(self, column: str, parser: Callable[[str], date]) -> date:
        """The cell's date; today where it is wrong."""
        try:
            return parser(self.row.get(column, ""))
        except BadValue as mistake:
            self.add(column, mistake)
            return self.today

    def optional(self, column: str, parser: Callable[[str], Parsed]) -> Parsed | None:
        """What the cell says; None where it is empty or wrong."""
        text = self.row.get(column, "")
        if not text:
            return None
        try:
            return parser(text)
        except BadValue as mistake:
            self.add(column, mistake)
            return None

    def choice(self, column: str, choices: tuple[str, ...], default: str) -> str:
        """The choice that the cell means; the default where it is empty or wrong."""
        found = self.optional(column, lambda text: parse_choice(text, choices))
        return found or default
