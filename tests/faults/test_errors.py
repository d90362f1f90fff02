"""Each command of the job meets a disk with errors or without room: done wholly, or not at all."""

from __future__ import annotations

import json
from typing import Any

import pytest

from salvage.work.catalogue import OPERATIONS
from tests.faults.disk import build, run_on_it


@pytest.fixture(scope="module")
def tallies(tmp_path_factory: pytest.TempPathFactory) -> list[dict[str, Any]]:
    """What a sample of faults left, command by command, and the sums as the last."""
    library = build(tmp_path_factory.mktemp("disk"))
    ran = run_on_it(library, "tests.faults.errors", ["--inside"])
    assert ran.stderr == ""
    return [json.loads(line) for line in ran.stdout.splitlines()]


def test_a_disk_with_errors_takes_nothing_half(tallies: list[dict[str, Any]]) -> None:
    """Wherever the disk fails or fills, the record is as before or whole, and one line says so."""
    faults = {tally["name"]: tally["faults"] for tally in tallies[:-1] if tally["faults"]}

    assert faults == {}


def test_every_change_meets_a_bad_disk(tallies: list[dict[str, Any]]) -> None:
    """No changing operation of the catalogue is left out, nor are copies, papers and exports."""
    tried = {tally["name"] for tally in tallies[:-1]}
    changing = {operation.name for operation in OPERATIONS if operation.changes}
    besides = {"back_up", "restore", "export_csv", "export_prov", "rebuild_tables"}

    assert changing | besides <= tried


def test_the_disk_did_fail(tallies: list[dict[str, Any]]) -> None:
    """Faults of each kind were met, most were told, and not one was met by chance alone."""
    sums = tallies[-1]

    assert min(sums[mode] for mode in ("once", "forever", "full", "budget")) > 20
    assert sums["refused"] > sums["cases"] / 2
    assert sums["done"] + sums["refused"] == sums["cases"] == 3 * sums["commands"]
