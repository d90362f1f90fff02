"""``salvage stocktake``: the shelves against the record, by scanning along or by photos."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from salvage.cli.command import CommandSet
from salvage.cli.count import count_of
from salvage.cli.records import record_of
from salvage.cli.session import Session, session_of
from salvage.cli.show import (
    Column,
    clean,
    note,
    paint,
    say,
    show_change,
    show_json,
    show_list,
    show_plain,
)

if TYPE_CHECKING:
    from salvage.work.stock_difference import Difference
    from salvage.work.stock_take import Sight, StockView
    from salvage.work.workshop import Workshop

commands = CommandSet(
    "stocktake", "What is on the shelves against the record.", "salvage stocktake start"
)

At = Annotated[str, typer.Option("--at", metavar="PLACE", help="Where it lies, by name or label.")]


@commands.command("start", example='salvage stocktake start --place "shelf 2"', changes=True)
def start(
    context: typer.Context,
    place: Annotated[
        str, typer.Option(metavar="PLACE", help="Only this place, by name or label.")
    ] = "",
    things: Annotated[str, typer.Option(metavar="THINGS", help="all, boards or pieces.")] = "all",
) -> None:
    """Begin a stock-take; it goes on until it is settled and closed, over days if need be."""
    from salvage.records.choices import parse_choice
    from salvage.records.counting import STOCK_TAKE_THINGS
    from salvage.work.stock_take import begin_stock_take

    session = session_of(context)
    chosen = parse_choice(things, STOCK_TAKE_THINGS, field="--things")
    with session.open() as shop:
        take = begin_stock_take(shop, place=place, things=chosen, dry_run=session.dry_run)
    where = f" at {take.place}" if take.place else ""
    show_change(
        session,
        record_of(take),
        lines=[f"{take.code}  stock-take of {_what(take.things)}{where} begun"],
        codes=[take.code],
        next_step="stocktake scan",
    )


def _what(things: str) -> str:
    return "boards and pieces" if things == "all" else things


@commands.command("scan", example="salvage stocktake scan", changes=True)
def scan(
    context: typer.Context,
    codes: Annotated[
        list[str] | None,
        typer.Argument(
            metavar="[CODE]...",
            help="What lies there; left out, it is scanned along.",
            show_default=False,
        ),
    ] = None,
    at: At = "",
) -> None:
    """
    Scan along the shelves; the label of a shelf or box says where the next things lie.

    Each scan is in the record at once. End with Ctrl-D, and go on at any time.
    """
    session = session_of(context)
    with session.open() as shop:
        along = _Along(session, shop, at)
        if session.may_ask and not codes:
            note(session, "scan along; the label of a place says where; end with Ctrl-D")
        from salvage.cli.key_reader import scanned_lines

        for line in codes or scanned_lines(session):
            along.take(line)
            session.world.stdout.flush()
    along.conclude()
    if along.is_refused:
        raise typer.Exit(1)


class _Along:
    """
    Walks along the shelves, place by place.

    Args:
        session: The run.
        shop: The open workshop.
        place: Where the first things lie; empty for the stock-take's own place.
    """

    def __init__(self, session: Session, shop: Workshop, place: str) -> None:
        from salvage.work.stock_take import open_stock_take

        open_stock_take(shop.conn)  # told before the first scan where none is going on
        self.session = session
        self.shop = shop
        self.place = place
        self.is_refused = False
        self._count = 0

    def take(self, line: str) -> None:
        """Note what one line shows; what is no code of ours is told and passed over."""
        from salvage.codes.wedge import parse_scans
        from salvage.errors import SalvageError

        for one in parse_scans(line):
            try:
                self._take_code(one.text)
            except SalvageError as error:
                self.is_refused = True
                bell = "\a" if self.session.world.stderr_is_terminal else ""
                note(self.session, f"{bell}REFUSED  {clean(str(error))}")

    def _take_code(self, text: str) -> None:
        from salvage.records.place import PLACE_KIND
        from salvage.work.places import place_words
        from salvage.work.reading import read_code
        from salvage.work.stock_take import record_seen

        code = read_code(self.shop, text=text)
        if code[0] == PLACE_KIND:
            self.place = place_words(self.shop.conn, code)
            note(self.session, f"now at {self.place}")
            return
        sights = record_seen(
            self.shop, codes=[code], place=self.place, dry_run=self.session.dry_run
        )
        self._count += sum(sight.is_new for sight in sights)
        tell_sights(self.session, sights)

    def conclude(self) -> None:
        """Tell how many were new, and what comes next."""
        if not self.session.form:
            note(self.session, f"{self._count} more seen; next: salvage stocktake show")


def tell_sights(session: Session, sights: Sequence[Sight], *, source: str = "") -> None:
    """
    Tell what a stock-take says to what it was shown.

    Args:
        session: The run.
        sights: From the operation.
        source: Name of the photo; empty for a scan.
    """
    for sight in sights:
        if session.form == "json":
            record = {"source": source, **record_of(sight)}
            show_json(session, record, one_line=True)
        elif session.form == "plain":
            show_plain(session, [(sight.code, "odd" if sight.is_odd else "", sight.words)])
        else:
            mark = paint(session, "!", "warn") if sight.is_odd else " "
            say(session, f"{mark} {sight.code}  {clean(sight.words)}")


@commands.command("photo", example="salvage stocktake photo shelf-*.jpg", changes=True)
def photo(
    context: typer.Context,
    files: Annotated[
        list[str], typer.Argument(metavar="FILE...", help="Photos of shelves, labels in view.")
    ],
    at: At = "",
) -> None:
    """Read all labels in photos of the shelves; a place's label in a photo says where."""
    session = session_of(context)
    unread = 0
    with session.open() as shop:
        for name in files:
            unread += _take_photo(session, shop, name, at)
    if unread:
        note(session, f"{count_of(unread, 'label')} could not be read; come closer or scan them")
    if not session.form:
        note(session, "next: salvage stocktake show")


def _take_photo(session: Session, shop: Workshop, name: str, at: str) -> int:
    """Note what one photo shows; gives how many labels in it stayed unread."""
    from salvage.cli.files import naming, read_file
    from salvage.codes.read import read_picture
    from salvage.errors import Refused
    from salvage.records.place import PLACE_KIND
    from salvage.work.stock_take import open_stock_take, record_seen

    open_stock_take(shop.conn)
    with naming(name):
        picture = read_picture(read_file(session, name))
    codes = [one.code for one in picture.codes if one.code]
    places = [code for code in codes if code[0] == PLACE_KIND]
    if len(places) > 1 and not at:
        raise Refused(
            f"{name} shows the labels of {len(places)} places",
            hint="photograph one at a time, or say where with --at",
        )
    things = [code for code in codes if code[0] != PLACE_KIND]
    place = at or (places[0] if places else "")
    sights = record_seen(
        shop, codes=things, place=place, source=Path(name).name, dry_run=session.dry_run
    )
    if not session.form:
        note(session, f"{clean(name)}: {count_of(len(things), 'label')}")
    tell_sights(session, sights, source=Path(name).name)
    return len(picture.unread) + len(picture.doubtful)


_COLUMNS = (
    Column("code", "code"),
    Column("how", "kind"),
    Column("what", "title"),
    Column("words", "words"),
    Column("mend", "mend"),
)


@commands.command("show", example="salvage stocktake show")
def show(context: typer.Context) -> None:
    """Show how the shelves differ from the record: missing, elsewhere, sold but there."""
    from salvage.work.stock_take import open_stock_take, view_stock_take

    session = session_of(context)
    with session.open() as shop:
        view = view_stock_take(shop, take=open_stock_take(shop.conn))
    _show(session, view)


def difference_record(one: Difference) -> dict[str, Any]:
    """A difference as JSON, with what to do about it."""
    from salvage.work.stock_difference import MENDS

    return record_of(one, mend=MENDS[one.kind].replace("CODE", one.code))


def _show(session: Session, view: StockView) -> None:
    records = [difference_record(one) for one in view.differences]
    if session.form == "json":
        show_json(session, record_of(view.take, seen=view.seen, differences=records))
        return
    if not session.form:
        where = f" at {view.take.place}" if view.take.place else ""
        since = view.take.begun_at[:10]
        what = _what(view.take.things)
        say(session, f"{view.take.code}  {what}{where}, since {since}, {view.seen} seen")
    show_list(session, records, _COLUMNS, empty="nothing differs from the record")
    if not session.form:
        step = "settle" if records else "settle --close"
        note(session, f"next: salvage stocktake {step}")
