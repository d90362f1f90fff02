"""A folder of dossiers, as the maker writes it again and again."""

from __future__ import annotations

import json
from pathlib import Path

from tests.desk import Desk, cut_piece


def test_a_folder_is_written_and_only_changes_again(tmp_path: Path) -> None:
    """First all, then nothing, then the one piece that changed; each run says which."""
    desk = Desk(tmp_path)
    first, second = cut_piece(desk), cut_piece(desk)
    tried = desk.run(f"export dossier site {first} {second} --dry-run")
    made = desk.do(f"export dossier site {first} {second} --json").value
    again = desk.do("export dossier site --json").value
    desk.do(f"piece stage {first} ready")
    changed = desk.do("export dossier site")

    assert "would be written" in tried.out
    assert made["written"] == sorted([first, second])
    assert (again["written"], again["kept"]) == ([], made["written"])
    assert f"{first}  written anew" in changed.out
    assert second not in changed.out
    assert (tmp_path / "site" / first / "index.html").is_file()
    assert first in (tmp_path / "site" / "index.html").read_text()
    assert not list((tmp_path / "site").rglob(".part-*"))


def test_a_dry_run_writes_nothing(tmp_path: Path) -> None:
    """Not even the folder."""
    desk = Desk(tmp_path)
    cut_piece(desk)
    desk.run("export dossier site --all --dry-run")

    assert not (tmp_path / "site").exists()


def test_a_piece_taken_back_takes_its_page_along(tmp_path: Path) -> None:
    """The page goes, and what else lies in the folder stays."""
    desk = Desk(tmp_path)
    piece = cut_piece(desk)
    desk.do("export dossier site --all")
    (tmp_path / "site" / "robots.txt").write_text("own")
    desk.do("undo --yes")
    told = desk.do("export dossier site")

    assert f"{piece}  taken away" in told.out
    assert not (tmp_path / "site" / piece / "index.html").exists()
    assert (tmp_path / "site" / "robots.txt").read_text() == "own"


def test_somebody_elses_folder_is_left_alone(tmp_path: Path) -> None:
    """A folder with other files, a file, a folder that is nowhere, a damaged list."""
    desk = Desk(tmp_path)
    cut_piece(desk)
    (tmp_path / "photos").mkdir()
    (tmp_path / "photos" / "a.jpg").write_text("x")
    (tmp_path / "site").mkdir()
    (tmp_path / "site" / "dossiers.json").write_text("{")

    assert "holds other files" in desk.run("export dossier photos --all").err
    assert "is no folder" in desk.run("export dossier photos/a.jpg --all").err
    assert "is not there" in desk.run("export dossier no/where --all").err
    assert "is damaged" in desk.run("export dossier site --all").err
    (tmp_path / "site" / "dossiers.json").write_text(json.dumps({"pages": {"../x": "0"}}))
    assert desk.run("export dossier site --all").code == 1
    assert list((tmp_path / "photos").iterdir()) == [tmp_path / "photos" / "a.jpg"]


def test_the_maker_is_told_where_it_belongs(tmp_path: Path) -> None:
    """With a web address: where the cards lead; without consent of workers: what that costs."""
    desk = Desk(tmp_path)
    cut_piece(desk)
    desk.do("setup web-address=https://tidebell.example/p")
    told = desk.do("export dossier site --all")

    assert "cards lead to HTTPS://TIDEBELL.EXAMPLE/P/CODE" in told.out
    assert "add --with-workers" in told.out
