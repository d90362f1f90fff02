"""Opening a workshop: begun once, with the world handed in."""

from __future__ import annotations

from datetime import UTC, date, datetime
from pathlib import Path

import pytest

from salvage.errors import NotFound
from salvage.work import workshop as room
from salvage.work.workshop import open_workshop
from tests.bench import add_drop_off, dump, make_shop, seeded_entropy


def test_what_was_done_is_there_when_opened_again(tmp_path: Path) -> None:
    """Closing and opening changes nothing."""
    with make_shop(tmp_path / "shop") as shop:
        add_drop_off(shop)
        before = dump(shop)
    with make_shop(tmp_path / "shop", seed=2) as again:
        after = dump(again)

    assert after == before


def test_who_begins_second_keeps_the_letter_given(tmp_path: Path) -> None:
    """Two that begin at once: the one who comes to write second finds a letter and writes none."""
    with make_shop(tmp_path / "shop") as shop:
        before = dump(shop)
        for seed in range(2, 8):
            shop.entropy = seeded_entropy(seed)
            room._choose_device(shop, "")

        assert dump(shop) == before


def test_the_day_is_the_workshops_own(tmp_path: Path) -> None:
    """By the clock that was handed in; the tests' workshop lies in UTC."""
    moment = datetime(2026, 12, 31, 23, 59, tzinfo=UTC)
    with open_workshop(tmp_path / "shop", clock=lambda: moment) as shop:
        assert shop.today == date(2026, 12, 31)


def test_looking_makes_no_folder(tmp_path: Path) -> None:
    """Whoever asks about a workshop that is not there reads how to begin one."""
    with pytest.raises(NotFound, match="begin one with 'salvage setup'"):
        open_workshop(tmp_path / "shop", create=False)

    assert list(tmp_path.iterdir()) == []
