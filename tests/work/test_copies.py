"""Copies of the whole workshop, and workshops restored from them."""

from __future__ import annotations

import os
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path

import pytest

from salvage.errors import NotFound, Refused, StoreTrouble
from salvage.store.copies import copies_in, read_copy
from salvage.work.check import run_checks
from salvage.work.copies import Restored, back_up, restore
from salvage.work.forget import forget_donor
from salvage.work.last_copy import last_copy
from salvage.work.photos import NewPhoto, add_photo
from salvage.work.workshop import Workshop, open_workshop
from tests.bench import (
    SteppingClock,
    add_cleared_board,
    cut_circle,
    dump,
    make_shop,
    seeded_entropy,
)
from tests.faces.step import photo_bytes

NAME = b"Kelpie Point Planetarium"


def fill(shop: Workshop) -> None:
    """A board with a photo and a piece."""
    board = add_cleared_board(shop)
    add_photo(shop, code=board.code, new=NewPhoto(photo_bytes(), "front.png", "front"))
    cut_circle(shop, board.code, 40, 40)


def again(copy: Path, target: Path, *, stamp: str = "", incomplete: bool = False) -> Restored:
    """The workshop restored into a folder."""

    def open_shop(folder: Path) -> Workshop:
        return open_workshop(
            folder, clock=SteppingClock(), entropy=seeded_entropy(9), create=False, by="Ilva"
        )

    return restore(copy, target=target, open_shop=open_shop, stamp=stamp, incomplete=incomplete)


def record_in(folder: Path) -> dict[str, list[tuple[object, ...]]]:
    """Every row of a workshop."""
    with make_shop(folder) as shop:
        return dump(shop)


def test_a_restored_workshop_gives_every_answer(empty_shop: Workshop, tmp_path: Path) -> None:
    """Row by row and file by file it is the workshop that was copied."""
    fill(empty_shop)
    head = back_up(empty_shop, folder=tmp_path / "stick")
    restored = again(tmp_path / "stick", tmp_path / "new" / "workshop")

    assert record_in(tmp_path / "new" / "workshop") == dump(empty_shop)
    assert (restored.events, restored.files) == (head.events, 1)
    assert restored.missing == restored.forgotten == ()
    assert [path.name for path in (tmp_path / "new").iterdir()] == ["workshop"]


def test_a_second_copy_writes_only_what_is_new(empty_shop: Workshop, tmp_path: Path) -> None:
    """Photos that lie on the stick already are left as they are; the older database is kept."""
    fill(empty_shop)
    back_up(empty_shop, folder=tmp_path / "stick")
    before = {path: path.stat().st_ino for path in (tmp_path / "stick" / "files").rglob("*")}
    add_cleared_board(empty_shop)
    for _ in range(3):
        back_up(empty_shop, folder=tmp_path / "stick", keep=2)

    assert {path: path.stat().st_ino for path in before} == before
    assert len(copies_in(tmp_path / "stick")) == 3
    assert not [path for path in (tmp_path / "stick").iterdir() if path.name.startswith(".")]


def test_an_older_copy_is_restored_by_its_stamp(empty_shop: Workshop, tmp_path: Path) -> None:
    """What was right before the mistake can be had back, beside the newest."""
    fill(empty_shop)
    first = back_up(empty_shop, folder=tmp_path / "stick")
    fill(empty_shop)
    back_up(empty_shop, folder=tmp_path / "stick")
    (newest, older) = copies_in(tmp_path / "stick")

    assert newest > older
    assert again(tmp_path / "stick", tmp_path / "then", stamp=older).events == first.events
    for stamp in ("1999", "x", older[:4]):
        with pytest.raises(NotFound, match=r"names . copies"):
            again(tmp_path / "stick", tmp_path / "never", stamp=stamp)


def test_of_two_copies_in_one_second_the_later_is_restored(
    empty_shop: Workshop, tmp_path: Path
) -> None:
    """A script that copies twice in a row gets back what the second copy held."""
    stick, now = tmp_path / "stick", empty_shop.clock()
    empty_shop.clock = lambda: now
    fill(empty_shop)
    back_up(empty_shop, folder=stick)
    fill(empty_shop)
    told = back_up(empty_shop, folder=stick)

    assert again(stick, tmp_path / "new").events == told.events


def test_a_copy_that_was_never_told_takes_no_other_ones_name(
    empty_shop: Workshop, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Killed before the new copy was told, the one before keeps its stamp, also at the next."""
    fill(empty_shop)
    stick = tmp_path / "stick"
    first = back_up(empty_shop, folder=stick)
    (stamp,) = copies_in(stick)
    fill(empty_shop)
    real = os.replace

    def pull(source: Path, target: Path) -> None:
        if Path(target).name == "copy.json":
            raise OSError(5, "Input/output error")
        real(source, target)

    monkeypatch.setattr(os, "replace", pull)
    with pytest.raises(StoreTrouble):
        back_up(empty_shop, folder=stick)
    monkeypatch.setattr(os, "replace", real)

    assert again(stick, tmp_path / "one", stamp=stamp).events == first.events
    back_up(empty_shop, folder=stick)
    assert again(stick, tmp_path / "two", stamp=stamp).events == first.events


def test_what_a_killed_copying_left_is_swept(
    empty_shop: Workshop, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Half a database on the stick goes at the next copy; one being made just now stays."""
    fill(empty_shop)
    stick = tmp_path / "stick"
    back_up(empty_shop, folder=stick)
    dead, alive, young = (stick / f".new-{pid}.db.part" for pid in (2**22 + 1, 1, 2**22 + 2))
    now = empty_shop.clock().timestamp()
    for path, age_s in ((dead, 3600), (alive, 3600), (young, 5)):
        path.write_bytes(b"half")
        os.utime(path, (now - age_s, now - age_s))
    back_up(empty_shop, folder=stick)

    assert [path.exists() for path in (dead, alive, young)] == [False, True, True]

    monkeypatch.setattr(os, "name", "another")  # where nobody can be asked after
    back_up(empty_shop, folder=stick)
    monkeypatch.undo()

    assert [path.exists() for path in (alive, young)] == [False, True]


def test_a_donor_forgotten_since_is_forgotten_again(empty_shop: Workshop, tmp_path: Path) -> None:
    """The name does not come back by way of an old stick, and leaves the stick at the next copy."""
    fill(empty_shop)
    stick = tmp_path / "stick"
    back_up(empty_shop, folder=stick)
    (donor,) = (code for (code,) in empty_shop.conn.execute("SELECT code FROM donor"))

    assert NAME in (stick / "workshop.db").read_bytes()

    forget_donor(empty_shop, donor=donor, reason="asked by letter")
    kept = (stick / "workshop.db").read_bytes()
    back_up(empty_shop, folder=stick)
    (_, older) = copies_in(stick).values()

    assert [path for path in stick.rglob("*.db") if NAME in path.read_bytes()] == []

    older.write_bytes(kept)  # a stick that was not plugged in meanwhile
    restored = again(stick, tmp_path / "new", stamp=older.stem.removeprefix("workshop-"))

    assert restored.forgotten == (donor,)
    held = [path for path in (tmp_path / "new").rglob("*") if path.is_file()]
    assert [path for path in held if NAME in path.read_bytes()] == []


def _spoil_database(copy: Path) -> None:
    data = bytearray((copy / "workshop.db").read_bytes())
    place = data.find(b'"contents"')
    data[place + 15] ^= 1
    (copy / "workshop.db").write_bytes(data)


def _spoil_photo(copy: Path) -> None:
    (path,) = (path for path in (copy / "files").rglob("*") if path.is_file())
    path.write_bytes(b"x" + path.read_bytes()[1:])


def _lose_photo(copy: Path) -> None:
    (path,) = (path for path in (copy / "files").rglob("*") if path.is_file())
    path.unlink()


@pytest.mark.parametrize(
    ("spoil", "words"),
    [
        (_spoil_database, "not as it was written|not pass|damaged"),
        (_spoil_photo, "1 of 1 files are missing or damaged"),
        (_lose_photo, "1 of 1 files are missing or damaged"),
    ],
)
def test_a_damaged_copy_is_not_restored(
    empty_shop: Workshop, tmp_path: Path, spoil: Callable[[Path], None], words: str
) -> None:
    """One line says what is wrong with the copy, and nothing is left behind."""
    fill(empty_shop)
    back_up(empty_shop, folder=tmp_path / "stick")
    spoil(tmp_path / "stick")
    with pytest.raises(StoreTrouble, match=words):
        again(tmp_path / "stick", tmp_path / "there" / "new")

    assert list((tmp_path / "there").iterdir()) == []


def test_a_copy_without_its_photos_is_restored_when_asked(
    empty_shop: Workshop, tmp_path: Path
) -> None:
    """Better the record without a photo than no record; the check names the photo afterwards."""
    fill(empty_shop)
    back_up(empty_shop, folder=tmp_path / "stick")
    _lose_photo(tmp_path / "stick")
    restored = again(tmp_path / "stick", tmp_path / "new", incomplete=True)

    assert len(restored.missing) == 1
    with make_shop(tmp_path / "new") as shop:
        assert [line.name for line in run_checks(shop) if not line.ok] == [
            "every photo and shape file is as it was"
        ]


def test_a_copy_that_is_cut_short_leaves_the_last_one_whole(
    empty_shop: Workshop, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The plug pulled at any rename: the copy before is still there and can be restored."""
    fill(empty_shop)
    stick = tmp_path / "stick"
    first = back_up(empty_shop, folder=stick)
    fill(empty_shop)
    real, left = os.replace, 0

    def pull(source: Path, target: Path) -> None:
        nonlocal left
        left -= 1
        if left < 0:
            raise OSError(5, "Input/output error")
        real(source, target)

    for allowed in range(3):
        left = allowed
        monkeypatch.setattr(os, "replace", pull)
        with pytest.raises(StoreTrouble):
            back_up(empty_shop, folder=stick)
        monkeypatch.setattr(os, "replace", real)
        stamp, *_ = (name for name, path in copies_in(stick).items() if path.is_file())

        assert again(stick, tmp_path / f"new {allowed}", stamp=stamp).events >= first.events
    assert back_up(empty_shop, folder=stick).events > first.events


@pytest.mark.parametrize("place", ["shop", "full", "file", "far/away", "other"])
def test_a_copy_goes_only_where_it_harms_nothing(
    empty_shop: Workshop, tmp_path: Path, place: str
) -> None:
    """No folder with other things in it is ever filled, and no other workshop's copy replaced."""
    (tmp_path / "full").mkdir()
    (tmp_path / "full" / "letters.txt").write_text("dear")
    (tmp_path / "file").write_text("x")
    with make_shop(tmp_path / "second", seed=5) as second:
        fill(second)
        back_up(second, folder=tmp_path / "other")
    fill(empty_shop)
    before = sorted(tmp_path.rglob("*"))
    for dry_run in (True, False):
        with pytest.raises(Refused):
            back_up(empty_shop, folder=tmp_path / place, dry_run=dry_run)

    assert sorted(tmp_path.rglob("*")) == before


def test_nothing_is_restored_over_a_workshop(empty_shop: Workshop, tmp_path: Path) -> None:
    """A workshop that is there stays as it is; so does any folder with something in it."""
    fill(empty_shop)
    back_up(empty_shop, folder=tmp_path / "stick")
    (tmp_path / "full").mkdir()
    (tmp_path / "full" / "letters.txt").write_text("dear")

    with pytest.raises(Refused, match=r"lies in .* already"):
        again(tmp_path / "stick", empty_shop.folder)
    with pytest.raises(Refused, match="is not empty"):
        again(tmp_path / "stick", tmp_path / "full")
    with pytest.raises(NotFound, match="holds no copy"):
        again(tmp_path / "full", tmp_path / "new")


def test_the_last_copy_is_remembered(empty_shop: Workshop, tmp_path: Path) -> None:
    """The maker is told when the last copy was made, and when it is time for another."""
    fill(empty_shop)

    assert last_copy(empty_shop) is None

    back_up(empty_shop, folder=tmp_path / "stick")
    fresh = last_copy(empty_shop)
    assert isinstance(empty_shop.clock, SteppingClock)
    empty_shop.clock.now += timedelta(days=20)
    idle = last_copy(empty_shop)
    add_cleared_board(empty_shop)
    old = last_copy(empty_shop)

    assert fresh is not None
    assert idle is not None
    assert old is not None
    assert (fresh.days, fresh.events_since, fresh.is_old) == (0, 0, False)
    assert (idle.days, idle.is_old) == (20, False)
    assert old.is_old
    assert old.folder == str(tmp_path / "stick")
    assert read_copy(tmp_path / "stick").events == fresh.events
