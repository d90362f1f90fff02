"""Signing, verifying, proving a piece and forgetting a donor, as the maker types it."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from salvage.work.checkpoints import FOLDER
from tests.desk import Desk, cut_piece

PAGE = Path(__file__).resolve().parents[2] / "docs" / "reference" / "json.md"


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    """A desk with one piece of a planetarium's board."""
    made = Desk(tmp_path)
    cut_piece(made)
    return made


def _fields(section: str) -> set[str]:
    text = PAGE.read_text("utf-8").split(f"### `{section}`\n")[1].split("\n### ")[0]
    return set(re.findall(r"`([a-z_]+)`", text))


def test_sign_and_verify(desk: Desk, tmp_path: Path) -> None:
    """A copy on a stick holds; a forged one ends with exit code 1 and says so."""
    signed = desk.do("proof sign --out june.json --json").value
    held = desk.do("proof verify june.json --json").value
    path = tmp_path / "june.json"
    path.write_text(path.read_text("utf-8").replace('"count":', '"count":1'), "utf-8")
    forged = desk.run("proof verify june.json")

    assert set(signed) <= _fields("proof sign")
    assert set(held[0]) <= _fields("proof verify")
    assert held[0]["ok"]
    assert forged.code == 1
    assert "its signature is not good" in forged.out


def test_signing_does_not_replace_a_file_unasked(desk: Desk, tmp_path: Path) -> None:
    """The old file stays, and nothing is signed."""
    (tmp_path / "june.json").write_text("mine", "utf-8")
    told = desk.run("proof sign --out june.json")

    assert told.code != 0
    assert "june.json is there already" in told.err
    assert not (desk.shop / FOLDER).exists()


def test_what_is_no_checkpoint_is_told_in_one_line(desk: Desk, tmp_path: Path) -> None:
    """A file of another sort, or none, gives one line and no traceback."""
    (tmp_path / "x.json").write_text("{}", "utf-8")

    assert "x.json is no checkpoint" in desk.run("proof verify x.json").err
    assert "gone.json is not there" in desk.run("proof verify gone.json").err


def test_a_piece_is_proven(desk: Desk, tmp_path: Path) -> None:
    """The file is written once, and tells how much of it can be read."""
    code = desk.do("piece list --plain").first
    told = desk.do(f"proof piece {code} --json").value
    again = desk.run(f"proof piece {code}")
    value = json.loads((tmp_path / f"proof-{code}.json").read_text("utf-8"))

    assert set(told) <= _fields("proof piece")
    assert told["shown"] + told["withheld"] == len(value["events"])
    assert again.code != 0
    assert "Kelpie" not in json.dumps(value)


def test_forgetting_asks_first(desk: Desk) -> None:
    """Without a yes nothing is erased; with one the donor is known by the description."""
    donor = desk.do("donor list --plain").first
    unasked = desk.run(f"donor forget {donor} --reason asked")
    before = desk.do("donor list --json").value
    told = desk.do(f"donor forget {donor} --reason asked --yes --json").value
    after = desk.do("donor list --json").value

    assert unasked.code == 2
    assert "--yes" in unasked.err
    assert before[0]["name"] == "Kelpie Point Planetarium"
    assert set(told) <= _fields("donor forget")
    assert set(after[0]) <= _fields("donor list")
    assert (after[0]["name"], after[0]["public"]) == ("", "a planetarium")
    assert desk.do("check").code == 0


def test_forgetting_tells_what_is_left_to_do(tmp_path: Path) -> None:
    """A story with the name in it is listed with the command that puts it right."""
    desk = Desk(tmp_path)
    desk.do('dropoff add --donor "Ilva Brandt" --contents "a radio" --story "Of Ilva\'s attic"')
    donor = desk.do("donor list --plain").first
    told = desk.do(f"donor forget {donor} --reason asked --yes")

    assert "“Of Ilva's attic”; put it right: salvage correct dropoff" in told.out
    assert "the journal keeps what was typed there" in told.out
