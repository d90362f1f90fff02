"""Words and numbers as a story card says them."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from salvage.records.things import Board


def type_words(board: Board) -> str:
    """The board's type as it reads in a sentence; one whose type nobody knew is a circuit board."""
    return "circuit board" if board.type == "other" else board.type.replace("-", " ")


def with_article(noun: str) -> str:
    """
    A noun with its indefinite article, as far as its first letter tells.

    >>> with_article("expansion card")
    'an expansion card'
    """
    return f"{'an' if noun[:1] in 'aeio' else 'a'} {noun}"


def marked(board: Board) -> str:
    """What a board was, with what is printed on it: ``an expansion card, marked Orrery X2``."""
    named = " ".join(text for text in (board.maker, board.model) if text)
    return f"{with_article(type_words(board))}{f', marked {named}' if named else ''}"


def date_code_year(board: Board, *, today: date) -> int | None:
    """The year that a board's date code points to, or None where it tells none."""
    from salvage.knowledge.date_codes import read_date_code

    if not board.date_code:
        return None
    earliest = read_date_code(board.date_code, today=today).earliest
    # Week 1 may begin in the last days of the year before (ISO 8601).
    return earliest.isocalendar().year if earliest else None


def tool_words(tool: str) -> str:
    """A tool as it reads in a sentence."""
    return _TOOL_WORDS.get(tool, tool)


_TOOL_WORDS = {"router": "a small router", "shears": "hand shears", "saw": "a jeweller's saw"}

_MONTHS = [
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
]


def format_day(day: date) -> str:
    """
    A day as people write it, whatever the machine's language.

    >>> format_day(date(2026, 5, 4))
    '4 May 2026'
    """
    return f"{day.day} {_MONTHS[day.month - 1]} {day.year}"


def number_word(number: int) -> str:
    """
    A small number as a word.

    >>> number_word(2), number_word(13)
    ('two', '13')
    """
    return _NUMBERS[number] if number < len(_NUMBERS) else str(number)


_NUMBERS = (
    *("no", "one", "two", "three", "four", "five", "six"),
    *("seven", "eight", "nine", "ten", "eleven", "twelve"),
)


def listed(words: Sequence[str]) -> str:
    """
    Words in a row as a sentence has them.

    >>> listed(["a", "b", "c"])
    'a, b and c'
    """
    return " and ".join([", ".join(words[:-1]), words[-1]] if len(words) > 1 else words)
