"""
Pages with commands and their real output.

A page's ``console`` blocks hold lines that begin with ``$ salvage``; what stands below each is what
the program said. All commands of one page run one after the other in one folder, with a fixed clock
and seeded randomness. ``python -m tests.docs.walk`` writes the output anew; a test compares it.
"""

from __future__ import annotations

import io
import re
import shlex
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from demo_db.pictures import board_photo
from salvage.cli.app import run
from salvage.cli.world import World
from salvage.work.workshop import open_workshop
from tests.bench import SteppingClock, seeded_entropy
from tests.docs.pages import DOCS

PAGES = (
    DOCS.parent / "README.md",
    DOCS / "tutorial" / "first-card.md",
    DOCS / "howto" / "plan-an-order.md",
)
"""Pages whose commands are run."""

_BLOCK = re.compile(r"```console\n(.*?)```", re.DOTALL)
_WIDTH = 92


@dataclass(frozen=True)
class Told:
    """
    One command and what it said.

    Args:
        line: As typed.
        output: Both streams in order, without colour.
        exit_code: What it ended with.
    """

    line: str
    output: str
    exit_code: int


def lay_out(folder: Path) -> None:
    """Put the files that a page's reader would have into the folder."""
    photo = board_photo(seed=7, width_mm=120, height_mm=80, mask="green", side="front")
    (folder / "front.jpg").write_bytes(photo.jpeg)
    shape = DOCS.parent / "demo_db" / "shapes" / "tern.svg"
    (folder / "tern.svg").write_bytes(shape.read_bytes())


def corners() -> str:
    """The corners of the board in ``front.jpg``, as typed."""
    photo = board_photo(seed=7, width_mm=120, height_mm=80, mask="green", side="front")
    return " ".join(f"{x:.0f},{y:.0f}" for x, y in photo.corners_px)


def tell(lines: Iterator[str], folder: Path) -> Iterator[Told]:
    """Run command lines in a folder and give what each said."""
    clock, entropy = SteppingClock(), seeded_entropy(3)
    open_workshop(folder / "shop", clock=clock, entropy=entropy, device="C").close()
    for line in lines:
        stream = io.StringIO()
        world = World(
            clock=clock,
            entropy=entropy,
            environment={"SALVAGE_SHOP": str(folder / "shop")},
            folder=folder,
            stdin=io.StringIO(),
            stdout=stream,
            stderr=stream,
            width=_WIDTH,
        )
        code = run(shlex.split(line)[1:], world)
        yield Told(line, stream.getvalue().replace(f"{folder}/", ""), code)


def walk(text: str, folder: Path) -> str:
    """The page's text with every command's output as it is now."""
    lay_out(folder)
    commands = (
        line.removeprefix("$ ")
        for block in _BLOCK.findall(text)
        for line in block.splitlines()
        if line.startswith("$ ")
    )
    told = tell(commands, folder)

    def renew(match: re.Match[str]) -> str:
        count = sum(line.startswith("$ ") for line in match[1].splitlines())
        return f"```console\n{''.join(map(_entry, _take(told, count)))}```"

    return _BLOCK.sub(renew, text)


def _take(told: Iterator[Told], count: int) -> list[Told]:
    return [next(told) for _ in range(count)]


def _entry(told: Told) -> str:
    lines = "".join(f"{line.rstrip()}\n" for line in told.output.splitlines())
    return f"$ {told.line}\n{lines}"


def main() -> None:
    """Write the output of all pages anew."""
    for page in PAGES:
        with tempfile.TemporaryDirectory() as folder:
            page.write_text(walk(page.read_text(encoding="utf-8"), Path(folder)), encoding="utf-8")


if __name__ == "__main__":
    main()
