"""
A workshop from the folder that an export of everything wrote.

The journal is the truth: it is taken in event by event, its chain verified, and the tables are
worked out from it; then every table is compared with the digest of the one that was exported. What
is not as it was written ends in one line, and nothing is left behind.
"""

from __future__ import annotations

import hashlib
import json
import re
import sqlite3
from collections.abc import Callable, Iterator, Mapping
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import BinaryIO

from salvage.canonical import Json
from salvage.errors import BadFile, Refused
from salvage.ids import LETTERS
from salvage.store.beside import folder_beside, put_in_place
from salvage.store.change import Authorship, Change, run_change
from salvage.store.connection import DATABASE_NAME, connect, plain_errors
from salvage.store.exchange import Line, Sealed
from salvage.store.files import FileStore, plain_os_errors
from salvage.store.journal import FIRST_PREV, link, verify_chain
from salvage.store.migrations import NEWEST, migrate
from salvage.store.named_files import named_files
from salvage.store.own_folders import bring_own_folders
from salvage.store.projection import TABLES, rebuild
from salvage.store.table_shape import digest_table, table_shape
from salvage.store.take_in import plain_event_errors, take_lines, take_sealed
from salvage.units import format_instant
from salvage.work.checkpoints import kept_faults
from salvage.work.copies import Restored, check_no_workshop
from salvage.work.export_all import FORM, HEAD, JOURNAL, SEALED, SUMS
from salvage.work.workshop import Workshop

_SUM = re.compile(r"([0-9a-f]{64})  (\S.*)")
_NAME = re.compile(
    r"README\.txt|export\.json|csv-metadata\.json|journal\.jsonl|sealed\.jsonl|files\.csv"
    r"|tables/[a-z_]{1,40}\.csv|files/[0-9a-f]{64}(\.[a-z]{1,5})?"
    r"|(checkpoints|designs)/[A-Za-z0-9_][A-Za-z0-9_.-]{0,100}"
)
_NEEDED = (HEAD, JOURNAL)
_MOST_LINE = 20_000_000
_MOST_HEAD = 50_000_000
# What file managers leave in folders that were looked at.
_LEFT_BEHIND = re.compile(r"\..*|Thumbs\.db|desktop\.ini", re.IGNORECASE)

Progress = Callable[[str], None]


@dataclass(frozen=True, slots=True)
class ExportHead:
    """
    What an export says of itself.

    Args:
        at: When it was written.
        schema: Number of the newest schema file that its tables followed.
        device: Letter of the device that wrote it.
        with_names: Whether sealed words are in it.
        events: Number of events.
        heads: Device, count and hash of the newest event of each chain.
        missing: SHA-256 of files that the workshop lacked itself.
        tables: Rows and digest of each table.
    """

    at: str
    schema: int
    device: str
    with_names: bool
    events: int
    heads: tuple[Mapping[str, Json], ...]
    missing: tuple[str, ...]
    tables: Mapping[str, Json]


def holds_export(folder: Path) -> bool:
    """Whether a folder looks like an export of everything, whole or not."""
    return (folder / HEAD).is_file() or (folder / JOURNAL).is_file()


def begin_from_export(
    source: Path,
    *,
    target: Path,
    open_shop: Callable[[Path, sqlite3.Connection], Workshop],
    incomplete: bool = False,
    progress: Progress | None = None,
) -> Restored:
    """
    A workshop from an export: laid out beside its place, compared, and only then put there.

    It goes on as the device that wrote the export; the signing key is not in an export, so the next
    signing makes a new one.

    Args:
        source: The export's folder.
        target: The workshop's folder; it may not be there, or must be empty.
        open_shop: Makes the workshop from its folder and open connection.
        incomplete: Go on where names or photos are not in it.
        progress: Told what is being done.

    Raises:
        BadFile: If a file is missing, added, cut short or changed, or a newer version wrote it.
        Refused: If a workshop lies in the target, or what is left out was not agreed to.
    """
    tell = progress or (lambda words: None)
    check_no_workshop(target)
    sums = _check_files(source, tell)
    head = _read_head(source)
    if head.with_names and SEALED not in sums:
        raise _bad(source, f"{SEALED} is missing")
    _check_agreed(source, head, incomplete=incomplete)
    with folder_beside(target, prefix=".restoring-") as place:
        _bring_files(source, place, sums, tell)
        conn = connect(place / DATABASE_NAME)
        try:
            with plain_errors(place / DATABASE_NAME), open_shop(place, conn) as shop:
                migrate(conn, shop.path, now=format_instant(shop.clock()))
                tell("the journal")
                _fill(shop, source, head)
                tell("comparing every table")
                _compare(shop, source, head)
                (files,) = conn.execute("SELECT count(*) FROM file").fetchone()
        finally:
            conn.close()
        put_in_place(place, target)
    return Restored(str(target), head.at, head.events, int(files), head.missing, ())


def _bad(source: Path, what: str, *, hint: str = "") -> BadFile:
    return BadFile(
        f"{source}: {what}", hint=hint or "use another copy of the export; nothing was made"
    )


def _check_files(source: Path, tell: Progress) -> Mapping[str, str]:
    """The list of files with their hashes, each compared but for those under their own hash."""
    sums = _read_sums(source)
    there = {path.relative_to(source).as_posix() for path in _walk(source)}
    for name in sorted(sums.keys() - there):
        raise _bad(source, f"{name} is missing")
    for name in sorted(there - sums.keys() - {SUMS}):
        raise _bad(source, f"{name} does not belong to the export", hint="move it elsewhere")
    for name, wanted in sums.items():
        if name.startswith("files/"):
            found = name[6:70]  # its bytes are compared when they are copied
        else:
            tell(f"checking {name}")
            with plain_os_errors(source / name), (source / name).open("rb") as file:
                found = hashlib.file_digest(file, "sha256").hexdigest()
        if found != wanted:
            raise _bad(source, f"{name} is not as it was written")
    return sums


def _walk(source: Path) -> Iterator[Path]:
    for path in sorted(source.rglob("*")):
        if _LEFT_BEHIND.fullmatch(path.name):
            continue
        if path.is_symlink() or not (path.is_file() or path.is_dir()):
            raise _bad(source, f"{path.name} is no plain file")
        if path.is_file():
            yield path


def _read_sums(source: Path) -> dict[str, str]:
    path = source / SUMS
    if not path.is_file() or path.is_symlink():
        raise _bad(source, f"{SUMS} is missing")
    found: dict[str, str] = {}
    with path.open("rb") as file:
        for number, text in enumerate(_lines(file, source, SUMS), 1):
            match = _SUM.fullmatch(text)
            if not match or not _NAME.fullmatch(match[2]) or match[2] in found:
                raise _bad(source, f"line {number} of {SUMS} names no file of an export")
            found[match[2]] = match[1]
    for name in _NEEDED:
        if name not in found:
            raise _bad(source, f"{SUMS} does not name {name}")
    return found


def _lines(file: BinaryIO, source: Path, name: str) -> Iterator[str]:
    """The lines of a file, one at a time; each must end, and be of bounded length."""
    number = 0
    while data := file.readline(_MOST_LINE):
        number += 1
        if not data.endswith(b"\n"):
            raise _bad(source, f"line {number} of {name} is cut short or too long")
        try:
            yield data[:-1].decode("utf-8")
        except UnicodeDecodeError as error:
            raise _bad(source, f"line {number} of {name} is no UTF-8") from error


def _read_head(source: Path) -> ExportHead:
    path = source / HEAD
    if path.stat().st_size > _MOST_HEAD:
        raise _bad(source, f"{HEAD} is too large")
    try:
        fields = json.loads(path.read_bytes())
        form, schema = str(fields["form"]), int(fields["schema"])
    except (ValueError, TypeError, LookupError, OverflowError, RecursionError) as error:
        raise _bad(source, f"{HEAD} cannot be read") from error
    if form != FORM or schema > NEWEST:
        raise _bad(
            source,
            f"a newer version wrote it ({form}, schema {schema}; this one knows {NEWEST})",
            hint="update with: pip install --upgrade salvage",
        )
    try:
        head = ExportHead(
            str(fields["at"]),
            schema,
            str(fields["device"]),
            bool(fields["with_names"]),
            int(fields["events"]),
            tuple(dict(one) for one in fields["heads"]),
            tuple(map(str, fields["missing"])),
            dict(fields["tables"]),
        )
    except (ValueError, TypeError, LookupError, OverflowError) as error:
        raise _bad(source, f"{HEAD} cannot be read") from error
    if len(head.device) != 1 or head.device not in LETTERS:
        raise _bad(source, f"{HEAD} does not say which device wrote it")
    return head


def _check_agreed(source: Path, head: ExportHead, *, incomplete: bool) -> None:
    lacks = []
    if not head.with_names:
        lacks.append("the names and contacts of donors and customers")
    if head.missing:
        lacks.append(f"{len(head.missing)} files that the workshop lacked itself")
    if lacks and not incomplete:
        raise Refused(
            f"{source} was written without {' and '.join(lacks)}",
            hint="--incomplete goes on without them; 'salvage check' will name what is missing",
        )


def _bring_files(source: Path, place: Path, sums: Mapping[str, str], tell: Progress) -> None:
    files = FileStore(place / "files")
    names = [name for name in sums if name.startswith("files/")]
    for number, name in enumerate(names, 1):
        tell(f"file {number} of {len(names)}")
        with plain_os_errors(source / name):
            data = (source / name).read_bytes()
        if files.save(data) != sums[name]:
            raise _bad(source, f"{name} is not as it was written")
    with plain_os_errors(place / HEAD):
        bring_own_folders(source, place)


def _fill(shop: Workshop, source: Path, head: ExportHead) -> None:
    def steps(change: Change) -> None:
        try:
            take_lines(change.conn, _journal_lines(source))
            if head.with_names:
                take_sealed(change.conn, _sealed(source))
        except BadFile as error:
            if error.message.startswith(str(source)):
                raise
            raise _bad(source, error.message) from error
        with plain_event_errors():
            rebuild(change.conn)
        joined = change.conn.execute("SELECT 1 FROM device WHERE letter = ?", (head.device,))
        if not joined.fetchone():
            raise _bad(source, f"device {head.device}, which wrote it, never joined")
        change.conn.execute("INSERT INTO this_device VALUES (1, ?)", (head.device,))

    author = Authorship("restore", shop.by, head.device, shop.clock())
    run_change(shop.conn, author, steps, path=shop.path, draw=shop.entropy)


def _journal_lines(source: Path) -> Iterator[Line]:
    """The events with the hashes that follow from their texts."""
    tips: dict[str, tuple[int, str]] = {}
    with (source / JOURNAL).open("rb") as file:
        for number, body in enumerate(_lines(file, source, JOURNAL), 1):
            try:
                fields = json.loads(body)
                device, n = str(fields["device"]), int(fields["n"])
            except (ValueError, TypeError, LookupError, OverflowError, RecursionError) as error:
                raise _bad(source, f"line {number} of {JOURNAL} is no event") from error
            last, tip = tips.get(device, (0, FIRST_PREV))
            if n != last + 1:
                raise _bad(source, f"line {number} of {JOURNAL} does not follow the one before")
            tips[device] = n, link(tip, body.encode("utf-8"))
            yield Line(body, tips[device][1])


def _sealed(source: Path) -> Iterator[Sealed]:
    with (source / SEALED).open("rb") as file:
        for number, text in enumerate(_lines(file, source, SEALED), 1):
            try:
                row = json.loads(text)
                yield Sealed(str(row["seal"]), str(row["salt"]), str(row["value"]))
            except (ValueError, TypeError, LookupError, RecursionError) as error:
                raise _bad(source, f"line {number} of {SEALED} is no sealed word") from error


def _compare(shop: Workshop, source: Path, head: ExportHead) -> None:
    """Raise unless journal, tables and checkpoints are those that were exported."""
    heads = verify_chain(shop.conn)
    if [asdict(one) for one in heads] != [dict(one) for one in head.heads]:
        ends = ", ".join(one.short for one in heads) or "nowhere"
        raise _bad(source, f"{JOURNAL} does not end where {HEAD} says, but at {ends}")
    if sum(one.count for one in heads) != head.events:
        raise _bad(source, f"{JOURNAL} does not hold {head.events} events, as {HEAD} says")
    if head.schema == NEWEST:  # tables of an older schema have other columns
        for name in ("event", *TABLES):
            if asdict(digest_table(shop.conn, table_shape(shop.conn, name))) != head.tables.get(
                name
            ):
                raise _bad(source, f"the table {name} comes out other than it was exported")
    for sha256 in named_files(shop.conn):
        if sha256 not in head.missing and not shop.files.path(sha256).is_file():
            raise _bad(source, f"the file {sha256[:12]}… that the journal names is not in it")
    faults = [fault for found in kept_faults(shop)[0].values() for fault in found]
    if faults:
        raise _bad(source, f"a signed checkpoint does not fit the journal: {faults[0]}")
