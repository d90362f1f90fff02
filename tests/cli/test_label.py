"""Labels from the command line."""

from __future__ import annotations

from pathlib import Path

from tests.desk import Desk, add_board


def test_a_character_without_a_font_is_told_beside_the_labels(tmp_path: Path) -> None:
    """The sheet is there; the caution says what an empty square stands for, and the way out."""
    desk = Desk(tmp_path)
    odd = add_board(desk, more="--maker 'Orr\ue000ery'")
    plain = add_board(desk)
    told = desk.do(f"label {odd} --out odd.pdf --json")
    quiet = desk.do(f"label {plain} --out plain.pdf --json")
    caution = " ".join(told.err.split())

    assert (tmp_path / "odd.pdf").read_bytes().startswith(b"%PDF")
    assert told.value["missing_characters"] == ["\ue000"]
    assert "salvage setup fonts-folder=DIR" in caution
    assert quiet.value["missing_characters"] == []
    assert "fonts-folder" not in quiet.err
