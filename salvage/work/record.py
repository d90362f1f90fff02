"""Recording boards: what they are, how large, and which parts must not be cut."""

from __future__ import annotations

from typing import TYPE_CHECKING

from salvage.errors import BadOutline, BadValue, Refused
from salvage.frozen import dataclass, replace
from salvage.records.things import Board, KeepOut
from salvage.store.lookup import load_board, load_drop_off
from salvage.store.rows import select
from salvage.units import to_mg, to_um
from salvage.work.area import board_outline, usable_fresh, usable_with
from salvage.work.board_rules import check_keep_outs_inside, check_nothing_reserved
from salvage.work.expecting import expected_slugs
from salvage.work.places import place_words

if TYPE_CHECKING:
    from collections.abc import Sequence

    from salvage.ids import Code
    from salvage.records.region import Region
    from salvage.store.change import Change
    from salvage.work.workshop import Workshop


@dataclass(frozen=True, slots=True)
class NewKeepOut:
    """
    A region that must not be cut into a piece.

    Args:
        region: In board coordinates.
        reason: Such as "serial port" or "cracked corner".
    """

    region: Region
    reason: str


@dataclass(frozen=True, slots=True)
class NewBoard:
    """
    A board as it comes out of the box.

    Args:
        drop_off: Where it came with.
        type: A board type's slug.
        maker, model: As printed on it, if known.
        date_code: As printed; kept as raw text.
        colour: Of the solder mask.
        thickness_mm: By caliper.
        weight_g: By scales.
        lead_status: One of :data:`salvage.records.choices.LEAD_STATUSES`; never inferred.
        lead_evidence: What the status rests on.
        place, notes: Shelf or box; words for the workshop only.
        outline: True edge; None until measured.
        outline_from: How the outline was come by.
        keep_outs: Regions not to cut, if known at once.
    """

    drop_off: Code
    type: str
    maker: str = ""
    model: str = ""
    date_code: str = ""
    colour: str = ""
    thickness_mm: float | None = None
    weight_g: float | None = None
    lead_status: str = "unknown"
    lead_evidence: str = ""
    place: str = ""
    notes: str = ""
    outline: Region | None = None
    outline_from: str = ""
    keep_outs: tuple[NewKeepOut, ...] = ()


def record_boards(
    shop: Workshop, *, new: NewBoard, count: int = 1, dry_run: bool = False
) -> tuple[Board, ...]:
    """
    Record one or several like boards of a drop-off; each gets its own code.

    The hazards to look for on that type are fixed now, and hold the board until each is settled.

    Args:
        shop: The open workshop.
        new: What the boards are.
        count: How many of them.
        dry_run: Do everything, then roll back.

    Raises:
        NotFound: If the drop-off or type is not known.
        BadOutline: If the outline or a keep-out is no proper region.
        BadValue: If a lead status that needs evidence has none.
    """
    if not 1 <= count <= 500:
        raise BadValue(f"{count} boards at once", hint="1 to 500", field="--count")
    check_lead(new.lead_status, new.lead_evidence)

    def steps(change: Change) -> tuple[Board, ...]:
        load_drop_off(change.conn, new.drop_off)
        hazards = expected_slugs(shop, new.type, new.date_code)
        return tuple(_record_one(change, new, hazards) for _ in range(count))

    return shop.commit("record board", steps, dry_run=dry_run)


def check_lead(status: str, evidence: str) -> None:
    """
    Raise unless a status that says more than "unknown" says what it rests on.

    Raises:
        BadValue: If the evidence is missing.
    """
    if status in ("marked-lead-free", "tested") and not evidence.strip():
        raise BadValue(
            f"lead status '{status}' needs its evidence",
            hint="the mark as printed, or instrument, limit and verdict",
            field="--lead-evidence",
        )


def _record_one(change: Change, new: NewBoard, hazards: Sequence[str]) -> Board:
    code = change.new_code("B")
    outline = new.outline
    area = outline.area_um2 if outline else 0
    change.append(
        "board.recorded",
        (code, new.drop_off),
        {
            "drop_off": new.drop_off,
            "type": new.type,
            "maker": new.maker,
            "model": new.model,
            "date_code": new.date_code,
            "colour": new.colour,
            "thickness_um": None if new.thickness_mm is None else to_um(new.thickness_mm),
            "weight_mg": None if new.weight_g is None else to_mg(new.weight_g),
            "lead_status": new.lead_status,
            "lead_evidence": new.lead_evidence,
            "place": place_words(change.conn, new.place),
            "notes": new.notes,
            "outline": outline.to_rings() if outline else None,
            "outline_from": new.outline_from,
            "outline_um2": area,
            "usable_um2": usable_fresh(change.conn, outline) if outline else 0,
            "hazards": list(hazards),
        },
        made=(code,),
    )
    append_keep_outs(change, load_board(change.conn, code), new.keep_outs)
    return load_board(change.conn, code)


def append_keep_outs(change: Change, board: Board, keep_outs: Sequence[NewKeepOut]) -> None:
    """Journal keep-outs inside an open change; see :func:`add_keep_outs` for what is refused."""
    from salvage.geometry.ledger import Taken

    for new in keep_outs:
        check_keep_out(board, new)
        usable = usable_with(change.conn, board, Taken("keep-out", new.reason, new.region, 0))
        change.append(
            "keepout.added",
            (board.code,),
            {
                "n": change.next_numbers("keep_out", "board", board.code)[0],
                "reason": new.reason,
                "region": new.region.to_rings(),
                "usable_um2": usable,
            },
        )


def check_keep_out(board: Board, new: NewKeepOut) -> None:
    """
    Raise unless a keep-out has a reason and touches the board.

    Raises:
        BadValue: If it has no reason.
        BadOutline: If it lies wholly outside, or the board is not measured.
    """
    from salvage.geometry.outline import to_polygon

    outline = board_outline(board)
    if not new.reason.strip():
        raise BadValue("a keep-out needs a reason", hint="such as 'serial port'", field="--reason")
    if outline is None:
        raise BadOutline(
            f"{board.code} has no outline yet", hint=f"salvage board outline {board.code} …"
        )
    if not to_polygon(new.region).intersects(to_polygon(outline)):
        width, height = outline.size_mm
        raise BadOutline(
            f"the keep-out '{new.reason}' lies wholly outside the board",
            hint=f"the board reaches from 0,0 to {width:g},{height:g} mm",
        )


def set_outline(
    shop: Workshop, *, board: Code, outline: Region, outline_from: str, dry_run: bool = False
) -> Board:
    """
    Give a board its outline, or a better one.

    Args:
        shop: The open workshop.
        board: The board's code.
        outline: True edge with holes, its bounding box at the origin.
        outline_from: How it was come by.
        dry_run: Do everything, then roll back.

    Raises:
        NotFound: If there is no such board.
        Refused: If cuts were made that the new outline would not hold, or a keep-out would lie
            outside it.
    """

    def steps(change: Change) -> Board:
        append_outline(change, board, outline, outline_from)
        return load_board(change.conn, board)

    return shop.commit("set outline", steps, dry_run=dry_run)


def append_outline(change: Change, board: Code, outline: Region, outline_from: str) -> None:
    """
    Journal a board's outline inside an open change.

    Raises:
        NotFound: If there is no such board.
        Refused: If cuts were made that the new outline would not hold, or a keep-out would lie
            outside it.
    """
    old = load_board(change.conn, board)
    if old.cut_count:
        raise Refused(
            f"{board} has {old.cut_count} cuts placed on its present outline",
            hint="undo them first, or record the rest as a board of its own",
        )
    check_keep_outs_inside(change.conn, old, outline)
    renewed = replace(old, outline=outline.to_text())
    change.append(
        "board.outlined",
        (board,),
        {
            "outline": outline.to_rings(),
            "outline_from": outline_from,
            "outline_um2": outline.area_um2,
            "usable_um2": usable_with(change.conn, renewed),
        },
    )


def add_keep_outs(
    shop: Workshop, *, board: Code, keep_outs: Sequence[NewKeepOut], dry_run: bool = False
) -> Board:
    """
    Mark regions of a board that must not be cut into a piece.

    Raises:
        NotFound: If there is no such board.
        BadOutline: If a region lies wholly outside.
    """

    def steps(change: Change) -> Board:
        append_keep_outs(change, load_board(change.conn, board), keep_outs)
        return load_board(change.conn, board)

    return shop.commit("add keep-out", steps, dry_run=dry_run)


def list_keep_outs(shop: Workshop, board: Code) -> tuple[KeepOut, ...]:
    """All keep-outs of a board, lifted ones too, in order."""
    return select(shop.conn, KeepOut, "FROM keep_out WHERE board = ? ORDER BY n", (board,))


def lift_keep_out(
    shop: Workshop, *, board: Code, n: int, reason: str, dry_run: bool = False
) -> Board:
    """
    Take a keep-out off, for instance because the connector is off.

    Raises:
        NotFound: If there is no such board.
        Refused: If it has no such keep-out that stands.
        BadValue: If no reason is given.
    """

    def steps(change: Change) -> Board:
        old = load_board(change.conn, board)
        standing = [k for k in list_keep_outs(shop, board) if not k.lifted]
        if n not in [k.n for k in standing]:
            known = ", ".join(f"{k.n} ({k.reason})" for k in standing) or "none"
            raise Refused(f"{board} has no keep-out {n}", hint=f"it has: {known}")
        if not reason.strip():
            raise BadValue("say why it may be cut now", field="--reason")
        usable = usable_with(change.conn, old, without=n)
        change.append("keepout.lifted", (board,), {"n": n, "reason": reason, "usable_um2": usable})
        return load_board(change.conn, board)

    return shop.commit("lift keep-out", steps, dry_run=dry_run)


def set_lead(
    shop: Workshop, *, board: Code, lead_status: str, lead_evidence: str, dry_run: bool = False
) -> Board:
    """
    Record what is known about lead on a board, and what that rests on.

    Raises:
        NotFound: If there is no such board.
        BadValue: If the evidence is missing.
    """
    check_lead(lead_status, lead_evidence)
    data = {"lead_status": lead_status, "lead_evidence": lead_evidence}
    return _simple_change(shop, "set lead status", "board.lead_set", board, data, dry_run)


def move_board(shop: Workshop, *, board: Code, place: str, dry_run: bool = False) -> Board:
    """
    Record where a board lies now.

    Args:
        shop: The open workshop.
        board: The board's code.
        place: Its name, or the code on a place's label.
        dry_run: Do everything, then roll back.

    Raises:
        NotFound: If there is no such board, or no such place.
        BadCode: If the place is the code of something else.
    """
    told = {"place": place_words(shop.conn, place)}
    return _simple_change(shop, "move board", "board.moved", board, told, dry_run)


def retire_board(shop: Workshop, *, board: Code, reason: str, dry_run: bool = False) -> Board:
    """
    Close a board that is used up, too damaged, or gone to the recycler.

    Raises:
        NotFound: If there is no such board.
        BadValue: If no reason is given.
        Refused: If places on it are reserved.
    """
    if not reason.strip():
        raise BadValue("say why", hint="such as 'nothing usable left'", field="--reason")

    def steps(change: Change) -> Board:
        check_nothing_reserved(change.conn, load_board(change.conn, board))
        change.append("board.retired", (board,), {"reason": reason})
        return load_board(change.conn, board)

    return shop.commit("retire board", steps, dry_run=dry_run)


def _simple_change(
    shop: Workshop, act: str, kind: str, board: Code, data: dict[str, str], dry_run: bool
) -> Board:
    def steps(change: Change) -> Board:
        load_board(change.conn, board)
        change.append(kind, (board,), data)
        return load_board(change.conn, board)

    return shop.commit(act, steps, dry_run=dry_run)


def list_boards(
    shop: Workshop, *, state: str = "", drop_off: str = "", most: int = 100
) -> tuple[Board, ...]:
    """
    Boards, newest first.

    Args:
        shop: The open workshop.
        state: ``held``, ``cleared``, ``remnant`` (cut, usable area left), ``recalled``,
            ``retired``; empty for all that are not retired.
        drop_off: Only from this drop-off.
        most: At most so many.
    """
    where, parameters = BOARD_STATES[state], []
    if drop_off:
        where += " AND drop_off = ?"
        parameters.append(drop_off)
    rest = f"FROM board WHERE {where} ORDER BY recorded_at DESC, code DESC LIMIT {int(most)}"
    return select(shop.conn, Board, rest, parameters)


BOARD_STATES = {
    "": "retired = ''",
    "held": "retired = '' AND clearance = 'held'",
    "cleared": "retired = '' AND clearance = 'cleared' AND recalled = 0",
    "remnant": "retired = '' AND cut_count > 0 AND usable_um2 > 0",
    "recalled": "recalled > 0",
    "retired": "retired <> ''",
    "all": "1",
}
"""States that a list of boards may be narrowed to, with their condition."""
