"""A remnant's photo against the record, on the command line."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.desk import Desk
from tests.work.test_after_cut import after_photo, corner_mm
from tests.work.test_back_side import ALIKE, PLAIN, front_photo


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    """A desk with photos of a board before and after, and of another board."""
    (tmp_path / "front.jpg").write_bytes(front_photo(PLAIN))
    (tmp_path / "after.jpg").write_bytes(after_photo(PLAIN))
    (tmp_path / "other.jpg").write_bytes(front_photo(ALIKE))
    return Desk(tmp_path)


def measured(desk: Desk) -> str:
    """The board, measured before its cut."""
    drop_off = desk.do("dropoff add --donor 'Tide Radio' --contents boards --plain").first
    line = f"board add {drop_off} --type network-board --thickness 1.6 --plain"
    board = desk.do(line).first
    desk.do(f"measure {board} front.jpg")
    return board


def test_differences_are_told_drawn_and_recorded(desk: Desk) -> None:
    """Exit code 1 and a list while they differ; once recorded, they agree with exit code 0."""
    board = measured(desk)
    told = desk.run(f"compare {board} after.jpg --picture diff.png")
    asked = desk.run(f"compare {board} after.jpg --record")
    record = desk.run(f"compare {board} after.jpg --json").value
    done = desk.do(f"compare {board} after.jpg --record --yes")
    again = desk.do(f"compare {board} after.jpg")
    width, height = corner_mm(PLAIN)

    assert told.code == 1
    assert "1  gone, but not on record" in told.out
    assert f"salvage compare {board} after.jpg --record" in told.out
    assert (desk.folder / "diff.png").stat().st_size > 5_000
    assert asked.code == 2
    assert "--yes" in asked.err
    assert record["agrees"] is False
    assert record["gone_mm2"] == pytest.approx(width * height, rel=0.08)
    assert record["differences"][0]["kind"] == "gone"
    assert "recorded: 1 keep-out" in done.out
    assert "photo and record agree" in again.out


def test_the_mend_names_the_photo_as_it_was_typed(desk: Desk) -> None:
    """A photo in a folder with a blank in its name: the command can be pasted as it stands."""
    board = measured(desk)
    (desk.folder / "from phone").mkdir()
    (desk.folder / "from phone" / "after.jpg").write_bytes(after_photo(PLAIN))
    told = desk.run(f"compare {board} 'from phone/after.jpg'")

    assert f"salvage compare {board} 'from phone/after.jpg' --record" in told.out


def test_another_board_is_refused(desk: Desk) -> None:
    """One line names the deviation; no picture is written."""
    board = measured(desk)
    told = desk.run(f"compare {board} other.jpg --picture diff.png")

    assert told.code == 1
    assert "the photo shows another board" in told.err
    assert "Traceback" not in told.err
    assert not (desk.folder / "diff.png").exists()
    assert "is not there" in desk.run(f"compare {board} missing.jpg").err
