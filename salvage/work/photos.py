"""Photos of boards, pieces and drop-offs: originals kept byte for byte, copies without metadata."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from salvage.errors import BadValue
from salvage.frozen import dataclass
from salvage.ids import Code, kind_of
from salvage.records.things import Board, Photo
from salvage.store.lookup import exists, load_board, load_drop_off, load_piece
from salvage.store.rows import select
from salvage.work.area import board_outline

if TYPE_CHECKING:
    from salvage.canonical import Json
    from salvage.records.region import Region
    from salvage.store.change import Change
    from salvage.work.workshop import Workshop

Corners = Sequence[tuple[float, float]]


@dataclass(frozen=True, slots=True)
class NewPhoto:
    """
    A photo as the phone gave it.

    Args:
        data: The file's bytes.
        name: The file's name.
        side: One of :data:`salvage.records.choices.PHOTO_SIDES`.
        caption: What it shows.
        corners_px: The board's corners in the upright picture, in pixels from its upper left:
            lower left, lower right, upper right, upper left, named as on the board's front; None
            if not picked.
    """

    data: bytes
    name: str
    side: str = "front"
    caption: str = ""
    corners_px: Corners | None = None


def add_photo(shop: Workshop, *, code: Code, new: NewPhoto, dry_run: bool = False) -> Photo:
    """
    Keep a photo of a board, piece or drop-off.

    Args:
        shop: The open workshop.
        code: What it shows.
        new: The photo.
        dry_run: Do everything, then roll back; the file is not kept either.

    Raises:
        NotFound: If there is nothing with this code.
        BadFile: If the data is no picture, cut short, or too large.
        BadValue: If corners are given for something that is no board, or lie outside the picture.
    """
    _check_subject(shop, code)
    taken = take_in(shop, code=code, new=new, dry_run=dry_run)

    def steps(change: Change) -> Photo:
        append_photo(change, code, taken)
        return list_photos(shop, code)[-1]

    return shop.commit("add photo", steps, dry_run=dry_run)


def take_in(shop: Workshop, *, code: Code, new: NewPhoto, dry_run: bool) -> dict[str, Json]:
    """
    Look a photo over and keep its bytes; gives the fields of the event that will mention it.

    Raises:
        BadFile: If the data is no picture, cut short, or too large.
        BadValue: If the corners do not fit.
    """
    return keep(shop, new, look_over(code, new), dry_run=dry_run)


def look_over(code: Code, new: NewPhoto) -> dict[str, Json]:
    """What the event will say of a photo, but for its hash; see :func:`take_in`."""
    from salvage.photo.intake import inspect_photo

    facts = inspect_photo(new.data, name=new.name)
    return {
        "media_type": facts.media_type,
        "byte_count": facts.byte_count,
        "name": new.name,
        "side": new.side,
        "caption": new.caption,
        "width_px": facts.width_px,
        "height_px": facts.height_px,
        "corners": _check_corners(code, new, (facts.width_px, facts.height_px)),
        "taken_at": facts.taken_at,
    }


def keep(
    shop: Workshop, new: NewPhoto, looked: Mapping[str, Json], *, dry_run: bool
) -> dict[str, Json]:
    """Keep the bytes of a photo that was looked over; a dry run works out their hash only."""
    from salvage.canonical import sha256_hex

    sha256 = sha256_hex(new.data) if dry_run else shop.files.save(new.data)
    return {**looked, "sha256": sha256}


def append_photo(change: Change, code: Code, taken: Mapping[str, Json]) -> None:
    """Journal a photo that was taken in, as the next of its thing."""
    n = change.next_numbers("photo", "code", code)[0]
    change.append("photo.added", (code,), {**taken, "n": n})


def _check_subject(shop: Workshop, code: Code) -> None:
    loaders = {"B": load_board, "P": load_piece, "D": load_drop_off}
    if code[0] not in loaders:
        raise BadValue(f"{code} is a {kind_of(code)}; photos are of boards, pieces and drop-offs")
    if not exists(shop.conn, code):
        loaders[code[0]](shop.conn, code)  # raises with the nearest codes


def _check_corners(code: Code, new: NewPhoto, size: tuple[int, int]) -> list[list[int]] | None:
    """Corners in thousandths of a pixel, as the journal keeps them."""
    from salvage.photo.square_up import check_corners

    if new.corners_px is None:
        return None
    if code[0] != "B":
        raise BadValue("corners are picked on photos of boards only", field="--corners")
    if new.side == "other":
        raise BadValue("say which side the corners belong to", field="--side")
    check_corners(new.corners_px, photo_px=size, side=new.side)
    return [[round(x * 1000), round(y * 1000)] for x, y in new.corners_px]


def list_photos(shop: Workshop, code: Code) -> tuple[Photo, ...]:
    """All photos of one thing, oldest first."""
    return select(shop.conn, Photo, "FROM photo WHERE code = ? ORDER BY n", (code,))


def newest_photo(shop: Workshop, code: Code, *, side: str = "") -> Photo | None:
    """The newest photo of a thing, of one side if named."""
    fits = [photo for photo in list_photos(shop, code) if side in ("", photo.side)]
    return fits[-1] if fits else None


def board_picture(
    shop: Workshop, board: Board, *, px_per_mm: float, side: str = "front"
) -> bytes | None:
    """
    A side of the board in board coordinates as PNG, from the newest photo with known corners.

    The back comes as if looked at through the board, so that both sides lie on one another.

    Args:
        shop: The open workshop.
        board: The board.
        px_per_mm: Resolution of the result.
        side: ``front`` or ``back``.

    Returns:
        None while the board has no outline or no such photo.
    """
    outline = board_outline(board)
    photo = cornered_photo(shop, board.code, side=side)
    if outline is None or photo is None:
        return None
    return square_photo(shop, photo, outline, px_per_mm=px_per_mm)


def cornered_photo(shop: Workshop, board: Code, *, side: str) -> Photo | None:
    """The newest photo of a board's side whose corners are known; maps are drawn over it."""
    picked = [p for p in list_photos(shop, board) if p.side == side and p.corners]
    return picked[-1] if picked else None


def corners_of(photo: Photo) -> list[tuple[float, float]]:
    """The corners of a photo that has them, in pixels."""
    return [(x / 1000, y / 1000) for x, y in json.loads(photo.corners)]


def square_photo(shop: Workshop, photo: Photo, outline: Region, *, px_per_mm: float) -> bytes:
    """
    A photo with known corners in board coordinates, as PNG.

    Args:
        shop: The open workshop.
        photo: The photo.
        outline: The board's outline, whose bounding box the corners belong to.
        px_per_mm: Resolution of the result.

    Raises:
        StoreTrouble: If the photo's file is gone.
    """
    from salvage.photo.square_up import square_up

    width_mm, height_mm = outline.size_mm
    return square_up(
        shop.files.load(photo.sha256),
        corners_px=corners_of(photo),
        width_mm=width_mm,
        height_mm=height_mm,
        px_per_mm=px_per_mm,
        side=photo.side,
    )
