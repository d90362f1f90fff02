"""
The computer's clock is set back by a day or a year, and the record stays in order.

Batteries of clocks run empty and networks are not at fairs: what was recorded stays first, what is
typed is taken, and the user is told once.
"""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import pytest

from salvage.store.keeper import Computer
from salvage.work.setup import change_settings
from salvage.work.workshop import open_workshop
from tests.bench import START, SteppingClock
from tests.desk import Desk, cut_piece


@pytest.fixture(params=[1, 365])
def desk(request: pytest.FixtureRequest, tmp_path: Path) -> Desk:
    """A piece was cut, and then the clock went back by so many days."""
    computer = Computer(tmp_path / "state", "laptop", lambda: "")
    found = Desk(tmp_path, computer=computer)
    cut_piece(found)
    found.clock = SteppingClock(START - timedelta(days=request.param))
    return found


def test_the_order_of_the_record_stays_right(desk: Desk) -> None:
    """What is done after is after, in journal, history and tables; every check holds."""
    piece = desk.do("piece list --plain").first
    for stage in ("sanded", "sealed"):
        desk.do(f"piece stage {piece} {stage}")
    told = [event["kind"] for event in desk.do(f"history {piece} --json").value]
    desk.do("undo --why mistaken --yes")
    shown = desk.do(f"piece show {piece} --json").value

    assert told[-2:] == ["piece.staged", "piece.staged"]
    assert shown["stage"] == "sanded"
    assert desk.run("check").code == 0
    desk.do("rebuild")
    assert desk.do(f"piece show {piece} --json").value["stage"] == "sanded"


def test_the_clock_is_told_once(desk: Desk) -> None:
    """The first change says what the clock says and that the order is right; no more after."""
    looked = desk.do("piece list")
    first = desk.do("setup place='Skerry Bay'")
    second = desk.do("setup place='Harbour Lane'")

    assert "the clock says" not in looked.err
    assert first.err.count("the clock says") == 1
    assert "set the clock" in first.err
    assert "the clock says" not in second.err


def test_the_true_day_may_be_typed(desk: Desk) -> None:
    """A day that the record has seen is not in the future, whatever the clock says now."""
    piece = desk.do("piece list --plain").first
    desk.do("setup place='Skerry Bay'")  # recorded by the wrong clock; the newest day counts
    day = START.date()
    desk.do(f"dropoff add --donor Observatory --contents boards --date {day} --data none")
    desk.do(f"piece stage {piece} ready")
    early = desk.run(f"piece sell {piece} --price 20")
    sold = desk.run(f"piece sell {piece} --price 20 --date {day}")
    later = desk.run(f"dropoff add --donor X --contents boards --date {day + timedelta(days=1)}")

    assert early.code == 1
    assert f"{piece} was made on {day}" in early.err
    assert "future" not in sold.err
    assert "is in the future" in later.err


def test_the_clock_goes_back_within_one_opening(tmp_path: Path) -> None:
    """A workshop that stays open, as the page does, numbers on while the clock jumps."""
    clock = SteppingClock()
    desk = Desk(tmp_path, clock=clock)
    cut_piece(desk)
    with open_workshop(desk.shop, clock=clock, by="Maren") as shop:
        for days in (1, 365, -400):
            clock.now -= timedelta(days=days)
            change_settings(shop, typed={"place": f"{days} days back"})
        rows = shop.conn.execute("SELECT n, clock FROM event ORDER BY seq").fetchall()
        place = shop.settings.place

    assert rows == sorted(rows)
    assert place == "-400 days back"
    assert desk.run("check").code == 0
