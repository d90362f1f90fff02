"""What a line at the bench means: the thing, the action, or why it is neither."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import timedelta

from salvage.errors import BadCode, SalvageError
from salvage.ids import Code, kind_of, parse_code
from salvage.records.actions import find_action, is_action
from salvage.records.place import PLACE_KIND
from salvage.store.journal import read_events_newest, undone_ids
from salvage.store.lookup import load_place
from salvage.units import format_instant
from salvage.work.bench_deeds import ACTS
from salvage.work.bench_state import MOST_DONE, Bench
from salvage.work.bench_words import (
    ActionSeen,
    BoardSeen,
    Done,
    HeldPlace,
    PieceSeen,
    PlaceSeen,
    Seen,
    ThingSeen,
    TypedSeen,
)
from salvage.work.cutting import describe_spot, spot_of_reservation
from salvage.work.event_words import describe_event
from salvage.work.look import look_at
from salvage.work.pieces import view_piece
from salvage.work.planning import list_reservations
from salvage.work.reading import read_code
from salvage.work.workshop import Workshop

SAME_SITTING = timedelta(hours=12)
"""A bench that is opened again goes on with what was done on this device within this time."""


@dataclass(frozen=True, slots=True)
class Sighting:
    """
    One thing of a line.

    Args:
        seen: What it is.
        scanned: The code that it was, for telling repeats; empty for what was typed.
        layout: The keyboard layout that had to be undone; empty for none.
    """

    seen: Seen
    scanned: str = ""
    layout: str = ""


def sight(shop: Workshop, *, line: str) -> tuple[Sighting, ...]:
    """
    What a line says, thing by thing; never raises for what people or scanners type.

    Args:
        shop: The open workshop.
        line: As typed or scanned; several codes may stand in it.
    """
    from salvage.codes.wedge import parse_scans

    return tuple(
        Sighting(_sight_text(shop, scan.text), _code_text(scan.text), scan.layout)
        if _code_text(scan.text)
        else Sighting(_sight_text(shop, line))
        for scan in parse_scans(line)
    )


def _code_text(text: str) -> str:
    try:
        return parse_code(text)
    except BadCode:
        return ""


def _sight_text(shop: Workshop, text: str) -> Seen:
    try:
        return see(shop, read_code(shop, text=text))
    except SalvageError as error:
        return TypedSeen(" ".join(text.split()), str(error))


def see(shop: Workshop, code: Code) -> Seen:
    """
    What the bench must know of a thing.

    Raises:
        NotFound: If there is nothing with this code.
    """
    if is_action(code):
        action = find_action(code)
        return ActionSeen(action.verb, action.argument)
    if code[0] == PLACE_KIND:
        return PlaceSeen(load_place(shop.conn, code).name)
    if code[0] == "B":
        return _see_board(shop, code)
    if code[0] == "P":
        return _see_piece(shop, code)
    from salvage.work.trace import trace

    return ThingSeen(code, f"{kind_of(code)}, {trace(shop, code).subject.words}")


def _see_board(shop: Workshop, code: Code) -> BoardSeen:
    look = look_at(shop, board=code)
    bars = [obstacle for obstacle in look.obstacles if obstacle.forbids_cutting]
    held = [one for one in list_reservations(shop) if one.board == code]
    return BoardSeen(
        code,
        look.board.title,
        look.go,
        tuple(obstacle.words for obstacle in bars),
        look.obstacles[0].mend if look.obstacles else "",
        look.board.place,
        tuple(
            HeldPlace(one.code, f"{describe_spot(spot_of_reservation(one))}, for {one.for_whom}")
            for one in sorted(held, key=lambda one: (len(one.code), one.code))
        ),
        look,
    )


def _see_piece(shop: Workshop, code: Code) -> PieceSeen:
    from salvage.work.trace import where_now

    view = view_piece(shop.conn, code)
    piece = view.piece
    return PieceSeen(
        code,
        piece.shape,
        piece.stage,
        where_now(shop.conn, piece),
        piece.price_minor,
        piece.currency or shop.settings.currency,
        ", ".join(board.code for board in view.boards),
        bool(piece.recalled),
    )


def resume(shop: Workshop) -> Bench:
    """
    A bench that knows what was done on this device lately, so that a restart forgets nothing.

    Args:
        shop: The open workshop.
    """
    return Bench(done=tuple(reversed(tuple(_done_lately(shop)))))


def _done_lately(shop: Workshop) -> Iterator[Done]:
    """The bench's kind of deeds that stand, the newest first."""
    since = format_instant(shop.clock() - SAME_SITTING)
    gone = undone_ids(shop.conn)
    told: dict[str, None] = {}
    for event in read_events_newest(shop.conn):
        if event.at < since or len(told) == MOST_DONE:
            return
        is_ours = event.act in ACTS and event.device == shop.settings.device
        if is_ours and event.id not in gone and event.operation not in told:
            told[event.operation] = None
            about = event.made[-1] if event.made else event.about[0]
            words = f"{about}  {describe_event(event)}"
            yield Done(event.operation, words, event.at[11:16], before=True)
