"""Where the weight went: numbers against a computation by hand."""

from __future__ import annotations

import math
from datetime import date

import pytest

from salvage.errors import BadValue, NotFound, Refused
from salvage.geometry.outline import rectangle
from salvage.ids import next_code
from salvage.work.correct import DropOffCorrection, correct_drop_off
from salvage.work.cutting import NewCut, record_cut
from salvage.work.library import choose_shape
from salvage.work.mass import (
    NewConsignment,
    account_mass,
    list_consignments,
    send_consignment,
)
from salvage.work.pieces import weigh_piece
from salvage.work.receive import NewDropOff, log_drop_off
from salvage.work.record import NewBoard, record_boards, retire_board
from salvage.work.workshop import Workshop
from tests.bench import PLANETARIUM, START, add_drop_off, circle_at, clear, cut_circle

# salvage/knowledge/data/materials.csv names the sources: FR-4 1.85 g/cm3, usual thickness 1.57 mm
# (0.062 in), copper foil of one ounce 305.15 g/m2, of which 0.6 is assumed to be left on each of
# two layers. So one square millimetre of board, and of the kerf cut out of it, weighs:
G_PER_MM2 = 1.57 * 1.85e-3 + 2 * 0.6 * 305.15e-6
# The middle of a bit of 2 mm runs 1 mm outside the piece: the way round a circle of 30 mm is that
# of a circle of 32 mm.


def test_a_cut_board_is_accounted_for_to_the_last_gram(empty_shop: Workshop) -> None:
    """120 x 80 mm, one circle of 30 mm with a kerf of 2 mm, one weighed piece, 40 g sent off."""
    drop_off = add_drop_off(empty_shop)  # 6200 g
    new = NewBoard(drop_off, "memory-module", outline=rectangle(120, 80))
    board = record_boards(empty_shop, new=new)[0]
    clear(empty_shop, board.code)
    cut_circle(empty_shop, board.code, 30, 40)
    weighed = cut_circle(empty_shop, board.code, 80, 40).piece
    assert weighed is not None
    weigh_piece(empty_shop, piece=weighed.code, weight_g=2.0)
    send_consignment(empty_shop, new=NewConsignment("Recycler", "coin cells", 40.0))
    account = account_mass(empty_shop)

    circle_g = math.pi * 15**2 * G_PER_MM2
    dust_g = 2 * math.pi * 32 * 2.0 * G_PER_MM2
    left_g = 120 * 80 * G_PER_MM2 - circle_g - 2.0 - dust_g
    assert account.received_g == 6200
    assert account.sent_g == 40
    assert account.pieces_g == pytest.approx(circle_g + 2.0, rel=1e-3)
    assert account.dust_g == pytest.approx(dust_g, rel=1e-3)
    assert account.boards_g == pytest.approx(left_g, rel=1e-3)
    assert account.unexplained_g == pytest.approx(
        6200 - 40 - account.pieces_g - account.boards_g - account.dust_g
    )
    assert account.unweighed == 0


def test_scales_and_calipers_beat_the_estimate(empty_shop: Workshop) -> None:
    """A weighed board counts with its weight; a thicker one gives heavier pieces."""
    drop_off = add_drop_off(empty_shop)
    new = NewBoard(
        drop_off, "memory-module", outline=rectangle(120, 80), weight_g=90.0, thickness_mm=2.4
    )
    board = record_boards(empty_shop, new=new)[0]
    clear(empty_shop, board.code)
    cut_circle(empty_shop, board.code, 40, 40)
    account = account_mass(empty_shop)
    piece_g = math.pi * 15**2 * (2.4 * 1.85e-3 + 2 * 0.6 * 305.15e-6)
    dust_g = math.pi * 32 * 2.0 * (2.4 * 1.85e-3 + 2 * 0.6 * 305.15e-6)

    assert account.pieces_g == pytest.approx(piece_g, rel=1e-3)
    assert account.boards_g == pytest.approx(90 - piece_g - dust_g, rel=1e-3)


def test_a_retired_board_takes_nothing_from_the_others(empty_shop: Workshop) -> None:
    """What was cut from a board that is gone is not taken off the boards on the shelf."""
    drop_off = add_drop_off(empty_shop)
    new = NewBoard(drop_off, "memory-module", outline=rectangle(120, 80))
    gone, kept = record_boards(empty_shop, new=new, count=2)
    clear(empty_shop, gone.code)
    for x_mm in (20, 60, 100):
        cut_circle(empty_shop, gone.code, x_mm, 40)
    retire_board(empty_shop, board=gone.code, reason="used up")
    account = account_mass(empty_shop)

    assert kept.outline_um2 == 9600 * 10**6
    assert account.boards_g == pytest.approx(9600 * G_PER_MM2, abs=0.001)
    assert account.pieces_g == pytest.approx(3 * math.pi * 15**2 * G_PER_MM2, rel=1e-3)


def test_scrap_stays_with_what_is_left(empty_shop: Workshop) -> None:
    """A broken piece is still in the workshop; only its kerf is gone."""
    drop_off = add_drop_off(empty_shop)
    new = NewBoard(drop_off, "memory-module", outline=rectangle(120, 80))
    board = record_boards(empty_shop, new=new)[0]
    clear(empty_shop, board.code)
    spot = circle_at(empty_shop, 40, 40)
    record_cut(empty_shop, new=NewCut(board.code, spot, outcome="scrap", reason="cracked"))
    account = account_mass(empty_shop)

    assert account.pieces_g == 0
    assert account.boards_g + account.dust_g == pytest.approx(9600 * G_PER_MM2, abs=0.001)


def test_the_kerf_runs_round_holes_too(empty_shop: Workshop) -> None:
    """A ring is cut twice: outside and inside."""
    drop_off = add_drop_off(empty_shop)
    new = NewBoard(drop_off, "memory-module", outline=rectangle(120, 80))
    board = record_boards(empty_shop, new=new)[0]
    clear(empty_shop, board.code)
    ring = choose_shape(empty_shop, name="ring", width_mm=40)
    spot = circle_at(empty_shop, 60, 40)
    record_cut(empty_shop, new=NewCut(board.code, type(spot)(ring, 60_000, 40_000)))
    (hole,) = ring.region.holes
    inner_mm = (max(x for x, _ in hole) - min(x for x, _ in hole)) / 1000

    assert account_mass(empty_shop).dust_g == pytest.approx(
        math.pi * (42 + inner_mm - 2) * 2.0 * G_PER_MM2, rel=2e-3
    )


def test_drop_offs_that_were_not_weighed_are_told(empty_shop: Workshop) -> None:
    """They are missing on one side of the balance, and that is said."""
    log_drop_off(empty_shop, donor=PLANETARIUM, new=NewDropOff(START.date(), "a box"))
    add_drop_off(empty_shop)
    account = account_mass(empty_shop)

    assert (account.unweighed, account.received_g) == (1, 6200)


def test_an_empty_workshop_weighs_nothing(empty_shop: Workshop) -> None:
    """Nothing came, nothing is missing."""
    account = account_mass(empty_shop)

    assert (account.received_g, account.boards_g, account.unexplained_g) == (0, 0, 0)


def test_a_consignment_is_kept_with_its_paper(empty_shop: Workshop) -> None:
    """Who took what, when, under which number."""
    new = NewConsignment("Recycler", "coin cells", 40.5, date(2026, 5, 1), "WB-77")
    sent = send_consignment(empty_shop, new=new)
    later = send_consignment(empty_shop, new=NewConsignment("Recycler", "offcuts", 900))

    assert (sent.weight_mg, sent.sent_on, sent.document) == (40_500, "2026-05-01", "WB-77")
    assert sent.drop_off is None
    assert later.sent_on == "2026-05-04"
    assert list_consignments(empty_shop) == (later, sent)


def test_a_consignment_says_what_went_to_whom(empty_shop: Workshop) -> None:
    """Without receiver, contents or a known drop-off it is refused."""
    unknown, _ = next_code("D", "K", 0)
    for new, error in (
        (NewConsignment(" ", "offcuts", 900), BadValue),
        (NewConsignment("Recycler", "", 900), BadValue),
        (NewConsignment("Recycler", "offcuts", 0), BadValue),
        (NewConsignment("Recycler", "offcuts", 9, drop_off=unknown), NotFound),
    ):
        with pytest.raises(error):
            send_consignment(empty_shop, new=new)

    assert list_consignments(empty_shop) == ()


def test_no_more_leaves_than_came(empty_shop: Workshop) -> None:
    """A slip of a digit on the waybill is caught; two per cent are the difference of two scales."""
    drop_off = add_drop_off(empty_shop)  # 6200 g
    first = NewConsignment("Recycler", "frames", 6000.0, drop_off=drop_off)
    rest = NewConsignment("Recycler", "screws", 310.0, drop_off=drop_off)
    more = NewConsignment("Recycler", "screws", 330.0, drop_off=drop_off)
    send_consignment(empty_shop, new=first)
    with pytest.raises(Refused, match=r"330 g besides the 6 kg sent before .* than the 6\.2 kg"):
        send_consignment(empty_shop, new=more)
    send_consignment(empty_shop, new=rest)
    with pytest.raises(Refused, match=r"6\.31 kg of .* have left already"):
        correct_drop_off(
            empty_shop, drop_off=drop_off, new=DropOffCorrection(weight_g=620.0), why="a slip"
        )

    assert len(list_consignments(empty_shop)) == 2


def test_what_was_not_weighed_may_leave(empty_shop: Workshop) -> None:
    """Of a drop-off without a weight nobody can say what is too much."""
    view = log_drop_off(empty_shop, donor=PLANETARIUM, new=NewDropOff(START.date(), "a box"))
    new = NewConsignment("Recycler", "frames", 9000.0, drop_off=view.drop_off.code)

    assert send_consignment(empty_shop, new=new).weight_mg == 9_000_000
