"""Maps of the place that a piece came from, for printed cards."""

from __future__ import annotations

from typing import TYPE_CHECKING

from salvage.records.region import region_of_text
from salvage.work.photos import cornered_photo, corners_of
from salvage.work.pieces import PieceView
from salvage.work.workshop import Workshop

if TYPE_CHECKING:
    from salvage.paper.place_map import PlaceMap
    from salvage.records.region import Region

# 300 dpi where the map is printed 76 mm wide, as on the largest cards but one.
_LONGEST_PX = 900


def map_place(
    shop: Workshop, view: PieceView, *, squared: dict[str, bytes] | None = None
) -> PlaceMap | None:
    """
    The donor board with the piece's place, over the board's photo where its corners are known.

    Args:
        shop: The open workshop.
        view: The piece.
        squared: Squared photos of boards by code, kept over a run of many cards.

    Returns:
        None while the board has no outline.
    """
    from salvage.paper.place_map import draw_place_map

    board = view.board
    if not board.outline:
        return None
    outline = region_of_text(board.outline)
    rows = shop.conn.execute(
        "SELECT region FROM cut WHERE board = ? AND code <> ? ORDER BY clock, code",
        (board.code, view.cut.code),
    )
    cuts = [region_of_text(text) for (text,) in rows]
    kept = {} if squared is None else squared
    if board.code not in kept:
        kept[board.code] = _board_photo(shop, view, outline)
    photo = kept[board.code]
    return draw_place_map(outline, cuts, region_of_text(view.cut.region), photo=photo)


def _board_photo(shop: Workshop, view: PieceView, outline: Region) -> bytes:
    from salvage.photo.square_up import square_up_jpeg

    photo = cornered_photo(shop, view.board.code, side="front")
    if photo is None:
        return b""
    return square_up_jpeg(
        shop.files.load(photo.sha256),
        corners_px=corners_of(photo),
        photo_px=(photo.width_px, photo.height_px),
        size_mm=outline.size_mm,
        longest_px=_LONGEST_PX,
    )
