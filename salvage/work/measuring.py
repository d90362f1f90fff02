"""From a phone photo to a board's true outline."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from salvage.canonical import Json
from salvage.errors import BadValue
from salvage.ids import Code
from salvage.records.region import Region
from salvage.records.things import Board, PrintedMat
from salvage.store.change import Change
from salvage.store.lookup import load_board
from salvage.units import from_um
from salvage.work.board_rules import check_keep_outs_inside, check_same_size
from salvage.work.form_match import FormMatch, nearest_form, snap_to
from salvage.work.mats import find_mat, list_mats
from salvage.work.photos import NewPhoto, append_photo, keep, look_over
from salvage.work.record import append_outline
from salvage.work.taking import ON_MAT, Look, Taking, check_taking, choose, look_at_all, the_other
from salvage.work.workshop import Workshop

if TYPE_CHECKING:
    from salvage.photo.measure.result import Measurement


@dataclass(frozen=True, slots=True)
class PhotoMeasured:
    """
    What photos say of one board.

    Args:
        look: Outline and holes, and which mat gave the scale.
        form: The published form factor that it agrees with, or that was told.
        is_form: Whether the form factor's outline is taken instead of the measured one.
    """

    look: Look
    form: FormMatch | None = None
    is_form: bool = False

    @property
    def measurement(self) -> Measurement:
        """Outline, holes, area, and how far to trust them."""
        return self.look.measurement

    @property
    def outline(self) -> Region:
        """The outline to be recorded."""
        return self.form.snap.region if self.form and self.is_form else self.measurement.outline

    @property
    def words(self) -> str:
        """Where the outline is from and how far to trust it, for the record."""
        if self.form and self.is_form:
            return f"form factor {self.form.name}, {self.form.deviation}; {self.look.words}"
        return self.look.words


@dataclass(frozen=True, slots=True)
class BoardMeasured:
    """
    A board with what photos said of it.

    Args:
        board: The board, with its new outline.
        found: What the photos say.
    """

    board: Board
    found: PhotoMeasured

    @property
    def measurement(self) -> Measurement:
        """Outline, holes, area, and how far to trust them."""
        return self.found.measurement


def measure_board(
    shop: Workshop,
    *,
    board: Code,
    photos: tuple[NewPhoto, ...],
    taking: Taking = ON_MAT,
    form: str = "",
    replace: bool = False,
    dry_run: bool = False,
) -> BoardMeasured:
    """
    Give a board the outline that a photo shows, with its 95 % interval.

    The photos are kept as they are, and beside them the first one squared up to the board, so that
    maps are drawn over it.

    Args:
        shop: The open workshop.
        board: The board's code.
        photos: One, or two of the board lying still: the second measures how high its face lies.
        taking: How they get their scale; a printed mat tells by itself which one it is.
        form: A form factor whose published outline is recorded, if the board agrees with it.
        replace: Take the outline although it is unlike the one that the board has, or the form
            factor although the board strays from it.
        dry_run: Do everything, then roll back; nothing is kept.

    Raises:
        NotFound: If there is no such board, mat or form factor.
        BadFile: If a photo cannot be measured honestly; the line says how to take a better one.
        BadValue: If what was told of the photo makes no sense.
        Refused: If the board is cut already, its outline has another size and *replace* is not
            given, it strays from the form factor, or a keep-out would lie outside the new outline.
    """
    found = load_board(shop.conn, board)
    check_taking(taking, photos)
    looked = [look_over(board, photo) for photo in photos]
    look = choose(_look(shop, found, photos, taking), taking.take)
    told = _with_form(look, form, replace=replace)
    ready = _make_ready(shop, found, told, replace=replace)
    taken = [keep(shop, *pair, dry_run=dry_run) for pair in zip(photos, looked, strict=True)]
    squared = keep(shop, ready, look_over(board, ready), dry_run=dry_run)

    def steps(change: Change) -> BoardMeasured:
        return _append(change, board, told, [*taken, squared])

    return shop.commit("measure board", steps, dry_run=dry_run)


def measure_two_boards(
    shop: Workshop,
    *,
    boards: tuple[Code, Code],
    photos: tuple[NewPhoto, ...],
    taking: Taking,
    replace: bool = False,
    dry_run: bool = False,
) -> tuple[BoardMeasured, BoardMeasured]:
    """
    Give two boards that lie on one mat their outlines, in one step.

    Args:
        shop: The open workshop.
        boards: The one where *taking* says, and the other.
        photos: As for :func:`measure_board`; both boards keep them.
        taking: Where the first board lies in the photo, ``take``, must be told.
        replace: As for :func:`measure_board`.
        dry_run: Do everything, then roll back; nothing is kept.

    Raises:
        NotFound: If there is no such board or mat.
        BadFile: If the photo cannot be measured honestly, or does not show two boards.
        BadValue: If the boards are one, or *taking* does not tell which is which.
        Refused: As for :func:`measure_board`, for either board.
    """
    _check_two(boards, taking)
    check_taking(taking, photos)
    found = [load_board(shop.conn, board) for board in boards]
    looked = [[look_over(board, photo) for photo in photos] for board in boards]
    first = _look(shop, found[0], photos, taking)
    one = choose(first, taking.take)
    second, other = first, the_other(first, one)
    if found[0].thickness_um != found[1].thickness_um:
        second = _look(shop, found[1], photos, taking)
        other = the_other(second, choose(second, taking.take))
    told = [_with_form(look, "", replace=replace) for look in (one, other)]
    squared = [_make_ready(shop, *pair, replace=replace) for pair in zip(found, told, strict=True)]
    taken = [
        [keep(shop, *pair, dry_run=dry_run) for pair in zip(photos, facts, strict=True)]
        + [keep(shop, extra, look_over(board, extra), dry_run=dry_run)]
        for board, facts, extra in zip(boards, looked, squared, strict=True)
    ]

    def steps(change: Change) -> tuple[BoardMeasured, BoardMeasured]:
        done = [_append(change, *one) for one in zip(boards, told, taken, strict=True)]
        return done[0], done[1]

    return shop.commit("measure two boards", steps, dry_run=dry_run)


def _check_two(boards: tuple[Code, Code], taking: Taking) -> None:
    if boards[0] == boards[1]:
        raise BadValue(f"{boards[0]} is named twice", field="--with")
    if not taking.take:
        raise BadValue(
            f"which of the two is {boards[0]}?", hint="add --take left, right, upper or lower"
        )


def measure_only(
    shop: Workshop | None, *, photos: tuple[NewPhoto, ...], taking: Taking = ON_MAT
) -> PhotoMeasured:
    """
    What a photo says of a board that is not on record; nothing is kept.

    Args:
        shop: The open workshop, whose mats' print scales are known; None without one.
        photos: As for :func:`measure_board`.
        taking: How they get their scale.

    Raises:
        NotFound: If there is no such mat.
        BadFile: If the photo cannot be measured honestly.
        BadValue: If what was told of the photo makes no sense.
    """
    check_taking(taking, photos)
    mats = list_mats(shop) if shop else ()
    told = _told_mat(shop, taking) if shop else None
    if taking.serial and not shop:
        raise BadValue(
            f"there is no workshop here that knows mat {taking.serial}",
            hint="leave out --mat, or name the workshop with --shop",
        )
    looks = look_at_all(photos, taking, mats=mats, told=told)
    return _with_form(choose(looks, taking.take), "", replace=False)


def _told_mat(shop: Workshop, taking: Taking) -> PrintedMat | None:
    return find_mat(shop, serial=taking.serial) if taking.serial else None


def _look(
    shop: Workshop, board: Board, photos: tuple[NewPhoto, ...], taking: Taking
) -> tuple[Look, ...]:
    """What the photos say of all boards that are as thick as this one."""
    return look_at_all(
        photos,
        taking,
        mats=list_mats(shop),
        told=_told_mat(shop, taking),
        thickness_mm=from_um(board.thickness_um) if board.thickness_um else None,
    )


def look_at_board(
    shop: Workshop, board: Board, photos: tuple[NewPhoto, ...], taking: Taking = ON_MAT
) -> Look:
    """
    What photos say of a board on record; nothing is kept.

    Arguments and errors are those of :func:`measure_board`.
    """
    return choose(_look(shop, board, photos, taking), taking.take)


def _with_form(look: Look, form: str, *, replace: bool) -> PhotoMeasured:
    if form:
        return PhotoMeasured(look, snap_to(look.measurement, form, replace=replace), True)
    return PhotoMeasured(look, nearest_form(look.measurement))


def _make_ready(shop: Workshop, board: Board, found: PhotoMeasured, *, replace: bool) -> NewPhoto:
    """Raise before anything is kept if the outline cannot be recorded; gives the squared photo."""
    if not replace:
        check_same_size(board, found.outline)
    check_keep_outs_inside(shop.conn, board, found.outline)
    return _squared_photo(board.code, found)


def _append(
    change: Change, board: Code, found: PhotoMeasured, taken: Sequence[dict[str, Json]]
) -> BoardMeasured:
    append_outline(change, board, found.outline, found.words)
    for photo in taken:
        append_photo(change, board, photo)
    return BoardMeasured(load_board(change.conn, board), found)


def _squared_photo(board: Code, found: PhotoMeasured) -> NewPhoto:
    """The board in its measured frame, with the corners of the recorded outline's frame."""
    from salvage.photo.intake import inspect_photo

    data = found.measurement.squared_png
    facts = inspect_photo(data, name="squared up")
    width, height = float(facts.width_px), float(facts.height_px)
    corners = [(0.0, height), (width, height), (width, 0.0), (0.0, 0.0)]
    if found.form and found.is_form:
        scale = found.measurement.pictures.squared_px_per_mm
        wide, high = found.outline.size_mm
        box = [(0.0, 0.0), (wide, 0.0), (wide, high), (0.0, high)]
        corners = [
            (min(max(x * scale, 0.0), width), min(max(height - y * scale, 0.0), height))
            for x, y in found.form.snap.in_board_frame(box)
        ]
    how = "squared up from the mat" if found.look.mat else f"squared up, {found.measurement.method}"
    return NewPhoto(data, f"{board}-squared.png", "front", how, corners_px=corners)
