"""Files and folders that are there after a power cut."""

from __future__ import annotations

import errno
import os
from pathlib import Path

import pytest

from salvage.store.durable import flush_folder, make_folder, put_file


def flushed(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Names of the folders and files that are flushed from now on."""
    names: list[str] = []

    def fsync(handle: int) -> None:
        names.append(Path(os.readlink(f"/proc/self/fd/{handle}")).name)

    monkeypatch.setattr(os, "fsync", fsync)
    return names


def test_each_new_folder_is_flushed_into_the_one_above(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Two folders are made: the one that was there learns of the first, and that of the second."""
    names = flushed(monkeypatch)
    make_folder(tmp_path / "coast" / "shop")
    make_folder(tmp_path / "coast" / "shop")

    assert (tmp_path / "coast" / "shop").is_dir()
    assert names == [tmp_path.name, "coast"]


def test_a_file_in_a_folders_place_is_an_error(tmp_path: Path) -> None:
    """It is not taken for the folder."""
    (tmp_path / "shop").write_text("in the way")
    with pytest.raises(OSError, match="shop"):
        make_folder(tmp_path / "shop")


def test_a_file_is_flushed_before_its_name(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Bytes first, then the folder that holds the name; rights and older bytes are as asked."""
    (tmp_path / "note").write_bytes(b"older")
    names = flushed(monkeypatch)
    put_file(tmp_path / "note", b"newer", mode=0o600)

    assert (tmp_path / "note").read_bytes() == b"newer"
    assert (tmp_path / "note").stat().st_mode & 0o777 == 0o600
    assert names == [f".part-{os.getpid()}-note", tmp_path.name]
    assert [path.name for path in tmp_path.iterdir()] == ["note"]


def test_a_file_that_cannot_be_put_leaves_the_older_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where the disk fills before the name is given, what was there stays, and no part of it."""
    (tmp_path / "note").write_bytes(b"older")

    def full(handle: int) -> None:
        raise OSError(errno.ENOSPC, "full")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OSError, match="full"):
        put_file(tmp_path / "note", b"newer")

    assert (tmp_path / "note").read_bytes() == b"older"
    assert [path.name for path in tmp_path.iterdir()] == ["note"]


@pytest.mark.parametrize(("code", "told"), [(errno.EINVAL, False), (errno.EIO, True)])
def test_a_disk_that_cannot_flush_folders_is_no_error(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, code: int, told: bool
) -> None:
    """Some know no such thing; an error of the disk is told all the same."""

    def fail(handle: int) -> None:
        raise OSError(code, os.strerror(code))

    monkeypatch.setattr(os, "fsync", fail)
    caught = None
    try:
        flush_folder(tmp_path)
    except OSError as error:
        caught = error.errno

    assert caught == (code if told else None)


def test_elsewhere_folders_are_not_flushed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Other systems cannot open a folder."""
    names = flushed(monkeypatch)
    monkeypatch.setattr(os, "name", "nt")
    flush_folder(tmp_path)

    assert names == []
