"""``salvage measure``: a board's outline from a photo."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, TypeAlias

import typer

from salvage.cli.command import CommandSet
from salvage.cli.failures import Misuse
from salvage.cli.files import check_target, naming, read_file, write_file
from salvage.cli.measured_view import measured_lines, measured_record, show_refusal
from salvage.cli.options import Force, completer
from salvage.cli.session import Session, session_of
from salvage.cli.show import note, show_change, show_record
from salvage.errors import SalvageError

if TYPE_CHECKING:
    from salvage.records.things import Board
    from salvage.work.measuring import PhotoMeasured
    from salvage.work.photos import Corners, NewPhoto
    from salvage.work.taking import Taking
    from salvage.work.workshop import Workshop

    Shown: TypeAlias = tuple[PhotoMeasured, Board | None]

commands = CommandSet()


_Named = Annotated[
    list[str],
    typer.Argument(
        metavar="[BOARD] PHOTO",
        help="The board, and its photo; a photo alone is measured and nothing is kept.",
        autocompletion=completer("B"),
    ),
]
_Second = Annotated[
    str, typer.Option(metavar="PHOTO", help="From another side: measures the height.")
]
_Mat = Annotated[
    str, typer.Option(metavar="SERIAL", help="Refuse the photo if it shows another mat.")
]
_Take = Annotated[
    str,
    typer.Option(metavar="WHERE", help="Of two boards: the left, right, upper or lower one."),
]
_With = Annotated[
    str, typer.Option("--with", metavar="BOARD2", help="Record the other of two boards too.")
]
_Form = Annotated[
    str, typer.Option(metavar="NAME", help="Record this form factor's outline, if it agrees.")
]
_Card = Annotated[
    str,
    typer.Option(
        metavar='"X,Y X,Y X,Y X,Y"',
        help="Without a mat: corners of a bank card beside the board, in pixels: lower left,"
        " lower right, upper right, upper left.",
    ),
]
_Corners = Annotated[
    str,
    typer.Option(
        metavar='"X,Y X,Y X,Y X,Y"',
        help="Without a mat: corners of a rectangle of known --size, such as the board's own.",
    ),
]
_Size = Annotated[str, typer.Option(metavar="WxH", help="Width x height of that rectangle, in mm.")]
_Dpi = Annotated[
    float, typer.Option(metavar="DPI", help="The photo is a flatbed scan of this resolution.")
]
_Overlay = Annotated[
    str, typer.Option(metavar="FILE", help="Write the photo with the outline on it.")
]
_Replace = Annotated[
    bool,
    typer.Option(
        "--replace",
        help="Take it though the board has another size on record, or strays from --form.",
    ),
]


@commands.command(
    "measure", example="salvage measure BC0002J board.jpg --overlay look.jpg", changes=True
)
def measure(
    context: typer.Context,
    named: _Named,
    second: _Second = "",
    mat: _Mat = "",
    take: _Take = "",
    other: _With = "",
    form: _Form = "",
    card: _Card = "",
    corners: _Corners = "",
    size: _Size = "",
    dpi: _Dpi = 0.0,
    overlay: _Overlay = "",
    replace: _Replace = False,
    force: Force = False,
) -> None:
    """
    Take a board's outline, holes and area from a photo on a printed mat.

    Look at the overlay before you cut: a thing that lies over the board's edge looks like board.
    Without a mat the outline is coarser, and says so.
    """
    session = session_of(context)
    code, photo = _split(session, named, needs_board=bool(form or other or replace))
    if other and form:
        raise Misuse("--form and --with do not go together: snap each board by itself")
    with naming(photo):
        try:
            taking = _read_taking(mat, take, card=card, corners=corners, size=size, dpi=dpi)
            photos = _read_photos(session, [photo, second], taking)
            if overlay:
                check_target(session, overlay, force=force)
            views = _measure(session, (code, other), photos, taking, form=form, replace=replace)
        except SalvageError as error:
            show_refusal(session, error)
            raise
    if overlay:
        _write_overlay(session, views[0][0], overlay, force=force)
    _show(session, views, photo)


def _split(session: Session, named: Sequence[str], *, needs_board: bool) -> tuple[str, str]:
    """The board's code, empty for none, and the photo's name."""
    from salvage.ids import tidy_code

    if len(named) > 2:
        raise Misuse("give one board and one photo; a second photo goes after --second")
    if len(named) == 2:
        return named[0], named[1]
    (only,) = named
    is_there = (session.place(only)).exists()
    if not is_there and "." not in only and tidy_code(only)[:1] == "B":
        raise Misuse(f"name the photo too: salvage measure {only} PHOTO")
    if needs_board:
        raise Misuse("--form, --with and --replace change a record: name the board first")
    return "", only


def _read_taking(mat: str, take: str, *, card: str, corners: str, size: str, dpi: float) -> Taking:
    from salvage.work.spots import parse_corners_px, parse_size_mm
    from salvage.work.taking import Taking

    def picked(text: str, field: str) -> Corners | None:
        return parse_corners_px(text, field=field) if text else None

    return Taking(
        serial=mat,
        card_px=picked(card, "--card"),
        corners_px=picked(corners, "--corners"),
        size_mm=parse_size_mm(size, field="--size") if size else None,
        dpi=dpi,
        take=take.strip().lower(),
    )


def _read_photos(session: Session, names: Sequence[str], taking: Taking) -> tuple[NewPhoto, ...]:
    from salvage.work.photos import NewPhoto
    from salvage.work.taking import check_taking

    told = [name for name in names if name]
    # Before the files: a line that makes no sense is told first.
    check_taking(taking, [NewPhoto(b"", name) for name in told])
    caption = "on mat"
    if taking.card_px is not None:
        caption = "beside a bank card"
    elif taking.corners_px is not None:
        caption = "with picked corners"
    elif taking.dpi:
        caption = "flatbed scan"
    return tuple(
        NewPhoto(read_file(session, name), Path(name).name, caption=caption) for name in told
    )


def _measure(
    session: Session,
    codes: tuple[str, str],
    photos: tuple[NewPhoto, ...],
    taking: Taking,
    *,
    form: str,
    replace: bool,
) -> list[Shown]:
    """The boards that were measured; the first is the one that was named first."""
    from salvage.work import measuring as work
    from salvage.work.reading import read_code

    code, other = codes
    if not code:
        shop = _shop_if_any(session)
        if shop is None:
            return [(work.measure_only(None, photos=photos, taking=taking), None)]
        with shop:
            return [(work.measure_only(shop, photos=photos, taking=taking), None)]
    with session.open() as shop:
        board = read_code(shop, text=code, kinds="B")
        if not other:
            view = work.measure_board(
                shop,
                board=board,
                photos=photos,
                taking=taking,
                form=form,
                replace=replace,
                dry_run=session.dry_run,
            )
            return [(view.found, view.board)]
        pair = work.measure_two_boards(
            shop,
            boards=(board, read_code(shop, text=other, kinds="B")),
            photos=photos,
            taking=taking,
            replace=replace,
            dry_run=session.dry_run,
        )
        return [(view.found, view.board) for view in pair]


def _shop_if_any(session: Session) -> Workshop | None:
    """The open workshop; None where there is none and none was named."""
    from salvage.work.workshop import DATABASE_NAME

    is_there = (session.folder / DATABASE_NAME).exists()
    return session.open() if is_there or session.shop else None


def _write_overlay(session: Session, view: PhotoMeasured, name: str, *, force: bool) -> None:
    picture = view.measurement.pictures.overlay_jpeg
    path = write_file(session, name, lambda: picture, force=force)
    if not session.dry_run:
        note(session, f"overlay written: {path}")


def _show(session: Session, views: Sequence[Shown], photo: str) -> None:
    lines = [line for view in views for line in measured_lines(*view, photo=photo)]
    records = [measured_record(*view) for view in views]
    codes = [board.code for _, board in views if board]
    if not codes:
        plain = ("area_mm2", "interval_mm", "method")
        show_record(session, records[0], lines=lines, plain=plain)
        return
    show_change(
        session,
        records[0] if len(records) == 1 else records,
        lines=lines,
        codes=codes,
        next_step=f"scan {codes[0]}",
    )
