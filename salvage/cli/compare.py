"""``salvage compare``: a photo of what is left, against the record."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from salvage.cli.command import CommandSet
from salvage.cli.count import count_of
from salvage.cli.measured_view import show_refusal
from salvage.cli.options import BoardCode, Force
from salvage.cli.session import Session, session_of
from salvage.cli.show import command_line, note, show_change, show_json
from salvage.errors import BadValue, SalvageError
from salvage.units import format_area

if TYPE_CHECKING:
    from salvage.ids import Code
    from salvage.work.after_cut import AfterCut, Difference, GoneRecorded, Way
    from salvage.work.photos import NewPhoto
    from salvage.work.workshop import Workshop

commands = CommandSet()

_AGREES, _DIFFERS = 0, 1
_WORDS = {"gone": "gone, but not on record", "still there": "on record as gone, but still there"}


@commands.command(
    "compare", example="salvage compare BC0002J after.jpg --picture differences.png", changes=True
)
def compare(
    context: typer.Context,
    code: BoardCode,
    photo: Annotated[
        str, typer.Argument(metavar="PHOTO", help="What is left of the board, on a mat.")
    ],
    second: Annotated[
        str, typer.Option(metavar="PHOTO", help="From another side: measures the height.")
    ] = "",
    mat: Annotated[
        str, typer.Option(metavar="SERIAL", help="Refuse the photo if it shows another mat.")
    ] = "",
    turn: Annotated[
        int | None,
        typer.Option(metavar="DEG", help="Which way, where the remnant may lie in several."),
    ] = None,
    picture: Annotated[
        str, typer.Option(metavar="FILE", help="Draw the differences on the map, as PNG.")
    ] = "",
    record: Annotated[
        bool, typer.Option("--record", help="Mark what is gone as keep-outs, in one step.")
    ] = False,
    force: Force = False,
) -> None:
    """
    Compare what a photo shows of a board after a cut with what is on record.

    Each difference is told with where it is, its area, and the command that mends the record. Ends
    with exit code 0 where photo and record agree, 1 where they do not. What is gone without a
    record becomes a keep-out: it claims what was seen, not who cut it or what came of it.
    """
    from salvage.cli.files import check_target
    from salvage.work.reading import read_code

    session = session_of(context)
    if picture:
        check_target(session, picture, force=force)
    photos = _read_photos(session, photo, second)
    with session.open() as shop:
        board = read_code(shop, text=code, kinds="B")
        found = _name_as_typed(_find(session, shop, board, photos, mat), photo, second)
        way = _choose(session, shop, found, turn)
        path = _draw(session, shop, found, way, picture, force=force) if picture else ""
        done = _take_up(session, shop, found, way) if record else None
    _show(session, found, way, done, path)
    is_mended = done is not None and all(d.kind == "gone" for d in way.differences)
    raise typer.Exit(_AGREES if is_mended or not way.differences else _DIFFERS)


def _read_photos(session: Session, photo: str, second: str) -> tuple[NewPhoto, ...]:
    from salvage.cli.files import naming, read_file
    from salvage.work.photos import NewPhoto

    with naming(photo):
        return tuple(
            NewPhoto(read_file(session, name), Path(name).name, caption="after a cut")
            for name in (photo, second)
            if name
        )


def _find(
    session: Session, shop: Workshop, board: Code, photos: tuple[NewPhoto, ...], mat: str
) -> AfterCut:
    """What the photos show against the record; a refusal is told to programs too."""
    from salvage.cli.files import naming
    from salvage.work.after_cut import find_differences
    from salvage.work.taking import Taking

    try:
        with naming(photos[0].name):
            return find_differences(shop, board=board, photos=photos, taking=Taking(serial=mat))
    except SalvageError as error:
        show_refusal(session, error)
        raise


def _name_as_typed(found: AfterCut, photo: str, second: str) -> AfterCut:
    """The same, with the photos in the commands that mend named as the maker typed them."""
    import shlex

    photos = shlex.quote(photo) + (f" --second {shlex.quote(second)}" if second else "")

    def mend(one: Difference, way: Way) -> Difference:
        if one.kind != "gone":
            return one
        turn = f" --turn {way.turn}" if len(found.ways) > 1 else ""
        return replace(one, mend=f"compare {found.board.code} {photos}{turn} --record")

    ways = (
        replace(way, differences=tuple(mend(one, way) for one in way.differences))
        for way in found.ways
    )
    return replace(found, ways=tuple(ways))


def _choose(session: Session, shop: Workshop, found: AfterCut, turn: int | None) -> Way:
    """The way that was told, the only one, or the one that a person chooses from the pictures."""
    from salvage.cli.ask import ask
    from salvage.work.after_cut import choose_way

    if turn is not None or len(found.ways) == 1:
        return choose_way(found, turn)
    pictures = {}
    for way in found.ways:
        name = f"{found.board.code}-turn-{way.turn}.png"
        pictures[way.turn] = _draw(session, shop, found, way, name, force=True)
        if not session.dry_run:
            note(session, f"--turn {way.turn}: look at {pictures[way.turn]}")
    if not session.may_ask:
        if session.form == "json":
            ways = [{"turn_deg": way.turn, "picture": pictures[way.turn]} for way in found.ways]
            show_json(session, {"board": found.board.code, "ways": ways})
        return choose_way(found, None)

    def parse(text: str) -> Way:
        if text not in map(str, found.turns):
            raise BadValue(f"'{text}' is none of them", hint=" or ".join(map(str, found.turns)))
        return choose_way(found, int(text))

    return ask(session, f"Which is it: {' or '.join(map(str, found.turns))}", parse)


def _draw(
    session: Session, shop: Workshop, found: AfterCut, way: Way, name: str, *, force: bool
) -> str:
    from salvage.cli.files import write_file
    from salvage.work.after_cut import draw_differences

    drawn = partial(draw_differences, shop, found=found, way=way)
    return str(write_file(session, name, drawn, force=force))


def _take_up(session: Session, shop: Workshop, found: AfterCut, way: Way) -> GoneRecorded | None:
    """Record what is gone, if anything is and the maker confirms it."""
    from salvage.cli.ask import confirm
    from salvage.work.after_cut import record_gone

    gone = [one for one in way.differences if one.kind == "gone"]
    if not gone:
        return None
    area = sum(one.region.area_mm2 for one in gone)
    places = count_of(len(gone), "place")
    if not session.dry_run:
        question = f"Mark {places}, {format_area(area)}, of {found.board.code} as gone?"
        confirm(session, question)
    return record_gone(shop, found=found, turn=way.turn, dry_run=session.dry_run)


def _show(
    session: Session, found: AfterCut, way: Way, done: GoneRecorded | None, path: str
) -> None:
    board = found.board.code
    lines = [_head(found, way)]
    for one in way.differences:
        x, y = one.at_mm
        lines.append(
            f"  {one.number}  {_WORDS[one.kind]}: {format_area(one.region.area_mm2)} round"
            f" {x:.1f}, {y:.1f} mm{f' ({one.code})' if one.code else ''}"
        )
        if done is None or one.kind != "gone":
            lines.append(f"     mend: {command_line(session, one.mend)}")
    if done:
        lines.append(f"  recorded: {count_of(len(done.keep_outs), 'keep-out')}, and the photo kept")
        lines += [
            f"  note: {one.code} ({one.shape} for {one.for_whom}) is reserved where the board is"
            f" gone; let it go: {command_line(session, f'release {one.code}')}"
            for one in done.reserved
        ]
    if path:
        lines.append(f"  picture written: {path}")
    show_change(
        session,
        _record(found, way, done, path),
        lines=lines,
        codes=[board],
        next_step=f"scan {board}",
    )


def _head(found: AfterCut, way: Way) -> str:
    fit = way.compared
    holes = f", {fit.holes_found} of {fit.hole_count} holes seen" if fit.hole_count else ""
    within = f"edges that agree within {found.look.measurement.interval_mm:.2f} mm{holes}"
    told = "photo and record agree" if fit.agrees else "photo and record differ"
    return f"{found.board.code}  {told} ({within})"


def _record(found: AfterCut, way: Way, done: GoneRecorded | None, path: str) -> dict[str, Any]:
    from salvage.cli.records import record_of

    return {
        "board": found.board.code,
        "agrees": way.compared.agrees,
        "turn_deg": way.turn,
        "gone_mm2": round(way.compared.gone_mm2, 1),
        "still_there_mm2": round(way.compared.still_there_mm2, 1),
        "differences": [_difference_record(one) for one in way.differences],
        "interval_mm": round(found.look.measurement.interval_mm, 3),
        "warnings": list(found.look.notes),
        "recorded": [record_of(keep_out) for keep_out in done.keep_outs] if done else [],
        "reserved": [one.code for one in done.reserved] if done else [],
        "file": path or None,
    }


def _difference_record(one: Difference) -> dict[str, Any]:
    x, y = one.at_mm
    return {
        "number": one.number,
        "kind": one.kind,
        "x_mm": round(x, 2),
        "y_mm": round(y, 2),
        "area_mm2": round(one.region.area_mm2, 1),
        "region": one.region.to_rings(),
        "cut": one.code,
        "mend": f"salvage {one.mend}",
    }
