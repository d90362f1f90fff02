"""The job itself, from its end to its beginning: what is begun is finished before more is begun."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from salvage.ids import Code
from salvage.work.next_step import LATER, NEXT, WINDOW, Look, NextStep, counted, few, newest

_BOARDS = newest("board", "code, drop_off, clearance, recalled, retired, outline, usable_um2, type")
_PIECES = newest("piece", "code, stage, recalled, price_minor, cards_printed")
_DROP_OFFS = newest("drop_off", "code, board_count")

FIRST_SHAPE, FIRST_WIDTH_MM = "circle", 30
"""What a first cut is shown with: built in, and it fits on most boards."""


def no_card_yet(look: Look) -> Iterator[NextStep]:
    """Pieces that are there to be sold and never had a story card."""
    found = look.codes(
        f"SELECT code FROM {_PIECES} WHERE cards_printed = 0 AND recalled = 0"
        " AND stage NOT IN ('sold', 'withdrawn', 'assembled')"
    )
    if found:
        words = (
            f"{found[0]} has no story card"
            if len(found) == 1
            else f"{len(found)} pieces have no story card"
        )
        yield NextStep("card", NEXT, words, f"card {' '.join(few(found))}", few(found), len(found))


def no_price_yet(look: Look) -> Iterator[NextStep]:
    """Pieces that are ready and have no price: the till would refuse them."""
    found = look.codes(
        f"SELECT code FROM {_PIECES} WHERE stage = 'ready' AND recalled = 0 AND price_minor IS NULL"
    )
    if found:
        words = f"{counted(len(found), 'piece')} ready without a price"
        yield NextStep(
            "price", NEXT, words, f"piece price {found[0]} AMOUNT", few(found), len(found)
        )


def first_cut(look: Look) -> Iterator[NextStep]:
    """The first cut of all, where a board waits for it."""
    if look.conn.execute("SELECT 1 FROM cut LIMIT 1").fetchone():
        return
    found = look.codes(
        f"SELECT code FROM {_BOARDS} WHERE clearance = 'cleared' AND recalled = 0 AND retired = ''"
        " AND outline IS NOT NULL AND usable_um2 > 0 ORDER BY usable_um2 DESC"
    )
    if found:
        board = found[0]
        yield NextStep(
            "cut",
            NEXT,
            f"{board} may be cut; see where a first piece fits",
            f"fits {FIRST_SHAPE} --width {FIRST_WIDTH_MM} --board {board}",
            few(found),
            len(found),
        )


def held_boards(look: Look) -> Iterator[NextStep]:
    """Boards that nobody has looked over for what can hurt."""
    found = look.codes(
        f"SELECT code FROM {_BOARDS} WHERE clearance = 'held' AND recalled = 0 AND retired = ''"
    )
    if found:
        words = (
            f"{found[0]} is held until somebody has looked it over for hazards"
            if len(found) == 1
            else f"{len(found)} boards are held until somebody has looked them over for hazards"
        )
        yield NextStep(
            "clear", NEXT, words, f"board clear {found[0]} --walk", few(found), len(found)
        )


def unmeasured_boards(look: Look) -> Iterator[NextStep]:
    """Boards without an outline: nothing can be placed on them."""
    found = look.codes(
        f"SELECT code FROM {_BOARDS} WHERE outline IS NULL AND recalled = 0 AND retired = ''"
    )
    if found:
        words = f"{counted(len(found), 'board')} not measured; by ruler, or from a photo on a mat"
        yield NextStep(
            "measure", NEXT, words, f"board outline {found[0]} --size WxH", few(found), len(found)
        )


def unsearched_drop_offs(look: Look) -> Iterator[NextStep]:
    """Drop-offs in which nobody has looked for disks and cards that hold somebody's data."""
    found = look.codes(
        f"SELECT code FROM {_DROP_OFFS} AS d WHERE NOT EXISTS"
        " (SELECT 1 FROM data_part WHERE data_part.drop_off = d.code) AND NOT EXISTS"
        " (SELECT 1 FROM drop_off_closed WHERE drop_off_closed.drop_off = d.code)"
    )
    if found:
        what = found[0] if len(found) == 1 else counted(len(found), "drop-off")
        words = f"nobody has looked through {what} for parts that hold data"
        yield NextStep(
            "data", NEXT, words, f"dropoff search {found[0]} FOUND", few(found), len(found)
        )


def boards_to_record(look: Look) -> Iterator[NextStep]:
    """Drop-offs of which fewer boards are on record than were counted, or none at all."""
    rows = look.conn.execute(
        "SELECT code, board_count, (SELECT count(*) FROM (SELECT 1 FROM board WHERE drop_off ="
        f" d.code LIMIT {WINDOW})) AS there FROM {_DROP_OFFS} AS d"
        f" WHERE there < min(coalesce(board_count, 1), {WINDOW}) AND NOT EXISTS"
        " (SELECT 1 FROM drop_off_closed WHERE drop_off_closed.drop_off = d.code)"
    ).fetchall()
    if rows:
        code, wanted, there = rows[0]
        told = f"{there} of {wanted} boards" if wanted else "no board"
        more = f", and of {counted(len(rows) - 1, 'other drop-off')}" if len(rows) > 1 else ""
        yield NextStep(
            "board",
            NEXT,
            f"{told} of {code}{more} on record",
            f"board add {code} --type TYPE --size WxH",
            few([Code(one) for one, *_ in rows]),
            len(rows),
        )


def first_drop_off(look: Look) -> Iterator[NextStep]:
    """An empty workshop begins with what somebody brought."""
    if not look.conn.execute("SELECT 1 FROM drop_off LIMIT 1").fetchone():
        yield NextStep("drop-off", NEXT, "nothing came in yet; log the first box", "dropoff add")


def inbox(look: Look) -> Iterator[NextStep]:
    """Photos that wait until somebody says what they show."""
    (count,) = look.conn.execute("SELECT count(*) FROM inbox").fetchone()
    if count:
        words = f"{counted(count, 'photo')} in the inbox: say what they show"
        yield NextStep("inbox", LATER, words, "inbox", (), count)


def no_label_yet(look: Look) -> Iterator[NextStep]:
    """Boards on the shelf that nobody can scan."""
    boards = newest("board", "code, retired, label_printed")
    found = look.codes(f"SELECT code FROM {boards} WHERE label_printed = 0 AND retired = ''")
    if found:
        words = f"{counted(len(found), 'board')} without a label"
        yield NextStep("label", LATER, words, "label --new", few(found), len(found))


def no_name_yet(look: Look) -> Iterator[NextStep]:
    """Cards and receipts bear the workshop's name."""
    if not look.conn.execute("SELECT 1 FROM setting WHERE name = 'name'").fetchone():
        words = "the workshop has no name yet; cards and receipts bear it"
        yield NextStep("setup", LATER, words, "setup")


JOB: tuple[Callable[[Look], Iterator[NextStep]], ...] = (
    no_card_yet,
    no_price_yet,
    first_cut,
    held_boards,
    unmeasured_boards,
    unsearched_drop_offs,
    boards_to_record,
    first_drop_off,
)
"""The rules of the job, in the order in which they are told."""

UPKEEP: tuple[Callable[[Look], Iterator[NextStep]], ...] = (inbox, no_label_yet, no_name_yet)
"""What can wait for the evening."""
