"""``salvage sales report --plots``: a folder of pictures, all of them or none."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.desk import Desk, cut_piece

NAMES = {
    *("stock", "shapes", "time", "outings", "months"),
    *("boards", "remnants", "donors", "mass"),
}


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory) -> Desk:
    """A workshop where one piece was cut and sold."""
    found = Desk(tmp_path_factory.mktemp("pictures"))
    found.do(f"piece sell {cut_piece(found)} --price 20 --venue door")
    return found


def test_the_season_is_drawn_into_a_folder(desk: Desk) -> None:
    """Nine pictures; a second time they are replaced only with --force, to the same bytes."""
    told = desk.do("sales report --plots season --json").value
    folder = desk.folder / "season"
    before = {path.name: path.read_bytes() for path in folder.iterdir()}
    again = desk.run("sales report --plots season")
    desk.do("sales report --plots season --force")

    assert {Path(name).stem for name in told["plots"]} == NAMES
    assert set(told["plots"]) == set(before)
    assert again.code != 0
    assert "replace it with --force" in again.err
    assert {path.name: path.read_bytes() for path in folder.iterdir()} == before


def test_yields_are_told_in_the_terminal_and_in_json(desk: Desk) -> None:
    """Bars with their figures; donors as they may be called."""
    told = desk.do("sales report").out
    record = desk.do("sales report --json").value

    assert "remnants: what can still be cut" in told
    assert "20.00 EUR, a planetarium" in told
    assert "Kelpie" not in told
    assert [one["net_minor"] for one in record["boards"]] == [2000]
    assert record["remnants"] == [record["boards"][0]["board"]]
    assert record["plots"] == []


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("--plots out --form gif", "'gif'"),
        ("--form gif", "'gif'"),
        ("--plots shop/salvage.db", "is no folder"),
        ("--plots nowhere/out", "is not there"),
    ],
)
def test_bad_input_is_told_in_one_line_and_nothing_is_written(
    desk: Desk, typed: str, said: str
) -> None:
    """A wrong form or folder leaves no file behind."""
    (desk.folder / "shop" / "salvage.db").touch()
    told = desk.run(f"sales report {typed}")

    assert told.code != 0
    assert said in told.err
    assert "Traceback" not in told.err
    assert not (desk.folder / "out").exists()
