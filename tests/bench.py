"""A workshop on the tests' bench: fixed clock, seeded randomness, and boards in known states."""

from __future__ import annotations

import random
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

from salvage.geometry.outline import rectangle
from salvage.ids import Code
from salvage.records.things import Board
from salvage.work.clear import NewCheck, read_checklist, record_checks
from salvage.work.cutting import CutView, NewCut, Spot, record_cut
from salvage.work.donors import NewDonor
from salvage.work.library import choose_shape
from salvage.work.receive import NewDropOff, log_drop_off
from salvage.work.record import NewBoard, record_boards
from salvage.work.workshop import Workshop, open_workshop

START = datetime(2026, 5, 4, 9, 0, tzinfo=UTC)


class SteppingClock:
    """A clock that goes on by one minute whenever it is asked."""

    def __init__(self, start: datetime = START) -> None:
        self.now = start

    def __call__(self) -> datetime:
        self.now += timedelta(minutes=1)
        return self.now


def seeded_entropy(seed: int = 1) -> Callable[[int], bytes]:
    """Random bytes that are the same in every run."""
    return random.Random(seed).randbytes


def make_shop(folder: Path, *, seed: int = 1, busy_ms: int = 10_000) -> Workshop:
    """A new workshop with a stepping clock and seeded randomness."""
    return open_workshop(
        folder, clock=SteppingClock(), entropy=seeded_entropy(seed), by="Maren", busy_ms=busy_ms
    )


PLANETARIUM = NewDonor(
    "Kelpie Point Planetarium",
    source_kind="public body",
    naming="described",
    naming_how="said at the counter",
    described_as="a planetarium",
)


def add_drop_off(shop: Workshop) -> Code:
    """A drop-off of fourteen boards from the planetarium."""
    new = NewDropOff(date(2026, 5, 2), "a box of 14 boards", board_count=14, weight_g=6200.0)
    return log_drop_off(shop, donor=PLANETARIUM, new=new).drop_off.code


def add_board(
    shop: Workshop, *, drop_off: Code | None = None, kind: str = "expansion-card"
) -> Board:
    """A held board of 120 x 80 mm."""
    source = drop_off or add_drop_off(shop)
    new = NewBoard(
        source,
        kind,
        maker="Orrery",
        model="X2",
        date_code="9843",
        outline=rectangle(120, 80),
        outline_from="width x height",
    )
    return record_boards(shop, new=new)[0]


def clear(shop: Workshop, board: Code) -> None:
    """Settle every hazard of a board as absent."""
    lines = read_checklist(shop, board).lines
    checks = [NewCheck(line.check.hazard, "absent", how="looked for") for line in lines]
    record_checks(shop, boards=[board], checks=checks)


def add_cleared_board(shop: Workshop, *, kind: str = "expansion-card") -> Board:
    """A board of 120 x 80 mm that may be cut."""
    board = add_board(shop, kind=kind)
    clear(shop, board.code)
    return board


def circle_at(shop: Workshop, x_mm: float, y_mm: float, *, width_mm: float = 30) -> Spot:
    """A circle with its centre at a place."""
    shape = choose_shape(shop, name="circle", width_mm=width_mm)
    return Spot(shape, round(x_mm * 1000), round(y_mm * 1000))


def cut_circle(shop: Workshop, board: Code, x_mm: float, y_mm: float) -> CutView:
    """A piece of 30 mm cut out of a board."""
    return record_cut(shop, new=NewCut(board, circle_at(shop, x_mm, y_mm)))


def dump(shop: Workshop) -> dict[str, list[tuple[object, ...]]]:
    """All rows of all tables, sorted."""
    tables = [
        name for (name,) in shop.conn.execute("SELECT name FROM sqlite_schema WHERE type = 'table'")
    ]
    return {
        table: sorted(shop.conn.execute(f"SELECT * FROM {table}").fetchall(), key=repr)
        for table in tables
    }
