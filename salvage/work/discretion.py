"""What may be shown to anybody: texts without the names and contacts that donors keep to us."""

from __future__ import annotations

import re
import sqlite3

from salvage.ids import Code
from salvage.records.things import Donor
from salvage.store.rows import select

WITHHELD = "(withheld)"
"""What stands for a text that holds a name or contact."""

_WORD = re.compile(r"\w{4,}")
"""Shorter words, such as "the" and "Ltd", tell nobody's name."""


class Discretion:
    """
    The sealed texts of all donors, but for the names of those who agreed to be named.

    Args:
        conn: Open connection.
    """

    def __init__(self, conn: sqlite3.Connection) -> None:
        donors = select(conn, Donor, "FROM donor")
        named = {donor.name_seal for donor in donors if donor.naming == "named"}
        told = " ".join(donor.described_as for donor in donors)
        rows = conn.execute("SELECT seal, value FROM private_field").fetchall()
        private = [str(value).casefold() for seal, value in rows if seal not in named]
        told += " ".join(str(value) for seal, value in rows if seal in named)
        self._wholes = tuple(" ".join(text.split()) for text in private if text.strip())
        words = set(_WORD.findall(" ".join(private)))
        self._words = words - set(_WORD.findall(told.casefold()))
        self._forgotten = {donor for (donor,) in conn.execute("SELECT donor FROM forgotten")}

    def show(self, text: str) -> str:
        """A text that stands on cards as well, withheld where it holds a whole name or contact."""
        folded = " ".join(text.casefold().split())
        return WITHHELD if any(whole in folded for whole in self._wholes) else text

    def show_of(self, donor: Code, text: str) -> str:
        """
        A free text about what a donor gave.

        Of one who is forgotten nothing is shown: which words were the name, nobody knows any more.
        """
        return WITHHELD if donor in self._forgotten else self.show_own(text)

    def show_own(self, text: str) -> str:
        """A text of the workshop's own, withheld where it holds a single word of a name as well."""
        if self._words & set(_WORD.findall(text.casefold())):
            return WITHHELD
        return self.show(text)
