"""The pictures of a piece's dossier: the piece, its spot on the photo, its place on the board."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from salvage.records.region import region_of_text
from salvage.records.things import Piece
from salvage.store.lookup import load_board, load_cut
from salvage.work.area import board_outline
from salvage.work.lineage import cut_pieces
from salvage.work.look import draw_board_map
from salvage.work.photos import board_picture, newest_photo
from salvage.work.pieces import PieceView
from salvage.work.workshop import Workshop

if TYPE_CHECKING:
    from salvage.paper.dossier import Picture

_LONGEST_PX = 1200
_MAP_PX_PER_MM = 4.0
_SPOT_PX_PER_MM = 10.0
# A map over a photo is smaller as JPEG; a drawn one as PNG.
_MOST_PNG_BYTES = 120_000


def gather_pictures(shop: Workshop, view: PieceView) -> tuple[Picture, ...]:
    """Pictures without metadata; what there is none of is left out."""
    return (*_of_piece(shop, view), *_of_spots(shop, view), *_of_lineage(shop, view))


def _of_piece(shop: Workshop, view: PieceView) -> Iterator[Picture]:
    from salvage.paper.dossier import Picture
    from salvage.photo.upright import upright_jpeg

    photo = newest_photo(shop, view.piece.code)
    if photo:
        data = upright_jpeg(shop.files.load(photo.sha256), longest_px=_LONGEST_PX)
        yield Picture(data, f"{view.piece.code}, photographed by the workshop")


def _of_spots(shop: Workshop, view: PieceView) -> Iterator[Picture]:
    from salvage.paper.dossier import Picture

    for piece in cut_pieces(shop.conn, view.piece.code):
        spot = _spot(shop, piece)
        if spot:
            yield Picture(spot, f"The spot on {piece.board} that {piece.code} was cut from")
        yield Picture(_map(shop, piece), f"Where {piece.code} was on {piece.board}, to scale")


def _spot(shop: Workshop, piece: Piece) -> bytes:
    """The place on the board's photo, seen from the side that shows; empty without such a photo."""
    from salvage.photo.spot_view import draw_spot

    assert piece.board is not None  # only pieces of one cut are asked
    assert piece.cut is not None
    board, cut = load_board(shop.conn, piece.board), load_cut(shop.conn, piece.cut)
    outline = board_outline(board)
    picture = board_picture(shop, board, px_per_mm=_SPOT_PX_PER_MM)
    if outline is None or picture is None:
        return b""
    return draw_spot(picture, outline, region_of_text(cut.region), px_per_mm=_SPOT_PX_PER_MM)


def _map(shop: Workshop, piece: Piece) -> bytes:
    from salvage.photo.upright import upright_jpeg

    assert piece.board is not None
    assert piece.cut is not None
    data = draw_board_map(
        shop,
        board=piece.board,
        highlight=region_of_text(load_cut(shop.conn, piece.cut).region),
        px_per_mm=_MAP_PX_PER_MM,
        legend=False,
    )
    if len(data) <= _MOST_PNG_BYTES:
        return data
    return upright_jpeg(data, longest_px=_LONGEST_PX)


def _of_lineage(shop: Workshop, view: PieceView) -> Iterator[Picture]:
    from salvage.paper.dossier import Picture
    from salvage.work.trace_picture import draw_origins

    yield Picture(draw_origins(shop, code=view.piece.code), "Where it came from", is_wide=True)
