"""``salvage card``: story cards, tags and statements of pieces, and the designs they come in."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import asdict
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, TypeAlias

import typer

from salvage.cli.command import CommandSet
from salvage.cli.count import count_of
from salvage.cli.files import check_target, write_file
from salvage.cli.options import Force, Out, completer
from salvage.cli.session import Session, session_of
from salvage.cli.show import Column, note, show_change, show_list, warn

if TYPE_CHECKING:
    from salvage.ids import Code
    from salvage.work.cards import CardLook, CardsMade
    from salvage.work.workshop import Workshop


def _print_alone(args: list[str], names: Collection[str]) -> list[str]:
    """Read the group's words; where codes stand for a command's name they are for ``print``."""
    asks_help = {"-h", "--help"} & set(args)
    return ["print", *args] if args and not asks_help and args[0] not in names else args


commands = CommandSet(
    "card",
    "Story cards, price tags and statements of pieces, and their designs.",
    "salvage card PC0001D --design folded --out tern.pdf",
    alone=_print_alone,
    complete_as=[("print", "codes")],
)

_PNG_DPI = 200.0


_Codes: TypeAlias = Annotated[
    list[str] | None,
    typer.Argument(
        metavar="[PIECE]...",
        help="The pieces.",
        autocompletion=completer("P"),
        show_default=False,
    ),
]
_Stage: TypeAlias = Annotated[
    str, typer.Option("--stage", metavar="STAGE", help="All pieces of a stage, such as ready.")
]
_Stale: TypeAlias = Annotated[
    bool, typer.Option("--stale", help="All whose last tag no longer says the price.")
]
_Outing: TypeAlias = Annotated[
    str,
    typer.Option(
        "--outing",
        metavar="OUTING",
        help="All that is packed for it, by code or name, with its keys on the tags.",
    ),
]
_DesignName: TypeAlias = Annotated[
    str,
    typer.Option("--design", metavar="NAME", help="See 'salvage card designs'; usually a6."),
]
_On: TypeAlias = Annotated[
    str,
    typer.Option(
        "--on",
        metavar="PAPER",
        help="card: the finished size; shop: with bleed and marks; a4 or letter: many.",
    ),
]
_Large: TypeAlias = Annotated[bool, typer.Option("--large", help="Large print: the design large.")]
_Watch: TypeAlias = Annotated[
    bool, typer.Option("--watch", help="Show the card again whenever its design changes.")
]


@commands.command(
    "print", example="salvage card PC0001D --design folded --out tern.pdf", changes=True
)
def print_(
    context: typer.Context,
    codes: _Codes = None,
    stage: _Stage = "",
    stale: _Stale = False,
    outing: _Outing = "",
    design: _DesignName = "",
    on: _On = "card",
    large: _Large = False,
    watch: _Watch = False,
    out: Out = "",
    force: Force = False,
) -> None:
    """
    Print cards or tags of pieces as a PDF; the record keeps what they said.

    A name that ends in .png gives bitmaps, one a side. With --watch nothing is recorded: the card
    is drawn into a picture to look at, and again whenever you save the design; end with Ctrl-C.
    """
    from salvage.cli.failures import Misuse
    from salvage.work.cards import CardLook

    session = session_of(context)
    if sum(map(bool, (codes, stage, stale, outing))) != 1:
        raise Misuse("give codes of pieces, --stage, --stale, or --outing")
    if large and design:
        raise Misuse("--large is the design large: give one of --large and --design")
    name = design.strip().lower() or ("large" if large else "a6")
    with session.open() as shop:
        packed = _outing(shop, outing)
        pieces = _pieces(shop, codes or (), stage=stage, stale=stale, outing=packed)
        if not pieces:
            note(session, "no piece needs one")
            return
        usual = f"card-{pieces[0]}.pdf" if len(pieces) == 1 else "cards.pdf"
        is_png = Path(out).suffix.lower() == ".png"
        look = CardLook(name, on.strip().lower(), _PNG_DPI if is_png else 0, packed)
        if watch:
            from salvage.cli.card_preview import watch_design

            watch_design(session, shop, pieces, look, out=out, force=force)
            return
        files, made = _write(session, shop, pieces, look, out or usual, force)
        step = _sell_step(shop, pieces, made)
    _tell(session, pieces, look, made, files, next_step=step)


def _outing(shop: Workshop, typed: str) -> str:
    """The code of the outing that is meant; empty for none."""
    from salvage.work.outings import find_outing

    return find_outing(shop, typed=typed) if typed else ""


def _pieces(
    shop: Workshop, codes: Sequence[str], *, stage: str, stale: bool, outing: str
) -> list[Code]:
    from salvage.records.choices import BENCH_STAGES, parse_choice
    from salvage.work.cards import choose_pieces
    from salvage.work.reading import read_code

    if codes:
        return [read_code(shop, text=code, kinds="P") for code in codes]
    stages = (*BENCH_STAGES, "sold", "returned")
    wanted = parse_choice(stage, stages, field="--stage") if stage else ""
    return list(choose_pieces(shop, stage=wanted, stale=stale, outing=outing))


def _write(
    session: Session,
    shop: Workshop,
    pieces: Sequence[Code],
    look: CardLook,
    out: str,
    force: bool,
) -> tuple[list[str], CardsMade]:
    """One file, or for bitmaps one a page; the printing is recorded with the first of them."""
    from salvage.work.cards import print_cards

    made: list[CardsMade] = []
    check_target(session, out, force=force)

    def make() -> bytes:
        made.append(print_cards(shop, pieces=pieces, look=look, dry_run=session.dry_run))
        return made[0].printed.pages[0]

    if not look.dpi:
        return [str(write_file(session, out, make, force=force))], made[0]
    done = print_cards(shop, pieces=pieces, look=look, dry_run=session.dry_run)
    pages, path = done.printed.pages, Path(out)
    names = [out, *(str(path.with_stem(f"{path.stem}-{n}")) for n in range(2, len(pages) + 1))]
    return [
        str(write_file(session, name, partial(bytes, page), force=force))
        for name, page in zip(names, pages, strict=True)
    ], done


def _tell(
    session: Session,
    pieces: Sequence[Code],
    look: CardLook,
    made: CardsMade,
    files: Sequence[str],
    *,
    next_step: str,
) -> None:
    printed, design = made.printed, made.design
    for one in printed.shortened:
        warn(
            session,
            f"{one.code}: the last {one.left_out} of {one.of} words of its story do not fit on"
            f" {design.name}; a larger design holds more (folded, large)",
        )
    for code in made.changed:
        warn(session, f"{code}: its words have changed since the last {design.paper} was printed")
    record = {
        "codes": list(pieces),
        "design": design.name,
        "paper": design.paper,
        "on": look.on,
        "file": files[0],
        "files": list(files),
        "per_sheet": printed.per_sheet,
        "shortened": [asdict(one) for one in printed.shortened],
        "changed": list(made.changed),
    }
    if len(pieces) == 1:
        record["code"] = pieces[0]
    would = "would go to" if session.dry_run else "written:"
    what = (
        f"{pieces[0]}  {design.paper}" if len(pieces) == 1 else count_of(len(pieces), design.paper)
    )
    lines = [f"{what} {would} {', '.join(files)}", *_how_to_print(look, made)]
    show_change(session, record, lines=lines, codes=files, next_step=next_step)


def _sell_step(shop: Workshop, pieces: Sequence[Code], made: CardsMade) -> str:
    """What comes after a story card: the price, the sale; empty where it is sold already."""
    from salvage.store.lookup import load_piece

    if len(pieces) != 1 or made.design.paper != "story card":
        return ""
    piece = load_piece(shop.conn, pieces[0])
    if piece.stage == "sold":
        return ""
    if piece.price_minor is None:
        return f"piece price {piece.code} AMOUNT"
    return f"piece sell {piece.code} --venue …"


def _how_to_print(look: CardLook, made: CardsMade) -> list[str]:
    sheets = look.on not in ("card", "shop")
    if not sheets:
        return []
    sides = "both sides" if "#let faces = (front, back)" in made.design.source else "its sides"
    edge = "short" if made.printed.is_lying else "long"
    return [
        f"{made.printed.per_sheet} on a sheet; print at 100 %, {sides}, turned on the {edge} edge"
    ]


@commands.command("designs", example="salvage card designs")
def designs(context: typer.Context) -> None:
    """List the designs of cards and tags, ours and your own, with their finished size."""
    from salvage.work.card_designs import designs_folder, list_designs

    session = session_of(context)
    with session.open() as shop:
        found = list_designs(shop)
        folder = designs_folder(shop)
    records = [
        {
            "name": design.name,
            "paper": design.paper,
            "width_mm": round(design.trim_mm[0], 2),
            "height_mm": round(design.trim_mm[1], 2),
            "own": design.own,
            "words": design.words,
            "size": f"{design.trim_mm[0]:g} x {design.trim_mm[1]:g} mm",
        }
        for design in found
    ]
    columns = (
        Column("name", "name"),
        Column("paper", "paper"),
        Column("size", "size"),
        Column("own", "own", lambda own: "own" if own else ""),
        Column("for", "words"),
    )
    show_list(session, records, columns, empty="no design")
    if not session.form:
        note(session, f"your own lie in {folder}; begin one: salvage card copy a6 NAME")


@commands.command("copy", example="salvage card copy a6 harbour", changes=True)
def copy(
    context: typer.Context,
    design: Annotated[str, typer.Argument(metavar="DESIGN", help="The one to begin with.")],
    name: Annotated[str, typer.Argument(metavar="NAME", help="What yours is called.")],
    force: Force = False,
) -> None:
    """
    Copy a design into the workshop's folder, for you to change with any text editor.

    A design can read the card's data, our parts, and the pictures that lie beside it; nothing else.
    """
    from salvage.work.card_designs import copy_design

    session = session_of(context)
    with session.open() as shop:
        copied = copy_design(shop, design=design, name=name, force=force, dry_run=session.dry_run)
    show_change(
        session,
        {"name": copied.name, "file": str(copied.path), "copied_from": copied.copied_from},
        lines=[f"{copied.name}  a copy of {copied.copied_from}: {copied.path}"],
        codes=[str(copied.path)],
        next_step=f"card CODE --design {copied.name} --watch",
    )
