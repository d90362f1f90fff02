"""``salvage`` alone: what to do next, set well, quick, and the same for programs."""

from __future__ import annotations

import re
from datetime import timedelta
from pathlib import Path

import pytest

from salvage.work.workshop import open_workshop
from tests.bench import SteppingClock
from tests.desk import Desk, add_board, add_cleared_board, cut_piece


@pytest.mark.parametrize("line", ["", "next"])
def test_where_no_workshop_is_it_says_how_to_begin(tmp_path: Path, line: str) -> None:
    """Nothing is made by looking."""
    desk = Desk(tmp_path)
    told = desk.do(line)

    assert "no workshop is here yet; begin one\n         salvage setup" in told.out.replace(
        "        salvage setup", "         salvage setup"
    )
    assert "salvage demo" in told.err
    assert not desk.shop.exists()
    assert desk.do(f"{line} --json").value == {
        "workshop": None,
        "folder": str(desk.shop),
        "steps": [
            {
                "topic": "workshop",
                "urgency": "next",
                "words": "no workshop is here yet; begin one",
                "count": 1,
                "codes": [],
                "command": "salvage setup",
            }
        ],
    }


def test_it_tells_each_step_with_its_command(tmp_path: Path) -> None:
    """A held board: the first line says so, and below it is what to type."""
    desk = Desk(tmp_path)
    board = add_board(desk)
    lines = desk.do("").out.splitlines()
    plain = desk.do("next --plain").out.splitlines()

    assert lines[0] == "Our workshop"
    assert lines[2] == f"  next   {board} is held until somebody has looked it over for hazards"
    assert lines[3] == f"         salvage board clear {board} --walk"
    assert plain[0].split("\t") == [
        "next",
        "clear",
        "1",
        f"salvage board clear {board} --walk",
        f"{board} is held until somebody has looked it over for hazards",
    ]
    assert all(line.count("\t") == 4 for line in plain)


def test_what_is_told_can_be_typed(tmp_path: Path) -> None:
    """Every command that stands there is read by the parser, the capitals filled in."""
    desk = Desk(tmp_path)
    piece = cut_piece(desk)
    add_cleared_board(desk)
    add_board(desk)
    desk.do(f"recall open {piece} --reason x")
    desk.do("waste open lithium-batteries --date 2024-01-01")
    desk.do("order take circle@20:1 --customer Ada --due 2026-05-05")
    desk.do("outing plan Fair 2026-05-04")
    desk.do("tool add mask --kind mask --hours 1 --limit-from maker")
    desk.do("tool ran 3h mask")
    steps = desk.do("--json").value["steps"]
    told = {step["topic"] for step in steps}
    filled = {"AMOUNT": "9", "TYPE": "motherboard", "WxH": "9x9", "FOUND": "'none found'"}
    codes = []
    for step in steps:
        line = step["command"].removeprefix("salvage ")
        for word, value in filled.items():
            line = line.replace(word, value)
        line = line.replace("FOLDER", str(tmp_path / "stick"))
        line = line.replace("--walk", "--absent all-open --how lamp")  # there it asks
        done = desk.run(line)
        codes.append((line, done.code, done.err))

    assert {"recall", "waste", "tool", "outing", "order-due", "clear", "board"} <= told
    assert [line for line in codes if line[1] not in (0, 1)] == []


def test_only_the_first_few_are_shown(tmp_path: Path) -> None:
    """What does not fit on the screen is counted, and told with --all."""
    desk = Desk(tmp_path)
    cut_piece(desk)
    add_board(desk)
    for _ in range(3):
        desk.do("waste open lithium-batteries --date 2024-01-01")
    desk.do("outing plan Fair 2026-05-04")
    short, every = desk.do("next"), desk.do("next --all")
    count = len(desk.do("next --json").value["steps"])

    assert count > 6
    assert short.out.count("salvage ") == 6
    assert f"and {count - 6} more: salvage next --all" in short.err
    assert every.out.count("salvage ") == count


def test_another_folder_is_named_in_each_command(tmp_path: Path) -> None:
    """What was asked of another workshop is told for that workshop."""
    desk = Desk(tmp_path)
    other = tmp_path / "other"
    desk.do(f"--shop {other} dropoff add --donor Ada --contents boards")
    told = desk.do(f"--shop {other}")

    assert re.findall(r"salvage .*", told.out) == [
        line for line in re.findall(r"salvage .*", told.out) if line.endswith(f"--shop {other}")
    ]
    assert f"--shop {other}" in told.out


def test_it_fits_a_narrow_terminal(tmp_path: Path) -> None:
    """On forty columns nothing but a command runs over the edge."""
    desk = Desk(tmp_path, terminal=True, width=40, environment={"NO_COLOR": "1"})
    desk.do("dropoff add --donor Ada --contents boards --boards 14")
    lines = desk.do("").out.splitlines()

    assert [line for line in lines if len(line) > 40 and "salvage " not in line] == []


def test_what_time_has_passed_over_is_told(tmp_path: Path) -> None:
    """A late order, a plan past its day, a request without a quote, a stall that is over."""
    desk = Desk(tmp_path)
    add_cleared_board(desk)
    late = desk.code("order take circle@20:1 --customer Ada --due 2026-05-06")
    plan = desk.code("plan order circle@15:1 --for shelf --days 1 --seconds 0")
    outing = desk.code("outing plan Fair 2026-05-04")
    desk.do(f"outing open {outing}")
    open_now = desk.do("--json").value["steps"]
    clock = desk.clock
    assert isinstance(clock, SteppingClock)
    clock.now += timedelta(days=4)
    steps = {step["topic"]: step for step in desk.do("--json").value["steps"]}

    assert "the stall at Fair is open" in [step["words"] for step in open_now]
    assert steps["order-late"]["words"] == f"order {late} is late"
    assert steps["plan"]["command"] == f"salvage plan show {plan}"
    assert steps["order-asked"]["command"] == f"salvage order quote {late}"
    assert steps["outing"]["command"] == f"salvage outing home {outing}"


def test_what_a_person_must_settle_is_told(tmp_path: Path) -> None:
    """A clash that was left out, a piece sold twice, and a photo that nobody has filed."""
    desk = Desk(tmp_path)
    piece = cut_piece(desk)
    desk.do(f"piece sell {piece} --price 9")
    with open_workshop(desk.shop) as shop:
        shop.conn.execute("INSERT INTO clash VALUES ('0197-abcdef', 'it was cut before')")
        shop.conn.execute(
            "INSERT INTO sale SELECT piece, 2, 900, 'EUR', '', sold_on, '', '' FROM sale"
        )
        shop.conn.execute("PRAGMA foreign_keys = OFF")
        shop.conn.execute("INSERT INTO inbox VALUES (?, 'a.jpg', 'no code', '', '')", ("0" * 64,))
    steps = {step["topic"]: step for step in desk.do("--json").value["steps"]}

    assert steps["clash"]["count"] == 2
    assert steps["clash"]["words"] == "2 clashes between devices for a person to settle"
    assert steps["inbox"]["words"] == "1 photo in the inbox: say what they show"
