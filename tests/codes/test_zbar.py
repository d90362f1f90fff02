"""The second reader lives in a process of its own: what it does there costs nothing here."""

from __future__ import annotations

import sys
from collections.abc import Iterator

import numpy as np
import pytest
from PIL import Image

from salvage.codes.draw import draw_qr, symbol_png
from salvage.codes.zbar import SecondReader

ABORTS = "import os, sys; print('ready', flush=True); sys.stdin.buffer.readline(); os.abort()"
HANGS = "import time; print('ready', flush=True); time.sleep(60)"


def drawn(text: str) -> np.ndarray[tuple[int, ...], np.dtype[np.uint8]]:
    """A QR code as gray pixels."""
    import io

    return np.asarray(Image.open(io.BytesIO(symbol_png(draw_qr(text), dots=6))).convert("L"))


@pytest.fixture
def readers() -> Iterator[list[SecondReader]]:
    """Readers to be closed at the end."""
    made: list[SecondReader] = []
    yield made
    for reader in made:
        reader.close()


def test_a_code_is_read_in_the_other_process(readers: list[SecondReader]) -> None:
    """Text and corners come back, and the time it took there is known."""
    reader = SecondReader()
    readers.append(reader)
    (found,) = reader.see(drawn("BC0002J"))

    assert (found.text, found.symbology, found.reader) == ("BC0002J", "QR", "pyzbar")
    assert reader.spent_ms > 0


def test_an_abort_there_costs_nothing_here(readers: list[SecondReader]) -> None:
    """A picture that makes the library abort gives no reading, and the next one is asked anew."""
    reader = SecondReader((sys.executable, "-c", ABORTS))
    readers.append(reader)
    answers = [reader.see(drawn("BC0002J")) for _ in range(5)]

    assert answers == [[]] * 5
    assert not reader.runs


def test_a_reader_that_hangs_is_stopped(readers: list[SecondReader]) -> None:
    """After its patience the child is stopped, and the cascade goes on."""
    reader = SecondReader((sys.executable, "-c", HANGS), patience_s=0.5)
    readers.append(reader)

    assert reader.see(drawn("BC0002J")) == []


def test_a_missing_program_is_a_missing_reader() -> None:
    """Where nothing can be started, reading goes on without."""
    reader = SecondReader(("/no/such/program",))

    assert not reader.runs
    assert reader.see(drawn("BC0002J")) == []
