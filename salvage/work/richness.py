"""Where a board's traces run densest, by its newest squared-up photo: a hint, kept in the cache."""

from __future__ import annotations

import json
import math
import zlib
from dataclasses import asdict, replace
from typing import TYPE_CHECKING

from salvage.canonical import sha256_hex
from salvage.errors import BadOutline, NotFound
from salvage.frozen import dataclass
from salvage.store.cache import Cache
from salvage.store.lookup import load_board
from salvage.work.area import account_board, board_outline
from salvage.work.photos import cornered_photo, corners_of, square_photo

if TYPE_CHECKING:
    from collections.abc import Sequence

    from salvage.geometry.preference import Rich
    from salvage.ids import Code
    from salvage.photo.richness import RichnessMap
    from salvage.records.region import Region
    from salvage.records.things import Board, Photo
    from salvage.work.workshop import Workshop

# The number goes up when maps are worked out in another way.
_KIND = "richness 3"

WINDOW_MM = 20.0
"""Side of the square that is counted round each place: a pendant is about as large."""

_MOST_PX_PER_MM = 10.0
_MOST_PIXELS = 8_000_000


def richness_of(shop: Workshop, board: Code, *, side: str = "front") -> RichnessMap | None:
    """
    The map of a board's side in board coordinates, from its newest photo with known corners.

    The back's map lies in the front's frame too, as if looked at through the board. It is worked
    out once for each photo and outline and then kept; see :meth:`RichnessMap.mean_over` to score a
    place and :func:`rich_preference` for the fit search.

    Args:
        shop: The open workshop.
        board: The board's code.
        side: ``front`` or ``back``.

    Returns:
        None while the board has no outline, or no photo of that side with known corners.

    Raises:
        NotFound: If there is no such board.
        StoreTrouble: If the photo's file is gone.
    """
    found = load_board(shop.conn, board)
    outline = board_outline(found)
    photo = cornered_photo(shop, board, side=side)
    if outline is None or photo is None:
        return None
    cache = Cache(shop.folder / "cache.db")
    kind, state = f"{_KIND} {side}", _state(photo, outline)
    kept = cache.load(board, kind, state=state)
    if kept is not None:
        return _unpack(kept)
    made = _map_of(shop, photo, outline)
    cache.save_all(kind, [(board, state, _pack(made))])
    return made


@dataclass(frozen=True, slots=True)
class RichnessView:
    """
    The hint for one side of a board.

    Args:
        board: The board.
        side: ``front`` or ``back``.
        photo: The photo that was looked at.
        richness: The map; its places lie on what is still free to be cut.
    """

    board: Board
    side: str
    photo: Photo
    richness: RichnessMap


def look_for_richness(shop: Workshop, *, board: Code, side: str = "front") -> RichnessView:
    """
    Where a piece from a side of a board would show most traces, on what is still free: a hint.

    Args:
        shop: The open workshop.
        board: The board's code.
        side: ``front`` or ``back``; places are in board coordinates for both.

    Raises:
        NotFound: If there is no such board, or no photo of that side whose corners are known.
        BadOutline: If it has no outline yet.
        StoreTrouble: If the photo's file is gone.
    """
    from salvage.photo.rich_places import free_places

    found = load_board(shop.conn, board)
    ledger = account_board(shop.conn, found)
    if ledger is None:
        raise BadOutline(f"{board} has no outline yet", hint=f"salvage measure {board} photo.jpg")
    richness, photo = richness_of(shop, board, side=side), cornered_photo(shop, board, side=side)
    if richness is None or photo is None:
        how = "measure" if side == "front" else "board back"
        raise NotFound(
            f"{board} has no photo of its {side} whose corners are known",
            hint=f"salvage {how} {board} photo.jpg, or salvage photo … --corners",
        )
    places = free_places(richness, ledger.layers["usable"])
    return RichnessView(found, side, photo, replace(richness, places=places))


def draw_board_richness(shop: Workshop, *, view: RichnessView, words: bool = True) -> bytes:
    """
    The hint over the photo, as a PNG; the back as seen when the board is turned over.

    Raises:
        StoreTrouble: If the photo's file is gone.
    """
    from salvage.photo.rich_places import seen_from_behind
    from salvage.photo.richness_drawing import draw_richness
    from salvage.photo.upright import mirrored_png

    outline = board_outline(view.board)
    assert outline is not None  # without it there is no view
    picture, _ = squared_side(shop, view.photo, outline)
    if view.side == "front":
        return draw_richness(picture, view.richness, words=words)
    turned = seen_from_behind(view.richness, outline.size_mm[0])
    return draw_richness(mirrored_png(picture), turned, words=words)


def rich_preference(found: RichnessMap) -> Rich:
    """The map as the fit search takes it: the mean under a shape rates its place."""
    from salvage.geometry.preference import Rich
    from salvage.photo.richness import CELLS_PER_MM

    return Rich(found.values(), 0.0, 0.0, 1 / CELLS_PER_MM)


def squared_side(shop: Workshop, photo: Photo, outline: Region) -> tuple[bytes, float]:
    """A photo with known corners in board coordinates as PNG, and its pixels per mm."""
    fine = _own_fineness(corners_of(photo), outline.size_mm)
    return square_photo(shop, photo, outline, px_per_mm=fine), fine


def _own_fineness(corners: Sequence[tuple[float, float]], size_mm: tuple[float, float]) -> float:
    """Pixels per mm of the photo where it is finest, but no more than the map needs."""
    edges = [math.dist(corners[i], corners[(i + 1) % 4]) / size_mm[i % 2] for i in range(4)]
    most = math.sqrt(_MOST_PIXELS / (size_mm[0] * size_mm[1]))
    return max(1.0, min(_MOST_PX_PER_MM, max(edges), most))


def _map_of(shop: Workshop, photo: Photo, outline: Region) -> RichnessMap:
    from salvage.photo.richness import richness_map

    picture, fine = squared_side(shop, photo, outline)
    return richness_map(picture, px_per_mm=fine, window_mm=WINDOW_MM, outline=outline)


def _state(photo: Photo, outline: Region) -> str:
    told = f"{photo.sha256} {photo.corners} {outline.to_text()} {WINDOW_MM}"
    return sha256_hex(told.encode())


def _pack(found: RichnessMap) -> bytes:
    """The map as bytes: a line of JSON, then both layers."""
    facts = asdict(found)
    layers = facts.pop("levels") + facts.pop("fine")
    return zlib.compress(json.dumps(facts).encode() + b"\n" + layers, 1)


def _unpack(kept: bytes) -> RichnessMap:
    from salvage.photo.rich_map import RichnessMap, RichPlace
    from salvage.photo.square_parts import SquarePart

    head, layers = zlib.decompress(kept).split(b"\n", 1)
    facts = json.loads(head)
    facts["places"] = tuple(RichPlace(**place) for place in facts["places"])
    facts["parts"] = tuple(SquarePart(**part) for part in facts["parts"])
    half = len(layers) // 2
    return RichnessMap(levels=layers[:half], fine=layers[half:], **facts)
