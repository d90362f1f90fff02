"""
What one device hands to another: a zip file with events, sealed texts and files.

Inside lie ``head.json`` (who wrote it and how far it knows each chain), ``events.jsonl`` (one
event's canonical body a line, with its hash), ``sealed.jsonl`` (personal texts with their salts)
and ``files/<sha256>``. All of it is JSON, SHA-256 and zip, so that it can be read without this
program. Taking a bundle in twice, or in another order, changes nothing.
"""

from __future__ import annotations

import io
import json
import sqlite3
import struct
import zipfile
import zlib
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from typing import IO

from salvage.canonical import Json, canonical_bytes
from salvage.errors import BadFile
from salvage.ids import LETTERS
from salvage.store.journal import devices_on_record

FORM = "salvage bundle 1"
"""What stands in a bundle's head; another form is refused."""

MOST_BYTES = 2_000_000_000
"""Unpacked bytes of one bundle; more is refused, whatever the zip file's head promises."""

MOST_PARTS = 200_000
"""Parts of one bundle: two lists, the head, and the files."""

MOST_FILE = 200_000_000
"""Unpacked bytes of one file; at most one is in memory at a time."""

_MOST_HEAD = 1_000_000
_MOST_LINE = 5_000_000

# How the zip format marks an entry of its list of parts (APPNOTE 4.3.12; from memory).
_ENTRY = b"PK\x01\x02"

_WAYS = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)

# What the zip library raises for bytes that are no sound zip file.
_DAMAGED = (
    zipfile.BadZipFile,
    zlib.error,
    struct.error,
    KeyError,
    EOFError,
    RuntimeError,
    OSError,
    ValueError,
)


@dataclass(frozen=True, slots=True)
class Line:
    """
    One event as it travels.

    Args:
        body: The canonical body, exactly the bytes that were hashed.
        hash: The event's hash.
    """

    body: str
    hash: str


@dataclass(frozen=True, slots=True)
class Sealed:
    """
    A personal text as it travels.

    Args:
        seal: The commitment in the journal.
        salt: 32 bytes as hex.
        value: The text.
    """

    seal: str
    salt: str
    value: str


@dataclass(frozen=True, slots=True)
class BundleHead:
    """
    Who wrote a bundle and what it knew.

    Args:
        letter: The device that wrote it.
        to_letter: The device that is to begin with it; empty for an ordinary exchange.
        known: Events known of each device.
    """

    letter: str
    to_letter: str
    known: Mapping[str, int]


def known_counts(conn: sqlite3.Connection) -> dict[str, int]:
    """Number of events known of each device."""
    return {
        device: n
        for device in devices_on_record(conn)
        for (n,) in conn.execute("SELECT max(n) FROM event WHERE device = ?", (device,))
    }


def read_lines(conn: sqlite3.Connection, told: Mapping[str, int]) -> Iterator[Line]:
    """All events that a reader who knows *told* of each chain lacks, in order."""
    for device, n, body, digest in conn.execute(
        "SELECT device, n, body, hash FROM event ORDER BY clock, device"
    ):
        if n > told.get(device, 0):
            yield Line(body, digest)


def write_bundle(
    head: BundleHead,
    lines: Iterable[Line],
    sealed: Iterable[Sealed],
    files: Iterable[tuple[str, bytes]],
) -> bytes:
    """The bundle as a zip file, the same bytes for the same content."""
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as bundle:
        about: dict[str, Json] = {
            "form": FORM,
            "letter": head.letter,
            "to_letter": head.to_letter,
            "known": dict(head.known),
        }
        _put(bundle, "head.json", canonical_bytes(about))
        _put(bundle, "events.jsonl", _jsonl({"body": x.body, "hash": x.hash} for x in lines))
        texts = ({"salt": x.salt, "seal": x.seal, "value": x.value} for x in sealed)
        _put(bundle, "sealed.jsonl", _jsonl(texts))
        for sha256, data in files:
            _put(bundle, f"files/{sha256}", data)
    return stream.getvalue()


def _put(bundle: zipfile.ZipFile, name: str, data: bytes) -> None:
    info = zipfile.ZipInfo(name, date_time=(1980, 1, 1, 0, 0, 0))
    info.compress_type = zipfile.ZIP_DEFLATED
    bundle.writestr(info, data)


def _jsonl(rows: Iterable[Mapping[str, Json]]) -> bytes:
    return b"".join(canonical_bytes(dict(row)) + b"\n" for row in rows)


class Bundle:
    """
    A bundle that is being read; every part is checked as it is taken out.

    Args:
        data: The zip file's bytes.
        name: What to call it in messages.

    Raises:
        BadFile: If it is no bundle, or too large to be one.
    """

    def __init__(self, data: bytes, *, name: str) -> None:
        self.name = name
        if data.count(_ENTRY) > MOST_PARTS:  # the list alone would fill the memory
            raise self._bad(f"it has more than {MOST_PARTS} parts")
        try:
            self._zip = zipfile.ZipFile(io.BytesIO(data))
        except _DAMAGED as error:
            raise self._bad("it is no zip file") from error
        if sum(info.file_size for info in self._zip.infolist()) > MOST_BYTES:
            raise self._bad("it would unpack to more than 2 GB")
        if any(info.compress_type not in _WAYS for info in self._zip.infolist()):
            raise self._bad("it is packed in a way that no device writes")
        self.head = self._read_head()

    def _bad(self, what: str) -> BadFile:
        return BadFile(
            f"{self.name} is no bundle of a device: {what}", hint="write it anew over there"
        )

    @contextmanager
    def _opened(self, name: str) -> Iterator[IO[bytes]]:
        try:
            with self._zip.open(name) as part:
                yield part
        except _DAMAGED as error:
            raise self._bad(f"its {name} is missing or damaged") from error

    def _part(self, name: str, most: int) -> bytes:
        with self._opened(name) as part:
            data = part.read(most + 1)
        if len(data) > most:
            raise self._bad(f"its {name} is too long")
        return data

    def _read_head(self) -> BundleHead:
        fields = self._object(self._part("head.json", _MOST_HEAD), "head.json")
        known = fields.get("known")
        if fields.get("form") != FORM or not isinstance(known, dict):
            raise self._bad("it was written in another form, perhaps by a newer version")
        letter, to_letter = str(fields.get("letter")), str(fields.get("to_letter"))
        if len(letter) != 1 or letter not in LETTERS or to_letter not in ("", *LETTERS):
            raise self._bad("it does not say which device wrote it")
        if not all(type(n) is int and n >= 0 and key in LETTERS for key, n in known.items()):
            raise self._bad("it does not say what its device knew")
        return BundleHead(letter, to_letter, known)

    def _object(self, text: bytes, where: str) -> dict[str, Json]:
        try:
            fields = json.loads(text)
        except (ValueError, RecursionError) as error:
            raise self._bad(f"{where} is no JSON") from error
        if not isinstance(fields, dict):
            raise self._bad(f"{where} is no JSON object")
        return fields

    def _rows(self, name: str, fields: tuple[str, ...]) -> Iterator[tuple[str, ...]]:
        for number, text in enumerate(self._texts(name), 1):
            where = f"{name}, line {number}"
            if len(text) > _MOST_LINE:
                raise self._bad(f"{where} is too long")
            row = self._object(text, where)
            if row.keys() != set(fields) or not all(isinstance(v, str) for v in row.values()):
                raise self._bad(f"{where} has other fields than {', '.join(fields)}")
            yield tuple(str(row[field]) for field in fields)

    def _texts(self, name: str) -> Iterator[bytes]:
        """The lines of a part one by one, so that no more than one is in memory."""
        with self._opened(name) as part:
            yield from iter(lambda: part.readline(_MOST_LINE + 1), b"")

    def lines(self) -> Iterator[Line]:
        """Its events, in the order in which they were written."""
        return (Line(body, digest) for body, digest in self._rows("events.jsonl", ("body", "hash")))

    def sealed(self) -> Iterator[Sealed]:
        """Its personal texts."""
        rows = self._rows("sealed.jsonl", ("seal", "salt", "value"))
        return (Sealed(seal, salt, value) for seal, salt, value in rows)

    def file_names(self) -> tuple[str, ...]:
        """What should be the SHA-256 of each file that it carries."""
        names = (name.rpartition("/") for name in dict.fromkeys(self._zip.namelist()))
        return tuple(sha256 for folder, _, sha256 in names if folder == "files")

    def file(self, sha256: str) -> bytes:
        """The bytes of one file that it carries."""
        return self._part(f"files/{sha256}", MOST_FILE)
