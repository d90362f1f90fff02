"""What the program says when it is called alone: always true to the workshop's state."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import pytest

from salvage.work.cards import print_cards
from salvage.work.copies import back_up
from salvage.work.next_step import LATER, NEXT, NOW, WINDOW
from salvage.work.outings import NewOuting, plan_outing
from salvage.work.pieces import set_price, set_stage
from salvage.work.receive import add_data_parts
from salvage.work.record import NewBoard, record_boards
from salvage.work.setup import change_settings
from salvage.work.waste import NewContainer, open_container
from salvage.work.what_next import next_command, what_next
from salvage.work.workshop import Workshop
from tests.bench import (
    START,
    SteppingClock,
    add_board,
    add_cleared_board,
    add_drop_off,
    clear,
    cut_circle,
)
from tests.work.crowd import add_crowd


def told(shop: Workshop) -> dict[str, str]:
    """What is told, in order, with the command of each."""
    return {step.topic: step.command for step in what_next(shop).steps}


def test_the_job_is_told_from_its_end_to_its_beginning(empty_shop: Workshop) -> None:
    """At each step of the first day the first thing told is the one that leads to a card."""
    shop, seen = empty_shop, []

    def look() -> str:
        first = what_next(shop).steps[0]
        seen.append((first.topic, first.urgency))
        return next_command(shop)

    assert look() == "dropoff add"
    drop_off = add_drop_off(shop)
    assert look() == f"dropoff search {drop_off} FOUND"
    add_data_parts(shop, drop_off=drop_off, data_parts=(("none found", 0),))
    assert look() == f"board add {drop_off} --type TYPE --size WxH"
    (bare,) = record_boards(shop, new=NewBoard(drop_off, "sound-card"))
    assert look() == f"board clear {bare.code} --walk"
    clear(shop, bare.code)
    assert look() == f"board outline {bare.code} --size WxH"
    board = add_board(shop, drop_off=drop_off).code
    assert look() == f"board clear {board} --walk"
    clear(shop, board)
    assert look() == f"fits circle --width 30 --board {board}"
    piece = cut_circle(shop, board, 40, 40).piece
    assert piece is not None
    assert look() == f"card {piece.code}"
    print_cards(shop, pieces=[piece.code])
    set_stage(shop, pieces=[piece.code], stage="ready")
    assert look() == f"piece price {piece.code} AMOUNT"
    set_price(shop, pieces=[piece.code], price_minor=2400)
    assert look() == f"board outline {bare.code} --size WxH"

    assert {urgency for _, urgency in seen} == {NEXT}


def test_what_presses_comes_first_and_what_can_wait_last(empty_shop: Workshop) -> None:
    """Waste that must leave stands before the job, the missing name after it."""
    shop = empty_shop
    add_cleared_board(shop)
    long_ago = START.date() - timedelta(days=400)
    container = open_container(shop, new=NewContainer("lithium-batteries", opened_on=long_ago))
    steps = what_next(shop).steps
    order = [step.urgency for step in steps]

    assert (steps[0].topic, steps[0].urgency) == ("waste", NOW)
    assert steps[0].command == f"waste show {container.container.code}"
    assert steps[0].words.endswith(f"had to leave by {long_ago + timedelta(days=365)}")
    assert order == sorted(order, key=(NOW, NEXT, LATER).index)
    assert [step.topic for step in steps if step.urgency == LATER] == ["label", "setup"]


@pytest.mark.parametrize(
    ("days", "urgency", "says", "command"),
    [
        (4, "", "", ""),
        (3, NEXT, "Lantern Fair begins in 3 days, 0 pieces packed", "pack"),
        (0, NOW, "Lantern Fair begins today, 0 pieces packed", "open"),
    ],
)
def test_a_fair_is_told_when_it_is_near(
    empty_shop: Workshop, days: int, urgency: str, says: str, command: str
) -> None:
    """Three days are enough to pack; today the stall is opened."""
    new = NewOuting("Lantern Fair", empty_shop.today + timedelta(days=days))
    outing = plan_outing(empty_shop, new=new).outing.code
    found = [
        (step.urgency, step.words, step.command)
        for step in what_next(empty_shop).steps
        if step.topic == "outing"
    ]

    assert found == ([(urgency, says, f"outing {command} {outing}")] if urgency else [])


def test_a_copy_is_asked_for_when_there_is_something_to_lose(
    empty_shop: Workshop, tmp_path: Path
) -> None:
    """Not on the first morning; then until one is made; and again when it has grown old."""
    shop = empty_shop
    add_drop_off(shop)
    early = told(shop)
    for _ in range(6):
        add_cleared_board(shop)
    missing = told(shop)
    back_up(shop, folder=tmp_path / "my stick")
    fresh = told(shop)
    add_drop_off(shop)
    clock = shop.clock
    assert isinstance(clock, SteppingClock)
    clock.now += timedelta(days=15)
    old = told(shop)

    assert "copy" not in early
    assert missing["copy"] == "backup FOLDER"
    assert "copy" not in fresh
    assert old["copy"] == f"backup '{tmp_path / 'my stick'}'"


def test_a_workshop_where_nothing_waits_says_so(empty_shop: Workshop) -> None:
    """Everything is searched, recorded, labelled and named: there is no step at all."""
    change_settings(empty_shop, typed={"name": "Tidewrack"})
    drop_off = add_drop_off(empty_shop)
    add_data_parts(empty_shop, drop_off=drop_off, data_parts=(("none found", 0),))
    empty_shop.conn.execute("UPDATE drop_off SET board_count = 1")
    board = add_board(empty_shop, drop_off=drop_off).code
    clear(empty_shop, board)
    cut_circle(empty_shop, board, 40, 40)
    empty_shop.conn.execute("UPDATE piece SET cards_printed = 1")
    empty_shop.conn.execute("UPDATE board SET label_printed = 1")
    found = what_next(empty_shop)

    assert (found.workshop, found.steps) == ("Tidewrack", ())
    assert next_command(empty_shop) == "dropoff add"


def steps_of_sqlite(shop: Workshop) -> int:
    """How many instructions SQLite needs to answer."""
    count = 0

    def tick() -> int:
        nonlocal count
        count += 1
        return 0

    shop.conn.set_progress_handler(tick, 100)
    what_next(shop)
    shop.conn.set_progress_handler(None, 0)
    return count


def test_a_large_record_is_not_read_whole(empty_shop: Workshop) -> None:
    """With ten times the pieces of the window the answer takes no more than with two windows."""
    add_cleared_board(empty_shop)
    (donor,) = empty_shop.conn.execute("SELECT code FROM donor").fetchone()
    empty_shop.conn.execute("PRAGMA synchronous = OFF")
    add_crowd(empty_shop, donor=donor, boards=2 * WINDOW, pieces_each=1)
    small = steps_of_sqlite(empty_shop)
    add_more(empty_shop, times=5)
    large = steps_of_sqlite(empty_shop)

    assert empty_shop.conn.execute("SELECT count(*) FROM piece").fetchone() == (10 * WINDOW,)
    assert large < 1.02 * small


def add_more(shop: Workshop, *, times: int) -> None:
    """Every board, cut and piece so many times, under codes that nobody reads."""
    for table, own in (("board", ("code",)), ("cut", ("code",)), ("piece", ("code", "cut"))):
        names = [name for _, name, *_ in shop.conn.execute(f"PRAGMA table_info({table})")]
        fresh = ", ".join(f"{name} || '-' || n" if name in own else name for name in names)
        shop.conn.execute(
            f"INSERT INTO {table} WITH RECURSIVE copy (n) AS"
            f" (SELECT 1 UNION ALL SELECT n + 1 FROM copy WHERE n < {times - 1})"
            f" SELECT {fresh} FROM {table}, copy"
        )
