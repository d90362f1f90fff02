"""Exports, as the maker types them."""

from __future__ import annotations

import json
from pathlib import Path

from tests.desk import Desk, cut_piece


def test_exports_are_written_once(tmp_path: Path) -> None:
    """Each form goes into its file, and a file that is there stays unless forced."""
    desk = Desk(tmp_path)
    piece = cut_piece(desk)
    told = desk.do("export epcis --all --out e.json --json").value
    desk.do(f"export prov {piece} --form n --out p.provn")
    desk.do("export csv tables")

    assert told["events"] == len(
        json.loads((tmp_path / "e.json").read_text())["epcisBody"]["eventList"]
    )
    assert (tmp_path / "p.provn").read_text().startswith("document\n")
    assert (tmp_path / "tables" / "board.csv").is_file()
    assert "is there already" in desk.run("export csv tables").err
    assert desk.run("export epcis --all --out e.json").code == 1
    desk.do("export csv tables --force")


def test_what_to_export_must_be_said(tmp_path: Path) -> None:
    """One code or everything, not neither and not both; a folder's place must exist."""
    desk = Desk(tmp_path)
    piece = cut_piece(desk)

    assert "say what to export" in desk.run("export prov").err
    assert "say what to export" in desk.run(f"export prov {piece} --all").err
    assert "is not there" in desk.run("export csv no/where").err
    assert "no form of PROV" in desk.run("export prov --all --form xml").err
    assert not list(tmp_path.glob("prov*"))
