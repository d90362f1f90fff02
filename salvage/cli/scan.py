"""``salvage scan``: before a cut, by code, scanner or photo."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from salvage.cli.command import CommandSet
from salvage.cli.options import Force, completer
from salvage.cli.session import Session, session_of
from salvage.cli.show import note, say, show_json, show_plain
from salvage.ids import kind_of

if TYPE_CHECKING:
    from salvage.work.look import ScanReading
    from salvage.work.workshop import Workshop

commands = CommandSet()

_GO, _NO_GO = 0, 1
_PHOTO_ENDINGS = (".jpg", ".jpeg", ".png", ".webp", ".heic", ".tif", ".tiff", ".gif", ".bmp")


@commands.command("scan", example="salvage scan BC0002J --map board.png")
def scan(
    context: typer.Context,
    text: Annotated[
        str,
        typer.Argument(
            metavar="[TEXT]",
            help="A code, a scanner's line, or a photo of labels; left out, lines are read.",
            autocompletion=completer("BPD"),
            show_default=False,
        ),
    ] = "-",
    picture: Annotated[bool, typer.Option("--picture", help="Show the photo, in colours.")] = False,
    map_: Annotated[str, typer.Option("--map", metavar="FILE", help="Write the map as PNG.")] = "",
    side: Annotated[
        str, typer.Option(metavar="SIDE", help="Side that picture and map show: front or back.")
    ] = "front",
    force: Force = False,
) -> None:
    """
    Tell go or no-go for a board, what is left of it and where; of other things, what they are.

    Without a text it reads lines and answers each, so a keyboard scanner runs it. Ends with exit
    code 0 for go and 1 for no-go.
    """
    from salvage.records.choices import SIDES, parse_choice

    session = session_of(context)
    shown = parse_choice(side, SIDES, field="--side")
    with session.open() as shop:
        if text == "-":
            raise typer.Exit(_read_lines(session, shop))
        readings = _read(session, shop, text)
        if map_:  # before the answer, whose reader, such as head, may have seen enough
            _write_map(session, shop, readings[0], map_, side=shown, force=force)
        if session.form == "json":
            records = [_record(shop, reading) for reading in readings]
            show_json(session, records[0] if len(records) == 1 else records)
            raise typer.Exit(max(_verdict(record) for record in records))
        if any(reading.code[0] == "B" for reading in readings):
            _warn(session)  # first, so that the verdict and the map are what stays on the screen
        codes = [_answer(session, shop, reading, shown if picture else "") for reading in readings]
    raise typer.Exit(max(codes))


def _record(shop: Workshop, reading: ScanReading) -> dict[str, Any]:
    """What a scan says as JSON; anything but a board is a go."""
    from salvage.cli.trace import trace_record
    from salvage.work.trace import trace

    told: dict[str, Any] = {"code": reading.code, "kind": kind_of(reading.code), "go": True}
    if reading.code[0] == "B":
        return told | _look_record(shop, reading) | {"note": reading.note}
    return told | trace_record(trace(shop, reading.code)) | {"note": reading.note}


def _look_record(shop: Workshop, reading: ScanReading) -> dict[str, Any]:
    from salvage.cli.cutting_view import look_record
    from salvage.cli.held_places import read_held
    from salvage.work.look import look_at

    return look_record(look_at(shop, board=reading.code), read_held(shop, reading.code))


def _verdict(record: dict[str, Any]) -> int:
    return _GO if record["go"] else _NO_GO


def _read(session: Session, shop: Workshop, text: str) -> tuple[ScanReading, ...]:
    """What a text or the photo of that name says."""
    from salvage.work.look import identify, identify_photo

    path = session.place(text) if len(text) < 256 else None
    if path and (path.is_file() or _is_photo_name(text)):
        from salvage.cli.files import naming, read_file

        with naming(text):
            return identify_photo(shop, data=read_file(session, text), name=path.name)
    return (identify(shop, text=text),)


def _is_photo_name(text: str) -> bool:
    """Whether a text that names no file can only be meant as one; no code has a point in it."""
    return "://" not in text and Path(text).suffix.lower() in _PHOTO_ENDINGS


def _answer(session: Session, shop: Workshop, reading: ScanReading, picture: str) -> int:
    if reading.note:
        note(session, reading.note)
    if reading.code[0] == "B":
        return _answer_board(session, shop, reading, picture)
    from salvage.cli.trace import show_trace
    from salvage.work.trace import trace

    show_trace(session, trace(shop, reading.code))
    return _GO


def _answer_board(session: Session, shop: Workshop, reading: ScanReading, picture: str) -> int:
    from salvage.cli import cutting_view
    from salvage.cli.held_places import read_held
    from salvage.cli.richness_hint import richness_line
    from salvage.work.look import look_at
    from salvage.work.plans import expired_words

    look = look_at(shop, board=reading.code)
    if session.form == "plain":
        show_plain(session, [cutting_view.look_plain(look)])
    else:
        if picture:
            cutting_view.show_picture(session, shop, look, side=picture)
        cutting_view.show_look(session, look, read_held(shop, reading.code))
        if rich := richness_line(shop, reading.code):
            say(session, rich)
        for words in expired_words(shop.conn, shop.today, board=reading.code):
            note(session, f"! {words}: salvage plan release --expired, or plan extend")
    return _GO if look.go else _NO_GO


def _warn(session: Session) -> None:
    """The cautions before cutting, once, for people."""
    from salvage.cli.cutting_view import show_cautions

    if not session.form:
        show_cautions(session)


def _write_map(
    session: Session, shop: Workshop, reading: ScanReading, name: str, *, side: str, force: bool
) -> None:
    from salvage.cli.files import write_file
    from salvage.work.look import draw_board_map

    code = reading.code
    path = write_file(
        session, name, lambda: draw_board_map(shop, board=code, side=side), force=force
    )
    note(session, f"map written: {path}")


def _answer_line(session: Session, shop: Workshop, reading: ScanReading) -> int:
    if session.form != "json":
        return _answer(session, shop, reading, picture="")
    record = _record(shop, reading)
    show_json(session, record, one_line=True)
    return _verdict(record)


def _read_lines(session: Session, shop: Workshop) -> int:
    """Answer line by line until the input ends; a line that fails is told and passed over."""
    from salvage.cli.failures import describe
    from salvage.cli.show import clean
    from salvage.errors import SalvageError

    worst = _GO
    _warn(session)
    if session.world.stdin_is_terminal:
        note(session, "scan or type a code; end with Ctrl-D")
    while line := session.world.stdin.readline():
        text = line.strip()
        if not text:
            continue
        try:
            (reading, *_) = _read(session, shop, text)
            worst = max(worst, _answer_line(session, shop, reading))
        except SalvageError as error:
            note(session, "\n".join(map(clean, describe(error).splitlines())))
            worst = _NO_GO
        session.world.stdout.flush()
    return worst
