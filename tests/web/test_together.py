"""Several people and the command line at once: nothing is lost, and nobody is turned away."""

from __future__ import annotations

from pathlib import Path

from salvage.work.check import run_checks
from salvage.work.workshop import open_workshop
from tests.crowd import crowd


def test_eight_browsers_and_the_command_line(tmp_path: Path) -> None:
    """On a busy day eight browsers and the desk write at once; every entry is on the record."""
    told = crowd(tmp_path / "shop", browsers=8, each=3)

    assert (told["sent"], told["errors"]) == (27, 0)
    assert told["kept"] == 27
    with open_workshop(tmp_path / "shop") as shop:
        wrong = [check for check in run_checks(shop) if check.faults]
    assert wrong == []
