"""The sample workshop: built, shown, and never at the cost of somebody's folder."""

from __future__ import annotations

from pathlib import Path

import pytest

from salvage.work.workshop import open_workshop
from tests.desk import Desk, add_drop_off


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, str, str]:
    """The folder in which the demo ran, and what it told."""
    folder = tmp_path_factory.mktemp("demo")
    told = Desk(folder).do("demo")
    return folder, told.out, told.err


def test_the_demo_shows_the_whole_job(demo: tuple[Path, str, str]) -> None:
    """From drop-off to story card each line is shown and runs; documents lie in the folder made."""
    folder, out, err = demo

    for words in ("dropoff add", "board clear", "cut", "card", "piece sell", "trace", "check"):
        assert f"$ salvage {words}" in out
    assert "salvage: " not in err
    assert "Sample workshop: " in out
    assert list((folder / "salvage-demo" / "made").glob("card-*.pdf"))


def test_the_demo_leaves_a_sound_workshop(demo: tuple[Path, str, str]) -> None:
    """Every check passes on it."""
    folder, _, _ = demo

    assert Desk(folder).run(f"check --shop {folder / 'salvage-demo'}").code == 0


def test_an_earlier_demo_is_replaced_only_when_told(demo: tuple[Path, str, str]) -> None:
    """Without --force it is refused."""
    folder, _, _ = demo
    told = Desk(folder).run("demo")

    assert told.code == 1
    assert "--force" in told.err


@pytest.mark.parametrize("stranger", ["thesis.txt", "workshop.db", "link"])
def test_nothing_of_others_is_ever_deleted(tmp_path: Path, stranger: str) -> None:
    """A folder with a foreign file or database, or a link to one, is left alone."""
    place = tmp_path / "salvage-demo"
    if stranger == "link":
        (tmp_path / "home").mkdir()
        place.symlink_to(tmp_path / "home")
    else:
        place.mkdir()
        (place / stranger).write_text("years of work", encoding="utf-8")
    told = Desk(tmp_path).run("demo --force")

    assert told.code == 1
    assert "not a sample workshop" in told.err
    assert place.exists()


def test_a_real_workshop_is_safe(tmp_path: Path) -> None:
    """A workshop that was not built as a sample is left alone, whatever is forced."""
    desk = Desk(tmp_path)
    add_drop_off(desk)
    told = desk.run("demo shop --force")

    assert told.code == 1
    with open_workshop(tmp_path / "shop", create=False) as shop:
        assert shop.by


def test_the_demo_is_built_anew_with_force(demo: tuple[Path, str, str]) -> None:
    """A second run starts from nothing, and tells programs where it lies."""
    folder, _, _ = demo
    (folder / "salvage-demo" / "made" / "old.pdf").touch()
    told = Desk(folder).do("demo --force --json").value

    assert not (folder / "salvage-demo" / "made" / "old.pdf").exists()
    assert told["folder"] == str(folder / "salvage-demo")
    assert len(told["tour"]) > 8
