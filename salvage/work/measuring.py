"""From a phone photo on a printed mat to a board's true outline."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from salvage.canonical import Json
from salvage.errors import BadValue, NotFound
from salvage.ids import Code
from salvage.records.things import Board, PrintedMat
from salvage.store.change import Change
from salvage.store.lookup import load_board
from salvage.store.rows import select, select_one
from salvage.units import from_um, to_um
from salvage.work.board_rules import check_keep_outs_inside, check_same_size
from salvage.work.photos import NewPhoto, append_photo, keep, look_over
from salvage.work.record import append_outline
from salvage.work.workshop import Workshop

if TYPE_CHECKING:
    from salvage.photo.measure.mat import Mat, PrintScale
    from salvage.photo.measure.result import Measurement


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


@dataclass(frozen=True, slots=True)
class BoardMeasured:
    """
    A board with what a photo said of it.

    Args:
        board: The board, with its new outline.
        measurement: Outline, holes, area, and how far to trust them.
        mat: The mat that gave the scale.
    """

    board: Board
    measurement: Measurement
    mat: PrintedMat


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
    A photo mat as PDF with a serial of its own.

    Args:
        shop: The open workshop.
        paper: ``a4``, ``a3``, ``letter``, ``legal``, ``a2``, or ``tiles`` for joined sheets.
        colour: Of the field; one that the boards do not have.
        dry_run: Do everything, then roll back.

    Raises:
        BadValue: If paper or colour is not known.
    """
    from salvage.paper.mat import MatSheet
    from salvage.paper.mat import print_mat as typeset_mat
    from salvage.photo.measure.mat import standard_mat
    from salvage.photo.measure.mat_drawing import mat_svg

    def steps(change: Change) -> PrintedMatView:
        serial = f"M{change.author.device}{len(list_mats(shop)) + 1}"
        mat = standard_mat(paper, colour=colour, serial=serial)
        sheets = []
        for number, sheet in enumerate(mat.sheets):
            left, bottom, right, top = sheet.page
            sheets.append(MatSheet(mat_svg(mat, sheet=number), right - left, top - bottom))
        pdf = typeset_mat(sheets, title=mat.identity, made_on=shop.today)
        change.append(
            "mat.printed",
            (),
            {"serial": serial, "paper": paper, "colour": colour, "family": mat.family},
        )
        return PrintedMatView(find_mat(shop, serial=serial), pdf)

    return shop.commit("print mat", steps, dry_run=dry_run)


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


def mat_of(printed: PrintedMat) -> Mat:
    """The mat as the measuring wants it."""
    from salvage.photo.measure.mat import standard_mat

    return standard_mat(printed.paper, colour=printed.colour, serial=printed.serial)


def scale_of(printed: PrintedMat) -> PrintScale | None:
    """What the ruler said of it; None while nobody asked the ruler."""
    from salvage.photo.measure.mat import print_scale_of_bars

    if printed.bar_x_um is None or printed.bar_y_um is None:
        return None
    return print_scale_of_bars(from_um(printed.bar_x_um), from_um(printed.bar_y_um))


def measure_board(
    shop: Workshop,
    *,
    board: Code,
    photos: tuple[NewPhoto, ...],
    serial: str = "",
    replace: bool = False,
    dry_run: bool = False,
) -> BoardMeasured:
    """
    Give a board the outline that a photo on a printed mat shows, with its 95 % interval.

    The photos are kept as they are, and beside them the first one squared up to the board, so that
    maps are drawn over it.

    Args:
        shop: The open workshop.
        board: The board's code.
        photos: One, or two of the board lying still: the second measures how high its face lies.
        serial: The mat in the photo; the newest one if empty.
        replace: Take the outline although it is unlike the one that the board has.
        dry_run: Do everything, then roll back; nothing is kept.

    Raises:
        NotFound: If there is no such board or mat.
        BadFile: If a photo cannot be measured honestly; the line says how to take a better one.
        Refused: If the board is cut already, its outline has another size and *replace* is not
            given, or a keep-out would lie outside the new outline.
    """
    found = load_board(shop.conn, board)
    printed = find_mat(shop, serial=serial)
    looked = _look_over(board, photos)
    measured = measure(found, photos, printed)
    _check_outline(shop, found, measured, replace=replace)
    squared = _squared_photo(board, measured)
    taken = [
        keep(shop, photo, told, dry_run=dry_run)
        for photo, told in zip(
            (*photos, squared), (*looked, look_over(board, squared)), strict=True
        )
    ]

    def steps(change: Change) -> BoardMeasured:
        append_outline(change, board, measured.outline, outline_words(measured, printed))
        for photo in taken:
            append_photo(change, board, photo)
        return BoardMeasured(load_board(change.conn, board), measured, printed)

    return shop.commit("measure board", steps, dry_run=dry_run)


def _look_over(board: Code, photos: tuple[NewPhoto, ...]) -> list[dict[str, Json]]:
    """What the record will say of one or two photos; names the file that is no photo."""
    if not 1 <= len(photos) <= 2:
        raise BadValue(f"{len(photos)} photos", hint="one, or two of the same lying board")
    return [look_over(board, photo) for photo in photos]


def _check_outline(shop: Workshop, board: Board, measured: Measurement, *, replace: bool) -> None:
    """Raise before any photo is kept if the outline is another board's, or loses keep-outs."""
    if not replace:
        check_same_size(board, measured.outline)
    check_keep_outs_inside(shop.conn, board, measured.outline)


def measure(board: Board, photos: tuple[NewPhoto, ...], printed: PrintedMat) -> Measurement:
    """What the photos say of a board; nothing is kept."""
    from salvage.photo.measure.measuring import measure_photo

    return measure_photo(
        photos[0].data,
        mats=(mat_of(printed),),
        thickness_mm=from_um(board.thickness_um) if board.thickness_um else None,
        print_scale=scale_of(printed),
        second_photo=photos[1].data if len(photos) > 1 else None,
    )


def outline_words(measured: Measurement, printed: PrintedMat) -> str:
    """
    Where an outline is from and how far to trust it, for the record.
    """
    checked = "" if printed.bar_x_um else ", print scale not checked"
    return f"photo on mat {printed.serial}, within {measured.interval_mm:.2f} mm{checked}"


def _squared_photo(board: Code, measured: Measurement) -> NewPhoto:
    from salvage.photo.intake import inspect_photo

    data = measured.squared_png
    facts = inspect_photo(data, name="squared up")
    width, height = float(facts.width_px), float(facts.height_px)
    corners = [(0.0, height), (width, height), (width, 0.0), (0.0, 0.0)]
    name = f"{board}-squared.png"
    return NewPhoto(data, name, "front", "squared up from the mat", corners_px=corners)
