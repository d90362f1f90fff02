"""Reading our own data files: CSV with comment lines, and the names that people type for rows."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

from salvage.knowledge.source import Source

if TYPE_CHECKING:
    from collections.abc import Iterable


@cache
def read_table(name: str) -> tuple[dict[str, str], ...]:
    """
    Rows of a data file of this package, as text by column name.

    Lines that start with ``#`` tell where the file comes from and are left out.

    Args:
        name: File name inside ``salvage/knowledge/data``.
    """
    import csv
    from importlib.resources import files

    text = files("salvage.knowledge").joinpath("data", name).read_text(encoding="utf-8")
    lines = (line for line in text.splitlines() if not line.startswith("#"))
    return tuple(csv.DictReader(lines, strict=True))


def source_of(row: dict[str, str], *, prefix: str = "") -> Source:
    """The source that a row names in ``source``, ``confidence`` and ``read_on``."""
    return Source(row[f"{prefix}source"], row[f"{prefix}confidence"], row[f"{prefix}read_on"])


def parse_list(text: str) -> tuple[str, ...]:
    """
    The items of a field that holds several, separated by semicolons.

    >>> parse_list("psu; power brick")
    ('psu', 'power brick')
    """
    return tuple(item.strip() for item in text.split(";") if item.strip())


def tidy_name(text: str) -> str:
    """
    A name for comparing: small letters and digits only.

    >>> tidy_name("Micro-ATX")
    'microatx'
    """
    return "".join(character for character in text.casefold() if character.isalnum())


def nearest_names(text: str, known: Iterable[str], *, most: int = 3) -> list[str]:
    """
    Known names that look or begin like *text*, best first.

    >>> nearest_names("coin-sell", ["coin-cell", "lead-acid"])
    ['coin-cell']
    """
    from difflib import get_close_matches

    by_tidy = {tidy_name(name): name for name in known if tidy_name(name)}
    tidy = tidy_name(text)
    begins = [name for key, name in by_tidy.items() if len(tidy) >= 3 and key.startswith(tidy)]
    alike = [by_tidy[key] for key in get_close_matches(tidy, by_tidy, n=most, cutoff=0.6)]
    return list(dict.fromkeys(begins + alike))[:most]
