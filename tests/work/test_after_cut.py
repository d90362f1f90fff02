"""A remnant photographed again: what is gone and what is on record are brought together."""

from __future__ import annotations

import io
from functools import cache

import pytest
from PIL import Image

from salvage.errors import BadValue, Refused
from salvage.geometry.outline import rectangle
from salvage.ids import Code
from salvage.records.region import Region
from salvage.work.after_cut import (
    AfterCut,
    choose_way,
    draw_differences,
    find_differences,
    record_gone,
)
from salvage.work.cutting import NewCut, Spot, record_cut, reserve
from salvage.work.history import undo
from salvage.work.library import ChosenShape
from salvage.work.photos import NewPhoto, list_photos
from salvage.work.record import list_keep_outs
from salvage.work.workshop import Workshop
from tests.bench import clear, dump
from tests.benchmarks.photo_remnant import without_corner
from tests.benchmarks.photo_scene import render
from tests.benchmarks.photo_shots import make_case
from tests.work.test_back_side import ALIKE, PLAIN, front_photo, layout_of, measured_board


def corner_mm(seed: int) -> tuple[float, float]:
    """Width and height of the corner that is cut off: a quarter by four tenths."""
    width, height = layout_of(seed).size_mm
    return round(0.25 * width), round(0.4 * height)


@cache
def after_photo(seed: int) -> bytes:
    """A phone photo of the board without that corner, lying elsewhere on the mat."""
    layout = without_corner(layout_of(seed), *corner_mm(seed))
    case = make_case(seed + 200_000, megapixels=3, tilt_deg=10, layout=layout)
    return render(case.scene, case.first)


def compare(shop: Workshop, code: Code, data: bytes) -> AfterCut:
    """Compare one photo with the record."""
    return find_differences(shop, board=code, photos=(NewPhoto(data, "after.jpg"),))


def end_of(shop: Workshop, code: Code, region: Region) -> None:
    """Record that a region was cut off as scrap."""
    left, bottom, right, top = region.bounds_um
    spot = Spot(ChosenShape("end", region), (left + right) // 2, (bottom + top) // 2, fixed=region)
    clear(shop, code)
    record_cut(shop, new=NewCut(code, spot, outcome="scrap", kerf_mm=0.4, reason="offcut"))


@pytest.fixture
def measured(empty_shop: Workshop) -> Code:
    """A measured board whose remnant lies in one way only."""
    return measured_board(empty_shop, PLAIN)


def test_a_board_that_was_not_cut_agrees(empty_shop: Workshop, measured: Code) -> None:
    """The same board photographed again, lying elsewhere, gives no differences."""
    (way,) = compare(empty_shop, measured, front_photo(PLAIN)).ways

    assert way.differences == ()
    assert way.compared.agrees
    assert way.compared.holes_found == way.compared.hole_count == 8


def test_what_is_gone_is_told_drawn_and_taken_up(empty_shop: Workshop, measured: Code) -> None:
    """The missing corner is told with its place and area, becomes a keep-out, and then agrees."""
    found = compare(empty_shop, measured, after_photo(PLAIN))
    (way,) = found.ways
    (one,) = way.differences
    width, height = corner_mm(PLAIN)
    picture = Image.open(io.BytesIO(draw_differences(empty_shop, found=found, way=way)))
    before = dump(empty_shop)
    record_gone(empty_shop, found=found, dry_run=True)
    rolled = dump(empty_shop)
    done = record_gone(empty_shop, found=found)
    again = compare(empty_shop, measured, after_photo(PLAIN))

    assert (one.kind, one.code) == ("gone", "")
    assert one.region.area_mm2 == pytest.approx(width * height, rel=0.08)
    assert "--record" in one.mend
    assert picture.width > 300
    assert rolled == before
    assert done.keep_outs[0].reason == "gone in photo of 2026-05-04 (after.jpg)"
    assert done.board.usable_um2 < found.board.usable_um2 - 0.9e6 * width * height
    assert [photo.caption for photo in list_photos(empty_shop, measured)][-1] == (
        "remnant, squared up"
    )
    assert again.ways[0].differences == ()


def test_a_recorded_cut_that_was_not_made_is_undone_by_its_name(
    empty_shop: Workshop, measured: Code
) -> None:
    """On record as cut, but still there: the command that is told takes just that cut back."""
    strip = rectangle(12, 30)
    moved = Region(tuple((x + 60_000, y + 40_000) for x, y in strip.outer))
    end_of(empty_shop, measured, moved)
    (way,) = compare(empty_shop, measured, front_photo(PLAIN)).ways
    (one,) = way.differences
    word, operation = one.mend.split()
    undone = undo(empty_shop, operation=operation)
    after = compare(empty_shop, measured, front_photo(PLAIN))

    assert one.kind == "still there"
    assert one.code.startswith("K")
    assert one.region.area_mm2 == pytest.approx(12.8 * 30.8, rel=0.08)
    assert word == "undo"
    assert undone.act == "cut scrap"
    assert after.ways[0].differences == ()


def test_what_was_taken_up_wrongly_is_lifted(empty_shop: Workshop, measured: Code) -> None:
    """A whole board after a keep-out for what was gone: told with the number to lift."""
    record_gone(empty_shop, found=compare(empty_shop, measured, after_photo(PLAIN)))
    (one,) = compare(empty_shop, measured, front_photo(PLAIN)).ways[0].differences

    assert one.kind == "still there"
    assert one.mend.startswith(f"board lift {measured} 1 ")


def test_a_reserved_place_that_is_gone_is_named(empty_shop: Workshop, measured: Code) -> None:
    """Whoever waits for a piece of that corner hears of it."""
    found = compare(empty_shop, measured, after_photo(PLAIN))
    x, y = (round(1000 * at) for at in found.ways[0].differences[0].at_mm)
    region = Region(tuple((x + dx, y + dy) for dx, dy in rectangle(6, 6).outer))
    spot = Spot(ChosenShape("tile", region), x + 3_000, y + 3_000, fixed=region)
    held = reserve(empty_shop, board=measured, spot=spot, for_whom="Order 7")
    done = record_gone(empty_shop, found=found)

    assert [one.code for one in done.reserved] == [held.code]


def test_another_board_is_refused_with_how_far_it_is_off(
    empty_shop: Workshop, measured: Code
) -> None:
    """A photo of another board is not made a remnant of this one."""
    before = dump(empty_shop)
    with pytest.raises(Refused, match=r"another board: .*(mm|holes)"):
        compare(empty_shop, measured, front_photo(ALIKE))

    assert dump(empty_shop) == before


def test_half_a_turn_is_asked(empty_shop: Workshop) -> None:
    """A corner that may be either of two is not marked until somebody says which."""
    code = measured_board(empty_shop, ALIKE)
    found = compare(empty_shop, code, after_photo(ALIKE))
    with pytest.raises(Refused, match="may lie in 2 ways") as asked:
        record_gone(empty_shop, found=found)
    with pytest.raises(BadValue, match="does not fit turned by 50"):
        choose_way(found, 50)
    none = list_keep_outs(empty_shop, code)
    record_gone(empty_shop, found=found, turn=found.turns[0])
    first, second = found.ways

    assert none == ()
    assert "--turn" in asked.value.hint
    assert abs(first.turn - second.turn) == 180
    assert len(list_keep_outs(empty_shop, code)) == 1
