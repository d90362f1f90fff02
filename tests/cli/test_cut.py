"""Cuts, reservations and shapes on the command line."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.desk import Desk, add_board, add_cleared_board

TERN = Path(__file__).resolve().parents[2] / "demo_db" / "shapes" / "tern.svg"


def test_a_cut_tells_piece_place_and_what_is_left(tmp_path: Path) -> None:
    """The maker reads the piece's code, where it was cut, and the area before and after."""
    desk = Desk(tmp_path)
    code = add_cleared_board(desk)
    told = desk.do(f"cut {code} --shape circle --width 30 --at 60,40 --angle 30")
    piece = told.out.split()[0]

    assert f"circle at 60 mm, 40 mm, turned 30°, front: piece {piece} from {code}" in told.out
    assert "router, kerf 2 mm" in told.out
    assert "usable 9 569 mm² -> " in told.out
    assert told.err == f"next: salvage card {piece}\n"


def test_a_dry_run_shows_the_spot_and_writes_nothing(tmp_path: Path) -> None:
    """Before the bit goes down, the map shows where it would go."""
    desk = Desk(tmp_path)
    code = add_cleared_board(desk)
    told = desk.do(f"cut {code} --shape circle --width 30 --at 60,40 --dry-run")

    assert "@@@@" in told.out
    assert "@ this piece" in told.out
    assert "nothing was recorded" in told.err
    assert desk.do("piece list --json").value == []


def test_a_held_board_is_not_cut_without_a_reason(tmp_path: Path) -> None:
    """The refusal names what holds the board; an override stays on the record."""
    desk = Desk(tmp_path)
    code = add_board(desk)
    refused = desk.run(f"cut {code} --shape circle --width 30 --at 60,40")
    told = desk.do(f"cut {code} --shape circle --width 30 --at 60,40 --override 'test cut'")

    assert refused.code == 1
    assert f"{code} may not be cut" in refused.err
    assert f"salvage board clear {code}" in refused.err
    assert "cut although held: test cut" in told.out


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("--shape circle --width 30 --at 2,2", "reaches over the edge by 13 mm"),
        ("--shape circle --width 0 --at 60,40", "--width"),
        ("--shape circle --at 60,40", "needs a width"),
        ("--shape circel --width 9 --at 60,40", "circle"),
        ("--shape circle --width 30 --at 60", "--at"),
        ("--shape circle --width 30 --at 60,40 --tool axe", "--tool"),
        ("--shape circle --width 30 --at 60,40 --kerf -1", "--kerf"),
        ("--shape circle --width 30 --at 60,40 --scrap", "--reason"),
    ],
)
def test_what_does_not_fit_is_refused(tmp_path: Path, line: str, words: str) -> None:
    """Over the edge, of no size, of no shape: each is refused in a line that names it."""
    desk = Desk(tmp_path)
    told = desk.run(f"cut {add_cleared_board(desk)} {line}")

    assert told.code == 1
    assert words in told.err
    assert desk.do("piece list --json").value == []


@pytest.mark.parametrize(
    "line",
    [
        "",
        "--shape circle --width 30",
        "--at 60,40",
        "--shape circle --svg x.svg --at 60,40",
        "--svg x.svg --width 3 --at 60,40",
    ],
)
def test_a_cut_without_shape_or_place_is_misuse(tmp_path: Path, line: str) -> None:
    """What is missing is named."""
    desk = Desk(tmp_path)
    told = desk.run(f"cut {add_cleared_board(desk)} {line}")

    assert told.code == 2
    assert "--shape" in told.err or "--at" in told.err or "--width" in told.err


@pytest.mark.parametrize(
    ("more", "kerf_mm"),
    [("", 1.5), ("--tool shears", 0.0), ("--tool saw", 0.3), ("--tool saw --kerf 0.4", 0.4)],
)
def test_the_kerf_follows_the_tool(tmp_path: Path, more: str, kerf_mm: float) -> None:
    """
    Router: the workshop's setting; shears remove nothing; the saw as the table of kerfs says.

    Jeweller's saw 0.3 mm: common practice, no source.
    """
    desk = Desk(tmp_path)
    code = add_cleared_board(desk)
    desk.do("setup kerf-mm=1.5")
    made = desk.do(f"cut {code} --shape circle --width 30 --at 60,40 {more} --json").value

    assert made["cut"]["kerf_mm"] == kerf_mm


def test_a_reservation_is_cut_as_it_stands(tmp_path: Path) -> None:
    """What was held for an order becomes its piece; the place is told by nobody again."""
    desk = Desk(tmp_path)
    code = add_cleared_board(desk)
    held = desk.do(f"reserve {code} --shape circle --width 30 --at 60,40 --for 'order 12'")
    reservation = held.out.split()[0]
    taken = desk.run(f"cut {code} --shape circle --width 30 --at 60,40")
    twice = desk.run(f"cut {code} --reservation {reservation} --shape circle --at 1,1")
    made = desk.do(f"cut {code} --reservation {reservation} --json").value

    assert f"next: salvage cut {code} --reservation {reservation}" in held.err
    assert (taken.code, reservation in taken.err) == (1, True)
    assert twice.code == 2
    assert made["cut"]["reservation"] == reservation
    assert desk.run(f"release {reservation}").code == 1


def test_a_released_place_is_free_again(tmp_path: Path) -> None:
    """An order that is withdrawn gives its place back."""
    desk = Desk(tmp_path)
    code = add_cleared_board(desk)
    held = desk.code(f"reserve {code} --shape circle --width 30 --at 60,40 --for 'order 12'")
    told = desk.do(f"release {held} --reason withdrawn")

    assert f"the place on {code} is free" in told.out
    desk.do(f"cut {code} --shape circle --width 30 --at 60,40")


def test_scrap_has_no_piece(tmp_path: Path) -> None:
    """A cracked cut is on the record, and nobody sells it."""
    desk = Desk(tmp_path)
    code = add_cleared_board(desk)
    made = desk.do(f"cut {code} --shape circle --width 30 --at 60,40 --scrap --reason cracked")

    assert "scrap (cracked)" in made.out
    assert made.out.startswith("K")
    assert desk.do("piece list --json").value == []


def test_shapes_are_kept_and_listed(tmp_path: Path) -> None:
    """The library holds own drawings and the plain shapes."""
    desk = Desk(tmp_path)
    told = desk.do(f"shape add Tern {TERN}")
    listed = desk.do("shape list --json").value
    code = add_cleared_board(desk)

    assert told.out.startswith("tern  61.94 mm x 46.23 mm")
    assert [shape["built_in"] for shape in listed].count(False) == 1
    assert "half-moon" in desk.do("shape list").out
    desk.do(f"cut {code} --shape TERN --at 40,40 --dry-run")
    desk.do(f"cut {code} --svg {TERN} --at 40,40 --tool shears --angle 90 --dry-run")


def test_a_shape_that_is_replaced_is_told(tmp_path: Path) -> None:
    """A drawing under a known name takes its place, so the screen tells both sizes."""
    desk = Desk(tmp_path)
    for name, size in (("old.svg", "30mm"), ("new.svg", "40mm")):
        (tmp_path / name).write_text(
            f'<svg xmlns="http://www.w3.org/2000/svg" width="{size}" height="{size}"'
            ' viewBox="0 0 10 10"><path d="M0 0H10V10H0Z"/></svg>'
        )
    first = desk.do("shape add kite old.svg")
    second = desk.do("shape add Kite new.svg --dry-run")
    record = desk.do("shape add Kite new.svg --json").value

    assert "replaces" not in first.out
    assert "40 mm x 40 mm, 1 600 mm², in the library" in second.out
    assert "replaces the one of 30 mm x 30 mm, 900 mm²" in second.out
    assert (record["width_mm"], record["replaces"]["width_mm"]) == (40.0, 30.0)


def test_a_shape_too_fine_for_the_bit_is_not_held_unless_told(tmp_path: Path) -> None:
    """The refusal names the place and the mend; --anyway goes on."""
    desk = Desk(tmp_path)
    code = add_cleared_board(desk)
    desk.do(f"shape add tern {TERN}")
    desk.do("setup tool-mm=4")
    line = f"reserve {code} --shape tern --at 60,40 --for 'order 12'"
    refused = desk.run(line)
    told = desk.do(f"{line} --anyway")

    assert refused.code == 1
    assert "a 4 mm bit cannot cut 'tern' as drawn" in refused.err
    assert "wide" in refused.err
    assert "--anyway" in refused.err
    assert "held on" in told.out


def test_cutting_a_shape_too_fine_for_the_bit_warns(tmp_path: Path) -> None:
    """It is cut all the same, since it may lie on the bench already; shears have no bit."""
    desk = Desk(tmp_path)
    code = add_cleared_board(desk)
    desk.do(f"shape add tern {TERN}")
    desk.do("setup tool-mm=4")
    sheared = desk.do(f"cut {code} --shape tern --at 60,40 --tool shears --dry-run")
    told = desk.do(f"cut {code} --shape tern --at 60,40")

    assert "bit cannot" not in sheared.err
    assert "a 4 mm bit cannot cut 'tern' as drawn" in " ".join(told.err.split())
