from __future__ import annotations

from functools import cache
from io import BytesIO

import pytest
from PIL import Image, ImageStat

from demo_db.board_plan import plan_board
from demo_db.pictures import BoardLook, BoardPhoto, board_photo, piece_photo
from demo_db.scene import PHOTO_PX
from salvage.errors import BadValue
from salvage.photo.intake import inspect_photo
from salvage.photo.square_up import check_corners, square_up
from salvage.records.region import Region

_WIDE, _HIGH = 120.0, 90.0
_LOOK = BoardLook(seed=2, width_mm=_WIDE, height_mm=_HIGH, mask="green")
_SQUARE = Region(((40_000, 30_000), (70_000, 30_000), (70_000, 60_000), (40_000, 60_000)))


@cache
def _photo(
    side: str = "front",
    *,
    seed: int = 2,
    mask: str = "green",
    populated: bool = True,
    cuts: tuple[Region, ...] = (),
) -> BoardPhoto:
    return board_photo(
        seed=seed,
        width_mm=_WIDE,
        height_mm=_HIGH,
        mask=mask,
        side=side,
        populated=populated,
        cuts=cuts,
    )


def _squared(photo: BoardPhoto, side: str) -> Image.Image:
    png = square_up(
        photo.jpeg,
        corners_px=photo.corners_px,
        width_mm=_WIDE,
        height_mm=_HIGH,
        px_per_mm=8,
        side=side,
    )
    return Image.open(BytesIO(png)).convert("RGB")


def _mean(image: Image.Image) -> tuple[float, float, float]:
    red, green, blue = ImageStat.Stat(image.convert("RGB")).mean
    return red, green, blue


@pytest.mark.parametrize("side", ["front", "back"])
def test_a_boards_photo_is_one_that_the_workshop_takes(side: str) -> None:
    """The demo's photos go through the same door as a maker's."""
    photo = _photo(side)

    facts = inspect_photo(photo.jpeg, name="board.jpg")

    assert (facts.media_type, (facts.width_px, facts.height_px)) == ("image/jpeg", PHOTO_PX)
    assert facts.byte_count < 400_000


@pytest.mark.parametrize("side", ["front", "back"])
def test_the_corners_are_those_of_the_board(side: str) -> None:
    """Squared up by its corners, each mounting hole's tinned ring lies where the plan has it."""
    photo = _photo(side)
    check_corners(photo.corners_px, photo_px=PHOTO_PX, side=side)

    flat = _squared(photo, side).convert("L")

    for x, y in plan_board(2, _WIDE, _HIGH).holes:
        left, top = round(x * 8) - 32, round((_HIGH - y) * 8) - 32
        tin = flat.crop((left, top, left + 64, top + 64)).point(lambda level: 255 * (level > 150))
        box = tin.getbbox()
        assert box is not None
        middle = (box[0] + box[2]) / 2 - 32, (box[1] + box[3]) / 2 - 32
        assert max(abs(middle[0]), abs(middle[1])) <= 2.5


def test_the_corners_are_no_plain_rectangle() -> None:
    """The camera was held a little crooked, so that picking corners matters."""
    (ax, ay), (bx, by), (cx, cy), (dx, dy) = _photo().corners_px

    assert abs((bx - ax) - (cx - dx)) > 8
    assert abs(ay - by) + abs(dy - cy) > 8


def test_the_same_board_gives_the_same_photo() -> None:
    """Photos are kept by their hash, so building the demo twice must give one store."""
    again = board_photo(seed=2, width_mm=_WIDE, height_mm=_HIGH, mask="green", side="front")

    assert again == _photo()
    assert _photo(seed=3).jpeg != again.jpeg


@pytest.mark.parametrize(("mask", "channel"), [("green", 1), ("blue", 2), ("red", 0)])
def test_a_board_has_the_colour_of_its_mask(mask: str, channel: int) -> None:
    """A maker looks for a blue board and finds it."""
    flat = _squared(_photo("back", mask=mask), "back")

    mean = _mean(flat)

    assert mean[channel] == max(mean)
    assert mean[channel] > 1.3 * sorted(mean)[1]


def test_a_stripped_board_shows_no_parts() -> None:
    """Chips come off before the cutter comes."""
    bare, full = (_squared(_photo(populated=on), "front") for on in (False, True))
    chip = next(part for part in plan_board(2, _WIDE, _HIGH).parts if part.kind == "quad")
    left, top = (chip.x - 4) * 8, (_HIGH - chip.y - 4) * 8
    box = (round(left), round(top), round(left + 64), round(top + 64))

    bare_mean, full_mean = _mean(bare.crop(box)), _mean(full.crop(box))

    assert bare_mean[1] > 1.4 * bare_mean[0]
    assert max(full_mean) < 1.25 * min(full_mean)


def test_the_bench_shows_through_a_cut() -> None:
    """A remnant's photo has a hole where the piece was."""
    flat = _squared(_photo(populated=False, cuts=(_SQUARE,)), "front")

    inside = _mean(flat.crop((400, 320, 500, 400)))

    assert inside[0] > inside[1] > inside[2]


@pytest.mark.parametrize("side", ["front", "back"])
def test_a_pieces_photo_shows_its_board_on_linen(side: str) -> None:
    """The buyer sees the piece; the cloth round it is pale."""
    jpeg = piece_photo(board=_LOOK, region=_SQUARE, side=side)
    image = Image.open(BytesIO(jpeg)).convert("RGB")

    piece = _mean(image.crop((640, 440, 960, 760)))
    cloth = _mean(image.crop((20, 20, 160, 1180)))

    assert len(jpeg) < 400_000
    assert image.size == PHOTO_PX
    assert piece[1] > 1.3 * max(piece[0], piece[2])
    assert min(cloth) > 120


def test_the_same_piece_gives_the_same_photo() -> None:
    """A piece's photo depends on nothing but the piece."""
    one, two = (piece_photo(board=_LOOK, region=_SQUARE, turn_degrees=30) for _ in range(2))

    assert one == two
    assert piece_photo(board=_LOOK, region=_SQUARE) != one


@pytest.mark.parametrize(
    ("sizes", "mask", "side", "words"),
    [
        ((100.0, 80.0), "green", "top", "not a side"),
        ((100.0, 80.0), "tartan", "front", "not a mask"),
        ((10.0, 80.0), "green", "front", "a width of 10 mm"),
        ((100.0, 900.0), "green", "front", "a height of 900 mm"),
    ],
)
def test_a_board_that_cannot_be_drawn_is_refused(
    sizes: tuple[float, float], mask: str, side: str, words: str
) -> None:
    """A slip in the scenario is told at once."""
    with pytest.raises(BadValue, match=words):
        board_photo(seed=1, width_mm=sizes[0], height_mm=sizes[1], mask=mask, side=side)
