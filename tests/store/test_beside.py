"""A new folder is filled beside its place, and nothing that stands there is ever lost."""

from __future__ import annotations

from pathlib import Path

import pytest

from salvage.errors import Refused, StoreTrouble
from salvage.store.beside import check_free, folder_beside, put_in_place


def test_only_a_free_place_is_taken(tmp_path: Path) -> None:
    """Nothing, or an empty folder; a file, a full folder or a link to nowhere is told."""
    (tmp_path / "empty").mkdir()
    (tmp_path / "full").mkdir()
    (tmp_path / "full" / "letter").write_text("dear sir")
    (tmp_path / "file").write_text("dear sir")
    (tmp_path / "link").symlink_to(tmp_path / "empty")
    (tmp_path / "astray").symlink_to(tmp_path / "nowhere")
    for name in ("new", "empty", "link"):
        check_free(tmp_path / name, hint="name another")

    for name, says in (("full", "is not empty"), ("file", "is not empty"), ("astray", "nowhere")):
        with pytest.raises(Refused, match=rf"{name} .*{says}.*name another"):
            check_free(tmp_path / name, hint="name another")


@pytest.mark.parametrize("there", [False, True])
def test_a_whole_folder_is_moved_to_its_place(tmp_path: Path, there: bool) -> None:
    """Folders above it are made, an empty one makes room, and nothing else is left."""
    target = tmp_path / "above" / "shop"
    if there:
        target.mkdir(parents=True)
    with folder_beside(target, prefix=".begun-") as place:
        (place / "inner").mkdir()
        (place / "inner" / "one").write_text("1")
        name, mode = place.name, place.stat().st_mode & 0o777
        put_in_place(place, target)

    assert (target / "inner" / "one").read_text() == "1"
    assert [path.name for path in target.parent.iterdir()] == ["shop"]
    assert name.startswith(".begun-")
    assert mode == 0o755


def test_a_folder_that_was_not_finished_goes_away(tmp_path: Path) -> None:
    """Whatever stopped it, its place is as it was."""
    beside = folder_beside(tmp_path / "shop", prefix=".begun-")
    place = beside.__enter__()
    (place / "one").write_text("1")
    beside.__exit__(KeyboardInterrupt, KeyboardInterrupt(), None)

    assert list(tmp_path.iterdir()) == []


def test_a_place_that_cannot_be_taken_is_told(tmp_path: Path) -> None:
    """A file where a folder is wanted above it; a folder that was filled meanwhile."""
    (tmp_path / "file").write_text("in the way")
    (tmp_path / "full").mkdir()
    (tmp_path / "full" / "letter").write_text("dear sir")

    with (
        pytest.raises(StoreTrouble, match="cannot be written"),
        folder_beside(tmp_path / "file" / "shop", prefix="."),
    ):
        pass
    with (
        folder_beside(tmp_path / "full", prefix=".begun-") as place,
        pytest.raises(StoreTrouble, match="cannot be written"),
    ):
        put_in_place(place, tmp_path / "full")
    assert (tmp_path / "full" / "letter").read_text() == "dear sir"
