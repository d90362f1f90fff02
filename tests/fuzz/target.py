"""A door by which outside data come in, and how what came of an input is judged."""

from __future__ import annotations

import re
import traceback
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from random import Random
from types import TracebackType

from salvage.errors import SalvageError
from tests.fuzz.mutate import change_bytes

SEEDS = Path(__file__).parent / "seeds"
"""One folder for each target, of small files: sound ones, and those that once did harm."""

DONE, REFUSED = "done", "refused"

Importer = Callable[[bytes], None]
Mutator = Callable[[Random, bytes], bytes]


@dataclass(frozen=True)
class Target:
    """
    One importer.

    Args:
        name: What it is called on the command line, and its folder of seeds.
        open: Makes it ready in an empty folder, and gives what takes one input.
        change: Changes an input by the rules of its format.
        share: Parts of a thousand inputs of a whole run; what is slow has fewer.
        most_bytes: Longest input.
        grown: Sound inputs that are made and not kept, since they change with the program.
    """

    name: str
    open: Callable[[Path], Importer]
    change: Mutator
    share: int
    most_bytes: int = 4096
    grown: Callable[[Path], Sequence[bytes]] = lambda folder: ()

    def changed(self, rng: Random, data: bytes) -> bytes:
        """A changed input, by its bytes where it is too far from its format."""
        with Witness():
            return self.change(rng, data)[: self.most_bytes]
        return change_bytes(rng, data)[: self.most_bytes]

    def seeds(self, folder: Path) -> list[bytes]:
        """Inputs to begin with; *folder* is a scratch folder for those that are grown."""
        kept = sorted((SEEDS / self.name).iterdir()) if (SEEDS / self.name).is_dir() else []
        return [*(path.read_bytes() for path in kept), *self.grown(folder)]


@dataclass(frozen=True)
class Finding:
    """
    An input that ended in anything but our own words.

    Args:
        target: The importer.
        what: The error's kind and place, one for each fault.
        trace: The traceback; empty where the process died or hung.
        data: The input.
    """

    target: str
    what: str
    trace: str
    data: bytes


class Bug(Exception):
    """
    A face met an error that is none of ours, and said so.

    Args:
        trace: The traceback that it told.
    """

    def __init__(self, trace: str) -> None:
        super().__init__(trace[-2000:])
        found = re.findall(r'File ".*/salvage/([^"]+)", line \d+, in (\w+)', trace)
        words = re.findall(
            r"^([A-Za-z_.]+(?:Error|Exception|Limit|Trouble)\b.*)", trace, re.MULTILINE
        )
        said = words[-1][:60] if words else "a bug"
        self.place = f"{said} at {':'.join(found[-1]) if found else '?'}"


def judge(target: str, importer: Importer, data: bytes) -> str | Finding:
    """
    What came of one input: done, refused in our own words, or a finding.

    Args:
        target: The importer's name.
        importer: It, made ready.
        data: The input.
    """
    with Witness() as seen:
        importer(data)
    if seen.error is None:
        return DONE
    if isinstance(seen.error, SalvageError):
        str(seen.error)
        return REFUSED
    trace = "".join(traceback.format_exception(seen.error))
    return Finding(target, _place_of(seen.error), trace, data)


class Witness:
    """Sees what is raised within, whatever it is, so that the run goes on; an interrupt passes."""

    error: BaseException | None = None

    def __enter__(self) -> Witness:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> bool:
        self.error = error
        return not isinstance(error, KeyboardInterrupt)


def _place_of(error: BaseException) -> str:
    if isinstance(error, Bug):
        return error.place
    frames = traceback.extract_tb(error.__traceback__)
    ours = [frame for frame in frames if "/salvage/" in frame.filename] or frames
    last = ours[-1]
    where = last.filename.rpartition("/salvage/")[2]
    return f"{type(error).__name__} at {where}:{last.name}"
