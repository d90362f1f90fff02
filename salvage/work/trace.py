"""Where is it from, and what became of it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from salvage.errors import NotFound
from salvage.frozen import dataclass, replace
from salvage.ids import Code, kind_of
from salvage.records.article import Part
from salvage.records.counting import LostThing
from salvage.records.things import Board, Cut, DropOff, Piece, Sale
from salvage.store.lookup import (
    load_batch,
    load_board,
    load_consignment,
    load_container,
    load_cut,
    load_drop_off,
    load_piece,
    load_plan,
    load_recall,
    load_reservation,
)
from salvage.store.rows import select, select_one
from salvage.units import format_area, format_mass
from salvage.work.donors import view_donor
from salvage.work.lineage import outermost, parts_of, shares_of
from salvage.work.places import view_place

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Callable, Iterator, Sequence

    from salvage.work.workshop import Workshop


@dataclass(frozen=True, slots=True)
class Link:
    """
    One thing in a line of descent.

    Args:
        code: Its code.
        kind: The word for its kind.
        words: What it is and where it is now.
    """

    code: Code
    kind: str
    words: str


@dataclass(frozen=True, slots=True)
class Branch:
    """
    A thing with all that came of it.

    Args:
        link: The thing.
        branches: What came of it.
    """

    link: Link
    branches: tuple[Branch, ...] = ()


@dataclass(frozen=True, slots=True)
class Trace:
    """
    A thing's line back and its tree forward.

    Args:
        subject: The thing asked about.
        back: From the nearest origin to the donor; of an article, part after part, each thing once.
        forward: The thing with all that came of it.
        origins: The thing with all that it came from, for an article a tree of its parts.
        is_apart: Whether it is an article that was taken apart.
    """

    subject: Link
    back: tuple[Link, ...]
    forward: Branch
    origins: Branch
    is_apart: bool = False


def trace(shop: Workshop, code: Code) -> Trace:
    """
    Where a thing is from, back to the donor, and what became of it.

    Raises:
        NotFound: If there is nothing with this code.
    """
    if code[0] not in _LINKS:
        raise NotFound(
            f"{code} is a code of the action sheet: it has no record",
            hint="scan the label of a board or a piece",
        )
    subject = _LINKS[code[0]](shop.conn, code)
    origins = _origins(shop.conn, subject)
    back = {link.code: link for link in _flat(origins)}
    del back[code]
    is_apart = code[0] == "P" and _is_apart(parts_of(shop.conn, code))
    return Trace(subject, tuple(back.values()), _branch(shop.conn, subject), origins, is_apart)


def without_names(shop: Workshop, found: Trace) -> Trace:
    """A trace for eyes that may not see donors' own names: each donor as cards may say it."""

    def plain(link: Link) -> Link:
        if link.code[0] != "G":
            return link
        return replace(link, words=view_donor(shop.conn, link.code).public)

    def prune(branch: Branch) -> Branch:
        return Branch(plain(branch.link), tuple(map(prune, branch.branches)))

    back = tuple(map(plain, found.back))
    forward, origins = prune(found.forward), prune(found.origins)
    return replace(found, subject=plain(found.subject), back=back, forward=forward, origins=origins)


def _origins(conn: sqlite3.Connection, link: Link) -> Branch:
    parents = _parents(conn, link.code)
    return Branch(link, tuple(_origins(conn, _LINKS[one[0]](conn, one)) for one in parents))


def _flat(branch: Branch) -> Iterator[Link]:
    yield branch.link
    for one in branch.branches:
        yield from _flat(one)


def _parents(conn: sqlite3.Connection, code: Code) -> tuple[Code, ...]:
    """What a thing came from; an assembled article has several."""
    parent: Code | None = None
    match code[0]:
        case "P":
            parent = load_piece(conn, code).cut
            if parent is None:
                return tuple(part.piece for part in parts_of(conn, code))
        case "K":
            parent = load_cut(conn, code).board
        case "R":
            parent = load_reservation(conn, code).board
        case "B":
            parent = load_board(conn, code).drop_off
        case "D":
            parent = load_drop_off(conn, code).donor
        case "H":
            subject = load_recall(conn, code).cause_map.get("code")
            parent = Code(subject) if subject else None
        case "C":
            parent = load_consignment(conn, code).drop_off
    return (parent,) if parent else ()


def _branch(conn: sqlite3.Connection, link: Link) -> Branch:
    children = _children(conn, link.code)
    if link.code[0] == "B":
        cuts = _branches_of_cuts(conn, link.code)
        rest = [child for child in children if child[0] != "K"]
        more = (_branch(conn, _LINKS[child[0]](conn, child)) for child in rest)
        return Branch(link, (*cuts, *more))
    return Branch(link, tuple(_branch(conn, _LINKS[child[0]](conn, child)) for child in children))


def _branches_of_cuts(conn: sqlite3.Connection, board: Code) -> Iterator[Branch]:
    """All cuts of a board with their pieces, asked for together; it may have hundreds."""
    pieces = {
        piece.cut: piece for piece in select(conn, Piece, "FROM piece WHERE board = ?", (board,))
    }
    # Those that are in an article or lost have more to tell, and are asked for one by one.
    special = {
        code
        for (code,) in conn.execute(
            "SELECT piece.code FROM piece JOIN part ON part.piece = piece.code WHERE board = ?1"
            " UNION SELECT code FROM piece JOIN lost_thing USING (code) WHERE board = ?1",
            (board,),
        )
    }
    newest = (
        "FROM sale WHERE piece IN (SELECT code FROM piece WHERE board = ? AND stage = 'sold')"
        " ORDER BY returned_on = '', n"
    )
    sales = {sale.piece: sale for sale in select(conn, Sale, newest, (board,))}
    for cut in select(conn, Cut, "FROM cut WHERE board = ? ORDER BY clock, code", (board,)):
        piece = pieces.get(cut.code)
        below: tuple[Branch, ...] = ()
        if piece and piece.code in special:
            below = (_branch(conn, _link_piece(conn, piece.code)),)
        elif piece:
            sale = sales.get(piece.code)
            where = _sold(sale) if sale else _in_hand(piece)
            below = (Branch(Link(piece.code, kind_of(piece.code), f"{piece.shape}, {where}")),)
        yield Branch(_words_of_cut(cut), below)


_CHILDREN = {
    "G": ("SELECT code FROM drop_off WHERE donor = ? ORDER BY code",),
    "D": (
        "SELECT code FROM board WHERE drop_off = ? ORDER BY code",
        "SELECT code FROM consignment WHERE drop_off = ? ORDER BY code",
    ),
    "B": (
        "SELECT code FROM cut WHERE board = ? ORDER BY clock, code",
        "SELECT code FROM reservation WHERE board = ? AND state = 'held' ORDER BY code",
    ),
    "C": (
        (
            "SELECT code FROM consignment_item WHERE consignment = ? AND what = 'container'"
            " ORDER BY code"
        ),
    ),
    "J": ("SELECT code FROM reservation WHERE plan = ? AND state = 'held' ORDER BY code",),
    "V": ("SELECT DISTINCT code FROM material_use WHERE batch = ? AND voided = '' ORDER BY code",),
    "K": ("SELECT code FROM piece WHERE cut = ? ORDER BY code",),
    "P": ("SELECT article FROM part WHERE piece = ? AND taken_out_at = '' ORDER BY article",),
    # A piece whose board is recalled as well stands under its board, an article under its parts.
    "H": (
        (
            "SELECT recall_item.code FROM recall_item"
            " LEFT JOIN piece ON piece.code = recall_item.code"
            " WHERE recall = ?1 AND (piece.board IS NULL OR piece.board NOT IN"
            " (SELECT code FROM recall_item WHERE recall = ?1)) AND recall_item.code NOT IN"
            " (SELECT article FROM part JOIN recall_item ON code = part.piece"
            " WHERE recall = ?1 AND taken_out_at = '') ORDER BY recall_item.code"
        ),
    ),
}


def _children(conn: sqlite3.Connection, code: Code) -> list[Code]:
    found: list[Code] = []
    for query in _CHILDREN.get(code[0], ()):
        found += [Code(row[0]) for row in conn.execute(query, (code,))]
    return found


def descendants(conn: sqlite3.Connection, code: Code) -> tuple[Code, ...]:
    """The thing itself and everything that came of it, each once, boards before their pieces."""
    found = [code]
    for child in _children(conn, code):
        found += descendants(conn, child)
    return tuple(dict.fromkeys(found))


def where_now(conn: sqlite3.Connection, piece: Piece) -> str:
    """
    Where a piece is, in words.

    Args:
        conn: Open connection.
        piece: The piece.
    """
    around = outermost(conn, piece.code)
    if around != piece.code and piece.stage != "sold":
        return f"in article {around}, {where_now(conn, load_piece(conn, around))}"
    if piece.stage == "sold":
        newest = "FROM sale WHERE piece = ? ORDER BY returned_on <> '', n DESC"
        sales = select(conn, Sale, newest, (piece.code,))
        return _sold(sales[0])
    lost = select_one(conn, LostThing, "FROM lost_thing WHERE code = ?", (piece.code,))
    return _in_hand(piece, f", not found at the stock-take {lost.stock_take}" if lost else "")


def _sold(sale: Sale) -> str:
    venue = f" at {sale.venue}" if sale.venue else ""
    return f"{'sold' if sale.price_minor else 'given away'}{venue} on {sale.sold_on}"


def _in_hand(piece: Piece, lost: str = "") -> str:
    words = "came back" if piece.stage == "returned" else piece.stage
    return f"{words}{lost}{', recalled' if piece.recalled else ''}"


def _link_donor(conn: sqlite3.Connection, code: Code) -> Link:
    view = view_donor(conn, code)
    private = "" if view.public == view.name or not view.name else f" (private: {view.name})"
    return Link(code, kind_of(code), f"{view.public}{private}")


def _link_drop_off(conn: sqlite3.Connection, code: Code) -> Link:
    found: DropOff = load_drop_off(conn, code)
    weight = f", {format_mass(found.weight_mg / 1000)}" if found.weight_mg else ""
    return Link(code, kind_of(code), f"{found.contents}{weight}, received {found.received_on}")


def _link_board(conn: sqlite3.Connection, code: Code) -> Link:
    found: Board = load_board(conn, code)
    state = f"retired: {found.retired}" if found.retired else found.clearance
    recalled = ", recalled" if found.recalled else ""
    usable = f", {format_area(found.usable_um2 / 1e6)} usable" if found.outline else ""
    return Link(code, kind_of(code), f"{found.title}, {state}{recalled}{usable}")


def _link_cut(conn: sqlite3.Connection, code: Code) -> Link:
    return _words_of_cut(load_cut(conn, code))


def _words_of_cut(found: Cut) -> Link:
    what = found.shape if found.outcome == "piece" else f"scrap: {found.reason}"
    where = f"at {found.x_um / 1000:g}, {found.y_um / 1000:g} mm"
    override = f", override: {found.override_reason}" if found.override_reason else ""
    words = f"{what} {where} by {found.by}, {found.at[:10]}{override}"
    return Link(found.code, kind_of(found.code), words)


def _link_piece(conn: sqlite3.Connection, code: Code) -> Link:
    found = load_piece(conn, code)
    what = f"{found.shape}{_made_of(conn, code)}"
    return Link(code, kind_of(code), f"{what}, {where_now(conn, found)}")


def _made_of(conn: sqlite3.Connection, code: Code) -> str:
    """Of an article: how many parts, of how many boards, in which shares."""
    parts, shares = parts_of(conn, code), shares_of(conn, code)
    if not parts:
        return ""
    apart = ", taken apart; it was" if _is_apart(parts) else ","
    if len(shares) == 1:
        return f"{apart} assembled of {len(parts)} pieces of one board"
    told = " + ".join(f"{share.share_ppm / 10_000:.0f} % {share.board}" for share in shares)
    return f"{apart} assembled of {len(parts)} pieces ({told} by {shares[0].measured})"


def _is_apart(parts: Sequence[Part]) -> bool:
    """Whether an article has no part in it any more."""
    return bool(parts) and all(part.taken_out_at for part in parts)


def _link_reservation(conn: sqlite3.Connection, code: Code) -> Link:
    found = load_reservation(conn, code)
    return Link(code, kind_of(code), f"{found.shape} for {found.for_whom}, {found.state}")


def _link_consignment(conn: sqlite3.Connection, code: Code) -> Link:
    found = load_consignment(conn, code)
    weight = format_mass(found.weight_mg / 1000)
    return Link(code, kind_of(code), f"{found.contents}, {weight}, to {found.receiver}")


def _link_container(conn: sqlite3.Connection, code: Code) -> Link:
    found = load_container(conn, code)
    state = f"closed {found.closed_on}" if found.closed_on else f"open since {found.opened_on}"
    return Link(code, kind_of(code), f"{found.words}, {state}")


def _link_recall(conn: sqlite3.Connection, code: Code) -> Link:
    found = load_recall(conn, code)
    return Link(code, kind_of(code), f"{found.reason}, {found.state}")


def _link_plan(conn: sqlite3.Connection, code: Code) -> Link:
    found = load_plan(conn, code)
    until = f"held until {found.holds_until}" if found.state == "held" else found.state
    return Link(code, kind_of(code), f"for {found.for_whom}, {until}")


def _link_batch(conn: sqlite3.Connection, code: Code) -> Link:
    found = load_batch(conn, code)
    recalled = ", recalled" if found.recalled else ""
    return Link(code, kind_of(code), f"{found.material}: {found.title}{recalled}")


def _link_place(conn: sqlite3.Connection, code: Code) -> Link:
    found = view_place(conn, code)
    return Link(code, kind_of(code), f"{found.place.name}, boards there: {len(found.boards)}")


_LINKS: dict[str, Callable[[sqlite3.Connection, Code], Link]] = {
    "G": _link_donor,
    "D": _link_drop_off,
    "B": _link_board,
    "K": _link_cut,
    "P": _link_piece,
    "R": _link_reservation,
    "C": _link_consignment,
    "H": _link_recall,
    "E": _link_container,
    "F": _link_place,
    "V": _link_batch,
    "J": _link_plan,
}
