"""What a card, tag or statement says of a piece: words that the record bears."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from salvage.paper.place_map import PlaceMap


@dataclass(frozen=True, slots=True)
class StoryCard:
    """
    What the card says; every sentence is given, nothing is made up here.

    Args:
        code: Code of the piece.
        headline: Shape and board in words, such as ``Tern cut from a projector control board``.
        workshop: Name of the workshop.
        web_address: Its address for people to read; empty for none.
        symbol_svg: QR code as a picture whose ``viewBox`` counts modules, quiet zone included.
        photo: Photo of the piece; empty for none.
        place_map: Map of the donor board with the place marked; None for none.
        story: Sentences of its story, facts only.
        origin: When the board came and from whom, as the donor wishes to be named.
        care: Care, material and cautions.
        journal_count: Number of entries of the record when the card was made.
        journal_hash: Hash of the last of them, in hexadecimal; its first eight digits are printed.
        shape: The shape in words.
        material: What it is made of, in a line.
        price: Its price with the currency; empty while it has none.
        contact: How a buyer reaches the workshop; empty for none.
        audience: A line where there is no room for the cautions, such as ``Not for children``.
        key: Letters that stand for the piece at an outing; empty where it is printed for none.
    """

    code: str
    headline: str
    workshop: str
    web_address: str
    symbol_svg: str
    photo: bytes
    place_map: PlaceMap | None
    story: tuple[str, ...]
    origin: tuple[str, ...]
    care: tuple[str, ...]
    journal_count: int
    journal_hash: str
    shape: str = ""
    material: str = ""
    price: str = ""
    contact: str = ""
    audience: str = ""
    key: str = ""


def format_checkpoint(count: int, journal_hash: str) -> str:
    """
    The state of the record that a printed document bears witness to.

    >>> format_checkpoint(1482, "9f3a01bc77d2")
    'Record 1482, 9f3a01bc'
    """
    return f"Record {count}, {journal_hash[:8]}"
