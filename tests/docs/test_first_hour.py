"""From nothing to the first story card, by nothing but what the program says."""

from __future__ import annotations

from pathlib import Path

from tests.desk import Desk
from tests.docs.stranger import first_hour


def test_a_stranger_comes_to_a_card(tmp_path: Path) -> None:
    """Nobody has read a page: 'salvage' alone leads on at each step, and never in a circle."""
    desk = Desk(tmp_path)
    typed = list(first_hour(lambda line: desk.do(line).out))
    done = [one.topic for one in typed if one.topic != "look"]
    (card,) = tmp_path.glob("card-PC*.pdf")

    assert done == ["workshop", "drop-off", "data", "board", "clear", "cut", "cut", "card"]
    assert card.read_bytes().startswith(b"%PDF")
