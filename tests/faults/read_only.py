"""
A workshop that cannot be written, or not even read, by whoever looks.

``python -m tests.faults.read_only`` lays such workshops out, runs command lines on them as a user
without rights, and prints what they told as JSON. Where it is started by root it becomes nobody
first, since root may write everything.
"""

from __future__ import annotations

import json
import os
import shutil
import sys
import tempfile
from pathlib import Path
from typing import Any

from tests.bench import add_board, add_cleared_board, cut_circle, make_shop
from tests.desk import Desk
from tests.faults.stage import Worker, load_modules

NOBODY = 65534
"""Number of the user without rights, on Linux by long custom."""

LOOKING = (
    "board list",
    "board list --json",
    "dropoff list --plain",
    "piece list --plain",
    "history {board} --plain",
    "trace {piece} --plain",
    "journal --plain",
    "scan {piece} --plain",
    "export prov {piece} --out {out}/prov.json --force --plain",
    "check",
)

WRITING = (
    "board move {board} attic",
    "dropoff add --donor Ilva --contents cards --naming anonymous --date 2026-05-02 --data 'no'",
    "photo {board} {photo}",
    "piece price {piece} 12",
    "undo --yes",
    "rebuild",
    "label {board} --out {out}/label.pdf",
    "proof sign",
)

ASKED = {
    "shop": LOOKING,
    "folder": (*LOOKING, *WRITING, "backup {sealed}/stick", "place add attic --shop {sealed}/new"),
    "file": (*LOOKING, *WRITING),
    "unclosed": ("board list", "board move {board} attic"),
    "closed-folder": ("board list", "board move {board} attic"),
    "closed-file": ("board list", "board move {board} attic"),
}
"""Command lines by the workshop on which they are tried."""


def become_nobody() -> None:
    """Give up all rights."""
    if os.geteuid() == 0:
        os.setgroups([])
        os.setgid(NOBODY)
        os.setuid(NOBODY)


def lay_out(folder: Path) -> dict[str, str]:
    """A closed workshop, and copies of it that are sealed in several ways."""
    from tests.faces.step import photo_bytes

    with make_shop(folder / "shop") as shop:
        board = add_cleared_board(shop)
        piece = cut_circle(shop, board.code, 40, 40).piece
        assert piece is not None
        shop.conn.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        last = add_board(shop)
        shutil.copytree(folder / "shop", folder / "unclosed")  # what a pulled card holds
    (folder / "unclosed" / "workshop.db-shm").unlink()
    for name in ("folder", "file", "closed-folder", "closed-file"):
        shutil.copytree(folder / "shop", folder / name)
    (folder / "photo.png").write_bytes(photo_bytes())
    (folder / "sealed").mkdir()
    (folder / "out").mkdir()
    return {
        "board": board.code,
        "piece": piece.code,
        "last": last.code,
        "photo": str(folder / "photo.png"),
        "out": str(folder / "out"),
        "sealed": str(folder / "sealed"),
    }


def seal(folder: Path) -> None:
    """Take the rights away."""
    for name in ("folder", "unclosed", "sealed"):
        for path in (folder / name).rglob("*"):
            path.chmod(0o555 if path.is_dir() else 0o444)
        (folder / name).chmod(0o555)
    (folder / "file").chmod(0o777)
    (folder / "file" / "workshop.db").chmod(0o444)
    (folder / "closed-file").chmod(0o777)
    (folder / "closed-file" / "workshop.db").chmod(0o000)
    (folder / "closed-folder").chmod(0o000)
    (folder / "out").chmod(0o777)


def look(folder: Path, shop: str, line: str) -> dict[str, Any]:
    """What a line tells on a workshop."""
    become_nobody()
    return vars(Desk(folder, environment={"SALVAGE_SHOP": str(folder / shop)}).run(line))


def _load_what_they_need(folder: Path, names: dict[str, str]) -> None:
    """Load the libraries here, of which nobody may not even read the files."""

    def all_lines(asked: object) -> list[str]:
        for line in (*LOOKING, *WRITING):
            Desk(folder, environment={"SALVAGE_SHOP": str(folder / "trial")}).run(
                line.format_map(names)
            )
        return sorted(sys.modules)

    shutil.copytree(folder / "shop", folder / "trial")
    worker = Worker(all_lines)  # not here: some libraries begin threads, which no child inherits
    load_modules(worker.ask(None))
    worker.end()
    for path in (folder / "out").iterdir():
        path.unlink()


def main() -> None:
    """Run from the command line."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        folder.chmod(0o755)
        names = lay_out(folder)
        _load_what_they_need(folder, names)
        seal(folder)

        worker = Worker(lambda asked: look(folder, *asked))
        told = {
            shop: {line: worker.ask((shop, line.format_map(names))) for line in lines}
            for shop, lines in ASKED.items()
        }
        worker.end()
        (folder / "closed-folder").chmod(0o700)
        sys.stdout.write(json.dumps({"names": names, "told": told}))


if __name__ == "__main__":
    main()
