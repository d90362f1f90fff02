"""Printed photo mats: printing them, what a ruler says of them, and what their codes say."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from salvage.canonical import sha256_hex
from salvage.errors import BadValue, NotFound
from salvage.records.things import PrintedMat
from salvage.store.change import Change
from salvage.store.rows import select, select_one
from salvage.units import from_um, to_um
from salvage.work.workshop import Workshop

if TYPE_CHECKING:
    from datetime import date

    from salvage.photo.measure.mat import PrintScale

STRIP_PAPERS = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
"""Pages that height strips are printed on: ISO 216; ANSI/ASME Y14.1 (both from memory)."""

_STAMP_LETTERS = 4


@dataclass(frozen=True, slots=True)
class PrintedMatView:
    """
    A mat that was printed.

    Args:
        mat: The record.
        pdf: The document.
    """

    mat: PrintedMat
    pdf: bytes


def list_mats(shop: Workshop) -> tuple[PrintedMat, ...]:
    """All printed mats, newest first."""
    return select(shop.conn, PrintedMat, "FROM mat ORDER BY printed_at DESC, serial DESC")


def find_mat(shop: Workshop, *, serial: str = "") -> PrintedMat:
    """
    The mat with a serial; the newest where none is named.

    Raises:
        NotFound: If there is none.
    """
    if serial:
        found = select_one(shop.conn, PrintedMat, "FROM mat WHERE serial = ?", (serial.upper(),))
        if found:
            return found
        known = [mat.serial for mat in list_mats(shop)]
        raise NotFound(f"there is no mat '{serial}'", nearest=known[:5])
    mats = list_mats(shop)
    if not mats:
        raise NotFound("no mat was printed yet", hint="salvage mat print")
    return mats[0]


def print_mat(
    shop: Workshop, *, paper: str = "a4", colour: str = "magenta", dry_run: bool = False
) -> PrintedMatView:
    """
    A photo mat as PDF with a serial of its own, in words and as a code that photos show.

    Args:
        shop: The open workshop.
        paper: ``a4``, ``a3``, ``letter``, ``legal``, ``a2``, or ``tiles`` for joined sheets.
        colour: Of the field; one that the boards do not have.
        dry_run: Do everything, then roll back.

    Raises:
        BadValue: If paper or colour is not known.
    """
    from salvage.photo.measure.mat import standard_mat

    def steps(change: Change) -> PrintedMatView:
        serial = f"M{change.author.device}{len(list_mats(shop)) + 1}"
        family = standard_mat(paper, colour=colour, serial=serial).family
        change.append(
            "mat.printed",
            (),
            {"serial": serial, "paper": paper, "colour": colour, "family": family},
        )
        printed = find_mat(shop, serial=serial)
        return PrintedMatView(printed, _draw_mat(printed, made_on=shop.today))

    return shop.commit("print mat", steps, dry_run=dry_run)


def _draw_mat(printed: PrintedMat, *, made_on: date) -> bytes:
    from salvage.paper.mat import MatSheet
    from salvage.paper.mat import print_mat as typeset_mat
    from salvage.photo.measure.mat import standard_mat
    from salvage.photo.measure.mat_drawing import mat_svg

    mat = standard_mat(printed.paper, colour=printed.colour, serial=printed.serial)
    code = code_of_mat(printed)
    sheets = []
    for number, sheet in enumerate(mat.sheets):
        left, bottom, right, top = sheet.page
        sheets.append(MatSheet(mat_svg(mat, sheet=number, code=code), right - left, top - bottom))
    return typeset_mat(sheets, title=mat.identity, made_on=made_on)


def check_mat(
    shop: Workshop, *, serial: str = "", long_mm: float, short_mm: float, dry_run: bool = False
) -> PrintedMat:
    """
    Record what a ruler reads on a printed mat's two bars, which are meant to be 200 mm.

    Args:
        shop: The open workshop.
        serial: The mat; the newest if empty.
        long_mm: The bar along the long side.
        short_mm: The bar along the short side.
        dry_run: Do everything, then roll back.

    Raises:
        NotFound: If there is no such mat.
        BadValue: If a reading is further off than any printer gets.
    """
    from salvage.photo.measure.mat import print_scale_of_bars

    print_scale_of_bars(long_mm, short_mm)

    def steps(change: Change) -> PrintedMat:
        mat = find_mat(shop, serial=serial)
        bars = {"bar_x_um": to_um(long_mm), "bar_y_um": to_um(short_mm)}
        change.append("mat.checked", (), {"serial": mat.serial, **bars})
        return find_mat(shop, serial=mat.serial)

    return shop.commit("check mat", steps, dry_run=dry_run)


def scale_of(printed: PrintedMat) -> PrintScale | None:
    """What the ruler said of it; None while nobody asked the ruler."""
    from salvage.photo.measure.mat import print_scale_of_bars

    if printed.bar_x_um is None or printed.bar_y_um is None:
        return None
    return print_scale_of_bars(from_um(printed.bar_x_um), from_um(printed.bar_y_um))


def text_of_mat(printed: PrintedMat) -> str:
    """
    What the code on a mat says: its serial, and a stamp that tells it from another workshop's.

    The stamp follows from the record, so that it need not be kept.
    """
    facts = f"{printed.serial} {printed.paper} {printed.colour} {printed.printed_at}"
    return f"{printed.serial}-{sha256_hex(facts.encode())[:_STAMP_LETTERS].upper()}"


def code_of_mat(printed: PrintedMat) -> tuple[str, ...]:
    """Modules of the symbol on a mat, rows from the top."""
    from salvage.codes.draw import draw_data_matrix

    return draw_data_matrix(text_of_mat(printed)).rows


@dataclass(frozen=True, slots=True)
class MatPicture:
    """
    A mat as a picture.

    Args:
        png: The file.
        px_per_mm: Its scale.
        size_px: Width and height.
        field_px: Left, top, right and bottom of the coloured field, from the upper left.
    """

    png: bytes
    px_per_mm: float
    size_px: tuple[int, int]
    field_px: tuple[float, float, float, float]


def draw_mat_picture(*, paper: str, colour: str, dpi: float) -> MatPicture:
    """
    A mat without a serial as PNG, for whoever composes photos on it.

    Args:
        paper: As for :func:`print_mat`.
        colour: Of the field.
        dpi: Dots per inch, which the file says too.

    Raises:
        BadValue: If paper, colour or dpi is none that works.
    """
    from salvage.photo.measure.mat import standard_mat
    from salvage.photo.measure.mat_drawing import MOST_PIXELS, draw_mat_png, mat_page

    mat = standard_mat(paper, colour=colour)
    if not 25 <= dpi <= 1200:
        raise BadValue(
            f"{dpi:g} dots per inch is out of range", hint="25 up to 1200; try 300", field="--dpi"
        )
    scale, (left, bottom, right, top) = dpi / 25.4, mat_page(mat)
    field = mat.field
    size = round((right - left) * scale), round((top - bottom) * scale)
    if size[0] * size[1] > MOST_PIXELS:
        raise BadValue(
            f"a {paper} mat at {dpi:g} dpi has {size[0] * size[1] / 1e6:.0f} million pixels",
            hint=f"at most {MOST_PIXELS // 1_000_000} million; try 300",
            field="--dpi",
        )
    return MatPicture(
        draw_mat_png(mat, px_per_mm=scale),
        scale,
        size,
        (
            (field[0] - left) * scale,
            (top - field[3]) * scale,
            (field[2] - left) * scale,
            (top - field[1]) * scale,
        ),
    )


def print_strips(*, paper: str, made_on: date) -> bytes:
    """
    Height strips to cut out, as PDF.

    Args:
        paper: One of :data:`STRIP_PAPERS`.
        made_on: Date of the document.

    Raises:
        BadValue: If the paper is not known.
    """
    from salvage.paper.mat import MatSheet
    from salvage.paper.mat import print_mat as typeset_mat
    from salvage.photo.measure.mat_drawing import strips_svg

    if paper not in STRIP_PAPERS:
        raise BadValue(
            f"'{paper}' is no paper for height strips",
            hint="use " + ", ".join(STRIP_PAPERS),
            field="--paper",
        )
    width, height = STRIP_PAPERS[paper]
    drawing = strips_svg((0.0, 0.0, width, height))
    return typeset_mat([MatSheet(drawing, width, height)], title="height strips", made_on=made_on)
