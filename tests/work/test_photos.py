"""Photos: kept as they came, shown without what they betray."""

from __future__ import annotations

import hashlib
import io

import pytest
from PIL import Image

from salvage.errors import BadFile, BadValue, NotFound, SalvageError
from salvage.ids import next_code
from salvage.records.things import Board
from salvage.work.photos import NewPhoto, add_photo, board_picture, list_photos, newest_photo
from salvage.work.record import NewBoard, record_boards
from salvage.work.workshop import Workshop
from tests.bench import add_drop_off, cut_circle, dump
from tests.work.snapshots import MARK, bomb_png, phone_jpeg

# Upright the picture is 300 wide and 400 high: lower left, lower right, upper right, upper left.
CORNERS = ((20, 380), (280, 380), (280, 20), (20, 20))


def test_the_original_is_kept_byte_for_byte(empty_shop: Workshop, held_board: Board) -> None:
    """Years later the file is the very one that the phone gave, metadata and all."""
    data = phone_jpeg()
    photo = add_photo(empty_shop, code=held_board.code, new=NewPhoto(data, "IMG_1.jpg"))

    assert photo.sha256 == hashlib.sha256(data).hexdigest()
    assert empty_shop.files.load(photo.sha256) == data
    assert MARK.encode() in data


def test_facts_are_those_of_the_upright_picture(empty_shop: Workshop, held_board: Board) -> None:
    """The phone lay on its side; width and height are told as one sees the picture."""
    new = NewPhoto(phone_jpeg(), "IMG_1.jpg", caption="front with ports")
    photo = add_photo(empty_shop, code=held_board.code, new=new)

    assert (photo.width_px, photo.height_px) == (300, 400)
    assert (photo.n, photo.side, photo.caption) == (1, "front", "front with ports")
    assert photo.taken_at == "2026-05-03 10:11:12"
    assert photo.corners == ""


def test_the_squared_picture_is_upright_and_clean(empty_shop: Workshop, held_board: Board) -> None:
    """120 x 80 mm at 2 px/mm, the red corner at the upper left, and nothing but pixels."""
    new = NewPhoto(phone_jpeg(), "IMG_1.jpg", corners_px=((0, 400), (300, 400), (300, 0), (0, 0)))
    add_photo(empty_shop, code=held_board.code, new=new)
    png = board_picture(empty_shop, held_board, px_per_mm=2)

    assert png is not None
    picture = Image.open(io.BytesIO(png)).convert("RGB")
    assert picture.size == (240, 160)
    red, green, _ = picture.getpixel((4, 4))  # type: ignore[misc]
    assert red > 150 > green
    far_red, _, _ = picture.getpixel((235, 155))  # type: ignore[misc]
    assert far_red < 80
    assert MARK.encode() not in png
    assert b"Exif" not in png
    assert b"eXIf" not in png


def test_without_corners_or_outline_there_is_no_squared_picture(
    empty_shop: Workshop, held_board: Board
) -> None:
    """A back, a photo without corners, and a board that is not measured give none."""
    data = phone_jpeg()
    add_photo(empty_shop, code=held_board.code, new=NewPhoto(data, "1.jpg"))
    mirrored = ((280, 380), (20, 380), (20, 20), (280, 20))
    back = NewPhoto(data, "2.jpg", side="back", corners_px=mirrored)
    add_photo(empty_shop, code=held_board.code, new=back)
    bare = record_boards(empty_shop, new=NewBoard(held_board.drop_off, "other"))[0]
    add_photo(empty_shop, code=bare.code, new=NewPhoto(data, "3.jpg", corners_px=CORNERS))

    assert board_picture(empty_shop, held_board, px_per_mm=1) is None
    assert board_picture(empty_shop, bare, px_per_mm=1) is None


def test_photos_are_numbered_and_the_newest_found(
    empty_shop: Workshop, cleared_board: Board
) -> None:
    """Each thing counts its own photos; a side may be asked for."""
    view = cut_circle(empty_shop, cleared_board.code, 40, 40)
    assert view.piece is not None
    data = phone_jpeg()
    for side in ("front", "back", "other"):
        add_photo(empty_shop, code=cleared_board.code, new=NewPhoto(data, "x.jpg", side=side))
    add_photo(empty_shop, code=view.piece.code, new=NewPhoto(data, "x.jpg"))
    add_photo(empty_shop, code=cleared_board.drop_off, new=NewPhoto(data, "x.jpg", side="other"))
    newest = newest_photo(empty_shop, cleared_board.code)
    front = newest_photo(empty_shop, cleared_board.code, side="front")

    assert [photo.n for photo in list_photos(empty_shop, cleared_board.code)] == [1, 2, 3]
    assert newest is not None
    assert newest.side == "other"
    assert front is not None
    assert front.n == 1
    assert newest_photo(empty_shop, view.piece.code, side="back") is None
    assert len(list(empty_shop.files.kept())) == 1  # the same bytes are kept once


@pytest.mark.parametrize(
    ("new", "error", "says"),
    [
        (
            NewPhoto(phone_jpeg(), "a.jpg", corners_px=(*CORNERS[:2], (280, 20), (20, -9))),
            BadValue,
            "outside the photo",
        ),
        (NewPhoto(phone_jpeg(), "a.jpg", corners_px=CORNERS[:3]), BadValue, "3 corners"),
        (
            NewPhoto(phone_jpeg(), "a.jpg", side="other", corners_px=CORNERS),
            BadValue,
            "which side",
        ),
        (NewPhoto(phone_jpeg(), "a.jpg", side="back", corners_px=CORNERS), BadValue, "wrong way"),
        (NewPhoto(phone_jpeg()[:-400], "a.jpg"), BadFile, "a.jpg"),
        (NewPhoto(b"", "a.jpg"), BadFile, "a.jpg"),
        (NewPhoto(b"%PDF-1.7", "a.jpg"), BadFile, "a PDF, not a photo"),
        (NewPhoto(bomb_png(), "a.png"), BadFile, "million pixels"),
        (NewPhoto(phone_jpeg(), "a.jpg", side="top"), BadValue, "does not fit"),
    ],
)
def test_what_is_no_photo_leaves_no_row(
    empty_shop: Workshop, held_board: Board, new: NewPhoto, error: type[SalvageError], says: str
) -> None:
    """Corners out of the picture, a file cut short, a bomb: each is refused in one line."""
    before = dump(empty_shop)
    with pytest.raises(error, match=says):
        add_photo(empty_shop, code=held_board.code, new=new)

    assert dump(empty_shop) == before


def test_photos_are_of_boards_pieces_and_drop_offs(
    empty_shop: Workshop, cleared_board: Board
) -> None:
    """A donor is not photographed, what is not here neither, and only boards have corners."""
    new = NewPhoto(phone_jpeg(), "a.jpg", corners_px=CORNERS)
    ((donor,),) = empty_shop.conn.execute("SELECT code FROM donor")
    unknown, _ = next_code("P", "K", 0)
    with pytest.raises(BadValue, match="is a donor; photos are of"):
        add_photo(empty_shop, code=donor, new=new)
    with pytest.raises(NotFound, match="no piece"):
        add_photo(empty_shop, code=unknown, new=new)
    with pytest.raises(BadValue, match="boards only"):
        add_photo(empty_shop, code=cleared_board.drop_off, new=new)

    assert list(empty_shop.files.kept()) == []


def test_a_trial_keeps_neither_row_nor_file(empty_shop: Workshop) -> None:
    """A dry run leaves folder and tables as they were."""
    code = add_drop_off(empty_shop)
    before = dump(empty_shop)
    photo = add_photo(empty_shop, code=code, new=NewPhoto(phone_jpeg(), "a.jpg"), dry_run=True)

    assert photo.n == 1
    assert dump(empty_shop) == before
    assert list(empty_shop.files.kept()) == []
