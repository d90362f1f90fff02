"""
Where the weight of a board, a drop-off or a whole workshop went, in whole milligrams.

What was weighed counts as weighed; the rest is estimated from area, thickness and copper, with
bounds. A board on the shelf that was not weighed again holds what is left by difference, which
hides mistakes: only a second weighing, or the last gram sent away, brings them to light. Whatever
is found nowhere is shown as the unexplained rest, never spread over the other lines.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from salvage.frozen import dataclass
from salvage.records.region import region_of_text
from salvage.records.things import Board, Cut
from salvage.records.waste import BoardWeighing, ConsignmentItem, WasteItem
from salvage.store.rows import select
from salvage.units import from_um
from salvage.work.day_order import local_day

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Iterable, Mapping
    from datetime import date

    from salvage.ids import Code
    from salvage.knowledge.areal_mass import ArealMass, Stack

EVER = "9999-12-31"
"""A day after all days, for balances up to now."""


@dataclass(frozen=True, slots=True)
class Amount:
    """
    A mass in whole milligrams, with bounds.

    Args:
        mg: The mass.
        least_mg: Lower bound.
        most_mg: Upper bound.
        estimated: Whether any of it was not weighed.
    """

    mg: int = 0
    least_mg: int = 0
    most_mg: int = 0
    estimated: bool = False

    def __add__(self, other: Amount) -> Amount:
        return Amount(
            self.mg + other.mg,
            self.least_mg + other.least_mg,
            self.most_mg + other.most_mg,
            self.estimated or other.estimated,
        )


NOTHING = Amount()
"""No mass at all."""


def total(amounts: Iterable[Amount]) -> Amount:
    """The sum; bounds add up, since estimates of one material err the same way."""
    return sum(amounts, NOTHING)


def weighed(mg: int) -> Amount:
    """An amount that was on the scales."""
    from salvage.knowledge.areal_mass import find_mass_range

    scales = find_mass_range("weighing")
    return Amount(mg, round(mg * scales.least), round(mg * scales.most))


def estimated(area_mm2: float, areal: ArealMass) -> Amount:
    """An amount that follows from an area of board."""
    usual, least, most = (round(area_mm2 * each) for each in (areal.usual, areal.least, areal.most))
    return Amount(usual, least, most, estimated=True)


def recorded(mg: int | None, is_weighed: int) -> Amount:
    """An amount as somebody put it on record: weighed, guessed (half to double), or not known."""
    if not mg:
        return NOTHING
    return weighed(mg) if is_weighed else Amount(mg, mg // 2, mg * 2, estimated=True)


@dataclass(frozen=True, slots=True)
class BoardMass:
    """
    What became of one board's mass.

    Args:
        board: Its code.
        drop_off: Where it came with.
        came: The board as it came, weighed or estimated with the parts that were taken off.
        pieces: What was cut from it as pieces.
        dust: What the kerf took.
        parts: Parts that were taken off and put into containers.
        waste: Board material that went into containers or to a recycler.
        shelf: What lies on the shelf.
        shelf_how: ``weighed`` again, ``by difference``, or ``gone``.
        unweighed: Things put into containers whose weight nobody knows.
    """

    board: Code
    drop_off: Code
    came: Amount
    pieces: Amount
    dust: Amount
    parts: Amount
    waste: Amount
    shelf: Amount
    shelf_how: str
    unweighed: int

    @property
    def unexplained_mg(self) -> int:
        """What came in and is found nowhere; below zero where more is found than came."""
        found = self.pieces.mg + self.dust.mg + self.parts.mg + self.waste.mg + self.shelf.mg
        return self.came.mg - found


@dataclass(frozen=True, slots=True)
class _Flow:
    """Something that left a board: what, when in the journal, and how much."""

    sort: str
    clock: int
    amount: Amount


def balance_boards(
    conn: sqlite3.Connection, *, where: str = "1", code: str = "", until: str = EVER
) -> tuple[BoardMass, ...]:
    """
    The balance of each board that was recorded by a day.

    Args:
        conn: Open connection.
        where: Condition on the table ``board``; never text from outside.
        code: Its parameter, if *where* has a question mark.
        until: Last day that counts, ISO 8601.
    """
    parameters = [code] if code else []
    boards = [
        board
        for board in select(conn, Board, f"FROM board WHERE {where} ORDER BY code", parameters)
        if is_by(board.recorded_at, until)
    ]
    stacks = read_stacks(conn, boards)
    flows = _read_flows(conn, stacks, until)
    gone = _gone(conn, until)
    again = _weighings(conn, until)
    return tuple(
        _balance(
            board,
            stacks[board.code],
            flows.get(board.code, []),
            again.get(board.code),
            board.code in gone,
        )
        for board in boards
    )


def read_stacks(conn: sqlite3.Connection, boards: Iterable[Board]) -> dict[str, Stack]:
    """What is known of the make-up of each board."""
    from salvage.knowledge.areal_mass import Stack

    copper = {
        board: (layers, moz / 1000)
        for board, layers, moz in conn.execute("SELECT board, layers, copper_moz FROM board_copper")
    }
    return {
        board.code: Stack(
            from_um(board.thickness_um) if board.thickness_um else None,
            *copper.get(board.code, (None, 1.0)),
        )
        for board in boards
    }


def _balance(
    board: Board,
    stack: Stack,
    flows: list[_Flow],
    again: BoardWeighing | None,
    is_gone: bool,
) -> BoardMass:
    sums = {
        sort: total(flow.amount for flow in flows if flow.sort == sort)
        for sort in ("piece", "dust", "part", "waste")
    }
    came = _came(board, stack, sums["part"])
    out = total(sums.values())
    if is_gone:
        shelf, how = NOTHING, "gone"
    elif again:
        later = total(flow.amount for flow in flows if flow.clock > again.clock)
        shelf, how = _less(weighed(again.weight_mg), later), "weighed"
    else:
        shelf, how = _less(came, out), "by difference"
    unweighed = sum(1 for flow in flows if flow.sort != "dust" and flow.amount.mg == 0)
    return BoardMass(
        board.code,
        board.drop_off,
        came,
        sums["piece"],
        sums["dust"],
        sums["part"],
        sums["waste"],
        shelf,
        how,
        unweighed,
    )


def _came(board: Board, stack: Stack, parts: Amount) -> Amount:
    """The board as it came: on the scales, or bare by its area and with the parts taken off it."""
    from salvage.knowledge.areal_mass import areal_mass, find_mass_range

    if board.weight_mg:
        return weighed(board.weight_mg)
    bare = estimated(board.outline_um2 / 1e6, areal_mass(stack))
    full = max(bare.most_mg, round(bare.mg * find_mass_range("populated").most))
    least, most = bare.least_mg + parts.least_mg, max(full, bare.most_mg + parts.most_mg)
    return Amount(bare.mg + parts.mg, least, most, estimated=True)


def _less(whole: Amount, part: Amount) -> Amount:
    """What is left of *whole*; never below nothing."""
    return Amount(
        max(0, whole.mg - part.mg),
        max(0, whole.least_mg - part.most_mg),
        max(0, whole.most_mg - part.least_mg),
        whole.estimated or part.estimated,
    )


def _read_flows(
    conn: sqlite3.Connection, stacks: Mapping[str, Stack], until: str
) -> dict[str, list[_Flow]]:
    flows: dict[str, list[_Flow]] = {}
    # An article weighs in through its parts; the rest of it, such as hooks, never came as boards.
    query = "SELECT cut, weight_mg FROM piece WHERE weight_mg > 0 AND cut IS NOT NULL"
    weights = dict(conn.execute(query))
    for cut in select(conn, Cut, "FROM cut ORDER BY clock, code"):
        if cut.board in stacks and is_by(cut.at, until):
            mine = flows.setdefault(cut.board, [])
            mine += _cut_flows(cut, stacks[cut.board], weights.get(cut.code))
    for item in select(conn, WasteItem, "FROM waste_item ORDER BY clock, container, n"):
        if item.source in stacks and item.put_on <= until and item.matter != "dust":
            sort = "part" if item.matter == "part" else "waste"
            amount = recorded(item.weight_mg, item.weighed)
            flows.setdefault(item.source, []).append(_Flow(sort, item.clock, amount))
    for clock, sent in _sent_boards(conn, until):
        if sent.code in stacks:
            amount = recorded(sent.weight_mg, sent.weighed)
            flows.setdefault(sent.code, []).append(_Flow("waste", clock, amount))
    return flows


def _sent_boards(conn: sqlite3.Connection, until: str) -> list[tuple[int, ConsignmentItem]]:
    """Boards that went to a recycler whole, after everything else that left them."""
    return [
        (2**62, item)
        for item in select(conn, ConsignmentItem, "FROM consignment_item WHERE what = 'board'")
        if _sent_on(conn, item.consignment) <= until
    ]


def _sent_on(conn: sqlite3.Connection, consignment: Code) -> str:
    (day,) = conn.execute(
        "SELECT sent_on FROM consignment WHERE code = ?", (consignment,)
    ).fetchone()
    return str(day)


def _cut_flows(cut: Cut, stack: Stack, weight_mg: int | None) -> list[_Flow]:
    """Dust of a cut, and the piece; scrap stays with its board until it is put away."""
    from salvage.geometry.way import cutter_way_mm
    from salvage.knowledge.areal_mass import areal_mass

    region, kerf_mm, areal = region_of_text(cut.region), from_um(cut.kerf_um), areal_mass(stack)
    dust = estimated(cutter_way_mm(region, kerf_mm) * kerf_mm, areal)
    flows = [_Flow("dust", cut.clock, dust)]
    if cut.outcome == "piece":
        piece = weighed(weight_mg) if weight_mg else estimated(region.area_mm2, areal)
        flows.append(_Flow("piece", cut.clock, piece))
    return flows


def is_by(instant: str, until: str) -> bool:
    """Whether an instant of the journal lies on a day of the workshop's wall, or before."""
    return until == EVER or local_day(instant).isoformat() <= until


def _gone(conn: sqlite3.Connection, until: str) -> set[str]:
    """Boards that were retired or lost by a day."""
    rows = conn.execute(
        "SELECT event_item.code, max(event.at) FROM event"
        " JOIN event_item ON event_item.seq = event.seq"
        " JOIN board ON board.code = event_item.code AND board.retired <> ''"
        " WHERE event.kind = 'board.retired' GROUP BY event_item.code"
        " UNION ALL SELECT code, at FROM lost_thing"
    )
    return {str(code) for code, at in rows if is_by(at, until)}


def _weighings(conn: sqlite3.Connection, until: str) -> dict[str, BoardWeighing]:
    """The last weighing of each board that was weighed again."""
    rows = select(
        conn,
        BoardWeighing,
        "FROM board_weighing WHERE weighed_on <= ? ORDER BY clock, event_id",
        (until,),
    )
    return {row.board: row for row in rows}


def account_day(day: date | None) -> str:
    """The last day that counts, as text; all days where none is given."""
    return day.isoformat() if day else EVER
