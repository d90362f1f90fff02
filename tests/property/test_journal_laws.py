"""Whatever a workshop does, in whatever order: the journal's laws hold."""

from __future__ import annotations

import random
import tempfile
from dataclasses import dataclass
from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st

from salvage.errors import SalvageError
from salvage.geometry.outline import circle, map_points, rectangle
from salvage.ids import Code, next_code
from salvage.records.region import Region
from salvage.store.journal import read_head, verify_chain
from salvage.store.lookup import TABLE_OF, load_board, load_reservation
from salvage.work.check import compare_with_rebuild, rebuild_tables, run_checks
from salvage.work.clear import NewCheck, read_checklist, record_checks
from salvage.work.cutting import (
    NewCut,
    Spot,
    record_cut,
    release,
    reserve,
    spot_of_reservation,
)
from salvage.work.donors import NewDonor, set_naming
from salvage.work.history import ROUNDING_UM2, undo
from salvage.work.library import choose_shape
from salvage.work.pieces import sell, set_price, set_stage, take_back
from salvage.work.recall import close_recall, open_recall
from salvage.work.receive import NewDropOff, log_drop_off
from salvage.work.record import (
    NewBoard,
    NewKeepOut,
    add_keep_outs,
    lift_keep_out,
    record_boards,
    retire_board,
    set_outline,
)
from salvage.work.setup import change_settings
from salvage.work.verdict import find_obstacles
from tests.bench import START, add_cleared_board, dump, make_shop

BOX = NewDropOff(START.date(), "a box")
OUTLINES = (rectangle(100, 60), circle(90), rectangle(40, 100, corner_mm=5), None)
NAMINGS = ("named", "described", "anonymous")
SETTINGS = ("wall-mm", "least-mm", "tool-mm", "kerf-mm")


@dataclass(frozen=True)
class Step:
    """
    One thing that a maker does.

    Args:
        act: Name of a method of :class:`Workday`.
        which: Which of the things that are there; taken modulo their number.
        x, y: A place in mm, on the board or beside it.
        how: One of the ways to do it; taken modulo their number.
    """

    act: str
    which: int
    x: int
    y: int
    how: int


def _at(region: Region, x_mm: int, y_mm: int) -> Region:
    return map_points(region, lambda point: (point[0] + x_mm * 1000, point[1] + y_mm * 1000))


class Workday:
    """
    A maker with little patience, who does anything, anywhere, in any order.

    Args:
        folder: For a workshop of two boards that may be cut.
    """

    def __init__(self, folder: Path) -> None:
        self.shop = make_shop(folder)
        self.shop.conn.execute("PRAGMA synchronous = OFF")  # no power cut is played here
        self.done: list[str] = []
        for _ in range(2):
            add_cleared_board(self.shop)

    def take(self, step: Step) -> None:
        """Do one step; where it is refused, nothing at all must have changed."""
        before = dump(self.shop)
        try:
            getattr(self, step.act)(step)
        except SalvageError as error:
            refusal = str(error)
        else:
            self.done.append(step.act)
            return
        assert dump(self.shop) == before, refusal
        assert not self.shop.conn.in_transaction, refusal

    def pick(self, table: str, step: Step) -> Code:
        """The code of one of the things in a table; of nobody where it is empty."""
        codes = self.shop.conn.execute(f"SELECT code FROM {table} ORDER BY code").fetchall()
        return Code(codes[step.which % len(codes)][0] if codes else NOBODY[table])

    def receive(self, step: Step) -> None:
        """A box from somebody new."""
        words = ("", "a college")[step.which % 2]
        donor = NewDonor("Ilva", naming=NAMINGS[step.how % 3], described_as=words)
        log_drop_off(self.shop, donor=donor, new=BOX)

    def receive_again(self, step: Step) -> None:
        """A box from somebody known."""
        log_drop_off(self.shop, donor=self.pick("donor", step), new=BOX)

    def name(self, step: Step) -> None:
        """A donor changes the wish to be named."""
        donor, naming = self.pick("donor", step), NAMINGS[step.how % 3]
        set_naming(self.shop, donor=donor, naming=naming, naming_how="asked")

    def record(self, step: Step) -> None:
        """One board, two, or by a slip none."""
        drop_off, outline = self.pick("drop_off", step), OUTLINES[step.how % 4]
        new = NewBoard(drop_off, "memory-module", outline=outline)
        record_boards(self.shop, new=new, count=step.x % 3)

    def check(self, step: Step) -> None:
        """Every line of a board's list is answered the same way."""
        board = self.pick("board", step)
        finding = ("absent", "absent", "present", "cannot tell")[step.how % 4]
        lines = read_checklist(self.shop, board).lines
        checks = [NewCheck(line.check.hazard, finding, how="looked") for line in lines]
        record_checks(self.shop, boards=[board], checks=checks)

    def measure(self, step: Step) -> None:
        """A board is measured anew."""
        region = OUTLINES[step.how % 3] or rectangle(70, 70)
        set_outline(self.shop, board=self.pick("board", step), outline=region, outline_from="x")

    def mark(self, step: Step) -> None:
        """A region is marked, wherever it lies."""
        new = NewKeepOut(_at(rectangle(15, 10), step.x, step.y), "port")
        add_keep_outs(self.shop, board=self.pick("board", step), keep_outs=[new])

    def lift(self, step: Step) -> None:
        """A region is freed, if it was marked."""
        board = self.pick("board", step)
        lift_keep_out(self.shop, board=board, n=step.how % 3 + 1, reason="off")

    def cut(self, step: Step) -> None:
        """A piece is cut, wherever it lies: only where there is room, and only if it may be."""
        board = self.pick("board", step)
        stood = find_obstacles(self.shop.conn, load_board(self.shop.conn, board))
        shape = choose_shape(self.shop, name="half-moon", width_mm=16)
        side = ("front", "back")[step.how % 2]
        spot = Spot(shape, step.x * 1000, step.y * 1000, 17_000 * step.x, side)
        override = "a trial" if step.how == 5 else ""
        kerf_mm = (0.0, 0.6, 2.0)[step.how % 3]
        new = NewCut(board, spot, kerf_mm=kerf_mm, override_reason=override)
        cut = record_cut(self.shop, new=new).cut
        forbidding = [found for found in stood if found.forbids_cutting]

        assert all(found.overridable for found in forbidding)
        assert not forbidding or override
        assert cut.usable_after_um2 <= cut.usable_before_um2 + ROUNDING_UM2

    def hold(self, step: Step) -> None:
        """A place is held for an order."""
        shape = choose_shape(self.shop, name="circle", width_mm=20)
        spot = Spot(shape, step.x * 1000, step.y * 1000)
        reserve(self.shop, board=self.pick("board", step), spot=spot, for_whom="order 3")

    def let_go(self, step: Step) -> None:
        """A held place is let go."""
        release(self.shop, reservation=self.pick("reservation", step))

    def cut_held(self, step: Step) -> None:
        """A held place is cut."""
        held = load_reservation(self.shop.conn, self.pick("reservation", step))
        spot = spot_of_reservation(held)
        record_cut(self.shop, new=NewCut(held.board, spot, reservation=held.code))

    def retire(self, step: Step) -> None:
        """A board is closed."""
        retire_board(self.shop, board=self.pick("board", step), reason="used up")

    def price(self, step: Step) -> None:
        """A piece gets its tag."""
        set_price(self.shop, pieces=[self.pick("piece", step)], price_minor=100 * step.how)

    def polish(self, step: Step) -> None:
        """A piece goes on at the bench."""
        set_stage(self.shop, pieces=[self.pick("piece", step)], stage="sealed")

    def sell(self, step: Step) -> None:
        """A piece is sold at its price, if it has one."""
        sell(self.shop, piece=self.pick("piece", step))

    def come_back(self, step: Step) -> None:
        """A buyer brings a piece back."""
        take_back(self.shop, piece=self.pick("piece", step), reason="too large")

    def recall(self, step: Step) -> None:
        """Something is called back."""
        table = ("donor", "drop_off", "board", "cut", "piece")[step.how % 5]
        open_recall(self.shop, subject=self.pick(table, step), reason="mercury")

    def close(self, step: Step) -> None:
        """A recall is closed."""
        close_recall(
            self.shop, recall=self.pick("recall", step), outcome="false alarm", anyway="a drill"
        )

    def set(self, step: Step) -> None:
        """A number that areas rest on is changed, or mistyped."""
        value = ("0", "1", "4", "15", "many", "2")[step.how]
        change_settings(self.shop, typed={SETTINGS[step.which % 4]: value})

    def undo_last(self, step: Step) -> None:
        """The last step is taken back."""
        undo(self.shop)

    def undo_any(self, step: Step) -> None:
        """Any step, old or new, an undoing too, is taken back, if nothing rests on it."""
        query = "SELECT operation FROM event GROUP BY operation ORDER BY max(seq) DESC"
        operations = [operation for (operation,) in self.shop.conn.execute(query)]
        undo(self.shop, operation=operations[step.which % len(operations)])

    def end(self) -> None:
        """At the end of the day: chain, tables, areas and every other invariant."""
        before = dump(self.shop)
        (head,) = verify_chain(self.shop.conn)
        red = [line for line in run_checks(self.shop) if not line.ok]
        differences = list(compare_with_rebuild(self.shop.conn))
        rebuild_tables(self.shop)

        assert red == []
        assert differences == []
        assert head == read_head(self.shop.conn, self.shop.settings.device)
        assert dump(self.shop) == before


NOBODY = {table: next_code(kind, "K", 0)[0] for kind, table in TABLE_OF.items()}
"""A lawful code of each table that no workshop here gives."""

OFTEN = (
    "cut",
    "cut",
    "cut",
    "cut_held",
    "undo_any",
    "undo_last",
    "sell",
    "price",
    "check",
    "hold",
    "mark",
)
ACTS = sorted(
    name
    for name in vars(Workday)
    if not name.startswith("_") and name not in ("take", "pick", "end")
)
STEPS = st.builds(
    Step,
    st.sampled_from([*ACTS, *OFTEN]),
    st.integers(0, 7),
    st.integers(-5, 105),
    st.integers(-5, 70),
    st.integers(0, 5),
)


@settings(max_examples=max(1, settings.default.max_examples // 2))  # type: ignore[union-attr]
@given(st.lists(STEPS, min_size=10, max_size=40))
def test_the_laws_hold_whatever_a_maker_does(steps: list[Step]) -> None:
    """Refused steps change nothing; at the end chain, tables, areas and all invariants hold."""
    with tempfile.TemporaryDirectory() as folder:
        day = Workday(Path(folder) / "shop")
        with day.shop:
            for step in steps:
                day.take(step)
            day.end()


def test_a_long_day_reaches_every_act() -> None:
    """The law is of use only if each act does succeed now and then."""
    dice = random.Random(20260504)
    with tempfile.TemporaryDirectory() as folder:
        day = Workday(Path(folder) / "shop")
        with day.shop:
            for _ in range(400):
                act = dice.choice([*ACTS, *OFTEN])
                place = dice.randint(-5, 105), dice.randint(-5, 70)
                day.take(Step(act, dice.randint(0, 7), *place, dice.randint(0, 5)))
            day.end()

    assert set(day.done) == set(ACTS)
