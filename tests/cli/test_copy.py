"""``backup`` and ``restore`` on the command line."""

from __future__ import annotations

from pathlib import Path

from tests.desk import Desk, add_cleared_board, add_drop_off
from tests.faces.step import photo_bytes

QUESTIONS = (
    "board list",
    "donor list",
    "dropoff list",
    "journal --most 999",
    "mass",
    "history {board}",
    "trace {board}",
    "hazards motherboard",
)


def fill(desk: Desk) -> str:
    """A drop-off, and a board of it with a photo; gives the board's code."""
    drop_off = add_drop_off(desk)
    board = desk.do(f"board add {drop_off} --type expansion-card --size 120x80 --plain").first
    (desk.folder / "front.png").write_bytes(photo_bytes())
    desk.do(f"photo {board} front.png")
    return board


def test_a_restored_workshop_answers_every_question_alike(tmp_path: Path) -> None:
    """Every list, history and account reads the same on the new computer."""
    desk = Desk(tmp_path)
    board = fill(desk)
    told = desk.do("backup stick")
    restored = desk.do("--shop new restore stick")
    asked = [f"{question.format(board=board)} --json" for question in QUESTIONS]
    here = [desk.do(line).value for line in asked]
    there = [desk.do(f"--shop new {line}").value for line in asked]

    assert here == there
    assert "events, 1 file; checked" in told.out
    assert "every check passed" in restored.out
    assert desk.run("--shop new check").code == 0


def test_bad_targets_are_refused_in_one_line(tmp_path: Path) -> None:
    """A wrong folder is named with the mend, and nothing is written."""
    desk = Desk(tmp_path)
    fill(desk)
    desk.do("backup stick")
    itself = desk.run("backup shop")
    nowhere = desk.run("backup far/away/stick")
    over = desk.run("restore stick")
    empty = desk.run("--shop new restore shop")
    stamp = desk.run("--shop new restore stick --older 1999")
    tried = desk.do("backup other --dry-run")

    for told, words in (
        (itself, "is the workshop itself"),
        (nowhere, "is not there"),
        (over, "lies in"),
        (empty, "holds no copy"),
        (stamp, "names 0 copies"),
    ):
        assert told.code == 1
        assert words in told.err
        assert "Traceback" not in told.err
    assert "dry run" in tried.out
    assert not (tmp_path / "other").exists()
    assert not (tmp_path / "new").exists()


def test_the_check_tells_of_the_last_copy(tmp_path: Path) -> None:
    """Whoever checks the record is reminded of the copy, too."""
    desk = Desk(tmp_path)
    fill(desk)
    before = desk.do("check")
    desk.do("backup stick")
    after = desk.do("check")

    assert "no copy is known to this computer" in before.err
    assert "last copy today (nothing since)" in after.err
    assert desk.do("backup stick --json").value["missing"] == []


def test_a_photo_that_the_workshop_lost_is_told(tmp_path: Path) -> None:
    """A copy of a damaged workshop is made all the same, and ends with a warning."""
    desk = Desk(tmp_path)
    fill(desk)
    (photo,) = (path for path in (tmp_path / "shop" / "files").rglob("*") if path.is_file())
    photo.unlink()
    told = desk.run("backup stick")

    assert told.code == 1
    assert f"1 file missing in the workshop: {photo.name[:12]}" in told.out


def test_a_trial_of_a_copy_claims_neither_writing_nor_checking(tmp_path: Path) -> None:
    """No copy was made, of the folder or of the database alone, so none is called written."""
    desk = Desk(tmp_path)
    fill(desk)
    told = desk.do("backup stick --dry-run").out + desk.do("backup alone.db --dry-run").out

    assert told.count("would go to") == 2
    assert "written:" not in told
    assert "checked" not in told
    assert not (tmp_path / "stick").exists()
    assert not (tmp_path / "alone.db").exists()


def test_what_was_taken_back_is_copied_too(tmp_path: Path) -> None:
    """An undone photo can come back on the new computer; a cut keeps the shape that was undone."""
    desk = Desk(tmp_path)
    fill(desk)
    board = add_cleared_board(desk)
    (tmp_path / "kite.svg").write_text(_KITE, encoding="utf-8")
    desk.do("shape add kite kite.svg")
    desk.do(f"cut {board} --shape kite --width 30 --at 30,40")
    done = {event["kind"]: event["operation"] for event in desk.do("journal --json").value}
    for kind in ("shape.added", "photo.added"):
        desk.do(f"undo {done[kind]} --why mistaken --yes")
    desk.do("backup stick")
    desk.do("--shop new restore stick")
    desk.do("--shop new undo --why 'it was right' --yes")
    told = desk.run("--shop new check")

    assert told.code == 0, told.out


def test_checkpoints_and_own_designs_go_along(tmp_path: Path) -> None:
    """They come back with the newest copy; an older one gets the checkpoints of its time alone."""
    desk = Desk(tmp_path)
    fill(desk)
    desk.do("card copy a6 ours")
    desk.do("proof sign")
    desk.do("backup stick")
    desk.do("setup place='Skerry Bay'")
    desk.do("proof sign")
    desk.do("backup stick")
    desk.do("--shop new restore stick")
    (older,) = (tmp_path / "stick" / "older").glob("*.db")
    desk.do(f"--shop old restore stick --older {older.stem.removeprefix('workshop-')}")

    def names(shop: str) -> tuple[list[str], int]:
        found = tmp_path / shop
        designs = sorted(path.name for path in (found / "designs").iterdir())
        return designs, len(list((found / "checkpoints").iterdir()))

    assert names("new") == names("shop") == (["ours.typ"], 2)
    assert names("old") == (["ours.typ"], 1)


_KITE = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="30mm" height="30mm" viewBox="0 0 30 30">'
    '<path d="M15 0L30 12L15 30L0 12Z"/></svg>'
)
