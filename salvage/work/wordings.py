"""Words of documents as the workshop wrote them, on record, and what was printed with them."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from salvage.canonical import Json, canonical_bytes, sha256_hex
from salvage.errors import Refused
from salvage.ids import Code
from salvage.store.change import Change
from salvage.work.workshop import Workshop

if TYPE_CHECKING:
    from salvage.paper.local import Local
    from salvage.paper.wording import Words


@dataclass(frozen=True, slots=True)
class WordingView:
    """
    The wording of a document.

    Args:
        document: Its name.
        own: The workshop's own words; empty where ours stand.
        language: Of the whole.
        sha256: Over all words, own and ours.
        set_at: When own words were set; empty for none.
        printed: How many papers were printed with exactly these words.
    """

    document: str
    own: Mapping[str, str]
    language: str
    sha256: str
    set_at: str
    printed: int


def words_of(conn: sqlite3.Connection, document: str) -> Words:
    """All words of a document, the workshop's own in the place of ours."""
    from salvage.paper.wording import whole_words

    row = conn.execute("SELECT words FROM wording WHERE document = ?", (document,)).fetchone()
    return whole_words(document, json.loads(row[0]) if row else {})


def wording_hash(words: Words) -> str:
    """SHA-256 over a document's words, which tells versions of a wording apart."""
    return sha256_hex(canonical_bytes(dict(words)))


def local_of(shop: Workshop, document: str) -> Local:
    """How a document puts days and masses, in its own words."""
    from salvage.paper.local import Local

    settings = shop.settings
    return Local(words_of(shop.conn, document), settings.date_format, settings.units)


def set_wording(
    shop: Workshop, *, document: str, data: bytes, dry_run: bool = False
) -> WordingView:
    """
    Put words of one's own in the place of ours; empty data bring ours back.

    Args:
        shop: The open workshop.
        document: One of :data:`salvage.paper.wording.DOCUMENTS`.
        data: The wording as a text.
        dry_run: Do everything, then roll back.

    Raises:
        NotFound: If there is no such document.
        BadFile: If the text is no wording of it.
        Refused: If nothing would change.
    """
    from salvage.paper.wording import parse_words

    own = dict(parse_words(document, data))

    def steps(change: Change) -> WordingView:
        if own == dict(view_wording(shop, document=document).own):
            raise Refused(f"the wording of '{document}' is so already")
        words: dict[str, Json] = dict(own)
        change.append("wording.set", (), {"document": document, "words": words})
        return view_wording(shop, document=document)

    return shop.commit("set wording", steps, dry_run=dry_run)


def view_wording(shop: Workshop, *, document: str) -> WordingView:
    """The wording of a document as it stands; NotFound if there is no such document."""
    words = words_of(shop.conn, document)
    row = shop.conn.execute(
        "SELECT words, set_at FROM wording WHERE document = ?", (document,)
    ).fetchone()
    digest = wording_hash(words)
    (printed,) = shop.conn.execute(
        "SELECT count(*) FROM printed_paper WHERE document = ? AND wording_sha256 = ?",
        (document, digest),
    ).fetchone()
    own = json.loads(row[0]) if row else {}
    set_at = str(row[1]) if row else ""
    return WordingView(document, own, words["language"], digest, set_at, int(printed))


def list_wordings(shop: Workshop) -> tuple[WordingView, ...]:
    """The wordings of all documents."""
    from salvage.paper.wording import DOCUMENTS

    return tuple(view_wording(shop, document=document) for document in DOCUMENTS)


def copy_wording(shop: Workshop, *, document: str, standard: bool = False) -> str:
    """
    A wording as text to edit.

    Args:
        shop: The open workshop.
        document: Which.
        standard: Ours, though the workshop has its own.
    """
    from salvage.paper.wording import write_words

    own = {} if standard else view_wording(shop, document=document).own
    return write_words(document, own)


def note_printed(
    change: Change, document: str, code: Code | None, words: Words, text: Json, *, naming: str = ""
) -> None:
    """
    Journal that a document was printed: with which wording, and what it said.

    Args:
        change: The open change.
        document: Which.
        code: What it is about; None for the whole workshop.
        words: All its words.
        text: What it said.
        naming: The donor's wish under which it named them; empty where it names nobody.
    """
    change.append(
        "paper.printed",
        (code,) if code else (),
        {
            "document": document,
            "wording_sha256": wording_hash(words),
            "text_sha256": sha256_hex(canonical_bytes(text)),
            "naming": naming,
        },
    )
