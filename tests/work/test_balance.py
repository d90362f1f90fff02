"""
Where a board's weight went: worked examples, a law over random lives, and a second computation.

The law plays a board whose true mass is known at every moment, as no workshop knows it.
"""

from __future__ import annotations

import math
import tempfile
from datetime import date
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from salvage.errors import SalvageError
from salvage.geometry.outline import rectangle
from salvage.geometry.way import cutter_way_mm
from salvage.ids import Code
from salvage.knowledge.areal_mass import Stack, areal_mass, areal_sources
from salvage.records.things import Board
from salvage.work.balance import balance_boards
from salvage.work.consigning import Handed, NewHandOver, confirm_receipt, hand_over
from salvage.work.cutting import NewCut, record_cut
from salvage.work.drop_off_mass import balance_board, balance_drop_off
from salvage.work.mass import account_mass
from salvage.work.pieces import weigh_piece
from salvage.work.record import NewBoard, record_boards, retire_board
from salvage.work.waste import (
    NewContainer,
    NewWaste,
    open_container,
    put_in,
    set_copper,
    weigh_board,
)
from salvage.work.workshop import Workshop
from salvage.work.year_mass import balance_year
from tests.bench import add_drop_off, circle_at, clear, cut_circle, make_shop


@pytest.mark.parametrize(
    ("stack", "area_mm2", "grams"),
    [
        # Worked examples computed outside this project from 1.57 mm, 1.85 g/cm3 (FR-4 data sheet
        # tables at theinfolist.com) and 28.349523125 g / 0.09290304 m2 a copper ounce, of which
        # 60 % is left: a full-size board of 305 x 244 mm, bare, with two layers, and with two inner
        # ones of half an ounce more; and a piece of 30 x 20 mm.
        (Stack(1.57, 0), 305 * 244, 216.2),
        (Stack(1.57, 2), 305 * 244, 243.4),
        (Stack(1.57, 4, 0.75), 305 * 244, 257.0),
        (Stack(1.57, 2), 30 * 20, 1.96),
    ],
)
def test_the_worked_examples_come_out(stack: Stack, area_mm2: float, grams: float) -> None:
    """Area times what a square millimetre of the stack weighs, and the bounds hold it."""
    areal = areal_mass(stack)

    assert areal.usual * area_mm2 / 1000 == pytest.approx(grams, abs=0.06 if grams > 10 else 0.005)
    assert areal.least < areal.usual < areal.most


def test_less_knowledge_gives_wider_bounds() -> None:
    """A caliper and a count of layers narrow the estimate, which itself stays."""
    measured, blind = areal_mass(Stack(1.57, 2)), areal_mass(Stack())

    assert blind.usual == measured.usual
    assert blind.least < measured.least
    assert blind.most > measured.most
    assert all(source.text for _, source in areal_sources())


@pytest.mark.parametrize(
    ("kerf_mm", "consumed_mm2"), [(0.8, 106.0), (1.0, 133.1), (2.0, 272.6), (3.175, 444.4)]
)
def test_the_kerf_takes_the_ring_round_the_piece(kerf_mm: float, consumed_mm2: float) -> None:
    """40 x 25 mm cut all round: the ring computed as an area outside this project (shapely)."""
    ring_mm2 = cutter_way_mm(rectangle(40, 25), kerf_mm) * kerf_mm

    assert ring_mm2 == pytest.approx(consumed_mm2, abs=0.3)


def _weighed_board(shop: Workshop, grams: float) -> Board:
    new = NewBoard(
        add_drop_off(shop),
        "memory-module",
        outline=rectangle(120, 80),
        weight_g=grams,
        thickness_mm=1.57,
    )
    (board,) = record_boards(shop, new=new)
    clear(shop, board.code)
    return board


def test_a_loss_that_nobody_recorded_is_shown(empty_shop: Workshop) -> None:
    """90 g came, 5 g of parts were put away, and on the scales there are 70 g: 15 g are missing."""
    board = _weighed_board(empty_shop, 90.0)
    bin_ = open_container(empty_shop, new=NewContainer("components")).container.code
    put_in(empty_shop, container=bin_, new=NewWaste("chips", board.code, weight_g=5.0))
    unknown = balance_board(empty_shop.conn, board.code)
    weigh_board(empty_shop, board=board.code, weight_g=70.0)
    known = balance_board(empty_shop.conn, board.code)

    assert (unknown.shelf_how, unknown.unexplained_mg) == ("by difference", 0)
    assert (known.shelf_how, known.unexplained_mg) == ("weighed", 15_000)


def test_what_comes_off_after_a_weighing_is_not_missing(empty_shop: Workshop) -> None:
    """The second weighing counts down by what is cut from then on."""
    board = _weighed_board(empty_shop, 90.0)
    weigh_board(empty_shop, board=board.code, weight_g=90.0)
    cut_circle(empty_shop, board.code, 40, 40)
    mass = balance_board(empty_shop.conn, board.code)

    assert mass.unexplained_mg == 0
    assert mass.shelf.mg == 90_000 - mass.pieces.mg - mass.dust.mg


def test_a_retired_board_hides_nothing(empty_shop: Workshop) -> None:
    """Whatever was not put anywhere is unexplained once the board is gone."""
    board = _weighed_board(empty_shop, 90.0)
    retire_board(empty_shop, board=board.code, reason="used up")

    assert balance_board(empty_shop.conn, board.code).unexplained_mg == 90_000


def test_a_whole_board_in_a_container_leaves_no_rest(empty_shop: Workshop) -> None:
    """What is left goes in by difference, marked as an estimate."""
    board = _weighed_board(empty_shop, 90.0)
    cut_circle(empty_shop, board.code, 40, 40)
    bin_ = open_container(empty_shop, new=NewContainer("offcuts")).container.code
    view = put_in(empty_shop, container=bin_, new=NewWaste("", board.code, whole=True))
    mass = balance_board(empty_shop.conn, board.code)

    assert mass.unexplained_mg == 0
    assert (view.items[0].weighed, view.items[0].weight_mg) == (0, mass.waste.mg)


def test_copper_makes_a_board_heavier(empty_shop: Workshop) -> None:
    """Two more layers of an ounce at 60 % are 366 g/m2: 3.5 g on 96 square centimetres."""
    new = NewBoard(add_drop_off(empty_shop), "memory-module", outline=rectangle(120, 80))
    (board,) = record_boards(empty_shop, new=new)
    before = balance_board(empty_shop.conn, board.code).came.mg
    set_copper(empty_shop, board=board.code, layers=4)

    after = balance_board(empty_shop.conn, board.code).came.mg

    assert after - before == pytest.approx(9600 * 2 * 0.6 * 0.30515, abs=2)


class _True:
    """A board as it truly is: its mass is known at every moment, and where the rest went."""

    def __init__(self, shop: Workshop) -> None:
        self.shop = shop
        self.board = _weighed_board(shop, 120.0)
        self.bin = open_container(shop, new=NewContainer("components")).container.code
        self.here_mg, self.out_mg, self.lost_mg = 120_000, 0, 0
        self.per_mm2 = areal_mass(Stack(1.57)).usual

    def take(self, act: str, amount: int) -> None:
        """One thing that happens to it; what the ledger refuses does not happen."""
        try:
            getattr(self, act)(amount)
        except SalvageError:
            return

    def cut(self, amount: int) -> None:
        """A weighed piece; its kerf truly weighs what a computation from circles says."""
        x_mm, y_mm = 15 + 22 * (amount % 5), 15 + 22 * (amount % 3)
        view = record_cut(
            self.shop, new=NewCut(self.board.code, circle_at(self.shop, x_mm, y_mm, width_mm=16))
        )
        assert view.piece is not None
        piece_mg = round(math.pi * 8**2 * self.per_mm2 * (0.98 + amount % 5 / 100))
        weigh_piece(self.shop, piece=view.piece.code, weight_g=piece_mg / 1000)
        dust_mg = round(math.pi * (10**2 - 8**2) * self.per_mm2)
        self.here_mg -= piece_mg + dust_mg
        self.out_mg += piece_mg + dust_mg

    def strip(self, amount: int) -> None:
        """Parts come off, are weighed and put away."""
        mg = 200 + amount * 10
        new = NewWaste("parts", self.board.code, weight_g=mg / 1000)
        put_in(self.shop, container=self.bin, new=new)
        self.here_mg -= mg
        self.out_mg += mg

    def lose(self, amount: int) -> None:
        """Something breaks off, and nobody says so."""
        self.here_mg -= 100 + amount
        self.lost_mg += 100 + amount

    def weigh(self, amount: int) -> None:
        """It goes on the scales."""
        weigh_board(self.shop, board=self.board.code, weight_g=self.here_mg / 1000)


@settings(max_examples=max(1, settings.default.max_examples // 4))  # type: ignore[union-attr]
@given(
    st.lists(
        st.tuples(st.sampled_from(("cut", "cut", "strip", "lose", "weigh")), st.integers(0, 400)),
        max_size=12,
    )
)
def test_mass_is_conserved_whatever_happens(acts: list[tuple[str, int]]) -> None:
    """After a last weighing the rest is exactly what was lost, within the kerf's roundness."""
    with (
        tempfile.TemporaryDirectory() as folder,
        make_shop(Path(folder) / "shop") as shop,
    ):
        true = _True(shop)
        for act, amount in acts:
            true.take(act, amount)
        true.weigh(0)
        mass = balance_board(shop.conn, true.board.code)
        cuts = sum(act == "cut" for act, _ in acts)
        drop_off = balance_drop_off(shop.conn, true.board.drop_off)

    # The kerf's circles are polygons here: less than 0.3 % of 0.35 g a cut.
    assert abs(mass.unexplained_mg - true.lost_mg) <= 2 + 2 * cuts
    assert mass.shelf.mg == true.here_mg
    assert drop_off.unexplained_mg == 6_200_000 - 120_000 + mass.unexplained_mg


def test_sums_agree_with_a_computation_of_their_own(empty_shop: Workshop) -> None:
    """Each line once more from the rows by plain arithmetic, without the program's own sums."""
    boards = [_weighed_board(empty_shop, 90.0 + n) for n in range(3)]
    bin_ = open_container(empty_shop, new=NewContainer("components")).container.code
    dust = open_container(empty_shop, new=NewContainer("dust")).container.code
    for n, board in enumerate(boards):
        cut_circle(empty_shop, board.code, 30 + n, 40)
        put_in(empty_shop, container=bin_, new=NewWaste("chips", board.code, weight_g=4.0 + n))
    put_in(empty_shop, container=dust, new=NewWaste("swept up damp", weight_g=1.1))
    account = account_mass(empty_shop)
    per_mm2 = (1.57 * 1.85 + 2 * 0.6 * 0.30515) / 1000
    pieces = 3 * math.pi * 15**2 * per_mm2
    kerf = 3 * math.pi * 32 * 2 * per_mm2
    parts = 4.0 + 5.0 + 6.0

    assert account.pieces_g == pytest.approx(pieces, rel=1e-3)
    assert account.dust_g == pytest.approx(kerf, rel=1e-3)
    assert account.containers_g == pytest.approx(parts + 1.1)
    assert account.boards_g == pytest.approx(90 + 91 + 92 - parts - pieces - kerf, rel=1e-3)
    assert account.unexplained_g == pytest.approx(3 * 6200 - 273, abs=0.01)


def test_a_year_begins_where_the_last_one_ended(empty_shop: Workshop) -> None:
    """Nothing happened in the year before; all of it is this year's."""
    board = _weighed_board(empty_shop, 90.0)
    cut_circle(empty_shop, board.code, 40, 40)
    now, before = balance_year(empty_shop, year=2026), balance_year(empty_shop, year=2025)
    later = balance_year(empty_shop, year=2027)

    assert (before.came.mg, before.closing.mg, before.unexplained_mg) == (0, 0, 0)
    assert now.opening.mg == 0
    assert now.came.mg == 6_200_000
    assert now.unexplained_mg == 6_200_000 - 90_000
    assert later.opening == now.closing
    assert (later.came.mg, later.unexplained_mg) == (0, 0)


def test_boards_recorded_later_do_not_count_yet(empty_shop: Workshop) -> None:
    """A balance up to a day knows only what was there by then."""
    _weighed_board(empty_shop, 90.0)

    assert balance_boards(empty_shop.conn, until=date(2026, 5, 3).isoformat()) == ()
    assert balance_board(empty_shop.conn, Code(_first(empty_shop)), until="2026-05-03").came.mg == 0


def _first(shop: Workshop) -> str:
    (code,) = shop.conn.execute("SELECT code FROM board").fetchone()
    return str(code)


def test_what_a_receiver_confirmed_is_no_surer_than_what_went(empty_shop: Workshop) -> None:
    """A board that went in by difference stays an estimate, with its bounds, when it arrived."""
    board = _weighed_board(empty_shop, 90.0)
    bin_ = open_container(empty_shop, new=NewContainer("boards")).container.code
    put_in(empty_shop, container=bin_, new=NewWaste("", board.code, whole=True))
    new = NewHandOver("Quay Street yard", (Handed(bin_),))
    sent = hand_over(empty_shop, new=new).consignment.code
    confirm_receipt(empty_shop, consignment=sent, confirmation="R-2")
    mass = balance_drop_off(empty_shop.conn, board.drop_off)

    assert mass.confirmed == mass.recycled
    assert mass.confirmed.estimated
    assert mass.confirmed.least_mg < mass.confirmed.mg
