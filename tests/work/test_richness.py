"""The map of a board's traces: worked out from its newest squared-up photo, then kept."""

from __future__ import annotations

import io

import cv2
import numpy as np
import pytest
from PIL import Image

from salvage.errors import NotFound
from salvage.geometry.outline import rectangle
from salvage.ids import Code
from salvage.photo import richness as craft
from salvage.records.region import Region
from salvage.work.photos import NewPhoto, add_photo
from salvage.work.record import NewBoard, record_boards
from salvage.work.richness import rich_preference, richness_of
from salvage.work.workshop import Workshop
from tests.bench import add_drop_off

SCALE = 8
WIDE, HIGH = 90, 50


def board_of(shop: Workshop) -> Code:
    """A board of 90 by 50 mm."""
    new = NewBoard(add_drop_off(shop), "network-board", outline=rectangle(WIDE, HIGH))
    return record_boards(shop, new=new)[0].code


def hatched(box_mm: tuple[int, int, int, int], *, mirrored: bool = False) -> bytes:
    """A picture of the board with traces 1 mm apart in a box (left, bottom, right, top)."""
    levels = np.full((HIGH * SCALE, WIDE * SCALE, 3), (20, 80, 45), np.uint8)
    left, bottom, right, top = (side * SCALE for side in box_mm)
    for y in range(bottom, top, SCALE):
        low = HIGH * SCALE - y
        cv2.rectangle(levels, (left, low - 4), (right, low - 1), (70, 140, 90), -1)
    out = io.BytesIO()
    Image.fromarray(levels[:, ::-1] if mirrored else levels).save(out, "PNG")
    return out.getvalue()


def photo(data: bytes, *, side: str = "front") -> NewPhoto:
    """The picture with its corners picked, named as on the front."""
    right, low = float(WIDE * SCALE), float(HIGH * SCALE)
    corners = [(0.0, low), (right, low), (right, 0.0), (0.0, 0.0)]
    if side == "back":
        corners = [(right - x, y) for x, y in corners]
    return NewPhoto(data, f"{side}.png", side, "", corners)


def square(left: int, bottom: int, size: int = 20) -> Region:
    """A square in mm."""
    sides = ((0, 0), (size, 0), (size, size), (0, size))
    return Region(tuple(((left + x) * 1000, (bottom + y) * 1000) for x, y in sides))


def test_without_a_squared_up_photo_there_is_no_map(empty_shop: Workshop) -> None:
    """A photo without known corners says nothing of places; nor does one of the other side."""
    code = board_of(empty_shop)
    add_photo(empty_shop, code=code, new=NewPhoto(hatched((0, 0, 30, 50)), "plain.png"))
    add_photo(empty_shop, code=code, new=photo(hatched((0, 0, 30, 50))))

    assert richness_of(empty_shop, code, side="back") is None
    assert richness_of(empty_shop, code) is not None


def test_a_place_over_the_traces_scores_higher(empty_shop: Workshop) -> None:
    """The mean under a piece is two edges a millimetre over traces, and nothing beside them."""
    code = board_of(empty_shop)
    add_photo(empty_shop, code=code, new=photo(hatched((50, 10, 85, 40))))
    found = richness_of(empty_shop, code)

    assert found is not None
    assert found.mean_over(square(55, 15)) == pytest.approx(2.0, rel=0.15)
    assert found.mean_over(square(40, 15)) == pytest.approx(1.0, rel=0.15)
    assert found.mean_over(square(5, 15)) == 0
    # Half of this one hangs over the board's edge.
    assert found.mean_over(square(80, 15)) == pytest.approx(0.5, rel=0.4)
    assert found.mean_over(square(-40, 15)) == 0


def test_the_fit_search_is_given_the_same_map(empty_shop: Workshop) -> None:
    """Rows from below: traces along the lower edge are rich there and not at the upper edge."""
    code = board_of(empty_shop)
    add_photo(empty_shop, code=code, new=photo(hatched((0, 2, 90, 18))))
    found = richness_of(empty_shop, code)
    assert found is not None
    rich = rich_preference(found)

    assert (rich.left_mm, rich.bottom_mm, rich.step_mm) == (0, 0, 0.5)
    assert rich.values.shape == (100, 180)
    assert rich.values[8:32].mean() == pytest.approx(2.0, rel=0.15)
    assert rich.values[50:].max() == 0


def test_the_back_lies_in_the_fronts_frame(empty_shop: Workshop) -> None:
    """Traces at the left of the front's frame are at the right when the back is looked at."""
    code = board_of(empty_shop)
    seen = hatched((5, 5, 35, 45), mirrored=True)
    add_photo(empty_shop, code=code, new=photo(seen, side="back"))
    found = richness_of(empty_shop, code, side="back")

    assert found is not None
    assert found.places[0].x_mm < WIDE / 2


def test_a_map_is_worked_out_once_and_anew_for_a_new_photo(
    empty_shop: Workshop, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Asking twice costs once; a newer photo, or a lost cache, is worked out again."""
    code = board_of(empty_shop)
    calls = []

    def counted(*told: object, **named: object) -> craft.RichnessMap:
        calls.append(1)
        return made(*told, **named)  # type: ignore[arg-type]

    made = craft.richness_map
    monkeypatch.setattr(craft, "richness_map", counted)
    add_photo(empty_shop, code=code, new=photo(hatched((50, 10, 85, 40))))
    first, again = richness_of(empty_shop, code), richness_of(empty_shop, code)
    after_two = len(calls)
    add_photo(empty_shop, code=code, new=photo(hatched((5, 10, 35, 40))))
    newer = richness_of(empty_shop, code)
    (empty_shop.folder / "cache.db").unlink()
    richness_of(empty_shop, code)

    assert first == again
    assert after_two == 1
    assert newer != first
    assert len(calls) == 3


def test_a_board_that_is_unknown_is_told(empty_shop: Workshop) -> None:
    """A code of another workshop has no map."""
    with pytest.raises(NotFound):
        richness_of(empty_shop, Code("BC0002J"))
