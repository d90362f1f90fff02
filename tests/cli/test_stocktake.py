"""A stock-take from the command line: scanned along, photographed, shown, settled."""

from __future__ import annotations

from pathlib import Path

from tests.desk import Desk, add_board, cut_piece
from tests.work.test_inbox import photo_of


def test_scanning_along_and_settling_by_flags(tmp_path: Path) -> None:
    """The shelf's label, then what lies there; another run goes on; junk is passed over."""
    desk = Desk(tmp_path)
    board, piece = add_board(desk), cut_piece(desk)
    shelf = desk.code("place add 'shelf 7'")
    take = desk.code("stocktake start")
    told = desk.run("stocktake scan", typed=f"{shelf}\r\n{board}\njunk\n{take}\n")
    desk.do(f"stocktake scan {piece}")

    assert told.code == 1
    assert f"{board}  seen at shelf 7, recorded at no place" in told.out
    assert "REFUSED" in told.err
    assert "now at shelf 7" in told.err
    view = desk.do("stocktake show --json").value
    assert [one["kind"] for one in view["differences"]] == ["missing", "elsewhere"]
    desk.do("stocktake settle --lost all --moved all --close")
    assert desk.do(f"board show {board} --json").value["place"] == "shelf 7"
    assert len(desk.do("stocktake lost --json").value) == 1
    assert desk.run("stocktake show").code == 1


def test_a_photo_of_a_shelf(tmp_path: Path) -> None:
    """All labels of a photo at once, the place's own label among them."""
    desk = Desk(tmp_path)
    board, other = add_board(desk), add_board(desk)
    shelf = desk.code("place add 'shelf 7'")
    desk.do("stocktake start --things boards")
    (tmp_path / "shelf.jpg").write_bytes(photo_of(shelf, board, other))
    told = desk.do("stocktake photo shelf.jpg")
    view = desk.do("stocktake show --json").value

    assert "shelf.jpg: 2 labels" in told.err
    assert {one["seen_at"] for one in view["differences"]} == {"shelf 7"}


def test_settling_says_what_is_missing_where_nobody_can_be_asked(tmp_path: Path) -> None:
    """Without flags and without a terminal nothing is settled; a wrong code is refused."""
    desk = Desk(tmp_path)
    board = add_board(desk)
    desk.do("stocktake start")
    desk.do(f"stocktake scan {board}")

    assert desk.run("stocktake settle").code == 2
    assert "cannot be settled as lost" in desk.run(f"stocktake settle --lost {board}").err


def test_settling_by_asking_one_by_one(tmp_path: Path) -> None:
    """A return alone leaves a difference; a yes settles it."""
    desk = Desk(tmp_path)
    board, other = add_board(desk), add_board(desk)
    desk.do("stocktake start")
    asking = Desk(tmp_path, terminal=True)
    asking.entropy = desk.entropy
    told = asking.do("stocktake settle", typed="\ny\n")

    assert f"{other}  is lost" in told.out
    assert f"{board}  is lost" not in told.out


def test_a_lost_board_is_a_no_go_until_it_is_found(tmp_path: Path) -> None:
    """The screen before the cut says so, with the mend."""
    desk = Desk(tmp_path)
    board = add_board(desk)
    desk.do("stocktake start")
    desk.do("stocktake settle --lost all --close")
    told = desk.run(f"scan {board}")

    assert f"salvage stocktake found {board}" in told.out
    desk.do(f"stocktake found {board}")
    assert "not found" not in desk.run(f"scan {board}").out
