"""
A report of several parts on A4 or Letter: facts, paragraphs, tables, pictures, signatures, sources.

The donor's report, the hazard log, the consignment note and the year's report are all of this form.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from salvage.errors import BadValue
from salvage.paper.sheet import PAPERS
from salvage.paper.typeset import Data, typeset
from salvage.paper.wording import Words, fill

if TYPE_CHECKING:
    from pathlib import Path


@dataclass(frozen=True, slots=True)
class Table:
    """
    A table.

    Args:
        head: Headings; may be empty for a table without.
        rows: Cells as text.
        shares: Widths of the columns, as shares.
        right: Columns that stand to the right, counted from 0.
        strong_last: Whether the last row is the sum.
    """

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    shares: tuple[float, ...]
    right: tuple[int, ...] = ()
    strong_last: bool = False


@dataclass(frozen=True, slots=True)
class Picture:
    """
    A picture with its caption.

    Args:
        data: PNG or JPEG.
        caption: Beneath it.
    """

    data: bytes
    caption: str


@dataclass(frozen=True, slots=True)
class Section:
    """
    A part of a report.

    Args:
        heading: Its heading; empty for none.
        paragraphs: One text each.
        table: Its table.
        pictures: Its pictures, two in a row.
        after: Paragraphs after table and pictures.
    """

    heading: str
    paragraphs: tuple[str, ...] = ()
    table: Table | None = None
    pictures: tuple[Picture, ...] = ()
    after: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Report:
    """
    What a report says.

    Args:
        title: Its title.
        code: Code of what it is about, with *symbol_svg*; both may be empty.
        symbol_svg: QR code of it.
        workshop: Name of the workshop.
        address: How it is reached; may be empty.
        facts: Names and values under the title.
        sections: Its parts.
        statement: What it is not; stands in a box.
        signatures: A line to sign for each; empty for none.
        sign_hint: What stands under such a line.
        sources: What its figures rest on.
        words: The document's words.
        count: Number of entries of the record when it was made.
        head: Hash of the last of them.
        is_wide: Whether it lies on its side, for wide tables.
    """

    title: str
    code: str
    symbol_svg: str
    workshop: str
    address: str
    facts: tuple[tuple[str, str], ...]
    sections: tuple[Section, ...]
    statement: str
    signatures: tuple[str, ...]
    sign_hint: str
    sources: tuple[str, ...]
    words: Words
    count: int
    head: str
    is_wide: bool = False


def print_report(
    report: Report, *, paper: str, made_on: date, extra_fonts: Path | None = None
) -> bytes:
    """
    A PDF of the report.

    Args:
        report: What it says.
        paper: ``a4`` or ``letter``.
        made_on: Date of the document.
        extra_fonts: Folder with more fonts.

    Raises:
        BadValue: If the paper is none of the two.
        NoGlyph: If no font has one of the characters.
    """
    if paper not in PAPERS:
        raise BadValue(f"'{paper}' is not a paper", hint=f"one of: {', '.join(PAPERS)}")
    pictures: dict[str, bytes] = {}
    sections = [_section_data(section, pictures) for section in report.sections]
    page = PAPERS[paper]
    data: dict[str, Data] = {
        "page_mm": (page[1], page[0]) if report.is_wide else page,
        "language": report.words["language"],
        "title": report.title,
        "code": report.code,
        "symbol": report.symbol_svg,
        "workshop": report.workshop,
        "address": report.address,
        "facts": [list(pair) for pair in report.facts],
        "sections": sections,
        "statement": report.statement,
        "signatures": report.signatures,
        "sign_hint": report.sign_hint,
        "sources": report.sources,
        "sources_title": report.words["sources"],
        "page_words": report.words["page"],
        "checkpoint": fill(report.words, "record", count=report.count, head=report.head[:8]),
    }
    return typeset("report", data, pictures=pictures, made_on=made_on, extra_fonts=extra_fonts)


def _section_data(section: Section, pictures: dict[str, bytes]) -> dict[str, Data]:
    """A part as the template takes it; its pictures go into *pictures* under names of their own."""
    drawn: list[Data] = []
    for picture in section.pictures:
        ending = "png" if picture.data.startswith(b"\x89PNG") else "jpg"
        name = f"picture-{len(pictures)}.{ending}"
        pictures[name] = picture.data
        drawn.append({"file": name, "caption": picture.caption})
    table = section.table
    return {
        "heading": section.heading,
        "paragraphs": section.paragraphs,
        "after": section.after,
        "pictures": drawn,
        "table": None
        if table is None
        else {
            "head": table.head,
            "rows": [list(row) for row in table.rows],
            "shares": table.shares,
            "right": table.right,
            "strong_last": table.strong_last,
        },
    }
