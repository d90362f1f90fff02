"""
A whole copy of a workshop in a folder: database, files, and how far the record went.

``workshop.db`` is the newest copy, ``older/`` keeps those before it, and ``files/`` holds the files
of all of them, of which only new ones are ever written; checkpoints and designs lie beside them.
``copy.json`` is written last; where it is missing or older than the database, the copying was cut
short, and what lay there before is whole.
"""

from __future__ import annotations

import json
import os
import re
import shutil
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from dataclasses import asdict, dataclass
from datetime import datetime
from pathlib import Path

from salvage.errors import NotFound, Refused, StoreTrouble
from salvage.ids import parse_code
from salvage.store.backup import copy_database
from salvage.store.connection import APPLICATION_ID, DATABASE_NAME, plain_errors
from salvage.store.durable import drop_part, flush_folder, make_folder
from salvage.store.files import FileStore, plain_os_errors
from salvage.store.forget import erase, forgotten_seals
from salvage.store.journal import verify_chain
from salvage.store.named_files import named_files
from salvage.store.own_folders import OWN_FOLDERS, bring_own_folders

_HEAD_NAME = "copy.json"
_OLDER = "older"
_MOST_HEAD = 50_000_000
_STAMP = re.compile(r"[^0-9]")
_WRITER = re.compile(r"-([0-9]+)(\.|$)")

# Another computer may be copying into the same folder: what it writes is newer than this.
_LONG_LEFT_S = 600

Progress = Callable[[str], None]


@dataclass(frozen=True, slots=True)
class CopyHead:
    """
    What a copy says of itself.

    Args:
        made_at: Instant in UTC.
        events: Number of events in its journal.
        heads: Newest point of each device's chain, as printed on paper.
        files: Number of files that its record names.
        missing: SHA-256 of files that the workshop lacked itself.
        forgotten: Codes of donors who were forgotten by then; a restored older copy forgets them
            again.
    """

    made_at: str
    events: int
    heads: tuple[str, ...]
    files: int
    missing: tuple[str, ...]
    forgotten: tuple[str, ...]


def write_copy(
    conn: sqlite3.Connection,
    files: FileStore,
    folder: Path,
    *,
    now: str,
    keep: int,
    progress: Progress | None = None,
) -> CopyHead:
    """
    Copy the workshop into a folder while others may be writing; only what is new is written.

    The database is checked (SQLite's own check, foreign keys, every hash of the journal), then the
    files that it names are brought along, each checked; only then does the copy get its name.

    Args:
        conn: The workshop's open connection.
        files: Its files.
        folder: Where the copy goes; made if its parent is there.
        now: Instant in UTC.
        keep: How many older databases to keep.
        progress: Told what is being done.

    Raises:
        Refused: If the folder holds something else, or the copy of another workshop.
        StoreTrouble: If it cannot be written, or the copy does not pass its check.
    """
    tell = progress or (lambda words: None)
    check_folder(conn, folder)
    with plain_os_errors(folder / DATABASE_NAME):
        make_folder(folder)
        _sweep(folder, datetime.fromisoformat(now).timestamp())
        # Before the database: what was signed by now, the copy's journal will hold.
        bring_own_folders(files.folder.parent, folder)
    fresh = folder / f".new-{os.getpid()}.db"
    try:
        tell("the database")
        copy_database(conn, fresh)
        tell("checking the copy")
        with _open(fresh) as copy:
            head = _head_of(copy, now)
            wanted = named_files(copy)
        missing = tuple(_bring(files, FileStore(folder / "files"), wanted, tell))
        head = CopyHead(head.made_at, head.events, head.heads, len(wanted), missing, head.forgotten)
        with plain_os_errors(folder / DATABASE_NAME):
            _put_in_place(fresh, folder, head, keep)
    finally:
        drop_part(fresh)
    _erase_in_older(folder)
    return head


def _sweep(folder: Path, now_s: float) -> None:
    """Remove what copyings that were cut short left lying; they may be as large as the record."""
    for path in (*folder.glob(".new-*"), *folder.glob(f".{_HEAD_NAME}-*")):
        named = _WRITER.search(path.name)
        if named and not _is_alive(int(named[1])) and now_s - path.stat().st_mtime > _LONG_LEFT_S:
            path.unlink(missing_ok=True)


def _is_alive(process: int) -> bool:
    """Whether a process of this number is at work here, as far as can be told without harm."""
    if os.name != "posix":  # elsewhere asking would end it
        return False
    try:
        os.kill(process, 0)
    except OSError as error:
        return not isinstance(error, ProcessLookupError)
    return True


def _erase_in_older(folder: Path) -> None:
    """Donors who are forgotten by now are forgotten in the older copies too."""
    with _open(folder / DATABASE_NAME) as copy:
        seals = forgotten_seals(copy)
    for path in sorted((folder / _OLDER).glob("workshop-*.db")) if seals else ():
        with plain_errors(path), closing(sqlite3.connect(path, isolation_level=None)) as older:
            older.execute("PRAGMA secure_delete = ON")
            if erase(older, seals):
                older.execute("VACUUM")


def check_folder(conn: sqlite3.Connection, folder: Path) -> None:
    """
    Raise unless a copy of this workshop may go into a folder.

    Raises:
        Refused: If it is no folder, holds other things, or a copy of another workshop.
    """
    if folder.exists() and not folder.is_dir():
        raise Refused(f"{folder} is a file", hint="name a folder for the copy")
    if not folder.parent.is_dir():
        raise Refused(
            f"the folder {folder.parent} is not there", hint="plug the disk in, or make it"
        )
    held = folder / DATABASE_NAME
    if not held.exists():
        usual = ("files", _OLDER, *OWN_FOLDERS)
        strange = [path.name for path in _entries(folder) if path.name not in usual]
        if strange:
            raise Refused(
                f"{folder} holds other things ({strange[0]})",
                hint="name an empty or a new folder",
            )
        return
    with _open(held) as copy:
        if _first_event(copy) != _first_event(conn):
            raise Refused(
                f"{folder} holds the copy of another workshop", hint="name another folder"
            )


def _entries(folder: Path) -> list[Path]:
    found = folder.iterdir() if folder.is_dir() else ()
    return sorted(path for path in found if not path.name.startswith("."))


def _first_event(conn: sqlite3.Connection) -> str:
    row = conn.execute("SELECT id FROM event WHERE seq = 1").fetchone()
    return str(row[0]) if row else ""


@contextmanager
def _open(path: Path) -> Iterator[sqlite3.Connection]:
    """A copy that nobody writes to; it needs no permission to write beside it."""
    with plain_errors(path):
        conn = sqlite3.connect(f"{path.resolve().as_uri()}?immutable=1", uri=True)
        with closing(conn):
            (marked,) = conn.execute("PRAGMA application_id").fetchone()
            if marked != APPLICATION_ID:
                raise StoreTrouble(f"{path} is another program's database")
            yield conn


def _head_of(copy: sqlite3.Connection, now: str) -> CopyHead:
    loose = copy.execute("PRAGMA foreign_key_check").fetchone()
    if loose:
        raise StoreTrouble(
            f"row {loose[1]} of {loose[0]} points to nothing", hint="run 'salvage check'"
        )
    heads = verify_chain(copy)
    forgotten = [code for (code,) in copy.execute("SELECT donor FROM forgotten ORDER BY donor")]
    return CopyHead(
        now,
        sum(head.count for head in heads),
        tuple(head.short for head in heads),
        0,
        (),
        tuple(forgotten),
    )


def _bring(
    source: FileStore, target: FileStore, wanted: list[str], tell: Progress
) -> Iterator[str]:
    """Copy the files that are not there yet; gives those that are nowhere."""
    for number, sha256 in enumerate(wanted, 1):
        if target.path(sha256).is_file():
            continue
        tell(f"file {number} of {len(wanted)}")
        try:
            data = source.load(sha256)
        except StoreTrouble:
            yield sha256
            continue
        target.save(data)


def _put_in_place(fresh: Path, folder: Path, head: CopyHead, keep: int) -> None:
    newest, older = folder / DATABASE_NAME, folder / _OLDER
    if newest.exists() and keep:
        make_folder(older)
        before = _read_head(folder)
        stamp = _stamp(before.made_at) if before else f"{os.getpid()}"
        _double(newest, older / f"workshop-{stamp}.db")
        flush_folder(older)
    os.replace(fresh, newest)
    flush_folder(folder)  # before the head: it must never speak of a copy that is not there
    part = folder / f".{_HEAD_NAME}-{os.getpid()}"
    part.write_text(json.dumps(asdict(head), indent=2) + "\n", encoding="utf-8")
    with part.open("rb+") as file:
        os.fsync(file.fileno())
    os.replace(part, folder / _HEAD_NAME)
    flush_folder(folder)
    kept = sorted(older.glob("workshop-*.db")) if older.is_dir() else []
    for path in kept[: max(0, len(kept) - keep)]:
        path.unlink()


def _double(path: Path, second: Path) -> None:
    """
    Give a file a second name, or copy it where the disk knows no links, as memory sticks do.

    What bears that name already stays: it is the copy that was told, and the one in its place came
    after it, from a copying that was cut short or in the same second.
    """
    if second.exists():
        return
    try:
        os.link(path, second)
    except OSError:
        part = second.with_suffix(".part")
        shutil.copyfile(path, part)
        os.replace(part, second)


def _read_head(folder: Path) -> CopyHead | None:
    path = folder / _HEAD_NAME
    try:
        if not path.is_file() or path.stat().st_size > _MOST_HEAD:
            return None
        fields = json.loads(path.read_text("utf-8"))
        return CopyHead(
            str(fields["made_at"]),
            int(fields["events"]),
            tuple(map(str, fields["heads"])),
            int(fields["files"]),
            tuple(map(str, fields["missing"])),
            tuple(parse_code(str(code), kind="G") for code in fields["forgotten"]),
        )
    except (OSError, ValueError, KeyError, TypeError, OverflowError, RecursionError):
        return None


def read_copy(folder: Path) -> CopyHead:
    """
    What a copy says of itself.

    Raises:
        NotFound: If the folder holds no copy.
    """
    head = _read_head(folder)
    if head is None or not (folder / DATABASE_NAME).is_file():
        raise NotFound(
            f"{folder} holds no copy of a workshop", hint="make one with 'salvage backup FOLDER'"
        )
    return head


def copies_in(folder: Path) -> dict[str, Path]:
    """The databases in a copy's folder, newest first, by the stamp that names them."""
    head = read_copy(folder)
    newest = folder / DATABASE_NAME
    with _open(newest) as copy:
        events, last = copy.execute("SELECT count(*), max(at) FROM event").fetchone()
    # One that was put in place but cut short before it was told is named by its last event.
    found = {_stamp(head.made_at if events == head.events else last): newest}
    for path in sorted((folder / _OLDER).glob("workshop-*.db"), reverse=True):
        if path.is_file():  # nor a device or a pipe
            found.setdefault(path.stem.removeprefix("workshop-"), path)
    return found


def _stamp(instant: str) -> str:
    """The name of a copy made at an instant, to the second."""
    return _STAMP.sub("", instant)[:14]


def lay_out(
    database: Path, files: FileStore, target: Path, *, tell: Progress, incomplete: bool = False
) -> tuple[str, ...]:
    """
    Lay a copy out as a workshop's folder, every file checked against its hash.

    Args:
        database: One of :func:`copies_in`.
        files: Those of the copy.
        target: An empty folder.
        tell: Told what is being done.
        incomplete: Go on where files are missing.

    Returns:
        SHA-256 of the files that are missing.

    Raises:
        StoreTrouble: If the copy is damaged, or a file is missing or not what its name says.
    """
    tell("the database")
    with _open(database) as copy:
        verify_chain(copy)
        wanted = named_files(copy)
        known = dict(copy.execute("SELECT device, max(n) FROM event GROUP BY device").fetchall())
        copy_database(copy, target / DATABASE_NAME)
    with plain_os_errors(target / DATABASE_NAME):
        bring_own_folders(files.folder.parent, target, known=known)
    lost = tuple(_bring(files, FileStore(target / "files"), wanted, tell))
    if lost and not incomplete:
        raise StoreTrouble(
            f"{len(lost)} of {len(wanted)} files are missing or damaged in the copy:"
            f" {', '.join(name[:12] for name in lost[:5])}",
            hint="look for them in another copy; --incomplete restores without them",
        )
    return lost
