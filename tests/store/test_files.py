"""Photo and shape files under their hashes."""

from __future__ import annotations

import hashlib
import os
from pathlib import Path

import pytest

from salvage.errors import BadFile, StoreTrouble
from salvage.store import files
from salvage.store.files import FileStore

DATA = b"a photo's bytes"


def test_a_file_is_kept_byte_for_byte_under_its_hash(tmp_path: Path) -> None:
    """What the phone gave is what comes back, years later."""
    store = FileStore(tmp_path / "files")
    sha256 = store.save(DATA)

    assert sha256 == hashlib.sha256(DATA).hexdigest()
    assert store.load(sha256) == DATA
    assert list(store.kept()) == [sha256]


def test_the_same_file_twice_is_kept_once(tmp_path: Path) -> None:
    """Adding a photo again costs nothing."""
    store = FileStore(tmp_path)

    assert store.save(DATA) == store.save(DATA)
    assert len(list(store.kept())) == 1


def test_a_file_cut_short_by_a_crash_is_written_again(tmp_path: Path) -> None:
    """A damaged leftover under the right name does not pass for the file."""
    store = FileStore(tmp_path)
    sha256 = store.save(DATA)
    store.path(sha256).write_bytes(DATA[:4])
    store.save(DATA)

    assert store.load(sha256) == DATA


def test_a_changed_file_is_noticed(tmp_path: Path) -> None:
    """A photo that was edited in place is not shown as evidence."""
    store = FileStore(tmp_path)
    sha256 = store.save(DATA)
    store.path(sha256).write_bytes(DATA[::-1])

    with pytest.raises(StoreTrouble, match="has changed"):
        store.load(sha256)


def test_a_missing_file_is_said(tmp_path: Path) -> None:
    """A photo that is gone is named, with the mend."""
    with pytest.raises(StoreTrouble, match=r"not in .*backup"):
        FileStore(tmp_path).load("0" * 64)


@pytest.mark.parametrize("name", ["../../etc/passwd", "ab", "A" * 64, "0" * 63 + "/", ""])
def test_only_hashes_become_paths(tmp_path: Path, name: str) -> None:
    """No text from outside leads out of the folder."""
    with pytest.raises(BadFile):
        FileStore(tmp_path).path(name)


def test_a_folder_that_cannot_be_written_is_said(tmp_path: Path) -> None:
    """Where a file stands in the folder's place, one line says so and nothing is left."""
    (tmp_path / "files").write_text("in the way")

    with pytest.raises(StoreTrouble, match="cannot be written"):
        FileStore(tmp_path / "files").save(DATA)


def test_a_file_changed_in_place_is_mended_by_giving_it_again(tmp_path: Path) -> None:
    """Bytes of the right number but another content do not pass for the photo."""
    store = FileStore(tmp_path)
    sha256 = store.save(DATA)
    store.path(sha256).write_bytes(DATA[::-1])
    store.save(DATA)

    assert store.load(sha256) == DATA


def test_a_file_is_reached_by_flushed_folders(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """After a power cut a file is of use only if every folder on the way to it is on disk."""
    flushed: list[Path] = []
    monkeypatch.setattr(files, "flush_folder", flushed.append)
    store = FileStore(tmp_path / "files")
    sha256 = store.save(DATA)
    first = set(flushed)
    flushed.clear()
    store.save(DATA)

    assert first == {tmp_path, tmp_path / "files", tmp_path / "files" / sha256[:2]}
    assert set(flushed) == first


def test_a_system_that_flushes_no_folders_keeps_files_all_the_same(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where a folder cannot be opened, as on some systems, the file alone is flushed."""
    store, flushed = FileStore(tmp_path / "files"), list[int]()
    monkeypatch.setattr(os, "fsync", flushed.append)
    store.save(DATA)
    on_posix = len(flushed)
    flushed.clear()
    monkeypatch.setattr(os, "name", "another")
    store.save(DATA + b"!")
    monkeypatch.undo()

    assert on_posix == 1 + 3
    assert len(flushed) == 1
    assert len(list(store.kept())) == 2


def test_what_is_no_file_of_ours_is_passed_over(tmp_path: Path) -> None:
    """Notes, parts and folders with other names are not told as photos."""
    store = FileStore(tmp_path / "files")
    kept = sorted(store.save(bytes([number])) for number in range(3))
    (store.path(kept[0]).parent / "notes.txt").write_text("words")
    (store.folder / "words").mkdir()
    (store.folder / "words" / ("0" * 64)).write_text("words")

    assert list(store.kept()) == kept


def test_a_disk_that_fails_leaves_no_part_of_a_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One line is told, and the next try finds the folder as it was."""

    def fails(handle: int) -> None:
        raise OSError(5, "Input/output error")

    monkeypatch.setattr(os, "fsync", fails)
    with pytest.raises(StoreTrouble, match=r"cannot be written.*permissions"):
        FileStore(tmp_path / "files").save(DATA)

    assert [path for path in tmp_path.rglob("*") if path.is_file()] == []
