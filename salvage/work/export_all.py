"""
The whole record in open forms, in one folder that tells what it is.

Everything is written from one moment of the database, row by row, so that a large record needs no
more memory than a small one, and others may go on writing meanwhile. The folder gets its name when
it is whole.
"""

from __future__ import annotations

import csv
import hashlib
import json
import os
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import TextIO

from salvage import __version__
from salvage.canonical import Json, canonical_bytes
from salvage.errors import Refused, StoreTrouble
from salvage.store.beside import check_free, folder_beside, put_in_place
from salvage.store.files import plain_os_errors
from salvage.store.journal import verify_chain
from salvage.store.migrations import NEWEST
from salvage.store.named_files import named_files
from salvage.store.own_folders import OWN_FOLDERS
from salvage.store.projection import TABLES
from salvage.store.table_shape import digest_table, table_shape
from salvage.units import format_instant
from salvage.work.csv_metadata import describe_tables, url_of
from salvage.work.export_csv import (
    safe_cell,
    told_columns,
    told_tables,
    write_table,
)
from salvage.work.export_words import readme
from salvage.work.sealed_words import NO_WORDS, private_words
from salvage.work.workshop import Workshop

FORM = "salvage export 1"
"""What stands in ``export.json``; another form is refused."""

HEAD, JOURNAL, SEALED, SUMS = "export.json", "journal.jsonl", "sealed.jsonl", "SHA256SUMS"

_ENDINGS = {
    "image/jpeg": ".jpg",
    "image/png": ".png",
    "image/webp": ".webp",
    "image/heic": ".heic",
    "image/heif": ".heif",
    "image/tiff": ".tif",
    "image/svg+xml": ".svg",
    "image/vnd.dxf": ".dxf",
    "application/pdf": ".pdf",
}

Progress = Callable[[str], None]


@dataclass(frozen=True, slots=True)
class WholeExport:
    """
    What was written.

    Args:
        folder: Where it lies.
        events: Number of events.
        tables: Number of tables.
        files: Number of photos and other files.
        missing: SHA-256 of files that the workshop lacks itself.
        with_names: Whether sealed words are in it.
        typed: Number of events in whose text somebody typed a sealed word.
    """

    folder: str
    events: int
    tables: int
    files: int
    missing: tuple[str, ...]
    with_names: bool
    typed: int


def export_all(
    shop: Workshop, *, folder: Path, with_names: bool = False, progress: Progress | None = None
) -> WholeExport:
    """
    Write journal, tables and files into a new folder.

    Args:
        shop: The open workshop.
        folder: Where it goes; it may not be there, or must be empty.
        with_names: Sealed words and personal columns too.
        progress: Told what is being done.

    Raises:
        Refused: If something lies there already, or the folder above it is not there.
        StoreTrouble: If the journal does not verify, or the disk cannot be written.
    """
    check_free(folder, hint="name a new folder")
    if not folder.parent.is_dir():
        raise Refused(f"the folder {folder.parent} is not there", hint="make it first")
    tell = progress or (lambda words: None)
    with folder_beside(folder, prefix=".exporting-") as place:
        shop.conn.execute("BEGIN")  # one moment, whoever writes meanwhile
        try:
            with plain_os_errors(place / HEAD):
                made = _Export(shop, place, with_names=with_names, tell=tell).write()
        finally:
            shop.conn.execute("ROLLBACK")
        put_in_place(place, folder)
    return replace(made, folder=str(folder))


class _Export:
    """One export that is being written."""

    def __init__(self, shop: Workshop, place: Path, *, with_names: bool, tell: Progress) -> None:
        self.shop = shop
        self.conn = shop.conn
        self.place = place
        self.with_names = with_names
        self.tell = tell
        self.words = NO_WORDS if with_names else private_words(shop.conn)
        self.sums: dict[str, str] = {}

    def write(self) -> WholeExport:
        """Write every file, and the list of their hashes last."""
        at = format_instant(self.shop.clock())
        self.tell("checking the journal")
        heads = verify_chain(self.conn)
        self.tell("the journal")
        events, typed = self._journal()
        digests = self._tables()
        files, missing = self._files()
        for name in OWN_FOLDERS:
            self._own_files(name)
        about: dict[str, Json] = {
            "form": FORM,
            "program": __version__,
            "schema": NEWEST,
            "at": at,
            "device": self.shop.settings.device,
            "with_names": self.with_names,
            "events": events,
            "heads": [asdict(head) for head in heads],
            "files": files,
            "missing": list(missing),
            "tables": digests,
        }
        self._text(HEAD, json.dumps(about, indent=1, ensure_ascii=False) + "\n")
        page = readme(
            workshop=self.shop.settings.name,
            at=at,
            events=events,
            files=files,
            with_names=self.with_names,
        )
        self._text("README.txt", page)
        lines = (f"{sha256}  {name}\n" for name, sha256 in sorted(self.sums.items()))
        self._text(SUMS, "".join(lines))
        tables = len(told_tables(with_names=self.with_names))
        return WholeExport("", events, tables, files, missing, self.with_names, typed)

    def _journal(self) -> tuple[int, int]:
        """The events in the order of the database; gives their number, and how many name people."""
        count = typed = 0
        with self._open(JOURNAL) as out:
            for (body,) in self.conn.execute("SELECT body FROM event ORDER BY seq"):
                out.write(f"{body}\n")
                count += 1
                typed += self.words.are_in(body)
        if self.with_names:
            with self._open(SEALED) as out:
                query = "SELECT seal, salt, value FROM private_field ORDER BY seal"
                for seal, salt, value in self.conn.execute(query):
                    row: dict[str, Json] = {"seal": seal, "salt": salt, "value": value}
                    out.write(canonical_bytes(row).decode() + "\n")
        return count, typed

    def _tables(self) -> Mapping[str, Json]:
        digests: dict[str, Json] = {}
        told = []
        (self.place / "tables").mkdir()
        for name in told_tables(with_names=self.with_names):
            self.tell(f"the table {name}")
            shape = table_shape(self.conn, name)
            with self._open(url_of(name)) as out:
                write_table(self.conn, shape, out, names=self.words, with_names=self.with_names)
            if name in ("event", *TABLES):
                digests[name] = asdict(digest_table(self.conn, shape))
            columns = told_columns(shape, with_names=self.with_names)
            told.append(replace(shape, columns=columns))
        title = f"The whole record of {self.shop.settings.name}"
        about = describe_tables(told, title=title)
        self._text("csv-metadata.json", json.dumps(about, indent=1, ensure_ascii=False) + "\n")
        return digests

    def _files(self) -> tuple[int, tuple[str, ...]]:
        """The photos and drawings, and the list of what each is; gives number and the missing."""
        rows = self.conn.execute("SELECT sha256, media_type, byte_count, name FROM file")
        known = {sha256: (kind, size, name) for sha256, kind, size, name in rows}
        wanted = named_files(self.conn)
        missing = []
        (self.place / "files").mkdir()
        with self._open("files.csv") as out:
            writer = csv.writer(out)
            writer.writerow(("file", "name", "media_type", "byte_count", "belongs_to"))
            for number, sha256 in enumerate(wanted, 1):
                self.tell(f"file {number} of {len(wanted)}")
                kind, size, name = known.get(sha256, ("", "", ""))
                path = f"files/{sha256}{_ENDINGS.get(kind, '')}"
                if not self._file(sha256, path):
                    missing.append(sha256)
                cells = (name, kind, size, self._owners(sha256))
                writer.writerow((path, *(safe_cell(cell, self.words) for cell in cells)))
        return len(wanted), tuple(missing)

    def _file(self, sha256: str, path: str) -> bool:
        try:
            data = self.shop.files.load(sha256)
        except StoreTrouble:
            return False
        _write(self.place / path, data)
        self.sums[path] = sha256
        return True

    def _owners(self, sha256: str) -> str:
        query = (
            "SELECT code FROM photo WHERE sha256 = ?1 UNION SELECT batch FROM batch_paper"
            " WHERE sha256 = ?1 UNION SELECT name FROM shape WHERE sha256 = ?1 ORDER BY 1"
        )
        return " ".join(owner for (owner,) in self.conn.execute(query, (sha256,)))

    def _own_files(self, folder: str) -> None:
        found = self.shop.folder / folder
        paths = sorted(path for path in found.glob("*") if path.is_file())
        for path in paths:
            (self.place / folder).mkdir(exist_ok=True)
            data = path.read_bytes()
            _write(self.place / folder / path.name, data)
            self.sums[f"{folder}/{path.name}"] = hashlib.sha256(data).hexdigest()

    def _text(self, name: str, text: str) -> None:
        with self._open(name) as out:
            out.write(text)

    @contextmanager
    def _open(self, name: str) -> Iterator[TextIO]:
        """A new file of the export, whose hash is noted when it is written."""
        path = self.place / name
        with path.open("w", encoding="utf-8", newline="") as out:
            yield out
            out.flush()
            os.fsync(out.fileno())
        with path.open("rb") as written:
            self.sums[name] = hashlib.file_digest(written, "sha256").hexdigest()


def _write(path: Path, data: bytes) -> None:
    with path.open("wb") as out:
        out.write(data)
        out.flush()
        os.fsync(out.fileno())
