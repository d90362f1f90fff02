"""
The short proof of one piece: the events it rests on, shown to be in the signed journal.

The whole chain between an old event and today's head would be needed to follow its hashes, with
every text in it. So a checkpoint also signs the root of a Merkle tree over each chain's hashes
(RFC 9162, section 2.1), and the proof holds, for each event, the few nodes on its way up to the
root. An event that a buyer may not read is given by its hash alone: it can be seen that it is
there, and the maker can open it to an inspector later.
"""

from __future__ import annotations

import re
import sqlite3
from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from salvage.canonical import Json, canonical_bytes
from salvage.ids import Code
from salvage.records.events import Event
from salvage.records.things import Donor
from salvage.store.forget import seals_of_donor
from salvage.store.journal import read_events_about, undone_ids
from salvage.store.lookup import load_drop_off, load_piece, read_private
from salvage.store.merkle import leaf_hash, path_of, tree_levels
from salvage.work.checkpoints import Checkpoint, chain_hashes, sign_in
from salvage.work.lineage import boards_of, cut_pieces, donors_of, parts_of
from salvage.work.workshop import Workshop

FORM = "salvage proof of a piece 1"
"""What stands in a proof."""

# What the proof of a piece rests on; prices, sales and customers are nobody else's business.
_TOLD = (
    "donor.added",
    "donor.corrected",
    "donor.naming_set",
    "donor.forgotten",
    "dropoff.logged",
    "dropoff.corrected",
    "board.recorded",
    "board.outlined",
    "board.lead_set",
    "board.corrected",
    "hazard.checked",
    "cut.made",
    "piece.staged",
    "piece.weighed",
    "card.printed",
    "article.assembled",
)

# Texts that are typed for the workshop alone: an event that has one is not shown.
_OWN = ("notes", "note", "why", "reason")

_WORD = re.compile(r"\w{4,}")


@dataclass(frozen=True, slots=True)
class Proof:
    """
    A piece's proof.

    Args:
        piece: The piece's code.
        data: The file: canonical JSON.
        shown: Number of events that can be read in it.
        withheld: Number of those given by their hash alone.
        heads: The checkpoint's heads, as on paper.
    """

    piece: Code
    data: bytes
    shown: int
    withheld: int
    heads: str


@dataclass(frozen=True, slots=True)
class Prover:
    """
    A fresh checkpoint, with the trees that its roots stand for: enough for any number of proofs.

    Args:
        checkpoint: What is signed.
        levels: Of each chain's tree, its nodes from the leaves up.
    """

    checkpoint: Checkpoint
    levels: Mapping[str, tuple[tuple[bytes, ...], ...]]

    def counts(self) -> dict[str, int]:
        """How many events of each device are signed."""
        return {chain.device: chain.count for chain in self.checkpoint.chains}


def make_prover(shop: Workshop, *, dry_run: bool) -> Prover:
    """Sign afresh and grow the trees; a device that has no key yet makes one."""
    checkpoint = sign_in(shop, dry_run=dry_run)
    hashes = chain_hashes(shop.conn)
    levels = {}
    for chain in checkpoint.chains:
        leaves = [leaf_hash(bytes.fromhex(one)) for one in hashes[chain.device][: chain.count]]
        levels[chain.device] = tree_levels(leaves)
    return Prover(checkpoint, levels)


def prove_piece(shop: Workshop, *, piece: Code, dry_run: bool = False) -> Proof:
    """
    The proof that a piece came from where its card says, for anybody to verify without us.

    It is signed afresh; a device that has no key yet makes one.

    Args:
        shop: The open workshop.
        piece: The piece's code.
        dry_run: Do everything, then roll back and keep no key.

    Raises:
        NotFound: If there is no such piece.
        StoreTrouble: If the journal's chain does not verify.
        MissingTool: If the library that signs is not there.
    """
    load_piece(shop.conn, piece)
    return compose_proof(shop.conn, piece, make_prover(shop, dry_run=dry_run))


def compose_proof(
    conn: sqlite3.Connection,
    piece: Code,
    prover: Prover,
    *,
    hide: Callable[[Event], str] = lambda event: "",
) -> Proof:
    """
    A piece's proof under a checkpoint.

    Args:
        conn: Open connection.
        piece: The piece's code.
        prover: The checkpoint.
        hide: Why an event is not to be read for a reason of its own; empty where none is.
    """
    donors = donors_of(conn, piece)
    told: list[Json] = []
    names: set[Json] = set()
    withheld = 0
    for event, why in told_events(conn, piece, prover.counts(), hide=hide):
        entry: dict[str, Json] = {
            "device": event.device,
            "n": event.n,
            "hash": event.hash,
            "path": [one.hex() for one in path_of(prover.levels[event.device], event.n - 1)],
        }
        if why:
            withheld += 1
            told.append({**entry, "withheld": why})
        else:
            now = event.data.get("now")
            names |= {event.data.get("name_seal")}
            names |= {now.get("name_seal")} if isinstance(now, Mapping) else set()
            told.append({**entry, "prev": event.prev, "body": _body(conn, event)})
    opened = [text for donor in donors for text in _opened(conn, donor) if text["seal"] in names]
    value: dict[str, Json] = {
        "form": FORM,
        "piece": piece,
        "events": told,
        "opened": list(opened),
        "checkpoint": prover.checkpoint.value,
    }
    shown = len(told) - withheld
    return Proof(piece, canonical_bytes(value), shown, withheld, prover.checkpoint.short)


def told_events(
    conn: sqlite3.Connection,
    piece: Code,
    counts: Mapping[str, int] | None = None,
    *,
    hide: Callable[[Event], str] = lambda event: "",
) -> tuple[tuple[Event, str], ...]:
    """
    What a piece's proof rests on, in order, each with why it is not to be read.

    Args:
        conn: Open connection.
        piece: The piece's code.
        counts: How many events of each device are signed; all of them if not given.
        hide: As in :func:`compose_proof`.
    """
    found = []
    for event, wishing in _events_of(conn, piece, donors_of(conn, piece)):
        if counts is None or event.n <= counts.get(event.device, 0):
            whys = [why for donor in wishing if (why := _why_withheld(conn, donor, event))]
            found.append((event, whys[0] if whys else hide(event)))
    return tuple(found)


def _events_of(
    conn: sqlite3.Connection, piece: Code, donors: Sequence[Donor]
) -> list[tuple[Event, tuple[Donor, ...]]]:
    """
    From donors to piece, in order, each with the donors whose wish it must keep.

    What was taken back and other pieces are left out.
    """
    gone = undone_ids(conn)
    found: dict[str, Event] = {}
    wishes: dict[str, dict[Code, Donor]] = defaultdict(dict)
    for donor in donors:
        for code in _codes_of(conn, piece, donor):
            for event in read_events_about(conn, code):
                ours = event.about[0] == code or code in event.made
                if event.kind in _TOLD and ours and event.id not in gone:
                    found[event.id] = event
                    wishes[event.id][donor.code] = donor
    told = sorted(found.values(), key=lambda event: (event.clock, event.device))
    return [(event, tuple(wishes[event.id].values())) for event in told]


def _codes_of(conn: sqlite3.Connection, piece: Code, donor: Donor) -> tuple[Code, ...]:
    """What leads from a donor to a piece: drop-offs, boards, cuts, parts, articles."""
    found = [donor.code]
    for board in boards_of(conn, piece):
        if load_drop_off(conn, board.drop_off).donor == donor.code:
            found += [board.drop_off, board.code]
            for one in cut_pieces(conn, piece):
                if one.board == board.code and one.cut:
                    found += [one.cut, one.code]
    return tuple(dict.fromkeys((*found, *_articles_in(conn, piece))))


def _articles_in(conn: sqlite3.Connection, piece: Code) -> tuple[Code, ...]:
    """The piece itself, and the articles among its parts."""
    inner = (part.piece for part in parts_of(conn, piece))
    return (piece, *(code for one in inner for code in _articles_in(conn, one)))


def _why_withheld(conn: sqlite3.Connection, donor: Donor, event: Event) -> str:
    """Why a buyer may not read an event; empty where nothing speaks against it."""
    if event.kind.startswith("donor.") and donor.naming == "anonymous":
        return "the donor stays unnamed"
    forgotten = conn.execute("SELECT 1 FROM forgotten WHERE donor = ?", (donor.code,)).fetchone()
    if forgotten and event.kind.startswith(("donor.", "dropoff.")):
        return "the donor wished to be forgotten"
    texts = dict(_texts(event.data))
    if texts.get("described_as", donor.described_as) != donor.described_as:
        return "the donor wishes to be described otherwise now"
    if any(texts.get(name) for name in _OWN):
        return "it holds words that are the workshop's own"
    sealed = (read_private(conn, seal) for seal in _closed_seals(conn, donor))
    words = set(_WORD.findall(" ".join(sealed).casefold()))
    words -= set(_WORD.findall(donor.described_as.casefold()))
    if donor.naming == "named":
        words -= set(_WORD.findall(read_private(conn, donor.name_seal).casefold()))
    if words & set(_WORD.findall(" ".join(texts.values()).casefold())):
        return "it holds a word of the donor's name or contact"
    return ""


def _texts(data: object) -> Iterator[tuple[str, str]]:
    if isinstance(data, dict):
        for name, value in data.items():
            if isinstance(value, str):
                yield name, value
            else:
                yield from _texts(value)


def _closed_seals(conn: sqlite3.Connection, donor: Donor) -> tuple[str, ...]:
    opened = donor.name_seal if donor.naming == "named" else None
    return tuple(seal for seal in seals_of_donor(conn, donor.code) if seal != opened)


def _body(conn: sqlite3.Connection, event: Event) -> str:
    """The event's own bytes, never written anew."""
    (body,) = conn.execute("SELECT body FROM event WHERE id = ?", (event.id,)).fetchone()
    return str(body)


def _opened(conn: sqlite3.Connection, donor: Donor) -> list[dict[str, Json]]:
    """The name behind its seal, where the donor agreed to be named."""
    if donor.naming != "named":
        return []
    row = conn.execute(
        "SELECT seal, salt, value FROM private_field WHERE seal = ?", (donor.name_seal,)
    ).fetchone()
    return [dict(zip(("seal", "salt", "value"), row, strict=True))] if row else []
