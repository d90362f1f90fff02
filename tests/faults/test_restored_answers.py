"""
A restored workshop gives every answer that the workshop gave at the moment of the copy.

The copy is made while another process writes. What the workshop was at that moment is worked out
on another way: the first events of its journal, as many as the copy has, are replayed into an empty
database. So the two workshops that are asked have nothing in common but the journal.
"""

from __future__ import annotations

import shutil
import subprocess
import sys
import time
from datetime import timedelta
from pathlib import Path

from salvage.store.connection import connect
from salvage.store.exchange import Line, Sealed
from salvage.store.migrations import migrate
from salvage.store.projection import rebuild
from salvage.store.take_in import take_lines, take_sealed
from salvage.work.workshop import Workshop, open_workshop
from tests.bench import START
from tests.desk import Desk, Told
from tests.faces.test_three_faces import play_python
from tests.faults.questions import BY_CODE, NOT_ASKED, PLAIN, look_ups, questions

WRITER = """
import itertools, pathlib, sys
from salvage.work.setup import change_settings
from salvage.work.workshop import open_workshop
folder, stop = map(pathlib.Path, sys.argv[1:])
with open_workshop(folder, by="Ebbe") as shop:
    for number in itertools.count():
        change_settings(shop, typed={"place": f"Harbour Lane {number}"})
        if stop.exists():
            break
"""


def at_that_moment(shop: Workshop, folder: Path, *, events: int) -> None:
    """Lay a workshop out that knows the first so many events, and nothing else."""
    folder.mkdir()
    conn = connect(folder / "workshop.db")
    migrate(conn, folder / "workshop.db", now="2026-05-04T09:00:00.000Z")
    conn.execute("BEGIN IMMEDIATE")
    rows = shop.conn.execute("SELECT body, hash FROM event ORDER BY seq LIMIT ?", (events,))
    take_lines(conn, (Line(body, digest) for body, digest in rows))
    words = shop.conn.execute("SELECT seal, salt, value FROM private_field")
    take_sealed(conn, (Sealed(*row) for row in words))
    rebuild(conn)
    conn.execute("INSERT INTO this_device VALUES (1, ?)", (shop.settings.device,))
    conn.execute("COMMIT")
    conn.close()
    shutil.copytree(shop.files.folder, folder / "files")
    shutil.copytree(shop.folder / "checkpoints", folder / "checkpoints")


def copy_while_written(desk: Desk) -> dict[str, object]:
    """Copy the workshop while another process changes it; gives what the copy says of itself."""
    stop = desk.folder / "stop"
    count = "SELECT max(seq) FROM event"
    with open_workshop(desk.shop) as shop:
        (first,) = shop.conn.execute(count).fetchone()
        writer = subprocess.Popen([sys.executable, "-c", WRITER, str(desk.shop), str(stop)])
        while shop.conn.execute(count).fetchone()[0] < first + 3:
            time.sleep(0.02)
        told: dict[str, object] = desk.do("backup stick --json").value
        (then,) = shop.conn.execute(count).fetchone()
        while shop.conn.execute(count).fetchone()[0] < then + 3:
            time.sleep(0.02)
    stop.touch()
    assert writer.wait(timeout=60) == 0
    return told


def test_a_restored_workshop_gives_every_answer_of_that_moment(tmp_path: Path) -> None:
    """Each look-up of each code, in JSON: what is told, what is said beside it, and the exit."""
    play_python(tmp_path)
    later = START + timedelta(days=2)
    desk = Desk(tmp_path, clock=lambda: later)
    told = copy_while_written(desk)
    events = int(str(told["events"]))
    desk.do(f"--shop {tmp_path}/there/shop restore stick")
    (tmp_path / "here").mkdir()
    with open_workshop(desk.shop) as shop:
        at_that_moment(shop, tmp_path / "here" / "shop", events=events)
        (all_events,) = shop.conn.execute("SELECT count(*) FROM event").fetchone()
    with open_workshop(tmp_path / "here" / "shop") as shop:
        asked = list(questions(shop))
    here = Desk(tmp_path / "here", clock=lambda: later)
    there = Desk(tmp_path / "there", clock=lambda: later)
    other = [line for line in asked if answer(here, line) != answer(there, line)]

    assert other == []
    assert events < all_events
    assert len(asked) > 200


def answer(desk: Desk, line: str) -> Told:
    """What a workshop says to a question, wherever it lies."""
    told = desk.run(line)
    here = str(desk.folder)
    return Told(told.code, told.out.replace(here, "HERE"), told.err.replace(here, "HERE"))


def test_every_look_up_is_asked() -> None:
    """A look-up that is added is asked too, or it is said why not."""
    asked = {line.split(" --")[0] for line in PLAIN} | BY_CODE.keys()
    asked = {line for line in look_ups() if any(f"{one} ".startswith(f"{line} ") for one in asked)}

    assert look_ups() - asked == NOT_ASKED
