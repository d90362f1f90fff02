"""
What a buyer can touch of a piece or article, part by part, with the assays that speak for each.

A part counts as there until somebody said that it is absent. A coating hides nothing: what lies
below it is still a part of its own.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from salvage.frozen import dataclass
from salvage.records.gate import Assay, PieceProduct
from salvage.store.journal import read_events_about, undone_ids
from salvage.store.rows import select_one
from salvage.work.assays import BATCH_PARTS, assays_of
from salvage.work.lineage import cut_pieces
from salvage.work.materials import batches_of

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Iterator

    from salvage.ids import Code
    from salvage.records.things import Piece


@dataclass(frozen=True, slots=True)
class SeenPart:
    """
    One part that a buyer can touch.

    Args:
        part: One of :data:`salvage.knowledge.product_rules.PARTS`.
        of: The batch that it is of, or in an article the piece; empty where it is clear.
        words: What is known of it.
        assays: Results that speak for it.
    """

    part: str
    of: str
    words: str
    assays: tuple[Assay, ...]

    @property
    def name(self) -> str:
        """Its name within a point, such as ``finding-VC0004U``."""
        return "-".join(filter(None, (self.part.replace(" ", "-"), self.of)))


_UNSEEN = "not checked"


def product_of(conn: sqlite3.Connection, piece: Code) -> PieceProduct:
    """What a piece is to be and what was seen of it; unknown and not checked where nobody said."""
    found = select_one(conn, PieceProduct, "FROM piece_product WHERE piece = ?", (piece,))
    return found or PieceProduct(
        piece, "unknown", _UNSEEN, _UNSEEN, _UNSEEN, _UNSEEN, _UNSEEN, by="", at=""
    )


def touchable_parts(conn: sqlite3.Connection, code: Code) -> tuple[SeenPart, ...]:
    """All parts of a piece, or of every piece of an article, then what was added to it."""
    own = product_of(conn, code)
    pieces = cut_pieces(conn, code)
    parts = [part for piece in pieces for part in _board_parts(conn, code, piece, own)]
    holders = tuple(dict.fromkeys((code, *(piece.code for piece in pieces))))
    return (*parts, *_added_parts(conn, holders, own))


def _board_parts(
    conn: sqlite3.Connection, code: Code, piece: Piece, own: PieceProduct
) -> Iterator[SeenPart]:
    """What comes from the board of one cut piece."""
    assert piece.board is not None  # a piece of one cut has its board
    known = own if own.by else product_of(conn, piece.code)
    sources = dict.fromkeys((code, piece.code, piece.board))
    standing = [a for source in sources for a in assays_of(conn, source) if not a.voided]
    found = {
        "laminate": "present",
        "bare metal": known.metal,
        "solder": known.solder,
        "component": known.component,
    }
    of = "" if piece.code == code else piece.code
    for part, finding in found.items():
        if finding != "absent":
            yield SeenPart(part, of, finding, tuple(a for a in standing if a.part == part))


def _added_parts(
    conn: sqlite3.Connection, holders: tuple[Code, ...], own: PieceProduct
) -> Iterator[SeenPart]:
    """Coatings and findings: each batch that was noted, or that nobody noted any."""
    standing = [a for code in holders for a in assays_of(conn, code) if not a.voided]
    batches = {batch.code: batch for code in holders for batch, _ in batches_of(conn, code)}
    # Who said that it has no coating, and sealed it later, has a coating that nobody noted.
    sealed = own.coating == "absent" and any(_is_sealed(conn, code) for code in holders)
    coating = "sealed" if sealed else own.coating
    for part, finding in (("coating", coating), ("finding", own.finding)):
        on_it = tuple(assay for assay in standing if assay.part == part)
        noted = [b for b in batches.values() if BATCH_PARTS.get(b.material) == part]
        for batch in noted:
            tests = tuple(a for a in assays_of(conn, batch.code) if not a.voided)
            yield SeenPart(part, batch.code, batch.title, (*tests, *on_it))
        if not noted and finding != "absent":
            yield SeenPart(part, "", f"{finding}, no batch noted", on_it)


def was_sealed(conn: sqlite3.Connection, code: Code) -> bool:
    """Whether a sealing stage or a sealant is on record for it, in an article for each piece."""
    if _is_sealed(conn, code):
        return True
    pieces = [piece.code for piece in cut_pieces(conn, code) if piece.code != code]
    return bool(pieces) and all(_is_sealed(conn, piece) for piece in pieces)


def _is_sealed(conn: sqlite3.Connection, code: Code) -> bool:
    batches = [batch for batch, _ in batches_of(conn, code)]
    if any(BATCH_PARTS.get(batch.material) == "coating" for batch in batches):
        return True
    gone = undone_ids(conn)
    return any(
        event.kind == "piece.staged" and event.data["stage"] == "sealed" and event.id not in gone
        for event in read_events_about(conn, code)
    )
