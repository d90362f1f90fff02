"""What fits where, on one board and over the shelf."""

from __future__ import annotations

from pathlib import Path

import pytest

from salvage.errors import BadOutline, BadValue, NotFound
from salvage.records.things import Board
from salvage.work.cutting import NewCut, Spot, check_room, record_cut
from salvage.work.fitting import BoardFilter, Wish, find_boards, fits_here
from salvage.work.library import choose_shape
from salvage.work.recall import open_recall
from salvage.work.record import NewBoard, record_boards, retire_board
from salvage.work.wishes import TypedFilter, TypedWish, parse_angles, parse_filter, parse_wish
from salvage.work.workshop import Workshop
from tests.bench import add_board, add_cleared_board, add_drop_off, cut_circle


def _wish(shop: Workshop, name: str = "teardrop", width_mm: float = 20.0) -> Wish:
    return Wish(choose_shape(shop, name=name, width_mm=width_mm), 2.0)


def test_every_spot_that_is_offered_may_be_cut(empty_shop: Workshop, cleared_board: Board) -> None:
    """What the fit answers is what the cut accepts, next to an earlier cut as well."""
    cut_circle(empty_shop, cleared_board.code, 60, 40)
    wish = _wish(empty_shop)
    answer = fits_here(empty_shop, board=cleared_board.code, wish=wish)

    assert answer.verdict == "fit"
    assert len(answer.together) >= 2
    for spot in answer.spots:
        check_room(empty_shop.conn, answer.board, spot.region, kerf_mm=wish.kerf_mm)


def test_places_together_are_cut_one_after_the_other(
    empty_shop: Workshop, cleared_board: Board
) -> None:
    """A board filled with one shape: each place is still free when the others are cut."""
    wish = _wish(empty_shop, "circle", 30.0)
    answer = fits_here(empty_shop, board=cleared_board.code, wish=wish)
    for spot in answer.together:
        place = spot.placement
        new = Spot(wish.shape, place.x_um, place.y_um, place.angle_mdeg)
        record_cut(empty_shop, new=NewCut(cleared_board.code, new))

    # Two rows of two with 2 mm between take 62 x 62 mm of 120 x 80.
    assert len(answer.together) >= 4


def test_the_layout_keeps_to_the_chosen_angles(empty_shop: Workshop, cleared_board: Board) -> None:
    """Where the grain of the picture must run upright, it does on every piece of the layout."""
    shape = choose_shape(empty_shop, name="teardrop", width_mm=20.0)
    answer = fits_here(
        empty_shop, board=cleared_board.code, wish=Wish(shape, 2.0, angles_mdeg=(0,))
    )

    assert answer.verdict == "fit"
    assert len(answer.together) >= 2
    assert {s.placement.angle_mdeg for s in (*answer.spots, *answer.together)} == {0}


def test_the_first_spot_is_cut_as_offered(empty_shop: Workshop, cleared_board: Board) -> None:
    """Place, angle and face of an offer are what the command line passes to the cut."""
    wish = _wish(empty_shop)
    place = fits_here(empty_shop, board=cleared_board.code, wish=wish, most=1).spots[0].placement
    side = "back" if place.mirrored else "front"
    spot = Spot(wish.shape, place.x_um, place.y_um, place.angle_mdeg, side)
    view = record_cut(empty_shop, new=NewCut(cleared_board.code, spot))

    assert view.piece is not None


def test_what_is_larger_than_the_board_is_refused(
    empty_shop: Workshop, cleared_board: Board
) -> None:
    """A circle wider than the board's narrow side fits nowhere, and that is proved."""
    answer = fits_here(empty_shop, board=cleared_board.code, wish=_wish(empty_shop, "circle", 81.0))

    assert (answer.verdict, answer.spots, answer.together) == ("no", (), ())


def test_a_board_without_outline_is_not_asked(empty_shop: Workshop) -> None:
    """One board by itself says that it is not measured; on the shelf it is left out."""
    source = add_drop_off(empty_shop)
    (board,) = record_boards(empty_shop, new=NewBoard(source, "backplane"))

    with pytest.raises(BadOutline, match="no outline"):
        fits_here(empty_shop, board=board.code, wish=_wish(empty_shop))
    assert find_boards(empty_shop, wish=_wish(empty_shop)) == ()


def test_cleared_remnants_come_first(empty_shop: Workshop) -> None:
    """Cleared before held, remnants before fresh boards."""
    held, fresh, remnant = (
        add_board(empty_shop),
        add_cleared_board(empty_shop),
        add_cleared_board(empty_shop),
    )
    cut_circle(empty_shop, remnant.code, 60, 40)
    found = find_boards(empty_shop, wish=_wish(empty_shop))

    assert [fit.board.code for fit in found] == [remnant.code, fresh.code, held.code]
    assert {fit.verdict for fit in found} == {"fit"}


def test_recalled_and_retired_boards_are_left_out(empty_shop: Workshop) -> None:
    """What may not be cut for good is not offered."""
    recalled, retired = add_cleared_board(empty_shop), add_cleared_board(empty_shop)
    open_recall(empty_shop, subject=recalled.code, reason="mercury")
    retire_board(empty_shop, board=retired.code, reason="split")

    assert find_boards(empty_shop, wish=_wish(empty_shop)) == ()


def test_the_shelf_notices_a_cut(empty_shop: Workshop, cleared_board: Board) -> None:
    """The kept index of a board is made anew when the board has changed."""
    wish = _wish(empty_shop, "circle", 70.0)
    before = find_boards(empty_shop, wish=wish)
    cut_circle(empty_shop, cleared_board.code, 60, 40)
    after = find_boards(empty_shop, wish=wish)

    assert [fit.board.code for fit in before] == [cleared_board.code]
    assert after == ()


def test_the_shelf_answers_without_its_cache(empty_shop: Workshop, cleared_board: Board) -> None:
    """The cache may be deleted or damaged; the answer is the same."""
    wish = _wish(empty_shop)
    first = find_boards(empty_shop, wish=wish)
    cache: Path = empty_shop.folder / "cache.db"
    assert cache.exists()
    cache.write_bytes(b"no database at all" * 200)
    second = find_boards(empty_shop, wish=wish)

    assert [fit.board.code for fit in first] == [cleared_board.code]
    assert second == first


def test_filters_narrow_the_shelf(empty_shop: Workshop) -> None:
    """From this donor, of that type, cleared only."""
    card, plane = add_cleared_board(empty_shop), add_board(empty_shop, kind="backplane")
    donor = empty_shop.conn.execute(
        "SELECT donor FROM drop_off WHERE code = ?", (plane.drop_off,)
    ).fetchone()[0]

    def codes(filters: BoardFilter) -> list[str]:
        found = find_boards(empty_shop, wish=_wish(empty_shop), filters=filters)
        return [fit.board.code for fit in found]

    assert codes(BoardFilter(cleared_only=True)) == [card.code]
    assert codes(BoardFilter(type="backplane")) == [plane.code]
    assert codes(BoardFilter(donor=donor)) == [plane.code]
    assert codes(BoardFilter(drop_off=card.drop_off)) == [card.code]
    assert codes(BoardFilter(colour="green")) == []
    assert codes(BoardFilter(thickness_mm=1.6)) == []


def test_wishes_are_read_as_typed(empty_shop: Workshop) -> None:
    """The workshop's kerf stands in; angles are read in degrees."""
    wish = parse_wish(empty_shop, TypedWish("circle", width="1 in", angles="0,90"))

    assert wish.shape.region.size_mm == (25.4, 25.4)
    assert wish.kerf_mm == empty_shop.settings.kerf_mm
    assert wish.angles_mdeg == (0, 90_000)


@pytest.mark.parametrize("angles", ["north", "1,,x", "90°"])
def test_angles_that_are_none_are_refused(angles: str) -> None:
    """Each angle is a number of degrees."""
    with pytest.raises(BadValue, match="not an angle"):
        parse_angles(angles)


def test_unknown_names_are_refused(empty_shop: Workshop) -> None:
    """A shape, a type or a donor that is not there is named."""
    with pytest.raises(NotFound):
        parse_wish(empty_shop, TypedWish("dragon"))
    with pytest.raises(NotFound):
        parse_filter(empty_shop, TypedFilter(type="dragon"))
    with pytest.raises(NotFound):
        parse_filter(empty_shop, TypedFilter(donor="GC0003U"))
