"""
Dossiers: a page for each piece, to put on any web host, where the card's code may lead.

A page is kept from the last time while nothing that it says has changed, so that its proof is of
the day when it was written. A name that may not be told any more is a change.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from salvage.ids import Code
from salvage.store.lookup import load_piece
from salvage.work.discretion import Discretion
from salvage.work.dossier_facts import DossierFacts, gather_facts
from salvage.work.dossier_pictures import gather_pictures
from salvage.work.proof import Prover, compose_proof, make_prover
from salvage.work.workshop import Workshop


@dataclass(frozen=True, slots=True)
class Dossiers:
    """
    The pages of a folder.

    Args:
        written: Pages that are new or changed, by code.
        kept: Codes of pages that stay as they are.
        gone: Codes of pages whose piece the record does not hold any more.
        index: The page that lists them.
        keys: For each page, what tells whether it must be written anew.
        address: Where the cards lead, in front of the codes; empty where they hold the bare code.
        sealed: Number of pages whose proof can be read by nobody, because who worked is not named.
    """

    written: Mapping[Code, bytes]
    kept: tuple[Code, ...]
    gone: tuple[Code, ...]
    index: bytes
    keys: Mapping[Code, str]
    address: str
    sealed: int


def write_dossiers(
    shop: Workshop,
    *,
    pieces: Sequence[Code] = (),
    every: bool = False,
    known: Mapping[Code, str] | None = None,
    with_workers: bool = False,
    dry_run: bool = False,
) -> Dossiers:
    """
    Write the pages of pieces that have a card, or of those that are named.

    Args:
        shop: The open workshop.
        pieces: Codes of pieces; those with a printed card if there are none.
        every: All pieces, with a card or without.
        known: Pages that are there, with their keys; they are looked at again as well.
        with_workers: Those who work here agreed to be named, so every entry may be read.
        dry_run: Do everything, then roll back and keep no key.

    Raises:
        NotFound: If a piece is not known.
        StoreTrouble: If the journal's chain does not verify, or a photo is gone.
        MissingTool: If the library that signs is not there.
    """
    from salvage.paper.dossier_page import write_index

    known = known or {}
    for code in pieces:
        load_piece(shop.conn, code)
    codes, gone = _wanted(shop, pieces, every, known)
    discretion = Discretion(shop.conn)
    facts = {
        code: gather_facts(shop, code, discretion, with_workers=with_workers) for code in codes
    }
    changed = [facts[code] for code in codes if known.get(code) != facts[code].key]
    written, sealed = _write(shop, changed, dry_run=dry_run)
    entries = [(code, facts[code].dossier.headline) for code in codes]
    return Dossiers(
        written,
        tuple(code for code in codes if code not in written),
        gone,
        write_index(shop.settings.name, entries),
        {code: one.key for code, one in facts.items()},
        _address(shop),
        sealed,
    )


def _wanted(
    shop: Workshop, pieces: Sequence[Code], every: bool, known: Mapping[Code, str]
) -> tuple[list[Code], tuple[Code, ...]]:
    """Which pages there are to be, and which go."""
    condition = "1" if every else "cards_printed > 0"
    rows = shop.conn.execute(f"SELECT code FROM piece WHERE {condition}")
    chosen = {Code(code) for (code,) in rows} if every or not pieces else set(pieces)
    there = {
        code
        for code in known
        if shop.conn.execute("SELECT 1 FROM piece WHERE code = ?", (code,)).fetchone()
    }
    return sorted(chosen | there), tuple(sorted(known.keys() - there))


def _write(
    shop: Workshop, changed: Sequence[DossierFacts], *, dry_run: bool
) -> tuple[dict[Code, bytes], int]:
    """Pages under one checkpoint, and how many of them have a proof with nothing to read."""
    if not changed:
        return {}, 0
    prover = make_prover(shop, dry_run=dry_run)
    pages = {one.view.piece.code: _page(shop, one, prover) for one in changed}
    return {code: page for code, (page, _) in pages.items()}, sum(
        not shown for _, shown in pages.values()
    )


def _page(shop: Workshop, facts: DossierFacts, prover: Prover) -> tuple[bytes, int]:
    """The page, and how many entries of its proof can be read."""
    from salvage.paper.dossier import DossierProof
    from salvage.paper.dossier_page import write_page

    made = compose_proof(shop.conn, facts.view.piece.code, prover, hide=facts.hide)
    proof = DossierProof(made.data, made.shown, made.withheld, prover.checkpoint.at, made.heads)
    return write_page(facts.dossier, gather_pictures(shop, facts.view), proof), made.shown


def _address(shop: Workshop) -> str:
    """What a card's code holds before the piece's own code."""
    from salvage.codes.payload import wrap

    if not shop.settings.web_address:
        return ""
    return wrap("", web_address=shop.settings.web_address)
