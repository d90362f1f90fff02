"""
Work that goes on until it is killed, told step by step to whoever listens.

Each thing is told only after the operation that made it has returned: what was told must be there
whatever happens next.
"""

from __future__ import annotations

import io
import os
import random
import signal
from collections.abc import Iterator
from multiprocessing.connection import Connection
from multiprocessing.synchronize import Barrier
from pathlib import Path

from salvage.geometry.outline import rectangle
from salvage.ids import Code
from salvage.store.change import Change
from salvage.work.clear import NewCheck, record_checks
from salvage.work.cutting import NewCut, Spot, record_cut
from salvage.work.donors import NewDonor
from salvage.work.history import read_history, undo
from salvage.work.library import choose_shape
from salvage.work.photos import NewPhoto, add_photo
from salvage.work.receive import NewDropOff, log_drop_off
from salvage.work.record import NewBoard, record_boards
from salvage.work.workshop import Workshop, open_workshop

Told = tuple[str, str]
"""What was done, and the code or hash that it gave."""


def work_until_killed(folder: Path, seed: int, told: Connection) -> None:
    """Log, photograph, cut and undo without end, telling each thing once it is done."""
    dice = random.Random(seed)
    with open_workshop(folder, by=f"writer {seed}") as shop:
        told.send(("opened", shop.settings.device))
        while True:
            for done in _one_box(shop, dice):
                told.send(done)


def _one_box(shop: Workshop, dice: random.Random) -> Iterator[Told]:
    donor = NewDonor(f"donor {dice.random()}", described_as="a radio station", naming="described")
    view = log_drop_off(shop, donor=donor, new=NewDropOff(shop.today, "a box"))
    yield "drop-off", view.drop_off.code
    new = NewBoard(view.drop_off.code, "memory-module", outline=rectangle(120, 80))
    board = record_boards(shop, new=new)[0].code
    yield "board", board
    record_checks(shop, boards=[board], checks=[NewCheck("data-bearing-part", "absent", how="x")])
    photo = add_photo(shop, code=board, new=NewPhoto(_picture(dice), "front.png"))
    yield "file", photo.sha256
    for x_mm in (20, 60, 100):
        yield "piece", _cut(shop, board, x_mm)
    if dice.random() < 0.5:
        slip = _cut(shop, board, 60, y_mm=70, width_mm=8)
        # By its id: the newest operation may be somebody else's by now.
        undo(shop, operation=read_history(shop, slip)[-1].event.operation, why="a slip")


def _cut(shop: Workshop, board: Code, x_mm: int, *, y_mm: int = 40, width_mm: float = 30) -> Code:
    shape = choose_shape(shop, name="circle", width_mm=width_mm)
    piece = record_cut(shop, new=NewCut(board, Spot(shape, x_mm * 1000, y_mm * 1000))).piece
    assert piece is not None
    return piece.code


def _picture(dice: random.Random) -> bytes:
    from PIL import Image

    out = io.BytesIO()
    Image.frombytes("L", (64, 64), dice.randbytes(64 * 64)).save(out, "PNG")
    return out.getvalue()


def stand_still_inside(folder: Path, seed: int, told: Connection) -> None:
    """Begin to write, and stand still there until somebody says to go on; then log a drop-off."""
    with open_workshop(folder, by=f"writer {seed}") as shop:

        def steps(change: Change) -> None:
            told.send(("opened", "inside"))
            os.kill(os.getpid(), signal.SIGSTOP)

        shop.commit("stand still", steps)
        code = log_drop_off(shop, donor=NewDonor("Ilva"), new=NewDropOff(shop.today, "a box"))
        told.send(("drop-off", code.drop_off.code))
    told.close()


def begin_together(folder: Path, seed: int, told: Connection, start: Barrier) -> None:
    """Open a workshop at the same moment as others, and log one drop-off."""
    start.wait(60)
    with open_workshop(folder, by=f"writer {seed}") as shop:
        told.send(("opened", shop.settings.device))
        new = NewDropOff(shop.today, "a box")
        told.send(("drop-off", log_drop_off(shop, donor=NewDonor("Ilva"), new=new).drop_off.code))
    told.close()


def work_together(folder: Path, seed: int, told: Connection, start: Barrier) -> None:
    """Forty operations at the same time as others: drop-offs, boards, clearings and cuts."""
    with open_workshop(folder, by=f"writer {seed}") as shop:
        start.wait(60)
        for _ in range(5):  # a box is 8 operations: 3 of receiving and clearing, a photo, 3 cuts
            new = NewDropOff(shop.today, "a bag")
            code = log_drop_off(shop, donor=NewDonor("Ilva"), new=new).drop_off.code
            told.send(("drop-off", code))
            for done in _one_box(shop, random.Random(seed)):
                told.send(done)
    told.close()
