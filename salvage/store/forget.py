"""
Erasing the sealed words of somebody who is to be forgotten, to the last byte of the database.

The journal keeps the seals, which tell nobody anything without salt and text; so its chain stays as
it was. SQLite overwrites what is deleted (``secure_delete``), but the pages that the text lay on
may still stand in the write-ahead log, until a checkpoint empties it.
"""

from __future__ import annotations

import json
import sqlite3
import zipfile
from collections.abc import Collection, Iterator, Mapping
from contextlib import closing
from pathlib import Path

from salvage.canonical import Json
from salvage.store.journal import read_events_about
from salvage.store.raw import read_raw

_SEALED = ("name_seal", "contact_seal")
# Serial numbers, sources and names in the custody of a donor's data-bearing parts.
_CUSTODY = "custody."
_STRETCH = 1 << 20
_PEOPLE = ("donor.", "order.")


def seals_of_donor(conn: sqlite3.Connection, donor: str) -> tuple[str, ...]:
    """
    Every seal that the journal holds of a donor's or customer's words, corrected ones included.

    Args:
        conn: Open connection.
        donor: The donor's code, or that of the customer's order.
    """
    found: dict[str, None] = {}
    for event in read_events_about(conn, donor):
        if event.kind.startswith(_CUSTODY):
            found |= dict.fromkeys(_custody_seals(event.data))
        if event.kind.startswith(_PEOPLE) and event.about[0] == donor:
            for fields in (event.data, event.data.get("was"), event.data.get("now")):
                if isinstance(fields, dict):
                    found |= {str(fields[name]): None for name in _SEALED if fields.get(name)}
    return tuple(found)


def _custody_seals(data: Mapping[str, Json]) -> Iterator[str]:
    """The seals among an event's fields."""
    yield from (str(value) for name, value in data.items() if name.endswith("_seal") and value)


def forgotten_seals(conn: sqlite3.Connection) -> frozenset[str]:
    """Seals of all who are to be forgotten, whichever device said so."""
    donors = conn.execute(
        "SELECT body FROM event WHERE kind IN ('donor.forgotten', 'order.forgotten')"
    ).fetchall()
    codes = {json.loads(body)["about"][0] for (body,) in donors}
    return frozenset(seal for code in codes for seal in _seals_in_journal(conn, code))


def _seals_in_journal(conn: sqlite3.Connection, donor: str) -> Iterator[str]:
    """As :func:`seals_of_donor`, from the journal alone: its index may not be made yet."""
    rows = conn.execute(
        "SELECT body FROM event WHERE kind IN ('donor.added', 'donor.corrected', 'donor.forgotten',"
        " 'order.taken', 'order.corrected', 'order.forgotten')"
        " OR kind GLOB 'custody.*'"
    )
    for (body,) in rows:
        event = json.loads(body)
        if event["kind"].startswith(_CUSTODY):
            yield from _custody_seals(event["data"]) if donor in event["about"] else ()
        elif event["about"][0] == donor:
            data = event["data"]
            yield from data.get("seals", ())
            for fields in (data, data.get("was", {}), data.get("now", {})):
                yield from (fields[name] for name in _SEALED if fields.get(name))


def erase(conn: sqlite3.Connection, seals: Collection[str]) -> tuple[str, ...]:
    """
    Delete the words behind some seals, inside the open transaction.

    Returns:
        The salts that lay beside them, by which :func:`flush_erased` looks for what is left.
    """
    salts = []
    for seal in sorted(seals):
        for (salt,) in conn.execute("SELECT salt FROM private_field WHERE seal = ?", (seal,)):
            salts.append(str(salt))
        conn.execute("DELETE FROM private_field WHERE seal = ?", (seal,))
    return tuple(salts)


def flush_erased(conn: sqlite3.Connection, path: Path, salts: Collection[str]) -> bool:
    """
    Empty the write-ahead log, and make the database anew if a byte of what was erased is left.

    Args:
        conn: Connection without an open transaction.
        path: The database file.
        salts: Of the erased words; each lay in one record with its text.

    Returns:
        False if another program was reading, so that the log could not be emptied.
    """
    for _ in range(2):
        (busy, _, _) = conn.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()
        if busy:
            return False
        if not _is_left(path, salts):
            return True
        conn.execute("VACUUM")
    (busy, _, _) = conn.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()
    return not busy and not _is_left(path, salts)


def _is_left(path: Path, salts: Collection[str]) -> bool:
    """Whether a salt stands anywhere in the database file; the log is empty by now."""
    wanted = [salt.encode("ascii") for salt in salts]
    longest = max(map(len, wanted), default=0)
    place, before = 0, b""
    while data := read_raw(path, place, _STRETCH):
        place += len(data)
        data = before + data
        if any(salt in data for salt in wanted):
            return True
        before = data[-longest:]
    return False


def copies_that_hold(folder: Path, database: Path, seals: Collection[str]) -> tuple[Path, ...]:
    """
    Backups and bundles in a workshop's folder that still hold the words behind some seals.

    Args:
        folder: The workshop's folder.
        database: Its own database, which is passed over.
        seals: Of the erased words.
    """
    databases = sorted({*folder.glob("*.db"), *folder.glob("backups/*.db")} - {database})
    bundles = sorted({*folder.glob("*.zip"), *folder.glob("backups/*.zip")})
    return (
        *(path for path in databases if _copy_holds(path, seals)),
        *(path for path in bundles if _bundle_holds(path, seals)),
    )


def _copy_holds(path: Path, seals: Collection[str]) -> bool:
    marks = ", ".join("?" * len(seals))
    query = f"SELECT count(*) FROM private_field WHERE seal IN ({marks})"
    try:
        with closing(sqlite3.connect(f"{path.as_uri()}?immutable=1", uri=True)) as conn:
            (count,) = conn.execute(query, tuple(seals)).fetchone()
    except sqlite3.DatabaseError:
        return False  # the cache, or no database at all
    return bool(count)


def _bundle_holds(path: Path, seals: Collection[str]) -> bool:
    try:
        with zipfile.ZipFile(path) as bundle:
            text = bundle.read("sealed.jsonl").decode("utf-8", "replace")
    except (zipfile.BadZipFile, KeyError, OSError):
        return False
    return any(seal in text for seal in seals)
