"""``salvage read``: a folder of photos as codes, without recording anything."""

from __future__ import annotations

from pathlib import Path

from salvage.codes.draw import draw_code128, draw_qr, symbol_png
from tests.desk import Desk, add_board


def photos(folder: Path) -> Path:
    """A folder with a label of ours, a strange label and a bare picture."""
    there = folder / "photos"
    there.mkdir()
    (there / "a.png").write_bytes(symbol_png(draw_qr("BC0002J"), dots=6))
    (there / "b.png").write_bytes(symbol_png(draw_code128("LOT-17"), dots=4))
    return there


def test_a_folder_is_read_without_a_workshop(tmp_path: Path) -> None:
    """Code, corners, reader and step of each photo; existence is not known."""
    desk = Desk(tmp_path)
    photos(tmp_path)
    told = desk.run("read photos --json")
    ours, strange = told.value
    (code,) = ours["codes"]

    assert told.code == 0
    assert (code["code"], code["exists"], code["reader"]) == ("BC0002J", None, "zxing-cpp")
    assert code["corners_px"][0] == [24, 24]
    assert strange["codes"] == []
    assert [one["text"] for one in strange["strangers"]] == ["LOT-17"]


def test_a_code_that_is_not_in_the_workshop_is_told(tmp_path: Path) -> None:
    """With a workshop at hand, the answer says which codes exist in it."""
    desk = Desk(tmp_path)
    there = photos(tmp_path)
    board = add_board(desk)
    (there / "c.png").write_bytes(symbol_png(draw_qr(board), dots=6))
    known = {
        code["code"]: code["exists"]
        for one in desk.run("read photos --json").value
        for code in one["codes"]
    }

    assert known[board] is True
    assert board == "BC0002J" or known["BC0002J"] is False


def test_a_file_that_is_no_photo_is_named_and_the_others_are_read(tmp_path: Path) -> None:
    """One damaged file takes nothing from the rest, and the exit code says so."""
    desk = Desk(tmp_path)
    (photos(tmp_path) / "z.png").write_bytes(b"no picture")
    told = desk.run("read photos")

    assert told.code == 1
    assert "photos/a.png: BC0002J at" in told.out
    assert "not ours: LOT-17" in told.out
    assert "z.png" in told.out
    assert "1 of 3 photos" in told.err


def test_plain_lines_name_photos_without_codes(tmp_path: Path) -> None:
    """One line for each code, and one with empty cells for a photo without."""
    desk = Desk(tmp_path)
    photos(tmp_path)
    rows = [line.split("\t") for line in desk.run("read photos --plain").out.splitlines()]

    assert rows[0] == ["photos/a.png", "BC0002J", "QR", "zxing-cpp", "as it is"]
    assert rows[1] == ["photos/b.png", "", "", "", ""]


def test_an_empty_folder_is_refused(tmp_path: Path) -> None:
    """A folder without photos is one clear line."""
    (tmp_path / "none").mkdir()
    told = Desk(tmp_path).run("read none")

    assert told.code == 1
    assert "there are no photos in none" in told.err
