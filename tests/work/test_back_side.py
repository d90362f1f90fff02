"""The back of a board in its front's frame: right, refused, or asked; never guessed."""

from __future__ import annotations

import io
from functools import cache

import cv2
import numpy as np
import pytest
from PIL import Image

from salvage.errors import BadOutline, BadValue, Refused
from salvage.geometry.outline import rectangle
from salvage.ids import Code
from salvage.store.lookup import load_board
from salvage.work.back_side import draw_back_choices, find_back, keep_back
from salvage.work.measuring import measure_board
from salvage.work.photos import NewPhoto, board_picture, list_photos
from salvage.work.record import NewBoard, record_boards, set_outline
from salvage.work.workshop import Workshop
from tests.bench import add_drop_off, dump
from tests.benchmarks.photo_layout import BoardLayout
from tests.benchmarks.photo_paint import paint_face
from tests.benchmarks.photo_scene import render
from tests.benchmarks.photo_shots import make_case

PLAIN = 12
"""A purple board of one place: its eight holes decide."""

ALIKE = 17
"""A red board that looks alike after half a turn, but for one hole."""

SCALE = 4.0


def layout_of(seed: int) -> BoardLayout:
    """The board of a seed."""
    return make_case(seed, megapixels=3, tilt_deg=10).board.layout


@cache
def front_photo(seed: int) -> bytes:
    """A phone photo of a board's front on the mat."""
    return make_case(seed, megapixels=3, tilt_deg=10).photos()[0]


@cache
def back_photo(seed: int) -> bytes:
    """A phone photo of its back, lying in another way."""
    case = make_case(seed + 100_000, megapixels=3, tilt_deg=10, layout=layout_of(seed).back())
    return render(case.scene, case.first)


def photos(data: bytes) -> tuple[NewPhoto, ...]:
    """One photo as the phone gave it."""
    return (NewPhoto(data, "photo.jpg"),)


def bare_board(shop: Workshop) -> Code:
    """A board of which nothing is known but its thickness."""
    new = NewBoard(add_drop_off(shop), "network-board", thickness_mm=1.6)
    return record_boards(shop, new=new)[0].code


def measured_board(shop: Workshop, seed: int) -> Code:
    """A board whose front was measured."""
    code = bare_board(shop)
    measure_board(shop, board=code, photos=photos(front_photo(seed)))
    return code


def likeness(png: bytes, seed: int) -> tuple[float, float]:
    """How alike a picture is to the true back looked at through the board: at best turn, as is."""
    seen = np.asarray(Image.open(io.BytesIO(png)).convert("L"), np.float32)
    truth = paint_face(layout_of(seed).back(), px_per_mm=8.0)[:, ::-1]
    grey = cv2.cvtColor(np.ascontiguousarray(truth), cv2.COLOR_RGB2GRAY)
    size = seen.shape[1], seen.shape[0]

    def match(turns: int) -> float:
        turned = cv2.resize(np.rot90(grey, turns), size, interpolation=cv2.INTER_AREA)
        return float(np.corrcoef(turned.ravel(), seen.ravel())[0, 1])

    return max(match(turns) for turns in range(4)), match(0)


def test_the_back_lies_on_the_front(empty_shop: Workshop) -> None:
    """The photo and the back squared up are kept; a picture of the back is that of the board."""
    code = measured_board(empty_shop, PLAIN)
    found = find_back(empty_shop, board=code, photos=photos(back_photo(PLAIN)))
    before = list_photos(empty_shop, code)
    kept = keep_back(empty_shop, found=found)
    after = list_photos(empty_shop, code)
    front = board_picture(empty_shop, kept.board, px_per_mm=SCALE)
    back = board_picture(empty_shop, kept.board, px_per_mm=SCALE, side="back")

    assert found.is_certain
    assert kept.place.residual_mm < 0.15
    assert (kept.place.matched_holes, kept.place.holes) == (8, 8)
    assert [photo.side for photo in after[len(before) :]] == ["back", "back"]
    assert empty_shop.files.load(after[-2].sha256) == back_photo(PLAIN)
    assert front is not None
    assert back is not None
    assert Image.open(io.BytesIO(front)).size == Image.open(io.BytesIO(back)).size
    assert likeness(back, PLAIN)[0] > 0.6


def test_holes_of_both_sides_lie_on_one_another(empty_shop: Workshop) -> None:
    """Where the front's holes are, the back's picture shows the mat through them."""
    code = measured_board(empty_shop, PLAIN)
    found = find_back(empty_shop, board=code, photos=photos(back_photo(PLAIN)))
    board = keep_back(empty_shop, found=found).board
    back = board_picture(empty_shop, board, px_per_mm=8.0, side="back")
    assert back is not None
    levels = np.asarray(Image.open(io.BytesIO(back)).convert("RGB")).astype(int)
    holes = found.look.measurement.holes

    assert len(holes) == 8
    for hole in holes:
        x, y = found.places[0].to_front(*hole.centre_mm)
        red, green, _ = levels[levels.shape[0] - round(y * 8), round(x * 8)]
        assert red > green + 60  # magenta


def test_another_boards_back_is_refused(empty_shop: Workshop) -> None:
    """The maker is told by how much the two differ, and nothing is kept."""
    code = measured_board(empty_shop, PLAIN)
    before, kept = dump(empty_shop), list(empty_shop.files.kept())
    with pytest.raises(Refused, match=r"not sides of one board: their edges are .* mm"):
        find_back(empty_shop, board=code, photos=photos(back_photo(ALIKE)))

    assert dump(empty_shop) == before
    assert list(empty_shop.files.kept()) == kept


def test_half_a_turn_is_asked_not_guessed(empty_shop: Workshop) -> None:
    """Two pictures show the choice; a script says which; what does not fit is refused."""
    code = measured_board(empty_shop, ALIKE)
    found = find_back(empty_shop, board=code, photos=photos(back_photo(ALIKE)))
    pictures = draw_back_choices(empty_shop, found=found)
    with pytest.raises(Refused, match="fits in 2 ways") as asked:
        keep_back(empty_shop, found=found)
    with pytest.raises(BadValue, match="does not fit turned by 45"):
        keep_back(empty_shop, found=found, turn=45)
    before = dump(empty_shop)
    keep_back(empty_shop, found=found, turn=found.turns[0], dry_run=True)
    rolled = dump(empty_shop)
    right, wrong = (
        keep_back(empty_shop, found=found, turn=turn).place.turn_word for turn in found.turns
    )

    assert not found.is_certain
    assert abs(right - wrong) == 180
    assert set(pictures) == {right, wrong}
    assert pictures[right] != pictures[wrong]
    assert f"--turn {right} or --turn {wrong}" in asked.value.hint
    assert rolled == before


def test_a_typed_front_takes_its_back_too(empty_shop: Workshop) -> None:
    """A ruler's whole millimetres are near enough; without holes the turn is asked."""
    code = bare_board(empty_shop)
    width, height = layout_of(PLAIN).size_mm
    outline = rectangle(round(width), round(height))
    set_outline(empty_shop, board=code, outline=outline, outline_from="typed")
    found = find_back(empty_shop, board=code, photos=photos(back_photo(PLAIN)))
    kept = keep_back(empty_shop, found=found, turn=found.turns[0])

    assert len(found.places) == 2
    assert kept.place.residual_mm < 0.6
    assert board_picture(empty_shop, kept.board, px_per_mm=1, side="back") is not None


def test_the_front_comes_first(empty_shop: Workshop) -> None:
    """A back without a front has nothing to lie on."""
    code = bare_board(empty_shop)
    with pytest.raises(BadOutline, match=r"front of .* has no outline yet"):
        find_back(empty_shop, board=code, photos=photos(back_photo(PLAIN)))

    assert load_board(empty_shop.conn, code).outline is None
