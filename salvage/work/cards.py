"""Story cards, statements of origin, price tags and stall cards, in a design, one or many."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import TYPE_CHECKING

from salvage.canonical import Json, canonical_bytes, sha256_hex
from salvage.errors import BadTemplate
from salvage.ids import Code
from salvage.store.change import Change
from salvage.store.journal import read_events_about
from salvage.work.card_designs import (
    USUAL_DESIGN,
    files_beside,
    find_design,
    plain_template_error,
)
from salvage.work.lineage import donors_of
from salvage.work.naming_told import tell_naming
from salvage.work.outings import see_outing
from salvage.work.papers import (
    check_card,
    compose_card,
    fonts_of,
    naming_glyph,
    text_hash,
)
from salvage.work.pieces import SINGLE, view_piece
from salvage.work.workshop import Workshop

if TYPE_CHECKING:
    from salvage.paper.card import StoryCard
    from salvage.paper.cards import PrintedCards
    from salvage.paper.designs import Design

# 300 dpi; a photo is never drawn larger than a page of A4 lying.
_PX_PER_MM = 300 / 25.4
_MOST_PHOTO_PX = 2400


@dataclass(frozen=True, slots=True)
class CardLook:
    """
    What cards look like and what they are printed on.

    Args:
        design: Name of a design.
        on: ``card`` for the finished size, ``shop`` for the same with bleed and marks, ``a4`` or
            ``letter`` for many on a sheet.
        dpi: Bitmaps of this resolution instead of a PDF, unless it is 0.
        outing: Code of the outing whose keys stand on the tags; empty for none.
    """

    design: str = USUAL_DESIGN
    on: str = "card"
    dpi: float = 0
    outing: str = ""


@dataclass(frozen=True, slots=True)
class CardsMade:
    """
    Printed cards and what there is to know of them.

    Args:
        printed: Pages, and what did not fit.
        design: What they look like.
        changed: Pieces whose words are not those of the last card printed for them.
    """

    printed: PrintedCards
    design: Design
    changed: tuple[Code, ...] = ()


def print_card(shop: Workshop, *, piece: Code, large: bool = False, dry_run: bool = False) -> bytes:
    """
    A piece's story card as PDF, and a record of what it said; as :func:`print_cards` does it.

    Args:
        shop: The open workshop.
        piece: The piece's code.
        large: Large print.
        dry_run: Do everything, then roll back.
    """
    look = CardLook("large" if large else USUAL_DESIGN)
    return print_cards(shop, pieces=[piece], look=look, dry_run=dry_run).printed.pages[0]


def print_cards(
    shop: Workshop, *, pieces: Sequence[Code], look: CardLook | None = None, dry_run: bool = False
) -> CardsMade:
    """
    Cards or tags of pieces, and a record of what each said.

    Args:
        shop: The open workshop.
        pieces: The pieces' codes, in the order in which they are printed.
        look: Design and paper, where they are not the usual ones.
        dry_run: Do everything, then roll back.

    Raises:
        NotFound: If there is no such piece or design.
        Refused: If a piece is recalled or withdrawn, or was cut by override from a board whose
            hazards are still open; or its cautions do not fit on the design.
        BadTemplate: If the design cannot be understood; says where.
        NoGlyph: If no font has one of the characters.
    """
    look = look or CardLook()
    for piece in pieces:
        check_card(shop, piece)
    design = find_design(shop, look.design)

    def steps(change: Change) -> CardsMade:
        cards, made_on = _compose_cards(shop, pieces, design, look)
        printed = _typeset_cards(shop, cards, look, design, made_on)
        notes = [(card, _note_of(shop, card, design)) for card in cards]
        changed = tuple(Code(c.code) for c, one in notes if _says_otherwise(change, c, one))
        for card, one in notes:
            change.append(one.kind, (Code(card.code),), one.data)
        return CardsMade(printed, design, changed)

    return shop.commit("print card", steps, dry_run=dry_run)


def preview_cards(shop: Workshop, *, pieces: Sequence[Code], look: CardLook) -> CardsMade:
    """
    Cards to look at: nothing is recorded, and pieces that must not be sold are shown too.

    Arguments and errors are those of :func:`print_cards`.
    """
    design = find_design(shop, look.design)
    cards, made_on = _compose_cards(shop, pieces, design, look)
    return CardsMade(_typeset_cards(shop, cards, look, design, made_on), design)


def _compose_cards(
    shop: Workshop, pieces: Sequence[Code], design: Design, look: CardLook
) -> tuple[list[StoryCard], date]:
    """The cards, and the day of the newest entry that they rest on."""
    squared: dict[str, bytes] = {}
    photo_px = min(_MOST_PHOTO_PX, round(design.photo_mm * _PX_PER_MM))
    cards = [
        compose_card(shop, view_piece(shop.conn, piece), photo_px=photo_px, squared=squared)
        for piece in pieces
    ]
    if look.outing:
        packed = see_outing(shop.conn, Code(look.outing)).pieces
        keys = {one.piece.code: one.key for one in packed}
        cards = [replace(card, key=keys.get(Code(card.code), "")) for card in cards]
    row = shop.conn.execute("SELECT at FROM event ORDER BY seq DESC LIMIT 1").fetchone()
    return cards, date.fromisoformat(row[0][:10]) if row else shop.today


def _typeset_cards(
    shop: Workshop, cards: list[StoryCard], look: CardLook, design: Design, made_on: date
) -> PrintedCards:
    from salvage.paper.cards import CardRun
    from salvage.paper.cards import print_cards as typeset_cards

    beside, fonts = files_beside(shop, design), fonts_of(shop)
    run = CardRun(design, made_on, look.on, beside, fonts, look.dpi)
    which = cards[0].code if len(cards) == 1 else f"{len(cards)} pieces"
    try:
        with naming_glyph(f"the {design.paper} of {which}"):
            return typeset_cards(cards, run)
    except BadTemplate as error:
        raise plain_template_error(error) from None


def _says_otherwise(change: Change, card: StoryCard, event: _Note) -> bool:
    """Whether the last paper of this kind said something else."""
    for earlier in reversed(read_events_about(change.conn, card.code)):
        if earlier.kind == event.kind:
            return earlier.data["text_sha256"] != event.data["text_sha256"]
    return False


@dataclass(frozen=True, slots=True)
class _Note:
    """What the record keeps of one printed paper."""

    kind: str
    data: dict[str, Json]


def _note_of(shop: Workshop, card: StoryCard, design: Design) -> _Note:
    from salvage.paper.designs import TELLING

    view = view_piece(shop.conn, Code(card.code))
    if design.paper in TELLING:
        naming = tell_naming(donors_of(shop.conn, view.piece.code))
        return _Note("card.printed", {"text_sha256": text_hash(card), "naming": naming})
    words: dict[str, Json] = {
        "code": card.code,
        "headline": card.headline,
        "workshop": card.workshop,
        "material": card.material,
        "price": card.price,
        "care": list(card.care),
        "audience": card.audience,
    }
    data: dict[str, Json] = {
        "design": design.name,
        "text_sha256": sha256_hex(canonical_bytes(words)),
        "price_minor": view.piece.price_minor,
        "currency": view.piece.currency if view.piece.price_minor is not None else "",
    }
    return _Note("tag.printed", data)


def choose_pieces(
    shop: Workshop, *, stage: str = "", stale: bool = False, outing: str = ""
) -> tuple[Code, ...]:
    """
    Pieces to print for, oldest first; recalled ones are left out.

    Args:
        shop: The open workshop.
        stage: Those of a stage.
        stale: Those whose last price tag no longer says the price.
        outing: Those that are packed for an outing, in the order of their keys.
    """
    if outing:
        packed = see_outing(shop.conn, Code(outing)).in_state("packed")
        return tuple(one.piece.code for one in packed if not one.piece.recalled)
    if stale:
        rows = shop.conn.execute(
            "SELECT piece.code FROM piece JOIN printed_tag ON printed_tag.piece = piece.code"
            " WHERE piece.stage NOT IN ('sold', 'withdrawn') AND piece.recalled = 0"
            " AND (piece.price_minor IS NOT printed_tag.price_minor"
            "  OR (piece.price_minor IS NOT NULL AND piece.currency <> printed_tag.currency))"
            f" AND {SINGLE} ORDER BY piece.made_at, piece.code"
        )
    else:
        rows = shop.conn.execute(
            f"SELECT code FROM piece WHERE stage = ? AND recalled = 0 AND {SINGLE}"
            " ORDER BY made_at, code",
            (stage,),
        )
    return tuple(Code(code) for (code,) in rows)
