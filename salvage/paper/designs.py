"""
Designs of cards and tags: a page description each, with a head that says what it is.

The head is read as text: the first comment tells in a line what the design is for, ``paper`` what
kind of paper it makes, ``trim`` its finished size, and ``photo-width`` how wide it shows a photo of
the piece. A design of the workshop's own is a copy of one of ours that somebody changed; it may
read nothing but our parts, the pictures that lie beside it, and the card's data.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from salvage.errors import BadTemplate, NotFound

PAPERS = ("story card", "statement of origin", "price tag", "stall card")
"""What a design may make. The first two tell who gave the board; the others say nothing of it."""

TELLING = PAPERS[:2]
"""Papers that tell the story and the origin."""

_MM = {"mm": 1.0, "cm": 10.0, "in": 25.4}
_MOST_MM = 420.0
_WORDS = re.compile(r"^// *(.+)$", re.MULTILINE)
_PAPER = re.compile(r'^#let paper = "([^"]*)"', re.MULTILINE)
_NUMBER = r"\s*([0-9]+(?:\.[0-9]+)?)(mm|cm|in)\s*"
_TRIM = re.compile(rf"^#let trim = \({_NUMBER},{_NUMBER}\)", re.MULTILINE)
_PHOTO = re.compile(rf"^#let photo-width = {_NUMBER}", re.MULTILINE)
_PICTURES = re.compile(r"\b(picture|photo|map)")
_NAMES = ("bleeds", "folds", "faces")
# The parts that a design may use; everything else that it imports must lie beside it.
_IMPORT = re.compile(r"\b(?:import|include)\b")
_IMPORT_OF = re.compile(r'\s*"([a-z0-9_-]{1,40}\.typ)"')
_FORBIDDEN = re.compile(r"\b(eval|plugin)\s*\(")


@dataclass(frozen=True, slots=True)
class Design:
    """
    One design.

    Args:
        name: What people call it, and the name of its file without the ending.
        words: What it is for, in one line.
        paper: One of :data:`PAPERS`.
        trim_mm: Finished size, width and height; unfolded where it is folded.
        source: The page description.
        own: Whether it is the workshop's.
        photo_mm: How wide a photo of the piece is printed; 0 where no picture is shown at all.
    """

    name: str
    words: str
    paper: str
    trim_mm: tuple[float, float]
    source: str
    own: bool = False
    photo_mm: float = 0.0

    @property
    def file(self) -> str:
        """Name of its file."""
        return f"{self.name}.typ"


@cache
def shipped_designs() -> Mapping[str, Design]:
    """Our designs by name: cards from the smallest to the largest, then tags."""
    found = files("salvage.paper").joinpath("designs").iterdir()
    designs = [
        parse_design(each.name.removesuffix(".typ"), each.read_text(encoding="utf-8"))
        for each in found
        if each.name.endswith(".typ")
    ]
    by_size = sorted(designs, key=lambda d: (PAPERS.index(d.paper), d.trim_mm[0] * d.trim_mm[1]))
    return {design.name: design for design in by_size}


def shipped_design(name: str) -> Design:
    """
    One of our designs.

    Raises:
        NotFound: If there is none of that name.
    """
    designs = shipped_designs()
    if name not in designs:
        raise NotFound(f"there is no design '{name}'", hint=f"known: {', '.join(designs)}")
    return designs[name]


def parse_design(name: str, source: str, *, own: bool = False) -> Design:
    """
    A design from its page description.

    Raises:
        BadTemplate: If its head lacks something, or it asks for what a design may not.
    """
    if own:
        check_harmless(name, source)
    words, paper, trim = (each.search(source) for each in (_WORDS, _PAPER, _TRIM))
    if not paper or paper[1] not in PAPERS:
        raise _faulty(name, f'it lacks a line such as #let paper = "{PAPERS[0]}"', source, paper)
    if not trim:
        raise _faulty(name, "it lacks a line such as #let trim = (105mm, 148mm)", source, None)
    size = (float(trim[1]) * _MM[trim[2]], float(trim[3]) * _MM[trim[4]])
    if not all(10 <= side <= _MOST_MM for side in size):
        raise _faulty(name, f"its sides must be from 10 to {_MOST_MM:g} mm", source, trim)
    for needed in _NAMES:
        if not re.search(rf"^#let {needed}\b", source, re.MULTILINE):
            raise _faulty(name, f"it lacks a line that begins with #let {needed}", source, None)
    told = words[1].strip() if words else ""
    return Design(name, told, paper[1], size, source, own, _photo_mm(source, size))


def _photo_mm(source: str, size: tuple[float, float]) -> float:
    """What the head says of the photo's width; without it, a photo may be as large as the card."""
    code = re.sub(r"//.*", "", source)
    if not _PICTURES.search(code):
        return 0.0
    found = _PHOTO.search(source)
    return float(found[1]) * _MM[found[2]] if found else max(size)


def check_harmless(name: str, source: str) -> None:
    """
    Raise if a page description could reach beyond its folder.

    The engine itself lets no file outside of the run's own folder be read. What is refused here are
    packages, which it would fetch from the network, and code that is made up while it runs.

    Raises:
        BadTemplate: With the place of the first offence.
    """
    for found in _IMPORT.finditer(source):
        if not _IMPORT_OF.match(source, found.end()):
            reason = "a design may import only files beside it, by a plain name"
            raise _faulty(name, reason, source, found)
    if forbidden := _FORBIDDEN.search(source):
        raise _faulty(name, f"a design may not use {forbidden[1]}", source, forbidden)


def _faulty(name: str, reason: str, source: str, where: re.Match[str] | None) -> BadTemplate:
    start = where.start() if where else 0
    line = source.count("\n", 0, start) + 1
    column = start - (source.rfind("\n", 0, start) + 1) + 1
    return BadTemplate(reason, file=f"{name}.typ", line=line, column=column)
