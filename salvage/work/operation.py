"""What the catalogue says of one operation."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

Function = Callable[..., Any]


@dataclass(frozen=True, slots=True)
class Operation:
    """
    One operation.

    Args:
        function: Takes the open workshop first, then keyword-only values.
        command: Words of the command line that call it.
        changes: True when it writes to the journal.
    """

    function: Function
    command: str
    changes: bool = True

    @property
    def name(self) -> str:
        """The function's name."""
        return str(self.function.__name__)
