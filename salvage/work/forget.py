"""Forgetting a donor: name and contact are erased, and what the pieces were made of stays."""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass

from salvage.canonical import Json
from salvage.errors import BadValue
from salvage.ids import Code
from salvage.records.events import Event
from salvage.store.change import Change
from salvage.store.forget import (
    copies_that_hold,
    erase,
    flush_erased,
    seals_of_donor,
)
from salvage.store.journal import read_events
from salvage.store.lookup import load_donor, read_private
from salvage.work.correct import check_nothing_private
from salvage.work.donors import DonorView, view_donor
from salvage.work.workshop import Workshop

_WORD = re.compile(r"\w{4,}")


@dataclass(frozen=True, slots=True)
class Mention:
    """
    A free text that holds a word of the name or contact.

    Args:
        code: The thing that it is about; empty for the workshop itself.
        field: Which of its texts.
        text: The text.
        mend: The command that puts other words in its place; empty where it is shown no more.
    """

    code: str
    field: str
    text: str
    mend: str


@dataclass(frozen=True, slots=True)
class Forgotten:
    """
    What was erased, and what a person must see to.

    Args:
        donor: The donor's code.
        public: How cards speak of the donor from now on.
        erased: Number of sealed texts erased; 0 where it was done before.
        mentions: Free texts that hold a word of the name.
        copies: Backups and bundles in the workshop's folder that still hold it.
        is_flushed: False where another program was reading, so that SQLite's log was not emptied.
    """

    donor: Code
    public: str
    erased: int
    mentions: tuple[Mention, ...]
    copies: tuple[str, ...]
    is_flushed: bool


def forget_donor(shop: Workshop, *, donor: Code, reason: str, dry_run: bool = False) -> Forgotten:
    """
    Erase all sealed words of a donor from this device; the chain still verifies.

    Other devices erase theirs when they merge. It cannot be undone. Done again, it erases what a
    busy log still held, and looks for copies again.

    Args:
        shop: The open workshop.
        donor: The donor's code.
        reason: Such as "asked by letter"; it stays on the record, so it may not hold the name.
        dry_run: Do everything, then roll back.

    Raises:
        NotFound: If there never was such a donor.
        BadValue: If no reason is given, or it holds a word of name or contact.
    """
    if not reason.strip():
        raise BadValue("say why", hint="such as 'asked by letter'", field="--reason")
    salts: list[str] = []
    seals: list[str] = []

    def steps(change: Change) -> tuple[str, tuple[Mention, ...]]:
        salts.clear()
        seals[:] = seals_of_donor(change.conn, donor)
        if not was_added(change.conn, donor):
            load_donor(change.conn, donor)  # raises with the nearest
        words = sealed_words(change.conn, seals)
        private = {f"text of {donor}": (words, None)}
        check_nothing_private(reason, private, known="", field="--reason")
        mentions = tuple(find_mentions(change.conn, words)) if words else ()
        salts[:] = erase(change.conn, seals)
        if salts or not _is_forgotten(change.conn, donor):
            change.append("donor.forgotten", (donor,), {"seals": seals, "reason": reason})
        return _public(change.conn, donor), mentions

    public, mentions = shop.commit("forget donor", steps, dry_run=dry_run)
    is_flushed = dry_run or flush_erased(shop.conn, shop.path, salts)
    copies = copies_that_hold(shop.folder, shop.path, seals)
    names = tuple(str(path.relative_to(shop.folder)) for path in copies)
    return Forgotten(donor, public, len(salts), mentions, names, is_flushed)


def was_added(conn: sqlite3.Connection, donor: Code) -> bool:
    """Whether the donor was ever recorded; one that was taken back has a sealed name as well."""
    row = conn.execute("SELECT 1 FROM event_item WHERE code = ? AND made = 1", (donor,)).fetchone()
    return row is not None


def _is_forgotten(conn: sqlite3.Connection, donor: Code) -> bool:
    return bool(conn.execute("SELECT 1 FROM forgotten WHERE donor = ?", (donor,)).fetchone())


def _public(conn: sqlite3.Connection, donor: Code) -> str:
    found = conn.execute("SELECT 1 FROM donor WHERE code = ?", (donor,)).fetchone()
    view: DonorView | None = view_donor(conn, donor) if found else None
    return view.public if view else "nobody: its record was taken back"


def sealed_words(conn: sqlite3.Connection, seals: Collection[str]) -> str:
    """The texts behind some seals, one a line."""
    return "\n".join(filter(None, (read_private(conn, seal) for seal in seals)))


def find_mentions(conn: sqlite3.Connection, sealed: str) -> Iterator[Mention]:
    """Texts of the journal that hold a word of four letters or more, or a whole sealed text."""
    words = set(_WORD.findall(sealed.casefold()))
    wholes = [" ".join(text.casefold().split()) for text in sealed.splitlines()]
    seen: set[tuple[str, str, str]] = set()
    for event in read_events(conn):
        for field, text in _texts(event.data):
            told = " ".join(text.casefold().split())
            has_whole = any(re.search(rf"\b{re.escape(whole)}\b", told) for whole in wholes)
            if not has_whole and not words & set(_WORD.findall(told)):
                continue
            code = str(event.about[0]) if event.about else ""
            if (code, field, text) not in seen:
                seen.add((code, field, text))
                yield Mention(code, field, text, _mend(conn, event, field, text))


def _texts(data: Mapping[str, Json]) -> Iterator[tuple[str, str]]:
    """All texts of an event, however deep, each with its field's name."""
    for field, value in data.items():
        yield from _texts_in(field, value)


def _texts_in(field: str, value: Json) -> Iterator[tuple[str, str]]:
    if isinstance(value, str):
        yield field, value
    elif isinstance(value, Mapping):
        yield from _texts(value)
    elif isinstance(value, list):
        for item in value:
            yield from _texts_in(field, item)


_MENDS = {
    "D": ("drop_off", ("contents", "origin", "story", "notes"), "correct dropoff {code} --{flag}"),
    "B": ("board", ("maker", "model", "notes"), "correct board {code} --{flag}"),
    "N": ("customer_order", ("notes",), "order correct {code} --{flag}"),
    "G": ("donor", ("described_as",), "donor naming {code} WISH --{flag}"),
}


def _mend(conn: sqlite3.Connection, event: Event, field: str, text: str) -> str:
    """The command that puts other words in the place of a text that is still shown."""
    code = event.about[0] if event.about else ""
    table, fields, command = _MENDS.get(code[:1], ("", (), ""))
    if field not in fields:
        return ""
    row = conn.execute(f"SELECT {field} FROM {table} WHERE code = ?", (code,)).fetchone()
    if not row or row[0] != text:
        return ""
    why = "" if code[0] == "G" else " --reason …"
    return f"salvage {command.format(code=code, flag=field.replace('_', '-'))} …{why}"
