"""Batches of materials: what was bought, with which papers, and into which pieces it went."""

from __future__ import annotations

from typing import TYPE_CHECKING

from salvage.canonical import Json, sha256_hex
from salvage.errors import BadFile, BadValue, NotFound, Refused
from salvage.frozen import dataclass
from salvage.records.materials import STAGE_OF, Batch, BatchPaper, MaterialUse
from salvage.store.lookup import load_batch, load_piece
from salvage.store.rows import select
from salvage.units import format_thousandths, has_come

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Sequence
    from datetime import date

    from salvage.ids import Code
    from salvage.store.change import Change
    from salvage.work.workshop import Workshop

MOST_BYTES = 50_000_000
"""Largest paper that is kept; a scanned declaration has far less."""

_SIGNATURES = (
    (b"%PDF-", "application/pdf"),
    (b"\x89PNG\r\n\x1a\n", "image/png"),
    (b"\xff\xd8\xff", "image/jpeg"),
)


@dataclass(frozen=True, slots=True)
class NewBatch:
    """
    A batch as it comes in.

    Args:
        material: One of :data:`salvage.records.materials.MATERIALS`.
        name: What it is, such as "clear varnish" or "ear hook, plated".
        maker: Who made or sold it; empty if nobody knows.
        lot: The maker's number of the lot; empty if there is none.
        received_on: Day it came; today when None.
        pack_milli: Thousandths of *unit* in the pack; None if nobody counted.
        unit: Such as ``ml`` or ``pcs``.
        cost_minor: What the pack cost, in minor units of the workshop's currency.
        notes: For the workshop only.
    """

    material: str
    name: str
    maker: str = ""
    lot: str = ""
    received_on: date | None = None
    pack_milli: int | None = None
    unit: str = ""
    cost_minor: int | None = None
    notes: str = ""


@dataclass(frozen=True, slots=True)
class NewPaper:
    """
    A paper of the supplier: a declaration of conformity, a data sheet, an invoice.

    Args:
        data: The file's bytes.
        name: The file's name.
        title: What it is; the name when empty.
    """

    data: bytes
    name: str
    title: str = ""


@dataclass(frozen=True, slots=True)
class Use:
    """
    How a batch is used on some pieces at once.

    Args:
        stage: Stage of the pieces; the one that the material belongs to when empty.
        each_milli: Thousandths of the batch's unit that go into each piece; None if not counted.
        note: Such as "two coats".
    """

    stage: str = ""
    each_milli: int | None = None
    note: str = ""


@dataclass(frozen=True, slots=True)
class BatchView:
    """
    A batch with its papers and uses.

    Args:
        batch: The record.
        papers: In the order in which they were added.
        uses: Every piece that it went into, uses that were taken back included.
    """

    batch: Batch
    papers: tuple[BatchPaper, ...]
    uses: tuple[MaterialUse, ...]

    @property
    def pieces(self) -> tuple[Code, ...]:
        """The pieces that it stands in, each once."""
        return tuple(dict.fromkeys(use.code for use in self.uses if not use.voided))

    @property
    def used_milli(self) -> int:
        """Thousandths of the batch's unit that are noted as used, as far as they were counted."""
        return sum(use.each_milli or 0 for use in self.uses if not use.voided)

    @property
    def warning(self) -> str:
        """What to know where more is noted as used than the pack held; empty for nothing."""
        pack, unit = self.batch.pack_milli, self.batch.unit
        if not pack or self.used_milli <= pack:
            return ""
        used, held = format_thousandths(self.used_milli), format_thousandths(pack)
        return f"{used} {unit} noted as used of a pack of {held} {unit}: is it another batch?"


def view_batch(conn: sqlite3.Connection, code: Code) -> BatchView:
    """The batch with what belongs to it; NotFound where there is none."""
    papers = select(conn, BatchPaper, "FROM batch_paper WHERE batch = ? ORDER BY n", (code,))
    uses = select(conn, MaterialUse, "FROM material_use WHERE batch = ? ORDER BY n, code", (code,))
    return BatchView(load_batch(conn, code), papers, uses)


def list_batches(shop: Workshop, *, material: str = "", most: int = 100) -> tuple[BatchView, ...]:
    """
    Batches, the newest first.

    Args:
        shop: The open workshop.
        material: One of :data:`salvage.records.materials.MATERIALS`; empty for all.
        most: At most so many.
    """
    rest = "FROM batch WHERE ?1 IN ('', material) ORDER BY received_on DESC, code DESC LIMIT ?2"
    found = select(shop.conn, Batch, rest, (material, most))
    return tuple(view_batch(shop.conn, batch.code) for batch in found)


def batches_of(conn: sqlite3.Connection, code: Code) -> tuple[tuple[Batch, MaterialUse], ...]:
    """The batches that stand in a piece or article, each with its use; oldest use first."""
    rest = "FROM material_use WHERE code = ? AND voided = '' ORDER BY at, batch, n"
    uses = select(conn, MaterialUse, rest, (code,))
    return tuple((load_batch(conn, use.batch), use) for use in uses)


def add_batch(
    shop: Workshop, *, new: NewBatch, papers: Sequence[NewPaper] = (), dry_run: bool = False
) -> BatchView:
    """
    Record a batch that came in, with its papers.

    Args:
        shop: The open workshop.
        new: What it is.
        papers: Kept byte for byte in the file store.
        dry_run: Do everything, then roll back.

    Raises:
        BadValue: If it has no name, or a pack without a unit.
        BadFile: If a paper is empty or too large.
    """
    if not new.name.strip():
        raise BadValue("say what it is", hint="such as 'clear varnish'", field="NAME")
    day = new.received_on or shop.today
    if not has_come(day, shop.today):
        raise BadValue(f"{day} has not come yet", hint="give the real day", field="--date")
    kept = [_keep(shop, paper, dry_run=dry_run) for paper in papers]
    data: dict[str, Json] = {
        "material": new.material,
        "name": new.name.strip(),
        "maker": new.maker.strip(),
        "lot": new.lot.strip(),
        "received_on": day.isoformat(),
        "pack_milli": new.pack_milli,
        "unit": new.unit or "pcs",
        "cost_minor": new.cost_minor,
        "currency": shop.settings.currency if new.cost_minor is not None else "",
        "notes": new.notes,
    }

    def steps(change: Change) -> BatchView:
        code = change.new_code("V")
        change.append("batch.received", (code,), data, made=(code,))
        for paper in kept:
            _append_paper(change, code, paper)
        return view_batch(change.conn, code)

    return shop.commit("add batch", steps, dry_run=dry_run)


def add_batch_paper(
    shop: Workshop, *, batch: Code, paper: NewPaper, dry_run: bool = False
) -> BatchView:
    """
    Keep a paper that belongs to a batch.

    Args:
        shop: The open workshop.
        batch: The batch's code.
        paper: The file.
        dry_run: Do everything, then roll back.

    Raises:
        NotFound: If there is no such batch.
        BadFile: If the file is empty or too large.
    """
    load_batch(shop.conn, batch)
    kept = _keep(shop, paper, dry_run=dry_run)

    def steps(change: Change) -> BatchView:
        load_batch(change.conn, batch)
        _append_paper(change, batch, kept)
        return view_batch(change.conn, batch)

    return shop.commit("add batch paper", steps, dry_run=dry_run)


def _keep(shop: Workshop, paper: NewPaper, *, dry_run: bool) -> dict[str, Json]:
    """The fields of the event that will mention a paper; its bytes are kept unless in a dry run."""
    if not paper.data:
        raise BadFile(f"{paper.name} is empty")
    if len(paper.data) > MOST_BYTES:
        raise BadFile(f"{paper.name} is larger than {MOST_BYTES // 1_000_000} MB")
    media = [media for start, media in _SIGNATURES if paper.data.startswith(start)]
    return {
        "sha256": sha256_hex(paper.data) if dry_run else shop.files.save(paper.data),
        "media_type": media[0] if media else "application/octet-stream",
        "byte_count": len(paper.data),
        "name": paper.name,
        "title": paper.title or paper.name,
    }


def _append_paper(change: Change, batch: Code, kept: dict[str, Json]) -> None:
    n = change.next_numbers("batch_paper", "batch", batch)[0]
    change.append("batch.paper_added", (batch,), {**kept, "n": n})


def use_batches(
    shop: Workshop,
    *,
    batches: Sequence[Code],
    pieces: Sequence[Code],
    use: Use | None = None,
    dry_run: bool = False,
) -> tuple[BatchView, ...]:
    """
    Record that batches went into pieces; who did it is whoever works.

    Args:
        shop: The open workshop.
        batches: Their codes.
        pieces: The pieces' codes.
        use: Stage, amount and note.
        dry_run: Do everything, then roll back.

    Raises:
        NotFound: If a batch or piece is not known.
        Refused: If a batch or a piece is recalled, or a piece is sold or withdrawn.
        BadValue: If nothing is named.
    """
    if not batches or not pieces:
        raise BadValue("name at least one batch and one piece")

    def steps(change: Change) -> tuple[BatchView, ...]:
        append_uses(change, batches=batches, pieces=pieces, use=use or Use())
        return tuple(view_batch(change.conn, code) for code in batches)

    return shop.commit("use material", steps, dry_run=dry_run)


def append_uses(
    change: Change, *, batches: Sequence[Code], pieces: Sequence[Code], use: Use
) -> None:
    """
    Journal that batches went into pieces, as a step of an operation.

    Args:
        change: The open transaction.
        batches: Their codes.
        pieces: Pieces or articles.
        use: Stage, amount and note.

    Raises:
        NotFound: If a batch or piece is not known.
        Refused: If a batch or a piece is recalled, or a piece is sold or withdrawn.
    """
    pieces = tuple(dict.fromkeys(pieces))
    for code in pieces:
        _check_usable_piece(change.conn, code)
    for batch in dict.fromkeys(batches):
        found = load_batch(change.conn, batch)
        if found.recalled:
            raise Refused(
                f"{batch} ({found.title}) is recalled and may not be used",
                hint="take another batch; 'salvage recall list' says why",
            )
        data: dict[str, Json] = {
            "n": change.next_numbers("material_use", "batch", batch)[0],
            "stage": use.stage or STAGE_OF.get(found.material, ""),
            "each_milli": use.each_milli,
            "note": use.note,
        }
        change.append("batch.used", (batch, *pieces), data)


def _check_usable_piece(conn: sqlite3.Connection, code: Code) -> None:
    piece = load_piece(conn, code)
    if piece.recalled:
        raise Refused(f"{code} is recalled", hint="'salvage recall list' says why")
    if piece.stage in ("sold", "withdrawn"):
        raise Refused(f"{code} is {piece.stage}", hint="check the code on its label")


def void_use(shop: Workshop, *, batch: Code, n: int, why: str, dry_run: bool = False) -> BatchView:
    """
    Take back a use that was noted by mistake; it stays on the record, with the reason.

    Args:
        shop: The open workshop.
        batch: The batch's code.
        n: The number of the use, as the batch shows it.
        why: Such as "took the lot beside it".
        dry_run: Do everything, then roll back.

    Raises:
        NotFound: If there is no such batch or use.
        Refused: If it was taken back already, or the batch is recalled.
        BadValue: If no reason is given.
    """
    if not why.strip():
        raise BadValue("say why", hint="such as 'took the lot beside it'", field="--reason")

    def steps(change: Change) -> BatchView:
        uses = [use for use in view_batch(change.conn, batch).uses if use.n == n]
        if not uses:
            raise NotFound(f"{batch} has no use {n}", hint=f"salvage material show {batch}")
        if uses[0].voided:
            raise Refused(f"use {n} of {batch} was taken back already: {uses[0].voided}")
        if load_batch(change.conn, batch).recalled:
            raise Refused(
                f"{batch} is recalled: its uses stand as they were recorded",
                hint="settle a piece that it never went into: salvage recall settle …",
            )
        about = (batch, *(use.code for use in uses))
        change.append("batch.use_voided", about, {"n": n, "why": why})
        return view_batch(change.conn, batch)

    return shop.commit("void material use", steps, dry_run=dry_run)
