"""The program as a process: streams, exit codes, pipes, and no traceback whatever it is given."""

from __future__ import annotations

import json
import os
import struct
import subprocess
import sys
import zlib
from pathlib import Path

import pytest

from salvage.store.connection import connect
from tests.desk import Desk, add_cleared_board, cut_piece


def run(
    folder: Path, *words: str, typed: str = "", environment: dict[str, str] | None = None
) -> subprocess.CompletedProcess[str]:
    """One run of the installed program on the workshop in *folder*."""
    own = {
        "PATH": os.environ["PATH"],
        "HOME": str(folder),
        "SALVAGE_SHOP": str(folder / "shop"),
        "SALVAGE_BUSY_MS": "200",
        "LC_ALL": "C.UTF-8",
    }
    return subprocess.run(
        [sys.executable, "-m", "salvage", *words],
        cwd=folder,
        env=own | (environment or {}),
        input=typed,
        capture_output=True,
        text=True,
        encoding="utf-8",
        check=False,
        timeout=120,
    )


def check_refusal(ran: subprocess.CompletedProcess[str], *words: str, code: int = 1) -> None:
    """The run ended in one clear line."""
    assert ran.returncode == code, ran.stdout + ran.stderr
    assert ran.stderr.startswith("salvage: ")
    assert "Traceback" not in ran.stderr
    assert "bug" not in ran.stderr
    for word in words:
        assert word in ran.stderr


@pytest.fixture
def shop(tmp_path: Path) -> tuple[Path, str]:
    """A folder with a workshop in it, and the code of a cleared board."""
    return tmp_path, add_cleared_board(Desk(tmp_path))


def bomb() -> bytes:
    """
    A PNG whose header promises 50 000 by 50 000 pixels.

    Chunks as in the PNG specification (W3C, second edition), sections 5 and 11.
    """

    def chunk(kind: bytes, data: bytes) -> bytes:
        body = kind + data
        return struct.pack(">I", len(data)) + body + struct.pack(">I", zlib.crc32(body))

    header = struct.pack(">IIBBBBB", 50_000, 50_000, 8, 2, 0, 0, 0)
    data = zlib.compress(b"\0" * 1000)
    return (
        b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", data) + chunk(b"IEND", b"")
    )


def test_answers_and_messages_go_apart(shop: tuple[Path, str]) -> None:
    """A program reads standard output and finds nothing but the answer."""
    folder, code = shop
    ran = run(folder, "scan", code, "--json")

    assert ran.returncode == 0
    assert json.loads(ran.stdout)["code"] == code
    assert ran.stderr == ""


def test_a_no_go_is_an_exit_code(shop: tuple[Path, str]) -> None:
    """A shell script can ask before it starts the router."""
    folder, code = shop
    run(folder, "board", "retire", code, "--reason", "used up")

    assert run(folder, "scan", code).returncode == 1


def test_head_ends_it_quietly(shop: tuple[Path, str]) -> None:
    """A pipe that closes early is no error."""
    folder, _ = shop
    line = f'"{sys.executable}" -m salvage formats --plain | head -1'
    own = dict(os.environ) | {"SALVAGE_SHOP": str(folder / "shop")}
    ran = subprocess.run(
        ["bash", "-o", "pipefail", "-c", line],
        env=own,
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )

    assert ran.returncode == 0
    assert ran.stdout.count("\n") == 1
    assert ran.stderr == ""


def test_a_pipe_gets_no_colour(shop: tuple[Path, str]) -> None:
    """What is piped is plain text, and so is a table."""
    folder, code = shop
    for words in (("scan", code), ("board", "list"), ("check",)):
        assert "\x1b" not in run(folder, *words, environment={"FORCE_COLOR": "1"}).stdout


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("history", "BT9996E"), "misread or mistyped"),
        (("trace", "PT0021G"), "there is no piece PT0021G"),
        (("scan", "8C0002J"), "is not one of our codes"),
        (("board", "add", "DT0001X", "--type", "other"), "DT0001X"),
        (("dropoff", "add", "--donor", "a", "--contents", "b", "--date", "2999-01-01"), "future"),
    ],
)
def test_what_cannot_be_is_one_line(
    shop: tuple[Path, str], words: tuple[str, ...], told: str
) -> None:
    """Unknown and mistyped codes, and a day to come."""
    check_refusal(run(shop[0], *words), told)


def test_a_mistyped_code_offers_the_nearest(shop: tuple[Path, str]) -> None:
    """One wrong character in a known code gets the code."""
    folder, code = shop
    for words in (("history",), ("scan",), ("board", "show"), ("cut",)):
        check_refusal(run(folder, *words, code[:-1] + "B"), f"nearest: {code}")


def test_shapes_that_cannot_be_are_one_line(shop: tuple[Path, str]) -> None:
    """A polygon that crosses itself, a size of nothing, a shape beyond the edge."""
    folder, code = shop
    crossing = run(folder, "board", "keepout", code, "0,0 20,20 20,0 0,20 bow tie")
    nothing = run(folder, "board", "outline", code, "--size", "0x40")
    beyond = run(folder, "cut", code, "--shape", "circle", "--width", "30", "--at", "500,500")

    check_refusal(crossing, "cross")
    check_refusal(nothing, "--size")
    check_refusal(beyond, "over the edge")


def test_pictures_that_cannot_be_are_one_line(shop: tuple[Path, str]) -> None:
    """No picture, half a picture, and one that would fill the memory."""
    folder, code = shop
    from PIL import Image

    (folder / "words.jpg").write_text("no picture", encoding="utf-8")
    Image.effect_noise((200, 200), 40).save(folder / "whole.png")
    (folder / "half.png").write_bytes((folder / "whole.png").read_bytes()[:9000])
    (folder / "bomb.png").write_bytes(bomb())
    for name in ("words.jpg", "half.png", "bomb.png", "missing.png"):
        check_refusal(run(folder, "photo", code, name), name)
    for name in ("words.jpg", "half.png", "bomb.png", "whole.png"):
        check_refusal(run(folder, "scan", name))


def test_tables_that_cannot_be_are_one_line(shop: tuple[Path, str]) -> None:
    """Wrong columns, and an encoding of another age."""
    folder, _ = shop
    (folder / "columns.csv").write_text("day,giver\n2026-05-01,Ada\n", encoding="utf-8")
    (folder / "latin.csv").write_bytes(
        "received_on,donor,contents\n2026-05-01,Zoë,x\n".encode("latin-1")
    )

    check_refusal(run(folder, "dropoff", "import", "columns.csv"), "columns missing")
    check_refusal(run(folder, "dropoff", "import", "latin.csv"), "not UTF-8")


def test_a_busy_database_is_one_line(shop: tuple[Path, str]) -> None:
    """While another program writes, the maker is told to wait, and nothing hangs."""
    folder, code = shop
    other = connect(folder / "shop" / "workshop.db")
    other.execute("BEGIN IMMEDIATE")
    ran = run(folder, "board", "move", code, "shelf 1")
    other.execute("ROLLBACK")
    other.close()

    check_refusal(ran, "another program is writing to it")


def test_a_place_that_cannot_be_written_is_one_line(tmp_path: Path) -> None:
    """A file where the folder should be, which not even the administrator can write into."""
    (tmp_path / "shop").write_text("not a folder", encoding="utf-8")

    check_refusal(run(tmp_path, "setup", "place=Quay"))
    check_refusal(run(tmp_path, "board", "list"))


def test_a_newer_workshop_is_refused(shop: tuple[Path, str]) -> None:
    """An old program does not touch what a newer one wrote."""
    folder, _ = shop
    conn = connect(folder / "shop" / "workshop.db")
    conn.execute("PRAGMA user_version = 900")
    conn.close()

    check_refusal(run(folder, "board", "list"), "newer version")


def test_another_programs_database_is_refused(tmp_path: Path) -> None:
    """A folder with somebody else's database is left alone."""
    import sqlite3

    (tmp_path / "shop").mkdir()
    conn = sqlite3.connect(tmp_path / "shop" / "workshop.db")
    conn.execute("CREATE TABLE recipe (name TEXT)")
    conn.close()

    check_refusal(run(tmp_path, "board", "list"), "another program's database")


def test_words_that_are_not_utf8_are_one_line(tmp_path: Path) -> None:
    """Bytes that are no text are refused before anything is read."""
    ran = subprocess.run(
        [sys.executable, "-m", "salvage", "setup", b"place=\xff"],
        capture_output=True,
        check=False,
        env=dict(os.environ) | {"SALVAGE_SHOP": str(tmp_path / "shop"), "LC_ALL": "C.UTF-8"},
    )

    assert ran.returncode == 2
    assert ran.stderr == b"salvage: a word of the command line is not UTF-8\n"


def test_the_default_folder_is_the_users_own(tmp_path: Path) -> None:
    """Without any setting the workshop lies in the user's data folder, and nothing else does."""
    ran = run(tmp_path, "setup", "place=Quay", environment={"SALVAGE_SHOP": ""})

    assert ran.returncode == 0, ran.stderr
    assert [path.name for path in tmp_path.rglob("workshop.db")] == ["workshop.db"]
    assert (tmp_path / ".local" / "share" / "salvage" / "workshop.db").exists()


def test_codes_are_completed_by_the_shell(tmp_path: Path) -> None:
    """The tab key offers the codes of the kind that fits, and commands by name."""
    piece = cut_piece(Desk(tmp_path))

    def complete(words: str) -> list[str]:
        environment = {
            "_SALVAGE_COMPLETE": "complete_bash",
            "COMP_WORDS": words,
            "COMP_CWORD": str(len(words.split(" ")) - 1),
        }
        return run(tmp_path, environment=environment).stdout.split()

    assert complete("salvage card P") == [piece]
    assert complete("salvage history p") == ["p" + piece[1:]]
    assert complete("salvage scan K") == []
    assert complete("salvage rel") == ["release"]
    assert complete("salvage --shop /nowhere card P") == []
