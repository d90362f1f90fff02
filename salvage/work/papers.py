"""Printed documents: drop-off receipts and story cards, from facts of the record only."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from salvage.canonical import canonical_bytes, sha256_hex
from salvage.errors import NoGlyph, Refused
from salvage.ids import Code
from salvage.records.things import Board, Photo
from salvage.store.cache import Cache
from salvage.store.journal import read_head
from salvage.store.lookup import load_drop_off, load_piece
from salvage.units import format_money
from salvage.work.card_claims import audience_line, card_care
from salvage.work.card_of_article import article_headline, article_story
from salvage.work.card_words import (
    date_code_year,
    format_day,
    marked,
    tool_words,
    type_words,
    with_article,
)
from salvage.work.donors import public_name
from salvage.work.photos import newest_photo
from salvage.work.pieces import PieceView
from salvage.work.sellable import check_single
from salvage.work.verdict import check_fit_to_sell
from salvage.work.workshop import Workshop

if TYPE_CHECKING:
    from salvage.paper.card import StoryCard

# 300 dpi over the longer side of A6.
_CARD_PHOTO_PX = 1748

# Another way of making them gets another word, so that none of the old kind is used.
_PHOTO_STATE = "upright 1"


def symbol_svg(text: str) -> str:
    """A QR code for *text* as SVG."""
    from salvage.codes.draw import draw_qr
    from salvage.codes.draw import symbol_svg as svg_of

    return svg_of(draw_qr(text))


def fonts_of(shop: Workshop) -> Path | None:
    """The workshop's folder of further fonts, if it has one."""
    folder = shop.settings.fonts_folder
    return Path(folder) if folder else None


@contextmanager
def naming_glyph(document: str) -> Iterator[None]:
    """Say which document it is that holds a character without a font."""
    try:
        yield
    except NoGlyph as error:
        raise NoGlyph(error.character, error.name, document=document) from error


def check_card(shop: Workshop, piece: Code) -> None:
    """
    Raise where a piece must not have a card.

    Raises:
        NotFound: If there is no such piece.
        Refused: If the piece is recalled, withdrawn or part of an article, or was cut by override
            from a board whose hazards are still open.
    """
    found = load_piece(shop.conn, piece)
    if found.recalled or found.stage == "withdrawn":
        raise Refused(f"{piece} is {'recalled' if found.recalled else 'withdrawn'}: no card")
    check_single(shop.conn, piece)
    check_fit_to_sell(shop.conn, found)


def text_hash(card: StoryCard) -> str:
    """SHA-256 over what the card says in words, so that a reprint can be compared."""
    words = {
        "code": card.code,
        "headline": card.headline,
        "workshop": card.workshop,
        "story": list(card.story),
        "origin": list(card.origin),
        "care": list(card.care),
    }
    return sha256_hex(canonical_bytes(words))


def compose_card(
    shop: Workshop,
    view: PieceView,
    *,
    photo_px: int = _CARD_PHOTO_PX,
    squared: dict[str, bytes] | None = None,
) -> StoryCard:
    """
    Everything that a piece's card says and shows, from the record.

    Args:
        shop: The open workshop.
        view: The piece.
        photo_px: Longer side of its photo; 0 for a paper without photo and map.
        squared: As for :func:`salvage.work.place_maps.map_place`.
    """
    from salvage.codes.payload import wrap
    from salvage.paper.card import StoryCard
    from salvage.work.place_maps import map_place

    settings, head = shop.settings, read_head(shop.conn, shop.settings.device)
    piece = view.piece
    photo = newest_photo(shop, piece.code) if photo_px else None
    headline = card_headline(view)
    has_price = piece.price_minor is not None
    return StoryCard(
        code=piece.code,
        headline=headline,
        workshop=settings.name,
        web_address=settings.web_address,
        symbol_svg=symbol_svg(wrap(piece.code, web_address=settings.web_address)),
        photo=_clean_photo(shop, photo, photo_px) if photo else b"",
        place_map=map_place(shop, view, squared=squared) if photo_px else None,
        story=(" ".join(card_story(shop, view)),),
        origin=tuple(" ".join(card_origin(shop, board)) for board in view.boards),
        care=card_care(shop, view.piece, view.boards),
        journal_count=head.count,
        journal_hash=head.hash,
        shape=headline.partition(", ")[0],
        material=_first_large(headline.partition(", ")[2]),
        price=format_money(piece.price_minor or 0, piece.currency) if has_price else "",
        contact=settings.contact,
        audience=audience_line(shop, piece),
    )


def _clean_photo(shop: Workshop, photo: Photo, longest_px: int) -> bytes:
    """A photo fit to print, kept beside the record so that the next card has it at once."""
    from salvage.photo.upright import upright_jpeg

    cache, kind = Cache(shop.folder / "cache.db"), f"card photo {longest_px}"
    kept = cache.load(photo.sha256, kind, state=_PHOTO_STATE)
    if kept is None:
        kept = upright_jpeg(shop.files.load(photo.sha256), longest_px=longest_px)
        cache.save_all(kind, [(photo.sha256, _PHOTO_STATE, kept)])
    return kept


def _first_large(words: str) -> str:
    return words[:1].upper() + words[1:]


def card_headline(view: PieceView) -> str:
    """The card's headline: shape and board in words."""
    shape = view.piece.shape.replace("-", " ").capitalize()
    if view.parts:
        return article_headline(view)
    return f"{shape}, cut from {with_article(type_words(view.board))}"


def card_story(shop: Workshop, view: PieceView) -> tuple[str, ...]:
    """Sentences about board, place and cut; every one rests on a field of the record."""
    if view.parts:
        return article_story(shop.conn, view, today=shop.today)
    board, cut = view.board, view.cut
    sentences = [f"It was {marked(board)}."]
    if year := date_code_year(board, today=shop.today):
        sentences.append(f"A date code on it, {board.date_code}, points to {year}.")
    tool = tool_words(cut.tool)
    sentences.append(
        f"The piece was cut from it with {tool}, on {format_day(date.fromisoformat(cut.at[:10]))}."
    )
    sentences.append("All of its board material is from that one board.")
    story = load_drop_off(shop.conn, board.drop_off).story
    if story:
        sentences.append(f"The donor told: “{story}”")
    return tuple(sentences)


def card_origin(shop: Workshop, board: Board) -> tuple[str, ...]:
    """When the board came and from whom, as the donor agreed to be named."""
    drop_off = load_drop_off(shop.conn, board.drop_off)
    place = f", {drop_off.origin}" if drop_off.origin else ""
    who = public_name(shop.conn, drop_off.donor)
    when = date.fromisoformat(drop_off.received_on)
    return (
        f"Given by {who}{place}.",
        f"Received on {format_day(when)} (drop-off {drop_off.code}, board {board.code}).",
    )
