"""A process killed at any moment loses nothing that it had told, and leaves nothing half done."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from salvage.canonical import Json
from salvage.work.workshop import open_workshop
from tests.faults.children import Child, children_of, faults_of
from tests.faults.left import Left
from tests.faults.writer import work_until_killed

KILLS = int(os.environ.get("SALVAGE_KILLS", "200"))
"""How many to kill; a long run takes ten thousand."""

TOP = Path(__file__).resolve().parents[2]


@pytest.fixture(scope="module")
def killed(tmp_path_factory: pytest.TempPathFactory) -> Any:
    """What was counted while writers and backups were killed."""
    place = tmp_path_factory.mktemp("kills")
    words = [sys.executable, "-m", "tests.faults.killing", "--json", "--seed", "20260504"]
    words += ["--kills", str(KILLS), "--place", str(place)]
    done = subprocess.run(words, cwd=TOP, capture_output=True, text=True, check=False)
    assert done.stdout, done.stderr
    return json.loads(done.stdout)


def test_nothing_told_is_lost_and_nothing_is_half_done(killed: Any) -> None:
    """After each of the kills all is there, every check is green, and each backup is whole."""
    assert killed["faults"] == []
    assert killed["kills"] >= KILLS


def test_the_killed_were_at_work(killed: Any) -> None:
    """Writers of every kind of deed and backups were killed, alone and together, and had told."""
    # On a crowded machine they come to less between two kills than on a quiet one.
    assert min(killed["killed"].values()) > KILLS / 6
    assert set(killed["at_once"]) == {"1", "2", "3"}
    assert killed["moments"]["commit"] > KILLS / 8
    assert len(killed["deeds"]) > 25
    assert killed["operations_told"] > KILLS / 4
    assert killed["backups_restored"] > KILLS / 40


def test_the_harness_sees_what_is_lost(tmp_path: Path) -> None:
    """Where an operation that was told is not there, or only half of it is, that is named."""
    with open_workshop(tmp_path / "shop", by="Maren"):
        pass
    left = Left(tmp_path / "shop", tmp_path / "stick")
    assert left.faults() == []

    left.hear("about", ["an-operation", "2", "a-hash"])
    assert left.faults() == []  # killed before its COMMIT

    left.hear("done", ["an-operation", "BT0001X"])
    lost, gone = left.faults()
    assert (lost, gone) == (
        "an-operation was told and is not there",
        "BT0001X of an-operation is not there",
    )


def test_the_harness_sees_half_an_operation(tmp_path: Path) -> None:
    """Where fewer events are on record than were to be, or by somebody who told nothing."""
    left = Left(tmp_path / "shop", tmp_path / "stick")
    with open_workshop(tmp_path / "shop", by="Maren") as shop:
        shop.commit("x", lambda change: change.append("workshop.set", (), _NAMED))
        operation, digest = shop.conn.execute("SELECT operation, hash FROM event").fetchall()[-1]

    (unknown,) = left.faults()
    assert f"{operation} is there" in unknown
    left.hear("about", [operation, "2", digest])
    (half,) = left.faults()
    assert "events=1" in half
    left.hear("about", [operation, "1", digest])
    assert left.faults() == []


_NAMED: dict[str, Json] = {"settings": {"name": "Tidewrack"}}


def test_orphans_are_named_and_do_no_harm(tmp_path: Path) -> None:
    """A part file of a writer killed while saving is no file, and no check stumbles over it."""
    with children_of(Child(work_until_killed, tmp_path / "shop", 1)) as (child,):
        child.listen(least=4)
        child.kill()
    part = tmp_path / "shop" / "files" / "ab" / ".part-x"
    part.parent.mkdir(parents=True, exist_ok=True)
    part.write_bytes(b"half a pho")

    assert faults_of(tmp_path / "shop", child.told) == []
