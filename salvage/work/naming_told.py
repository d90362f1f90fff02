"""How an event of a printed card says whom the card named: one word, or one for each donor."""

from __future__ import annotations

from collections.abc import Sequence

from salvage.ids import Code
from salvage.records.things import Donor


def tell_naming(donors: Sequence[Donor]) -> str:
    """
    The naming of a card's donors, as its event keeps it.

    One donor's wish stands alone; of several, each wish stands behind the donor's code.
    """
    if len(donors) == 1:
        return donors[0].naming
    return " ".join(f"{donor.code}={donor.naming}" for donor in donors)


def read_naming(told: str, donors: Sequence[Code]) -> dict[Code, str]:
    """
    What :func:`tell_naming` wrote, by donor.

    Args:
        told: Its words.
        donors: Codes of the donors that a single word is about.
    """
    if "=" not in told:
        return dict.fromkeys(donors, told)
    pairs = (pair.split("=", 1) for pair in told.split())
    return {Code(code): wish for code, wish in pairs}
