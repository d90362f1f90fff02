"""Before cutting: a code by hand, scanner or photo, and everything one must see at once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from salvage.errors import BadCode, BadFile, BadOutline, NotFound
from salvage.ids import Code
from salvage.records.region import Region, region_of_text
from salvage.records.things import Board, Photo
from salvage.store.lookup import exists, load_board, suggest
from salvage.work.area import account_board, board_outline
from salvage.work.photos import board_picture, list_photos
from salvage.work.reading import read_code
from salvage.work.verdict import Obstacle, find_obstacles, find_warnings
from salvage.work.workshop import Workshop

if TYPE_CHECKING:
    from salvage.geometry.ledger import Fragment, Ledger
    from salvage.photo.overlay import Mark

# Resolution of map pictures: 4 px/mm shows a 0.25 mm slip and keeps a full-size board under 2 MP.
MAP_PX_PER_MM = 4.0
_MOST_FRAGMENTS = 5


@dataclass(frozen=True, slots=True)
class BoardLook:
    """
    What one screen shows before a cut.

    Args:
        board: The board.
        obstacles: What stands in the way, gravest first.
        ledger: What every square millimetre is; None without an outline.
        photos: Photos of the board.
        warnings: What to know that does not forbid the cut, one line each.
    """

    board: Board
    obstacles: tuple[Obstacle, ...]
    ledger: Ledger | None
    photos: tuple[Photo, ...]
    warnings: tuple[str, ...] = ()

    @property
    def go(self) -> bool:
        """True when the board may be cut now."""
        return not self.obstacles

    @property
    def largest_fragments(self) -> tuple[Fragment, ...]:
        """The largest usable fragments, largest first; a retired board has none."""
        if self.board.retired:
            return ()
        return self.ledger.fragments[:_MOST_FRAGMENTS] if self.ledger else ()


@dataclass(frozen=True, slots=True)
class ScanReading:
    """
    What a scan says.

    Args:
        code: The code, which exists.
        note: Such as the keyboard layout that had to be undone; may be empty.
    """

    code: Code
    note: str = ""


def identify(shop: Workshop, *, text: str) -> ScanReading:
    """
    The thing that typed or scanned text means.

    Args:
        shop: The open workshop.
        text: A code, a scanner's line, or the web address of a story card.

    Raises:
        BadCode: If it is no code of ours; names the nearest that exist.
        NotFound: If it is one, but not in this workshop.
    """
    from salvage.codes.wedge import parse_scan

    scan = parse_scan(text)
    code = read_code(shop, text=scan.text)
    if not exists(shop.conn, code):
        raise NotFound(
            f"there is nothing with the code {code} in this workshop",
            nearest=suggest(shop.conn, code),
        )
    note = f"scanner typed on a {scan.layout} keyboard layout" if scan.layout else ""
    return ScanReading(code, note)


def identify_photo(shop: Workshop, *, data: bytes, name: str) -> tuple[ScanReading, ...]:
    """
    The things whose labels a photo shows.

    Args:
        shop: The open workshop.
        data: Bytes of the photo.
        name: Its name, for error texts.

    Raises:
        BadFile: If it is no picture, or shows no label of ours.
    """
    from salvage.codes.read import missing_readers, read_picture

    found: dict[Code, ScanReading] = {}
    strangers: list[str] = []
    seen_all = read_picture(data)
    strangers += [reading.text[:40] for reading in seen_all.strangers]
    for reading in seen_all.codes:
        try:
            known = identify(shop, text=reading.text)
        except (BadCode, NotFound):
            strangers.append(reading.text[:40])
        else:
            found.setdefault(known.code, known)
    if not found and seen_all.doubtful:
        texts = ", ".join(reading.text[:40] for reading in seen_all.doubtful)
        raise BadFile(
            f"{name} shows a label that the readers read differently: {texts}",
            hint="type the code that stands beside it, or photograph it again in even light",
        )
    if not found:
        seen = f"only codes that are not ours: {', '.join(strangers)}" if strangers else "no code"
        if seen_all.unread and not strangers:
            seen = "a label that could not be read"
        hint = "come closer, hold the label flat and in even light"
        if missing := missing_readers():
            hint += f" ({missing[0]})"
        raise BadFile(f"{name} shows {seen}", hint=hint)
    return tuple(found.values())


def look_at(shop: Workshop, *, board: Code) -> BoardLook:
    """
    Go or no-go, and what is left of a board.

    Raises:
        NotFound: If there is no such board.
    """
    found = load_board(shop.conn, board)
    return BoardLook(
        found,
        find_obstacles(shop.conn, found),
        account_board(shop.conn, found),
        list_photos(shop, board),
        find_warnings(shop.conn, found),
    )


def draw_board_chart(
    look: BoardLook, *, columns: int, highlight: Region | None = None, ascii_only: bool = False
) -> tuple[str, ...]:
    """
    The board's map in characters, one row each; empty while it has no outline.

    Args:
        look: The board.
        columns: Width in characters.
        highlight: A region to show, such as a piece's.
        ascii_only: For terminals without block characters.
    """
    from salvage.geometry.chart import draw_chart

    outline = board_outline(look.board)
    if outline is None or look.ledger is None:
        return ()
    return draw_chart(
        outline, look.ledger, columns=columns, highlight=highlight, ascii_only=ascii_only
    )


def draw_board_map(
    shop: Workshop,
    *,
    board: Code,
    highlight: Region | None = None,
    px_per_mm: float = MAP_PX_PER_MM,
    legend: bool = True,
    side: str = "front",
) -> bytes:
    """
    The board's map as PNG, over its photo where one with known corners exists.

    Args:
        shop: The open workshop.
        board: The board's code.
        highlight: A region to show, such as the place a piece came from.
        px_per_mm: Resolution.
        legend: Explain the patterns below the map.
        side: ``front``, or ``back``: as seen when the board is turned over like a page.

    Raises:
        NotFound: If there is no such board.
        BadOutline: If it has no outline yet.
    """
    from salvage.photo.overlay import draw_map

    look = look_at(shop, board=board)
    outline = board_outline(look.board)
    if outline is None or look.ledger is None:
        raise BadOutline(f"{board} has no outline yet", hint=f"salvage board outline {board} …")
    picture = board_picture(shop, look.board, px_per_mm=px_per_mm, side=side)
    marks = _marks(shop, look, highlight)
    title = f"{board}  {look.board.title}"
    if side == "back":
        outline, marks, picture = _turned_over(outline, marks, picture)
        title = f"{board}, back  {look.board.title}"
    return draw_map(
        outline,
        marks,
        picture_png=picture,
        px_per_mm=px_per_mm,
        legend=legend,
        title=title if legend else "",
    )


def _turned_over(
    outline: Region, marks: Sequence[Mark], picture: bytes | None
) -> tuple[Region, tuple[Mark, ...], bytes | None]:
    """All that a map shows, as it lies when the board is turned over about an upright axis."""
    from salvage.geometry.outline import map_points
    from salvage.photo.upright import mirrored_png

    left, _, right, _ = outline.bounds_um

    def turn(region: Region) -> Region:
        return map_points(region, lambda point: (left + right - point[0], point[1]))

    turned = tuple(replace(mark, region=turn(mark.region)) for mark in marks)
    return turn(outline), turned, mirrored_png(picture) if picture else None


def _marks(shop: Workshop, look: BoardLook, highlight: Region | None) -> tuple[Mark, ...]:
    """The layers as marks, cuts labelled with their pieces; a highlighted place stands alone."""
    from salvage.photo.overlay import Mark

    assert look.ledger is not None  # the caller has asked
    marks = [
        Mark(layer, region)
        for layer, regions in look.ledger.layers.items()
        if layer != "cut" and not (highlight and layer in ("usable", "unusable", "wall"))
        for region in regions
    ]
    rows = shop.conn.execute(
        "SELECT cut.region, coalesce(piece.code, cut.code) FROM cut LEFT JOIN piece"
        " ON piece.cut = cut.code WHERE cut.board = ? ORDER BY cut.clock, cut.code",
        (look.board.code,),
    )
    for text, code in rows:
        region = region_of_text(text)
        if region != highlight:
            marks.append(Mark("cut", region, "" if highlight else code))
    if highlight:
        marks.append(Mark("this", highlight, ""))
    return tuple(marks)


def chart_legend(rows: Sequence[str], *, ascii_only: bool = False) -> str:
    """
    What the characters of a map mean, of those that stand in it.

    Args:
        rows: From :func:`draw_board_chart`.
        ascii_only: As it was drawn.
    """
    from salvage.geometry.chart import ASCII_LEGEND, LEGEND

    seen = {glyph for row in rows for glyph in row if glyph != " "}
    legend = ASCII_LEGEND if ascii_only else LEGEND
    return "   ".join(f"{glyph} {words}" for glyph, words in legend.items() if glyph in seen)
