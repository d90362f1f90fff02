"""The phone's folder and the inbox, from the command line."""

from __future__ import annotations

from pathlib import Path

from tests.desk import Desk, add_board
from tests.work.test_inbox import photo_of


def drop(desk: Desk, name: str, data: bytes) -> Path:
    """Let the phone drop a file, and give the folder."""
    folder = desk.folder / "phone"
    folder.mkdir(exist_ok=True)
    (folder / name).write_bytes(data)
    return folder


def test_a_folder_is_filed_once(tmp_path: Path) -> None:
    """Filed, waiting and left are told apart, counted, and the inbox is named next."""
    desk = Desk(tmp_path)
    board = add_board(desk)
    drop(desk, "a.jpg", photo_of(board))
    drop(desk, "b.jpg", photo_of())
    drop(desk, "empty.jpg", b"")
    drop(desk, "note\x1b[31m.txt", b"hello")
    told = desk.do("watch phone --once --every 0")

    assert f"filed {board}, front: a.jpg" in told.out
    assert "1 filed, 1 waiting, 1 left" in told.err
    assert "\x1b" not in told.out
    assert "next: salvage inbox" in told.err
    assert "no new photos" not in told.err
    assert [one["name"] for one in desk.do("inbox --json").value] == ["b.jpg"]


def test_files_may_be_left_where_they_are(tmp_path: Path) -> None:
    """With --leave nothing moves, and nothing is kept twice."""
    desk = Desk(tmp_path)
    folder = drop(desk, "a.jpg", photo_of(add_board(desk)))
    for outcome in ("filed", "known"):
        told = desk.do("watch phone --once --every 0 --leave --plain")

        assert told.first == outcome
    assert (folder / "a.jpg").is_file()


def test_a_waiting_photo_is_filed_or_dropped(tmp_path: Path) -> None:
    """By its name; dropping asks first, and an unknown name is one clear line."""
    desk = Desk(tmp_path)
    board = add_board(desk)
    drop(desk, "a.jpg", photo_of())
    drop(desk, "b.jpg", photo_of(grey=90))
    desk.do("watch phone --once --every 0")
    desk.do(f"inbox file a.jpg {board} --side back")
    refused = desk.run("inbox drop b.jpg")

    assert refused.code == 2
    assert "--yes" in refused.err
    desk.do("inbox drop b.jpg --yes")
    assert desk.do("inbox list --json").value == []
    assert "the inbox is empty" in desk.run("inbox drop b.jpg --yes").err
    assert "no photo waits" in desk.do("inbox").err


def test_a_folder_that_is_not_there(tmp_path: Path) -> None:
    """One line, exit code 1."""
    desk = Desk(tmp_path)
    add_board(desk)
    told = desk.run("watch nowhere --once")

    assert told.code == 1
    assert "cannot be read" in told.err
