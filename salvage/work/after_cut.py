"""
What a photo after the cut shows, against what was recorded: told, drawn, and taken up.

What is gone without a record becomes a keep-out, whose reason says in which photo it was seen. It
is not made a cut: who cut it, with which tool, and whether a piece came of it, nobody has said, and
a cut on record claims all that. A keep-out claims no more than was seen, keeps every later piece
off the hole, and can be lifted when somebody remembers and records the cut itself.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from salvage.errors import BadOutline, BadValue, Refused
from salvage.ids import Code
from salvage.records.region import Region, region_of_text
from salvage.records.things import Board, Cut, KeepOut, Photo, Reservation
from salvage.store.change import Change
from salvage.store.lookup import load_board
from salvage.store.rows import select
from salvage.units import from_um
from salvage.work.area import board_outline
from salvage.work.history import short_id
from salvage.work.measuring import look_at_board
from salvage.work.photos import NewPhoto, append_photo, cornered_photo, keep, look_over
from salvage.work.record import NewKeepOut, append_keep_outs, list_keep_outs
from salvage.work.standing import GONE, gone_regions
from salvage.work.taking import ON_MAT, Look, Taking
from salvage.work.workshop import Workshop

if TYPE_CHECKING:
    import sqlite3

    from salvage.photo.measure.after_cut import CutDifferences

TYPED_EDGE_MM = 1.5
"""How far edges may lie apart where the outline was typed or is a form factor's."""

MAP_PX_PER_MM = 4.0

_SAME_TURN_DEG = 15


@dataclass(frozen=True, slots=True)
class Difference:
    """
    One place where photo and record disagree.

    Args:
        number: As on the picture, from 1.
        kind: ``gone``: gone, but not on record; ``still there``: on record, but not gone.
        region: Where, in board coordinates.
        code: The cut that is on record there; empty if none is.
        mend: Words after ``salvage`` that mend the record.
    """

    number: int
    kind: str
    region: Region
    code: str
    mend: str

    @property
    def at_mm(self) -> tuple[float, float]:
        """Middle of its bounding box."""
        left, bottom, right, top = self.region.bounds_um
        return from_um(left + right) / 2, from_um(bottom + top) / 2


@dataclass(frozen=True, slots=True)
class Way:
    """
    One way in which the remnant may lie on the board's outline.

    Args:
        turn: In whole degrees, by which a person names it.
        compared: What the photo shows then.
        differences: The same as a list, what is gone first.
    """

    turn: int
    compared: CutDifferences
    differences: tuple[Difference, ...]


@dataclass(frozen=True, slots=True)
class AfterCut:
    """
    A photo of a remnant, compared with the record; nothing is kept of it yet.

    Args:
        board: The board.
        look: What the photo says.
        photos: The photos as they are.
        ways: How the remnant may lie, best first; more than one is a question.
    """

    board: Board
    look: Look
    photos: tuple[NewPhoto, ...]
    ways: tuple[Way, ...]

    @property
    def turns(self) -> tuple[int, ...]:
        """The turns to choose from, in whole degrees."""
        return tuple(sorted(way.turn for way in self.ways))


@dataclass(frozen=True, slots=True)
class GoneRecorded:
    """
    A board after what was seen gone was taken up.

    Args:
        board: The board.
        keep_outs: The new keep-outs.
        photo: The remnant squared up, over which maps are drawn from now on.
        reserved: Reservations that lie where the board is gone.
    """

    board: Board
    keep_outs: tuple[KeepOut, ...]
    photo: Photo
    reserved: tuple[Reservation, ...]


def find_differences(
    shop: Workshop, *, board: Code, photos: tuple[NewPhoto, ...], taking: Taking = ON_MAT
) -> AfterCut:
    """
    Compare a photo of a remnant with its record; nothing is kept.

    Args:
        shop: The open workshop.
        board: The board's code.
        photos: One of the remnant with its front up, or two of it lying still.
        taking: How they get their scale.

    Raises:
        NotFound: If there is no such board.
        BadOutline: If it has no outline yet.
        BadFile: If the photo cannot be measured honestly.
        Refused: If it is another board; with how far it is off.
    """
    from salvage.photo.measure.after_cut import MEASURED_EDGE_MM, compare_after_cut

    found = load_board(shop.conn, board)
    outline = board_outline(found)
    if outline is None:
        raise BadOutline(f"{board} has no outline yet", hint=f"salvage measure {board} front.jpg")
    photos = tuple(replace(photo, side="front", corners_px=None) for photo in photos)
    for photo in photos:
        look_over(board, photo)
    look = look_at_board(shop, found, photos, taking)
    is_measured = found.outline_from.startswith("photo") and look.mat is not None
    compared = compare_after_cut(
        look.measurement,
        outline,
        gone_regions(shop.conn, found),
        edge_mm=MEASURED_EDGE_MM if is_measured else TYPED_EDGE_MM,
    )
    ways = tuple(
        Way(one.turn_word, one, _list(shop.conn, found, one, photos[0].name)) for one in compared
    )
    return AfterCut(found, look, photos, ways)


def choose_way(found: AfterCut, turn: int | None) -> Way:
    """
    The way that is meant.

    Raises:
        Refused: If there are several and none is chosen.
        BadValue: If the chosen one is none of them.
    """
    words = " or ".join(f"--turn {way}" for way in found.turns)
    if turn is None:
        if len(found.ways) == 1:
            return found.ways[0]
        raise Refused(
            f"the remnant of {found.board.code} may lie in {len(found.ways)} ways",
            hint=f"look at the pictures, then say which: {words}",
        )

    def apart(way: Way) -> float:
        return abs((way.turn - turn + 180) % 360 - 180)

    nearest = min(found.ways, key=apart)
    if apart(nearest) > _SAME_TURN_DEG:
        raise BadValue(f"the remnant does not fit turned by {turn}", hint=words, field="--turn")
    return nearest


def draw_differences(shop: Workshop, *, found: AfterCut, way: Way) -> bytes:
    """
    The remnant on the board's map, differences hatched and numbered, as a PNG with a legend.

    Args:
        shop: The open workshop.
        found: From :func:`find_differences`.
        way: How it lies; one of ``found.ways``.
    """
    from salvage.photo.overlay import Mark, draw_map

    outline = board_outline(found.board)
    assert outline is not None  # without it nothing is compared
    marks = [Mark("cut", region) for region in gone_regions(shop.conn, found.board)]
    styles = {"gone": "gone", "still there": "still"}
    marks += [Mark(styles[d.kind], d.region, str(d.number)) for d in way.differences]
    return draw_map(
        outline,
        marks,
        picture_png=_laid(found, way, outline),
        px_per_mm=MAP_PX_PER_MM,
        legend=True,
        title=f"{found.board.code}  photo against record",
    )


def record_gone(
    shop: Workshop, *, found: AfterCut, turn: int | None = None, dry_run: bool = False
) -> GoneRecorded:
    """
    Mark what a photo shows gone as keep-outs, and keep the photo and the remnant squared up.

    Args:
        shop: The open workshop.
        found: From :func:`find_differences`.
        turn: Which way, in degrees, where there are several.
        dry_run: Do everything, then roll back; nothing is kept.

    Raises:
        Refused: If there are several ways and none is chosen.
        BadValue: If the chosen way is none of them.
    """
    way = choose_way(found, turn)
    code = found.board.code
    gone = [one.region for one in way.differences if one.kind == "gone"]
    reason = f"{GONE} of {shop.today.isoformat()} ({found.photos[0].name})"
    squared = _squared_photo(found, way)
    taken = [
        keep(shop, photo, look_over(code, photo), dry_run=dry_run)
        for photo in (*found.photos, squared)
    ]

    def steps(change: Change) -> GoneRecorded:
        before = {keep_out.n for keep_out in list_keep_outs(shop, code)}
        board = load_board(change.conn, code)
        append_keep_outs(change, board, [NewKeepOut(_settled(one), reason) for one in gone])
        for photo in taken:
            append_photo(change, code, photo)
        kept = cornered_photo(shop, code, side="front")
        assert kept is not None  # it was appended just now
        new = tuple(k for k in list_keep_outs(shop, code) if k.n not in before)
        return GoneRecorded(
            load_board(change.conn, code), new, kept, _reserved(change.conn, code, gone)
        )

    return shop.commit("record gone", steps, dry_run=dry_run)


def _settled(region: Region) -> Region:
    """The region as the ledger keeps it."""
    from salvage.geometry.outline import to_polygon, to_regions

    return to_regions(to_polygon(region))[0]


def _list(
    conn: sqlite3.Connection, board: Board, compared: CutDifferences, photo: str
) -> tuple[Difference, ...]:
    """Differences in the order of their size, each with what mends it."""
    found: list[Difference] = []
    for region in compared.gone:
        mend = f"compare {board.code} {photo} --record"
        found.append(Difference(len(found) + 1, "gone", region, "", mend))
    for region in compared.still_there:
        code, mend = _mend_still(conn, board, region)
        found.append(Difference(len(found) + 1, "still there", region, code, mend))
    return tuple(found)


def _mend_still(conn: sqlite3.Connection, board: Board, region: Region) -> tuple[str, str]:
    """What is on record where the board still stands, and the command that takes it back."""
    cuts = select(conn, Cut, "FROM cut WHERE board = ? ORDER BY clock, code", (board.code,))
    seen = select(
        conn,
        KeepOut,
        "FROM keep_out WHERE board = ? AND lifted = 0 AND reason LIKE ? || '%' ORDER BY n",
        (board.code, GONE),
    )
    claims: list[Cut | KeepOut] = [*cuts, *seen]
    shares = [
        _common_mm2(region, claim.region, claim.kerf_um if isinstance(claim, Cut) else 0)
        for claim in claims
    ]
    claim = claims[shares.index(max(shares))]
    if isinstance(claim, KeepOut):
        return "", f'board lift {board.code} {claim.n} --reason "still there"'
    row = conn.execute(
        "SELECT operation FROM event JOIN event_item ON event_item.seq = event.seq"
        " WHERE code = ? AND made = 1 ORDER BY event.seq DESC LIMIT 1",
        (claim.code,),
    ).fetchone()
    return claim.code, f"undo {short_id(row[0])}"


def _common_mm2(region: Region, claimed: str, kerf_um: int) -> float:
    from salvage.geometry.outline import to_polygon
    from salvage.geometry.overlay import grow

    claim = grow(to_polygon(region_of_text(claimed)), from_um(kerf_um))
    return float(to_polygon(region).intersection(claim).area)


def _reserved(
    conn: sqlite3.Connection, board: Code, gone: Sequence[Region]
) -> tuple[Reservation, ...]:
    """Reservations whose place is gone, in part at least."""
    held = select(
        conn,
        Reservation,
        "FROM reservation WHERE board = ? AND state = 'held' ORDER BY code",
        (board,),
    )
    return tuple(one for one in held if any(_common_mm2(g, one.region, 0) > 0 for g in gone))


def _laid(found: AfterCut, way: Way, outline: Region) -> bytes:
    """The remnant in the board's own frame."""
    from salvage.photo.measure.after_cut import draw_laid

    pictures = found.look.measurement.pictures
    return draw_laid(
        pictures.squared_png,
        way.compared.fit,
        px_per_mm=pictures.squared_px_per_mm,
        size_mm=outline.size_mm,
    )


def _squared_photo(found: AfterCut, way: Way) -> NewPhoto:
    from salvage.photo.intake import inspect_photo

    outline = board_outline(found.board)
    assert outline is not None  # without it nothing is compared
    data = _laid(found, way, outline)
    facts = inspect_photo(data, name="squared up")
    right, low = float(facts.width_px), float(facts.height_px)
    corners = [(0.0, low), (right, low), (right, 0.0), (0.0, 0.0)]
    name = f"{found.board.code}-after-squared.png"
    return NewPhoto(data, name, "front", "remnant, squared up", corners_px=corners)
