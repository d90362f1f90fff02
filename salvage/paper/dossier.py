"""What a piece's dossier says: a page in one file, for whoever scans the card."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Picture:
    """
    A picture that stands in the page itself.

    Args:
        data: JPEG, PNG or SVG.
        words: What it shows.
        is_wide: Whether it takes the whole width.
    """

    data: bytes
    words: str
    is_wide: bool = False


@dataclass(frozen=True, slots=True)
class Step:
    """
    One link of the chain of custody.

    Args:
        day: When, as it was written down.
        words: What was done; or why it is not told.
        who: Who did it; empty where nobody is named.
        is_told: False for an entry of which only the hash is given.
    """

    day: str
    words: str
    who: str = ""
    is_told: bool = True


@dataclass(frozen=True, slots=True)
class HazardLine:
    """
    What was found and done about one hazard of one board.

    Args:
        board: The board's code.
        hazard: Its name.
        found: What was found and done.
        day: When; empty if never.
        who: Who looked; empty where nobody is named.
    """

    board: str
    hazard: str
    found: str
    day: str
    who: str = ""


@dataclass(frozen=True, slots=True)
class DossierProof:
    """
    The proof that the page holds and checks.

    Args:
        data: The proof as JSON.
        shown: Number of entries that can be read.
        withheld: Number of those given by their hash alone.
        signed_at: When it was signed.
        heads: The journal's heads, as on paper.
    """

    data: bytes
    shown: int
    withheld: int
    signed_at: str
    heads: str


@dataclass(frozen=True, slots=True)
class Dossier:
    """
    All that the page says, pictures and proof aside.

    Args:
        code: Code of the piece.
        headline: Shape and board in words.
        workshop: Its name.
        contact: How to reach it; empty if it told none.
        web_address: Its address; empty for none.
        alarm: What a buyer must know at once, such as a recall; empty for nothing.
        note: What else is odd, such as that it was withdrawn; empty for nothing.
        story: Its story, as on the card.
        origin: When its boards came and from whom, as on the card.
        care: Care and cautions, as on the card.
        custody: The custody model, in the words of ISO 22095, and the shares of its boards.
        steps: The chain of custody, oldest first.
        hazards: What was looked for on its boards.
    """

    code: str
    headline: str
    workshop: str
    contact: str
    web_address: str
    alarm: str
    note: str
    story: tuple[str, ...]
    origin: tuple[str, ...]
    care: tuple[str, ...]
    custody: tuple[str, ...]
    steps: tuple[Step, ...]
    hazards: tuple[HazardLine, ...]
