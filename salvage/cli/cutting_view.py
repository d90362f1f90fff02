"""What a board looks like before a cut: verdict, figures, map and picture, on one screen."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from salvage.cli.count import count_of
from salvage.cli.held_places import held_lines
from salvage.cli.records import board_record, record_of
from salvage.cli.session import Session
from salvage.cli.show import clean, clean_line, note, paint, say, warn
from salvage.records.region import region_of_text
from salvage.units import format_area

if TYPE_CHECKING:
    from collections.abc import Sequence

    from salvage.records.region import Region
    from salvage.records.things import Reservation
    from salvage.work.look import BoardLook
    from salvage.work.workshop import Workshop

MOST_CHART = 76
"""Widest map in characters."""

# Lines of the screen beside the map: verdict, figures, legend, cautions and the next prompt. A map
# of fewer rows than the least says too little, so that on a low terminal the screen scrolls.
_BESIDE_MAP = 22
_LEAST_ROWS = 12

# More hazards than these that nobody looked for are told in one line; the checklist names them.
_MOST_UNCHECKED = 6
_UNCHECKED = ": not checked"

# More places than these that are held are counted; 'board show' tells all.
_MOST_HELD = 4


def look_record(look: BoardLook, held: Sequence[Reservation]) -> dict[str, Any]:
    """A look at a board, with the places that are held on it, as JSON."""
    ledger = look.ledger
    return {
        "go": look.go,
        "obstacles": [
            {"words": o.words, "mend": o.mend, "forbids_cutting": o.forbids_cutting}
            for o in look.obstacles
        ],
        "warnings": list(look.warnings),
        "board": board_record(look.board),
        "usable_mm2": round(ledger.usable_mm2, 3) if ledger else None,
        "usable_percent": round(ledger.usable_percent, 2) if ledger else None,
        "layers_mm2": {k: round(v, 3) for k, v in ledger.areas_mm2.items()} if ledger else {},
        "fragments": [
            {
                "area_mm2": round(fragment.area_mm2, 3),
                "circle_mm": round(fragment.inscribed_mm, 2),
                "circle_at_mm": [round(value, 2) for value in fragment.inscribed_at_mm],
                "width_mm": round(fragment.width_mm, 2),
                "height_mm": round(fragment.height_mm, 2),
            }
            for fragment in look.largest_fragments
        ],
        "reservations": [record_of(reservation) for reservation in held],
        "photos": [record_of(photo) for photo in look.photos],
    }


def look_plain(look: BoardLook) -> tuple[object, ...]:
    """Code, kind, verdict, usable mm², usable percent, reasons."""
    ledger = look.ledger
    return (
        look.board.code,
        "board",
        "go" if look.go else "no-go",
        round(ledger.usable_mm2) if ledger else "",
        int(ledger.usable_percent) if ledger else "",
        "; ".join(obstacle.words for obstacle in look.obstacles),
    )


def show_look(session: Session, look: BoardLook, held: Sequence[Reservation]) -> None:
    """
    Print the screen for people.

    Args:
        session: The run.
        look: The board.
        held: The places that are held on it.
    """
    board = look.board
    before = session.rows_told
    say(session, f"{_verdict(session, look)}  {clean(board.title)}")
    _show_obstacles(session, look)
    place = f", {clean(board.place)}" if board.place else ""
    say(session, f"  from     {board.drop_off}{place}; lead {board.lead_status}")
    _show_area(session, look)
    for line in held_lines(held, most=_MOST_HELD):
        say(session, clean_line(line))
    show_chart(session, look, rows_beside=min(len(held), _MOST_HELD + 1))
    # One row more is the prompt's. What scrolled off is said again where the eye rests.
    if 0 < session.world.height <= session.rows_told - before:
        count = len(look.obstacles)
        words = f"  {count_of(count, 'reason')}, above" if count else ""
        say(session, f"{_verdict(session, look)}{words}")


def _verdict(session: Session, look: BoardLook) -> str:
    word, style = ("GO", "good") if look.go else ("NO-GO", "bad")
    banner = paint(session, f" {word} ", style) if session.has_color else f"{word}:"
    return f"{banner} {paint(session, look.board.code, 'strong')}"


def _show_obstacles(session: Session, look: BoardLook) -> None:
    for mend, words in _reasons(look).items():
        for text in words:
            say(session, f"  - {clean(text)}")
        say(session, f"    do: {clean(mend)}")
    for warning in look.warnings:
        say(session, f"  ! {clean(warning)}")


def _reasons(look: BoardLook) -> dict[str, list[str]]:
    """What stands in the way, by what to do about it; many unchecked hazards are one line."""
    mends: dict[str, list[str]] = {}
    for obstacle in look.obstacles:
        mends.setdefault(obstacle.mend, []).append(obstacle.words)
    for mend, words in mends.items():
        unchecked = [text for text in words if text.endswith(_UNCHECKED)]
        if len(unchecked) > _MOST_UNCHECKED:
            first = ", ".join(text.removesuffix(_UNCHECKED) for text in unchecked[:2])
            rest = [text for text in words if text not in unchecked]
            folded = f"{len(unchecked)} hazards not checked: {first}, …"
            mends[mend] = [*rest, folded]
    return mends


def _show_area(session: Session, look: BoardLook) -> None:
    ledger = look.ledger
    if ledger is None:
        return
    count = look.board.cut_count
    share = f"{int(ledger.usable_percent)} % of {format_area(ledger.outline_mm2)}"
    usable = format_area(ledger.usable_mm2)
    say(session, f"  usable   {usable} ({share}), {count_of(count, 'cut')}")
    for place, fragment in enumerate(look.largest_fragments, 1):
        box = f"{fragment.width_mm:.0f} x {fragment.height_mm:.0f} mm"
        x, y = fragment.inscribed_at_mm
        circle = f"circle {fragment.inscribed_mm:.0f} mm at {x:.0f},{y:.0f}"
        say(session, f"  part {place}   {format_area(fragment.area_mm2)}, {circle}, box {box}")


def show_chart(
    session: Session, look: BoardLook, *, highlight: Region | None = None, rows_beside: int = 0
) -> None:
    """
    Print the map in characters with its legend; nothing while the board has no outline.

    Args:
        session: The run.
        look: The board.
        highlight: A place to show on it.
        rows_beside: Rows that the screen holds besides its usual ones.
    """
    from salvage.work.look import chart_legend, draw_board_chart

    plain = not session.world.has_blocks
    columns = _chart_columns(session, look, rows_beside)
    rows = draw_board_chart(look, columns=columns, highlight=highlight, ascii_only=plain)
    if not rows:
        return
    say(session)
    for row in rows:
        say(session, f"  {row}".rstrip())
    say(session)
    say(session, f"  {chart_legend(rows, ascii_only=plain)}")


def _chart_columns(session: Session, look: BoardLook, rows_beside: int) -> int:
    """Columns of the map, so that it fits the terminal's width and leaves room for the rest."""
    most = max(20, min(session.world.width - 4, MOST_CHART))
    if not session.world.height or not look.board.outline:
        return most
    width, height = region_of_text(look.board.outline).size_mm
    reasons = sum(map(len, _reasons(look).values())) + rows_beside
    rows = max(_LEAST_ROWS, session.world.height - _BESIDE_MAP - reasons)
    # A character is twice as high as wide, so n rows of a board take 2 n w / h columns.
    return max(20, min(most, round(2 * rows * width / height)))


def show_picture(session: Session, shop: Workshop, look: BoardLook, *, side: str = "front") -> None:
    """
    Print the board's photo in blocks of two colours, where the terminal has them.

    Args:
        session: The run.
        shop: The open workshop.
        look: The board.
        side: ``front``, or ``back``: as seen when it is turned over.
    """
    from salvage.photo.glance import draw_cells
    from salvage.photo.upright import mirrored_png
    from salvage.work.photos import board_picture, newest_photo

    picture = board_picture(shop, look.board, px_per_mm=2.0, side=side)
    if picture is not None and side == "back":
        picture = mirrored_png(picture)
    if picture is None:
        photo = newest_photo(shop, look.board.code, side="" if side == "front" else side)
        picture = shop.files.load(photo.sha256) if photo else None
    if picture is None:
        note(session, "there is no photo yet")
        return
    if not session.has_true_color:
        note(session, "this terminal shows no pictures; 'salvage board map' writes one")
        return
    for row in draw_cells(picture, columns=min(session.world.width - 4, MOST_CHART)):
        cells = (
            "\x1b[38;2;{};{};{};48;2;{};{};{}m▀".format(*cell.upper, *cell.lower) for cell in row
        )
        say(session, f"  {''.join(cells)}\x1b[0m")


def show_cautions(session: Session) -> None:
    """The usual cautions before cutting, and that local codes and licensed practice come first."""
    from salvage.knowledge.cautions import cautions_for

    for caution in cautions_for("cutting"):
        warn(session, caution.sourced_text)
