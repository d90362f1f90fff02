"""``salvage board back``: the back's photo in the front's frame."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from salvage.cli.board import commands
from salvage.cli.measured_view import show_refusal
from salvage.cli.session import Session, session_of
from salvage.cli.show import note, show_change, show_json
from salvage.errors import BadValue, SalvageError

if TYPE_CHECKING:
    from collections.abc import Mapping

    from salvage.cli.options import BoardCode
    from salvage.photo.register import SidePlace
    from salvage.work.back_side import BackKept, FoundBack
    from salvage.work.workshop import Workshop


@commands.command("back", example="salvage board back BC0002J back.jpg", changes=True)
def back(
    context: typer.Context,
    code: BoardCode,
    photo: Annotated[str, typer.Argument(metavar="PHOTO", help="The board on a mat, its back up.")],
    second: Annotated[
        str, typer.Option(metavar="PHOTO", help="From another side: measures the height.")
    ] = "",
    mat: Annotated[
        str, typer.Option(metavar="SERIAL", help="Refuse the photo if it shows another mat.")
    ] = "",
    turn: Annotated[
        int | None,
        typer.Option(
            metavar="DEG",
            help="Which way, where the back fits in several: turned so, counter-clockwise, it lies"
            " as when the board is turned over like a page.",
        ),
    ] = None,
) -> None:
    """
    Lay the photo of a board's back on its front, through outline and holes, and keep it.

    Maps, setup sheets and the richness hint then show the back too. A board that looks alike after
    half a turn is asked about with two pictures, never guessed.
    """
    from salvage.cli.files import naming, read_file
    from salvage.work.back_side import find_back, keep_back
    from salvage.work.photos import NewPhoto
    from salvage.work.reading import read_code
    from salvage.work.taking import Taking

    session = session_of(context)
    with naming(photo):
        photos = tuple(
            NewPhoto(read_file(session, name), Path(name).name, "back", "back, on mat")
            for name in (photo, second)
            if name
        )
    with session.open() as shop:
        board = read_code(shop, text=code, kinds="B")
        try:
            with naming(photo):
                found = find_back(shop, board=board, photos=photos, taking=Taking(serial=mat))
        except SalvageError as error:
            show_refusal(session, error)
            raise
        if turn is None and not found.is_certain:
            turn = _ask_turn(session, shop, found)
        kept = keep_back(shop, found=found, turn=turn, dry_run=session.dry_run)
    _show(session, kept)


def _ask_turn(session: Session, shop: Workshop, found: FoundBack) -> int | None:
    """The way that a person chooses from the pictures; None where nobody can be asked."""
    from salvage.cli.ask import ask

    pictures = _write_choices(session, shop, found)
    if session.form == "json" and not session.may_ask:
        show_json(session, _question_record(found, pictures))
    if not session.may_ask:
        return None

    def parse(text: str) -> int:
        if text not in map(str, found.turns):
            raise BadValue(f"'{text}' is none of them", hint=" or ".join(map(str, found.turns)))
        return int(text)

    return ask(session, f"Which is it: {' or '.join(map(str, found.turns))}", parse)


def _write_choices(session: Session, shop: Workshop, found: FoundBack) -> dict[int, str]:
    from salvage.cli.files import write_file
    from salvage.work.back_side import draw_back_choices

    paths = {}
    for way, picture in draw_back_choices(shop, found=found).items():
        name = f"{found.board.code}-turn-{way}.png"
        paths[way] = str(write_file(session, name, partial(bytes, picture), force=True))
        if not session.dry_run:
            note(session, f"--turn {way}: look at {paths[way]}")
    return paths


def _question_record(found: FoundBack, pictures: Mapping[int, str]) -> dict[str, Any]:
    ways = [place_record(place) | {"picture": pictures[place.turn_word]} for place in found.places]
    return {"board": found.board.code, "side": "back", "ways": ways}


def place_record(place: SidePlace) -> dict[str, Any]:
    """Where a back lies, as JSON."""
    return {
        "turn_deg": place.turn_word,
        "residual_mm": round(place.residual_mm, 3),
        "scale": round(place.scale, 5),
        "holes_matched": place.matched_holes,
        "hole_count": place.holes,
    }


def _show(session: Session, kept: BackKept) -> None:
    from salvage.cli.records import record_of

    place, board = kept.place, kept.board.code
    holes = f"{place.matched_holes} of {place.holes} holes agree" if place.holes else "no holes"
    lines = [
        f"{board}  back laid on the front: edges within {place.residual_mm:.2f} mm, {holes}",
        f"  kept as photo {kept.photo.n}, in the front's frame",
    ]
    if abs(place.scale - 1) >= 0.001:
        lines.append(
            f"  note: both sides differ by {abs(place.scale - 1):.1%} in size, which was evened"
            " out; heights above the mat are known only so well"
        )
    show_change(
        session,
        {"board": board, "side": "back", "photo": record_of(kept.photo)} | place_record(place),
        lines=lines,
        codes=[board],
        next_step=f"board map {board} --side back",
    )
