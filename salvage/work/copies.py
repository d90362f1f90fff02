"""Copies of the whole workshop on another disk, and a workshop restored from one."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from salvage.errors import NotFound, Refused, StoreTrouble
from salvage.ids import Code
from salvage.store.beside import check_free, folder_beside, put_in_place
from salvage.store.connection import DATABASE_NAME
from salvage.store.copies import CopyHead, check_folder, copies_in, lay_out, read_copy, write_copy
from salvage.store.files import FileStore
from salvage.store.lookup import exists
from salvage.units import format_instant
from salvage.work.check import run_checks
from salvage.work.forget import forget_donor
from salvage.work.last_copy import remember_copy
from salvage.work.workshop import Workshop

KEPT = 5
"""Older databases kept in a copy's folder, unless the maker says otherwise."""

Progress = Callable[[str], None]


@dataclass(frozen=True, slots=True)
class Restored:
    """
    What was restored.

    Args:
        folder: The workshop's folder.
        made_at: When the copy was made.
        events: Number of events.
        files: Number of files.
        missing: SHA-256 of files that the copy lacks.
        forgotten: Donors who were forgotten after the copy was made, and are again.
    """

    folder: str
    made_at: str
    events: int
    files: int
    missing: tuple[str, ...]
    forgotten: tuple[Code, ...]


def back_up(
    shop: Workshop,
    *,
    folder: Path,
    keep: int = KEPT,
    dry_run: bool = False,
    progress: Progress | None = None,
) -> CopyHead:
    """
    Copy database and files into a folder while others work; what is there already is not copied.

    Args:
        shop: The open workshop.
        folder: On another disk, best; made if its parent is there.
        keep: Older databases to keep beside the newest.
        dry_run: Only see whether it may go there.
        progress: Told what is being done.

    Raises:
        Refused: If the folder is the workshop's own, holds other things, or another's copy.
        StoreTrouble: If it cannot be written, or the copy does not pass its check.
    """
    now = format_instant(shop.clock())
    if folder.resolve() == shop.folder.resolve():
        raise Refused(f"{folder} is the workshop itself", hint="name a folder on another disk")
    if dry_run:
        check_folder(shop.conn, folder)
        return CopyHead(now, 0, (), 0, (), ())
    head = write_copy(shop.conn, shop.files, folder, now=now, keep=keep, progress=progress)
    remember_copy(shop, folder=folder, made_at=head.made_at, events=head.events)
    return head


def restore(
    source: Path,
    *,
    target: Path,
    open_shop: Callable[[Path], Workshop],
    stamp: str = "",
    incomplete: bool = False,
    progress: Progress | None = None,
) -> Restored:
    """
    A workshop from a copy: laid out beside its place, checked whole, and only then put there.

    Donors who were forgotten after an older copy was made are forgotten again.

    Args:
        source: The copy's folder.
        target: The workshop's folder; it may not be there, or must be empty.
        open_shop: Opens the workshop in a folder.
        stamp: Beginning of an older copy's stamp; the newest when empty.
        incomplete: Go on where files are missing in the copy.
        progress: Told what is being done.

    Raises:
        NotFound: If the folder holds no copy, or none of that stamp.
        Refused: If a workshop or something else lies in the target already.
        StoreTrouble: If the copy is damaged or does not pass the checks.
    """
    tell = progress or (lambda words: None)
    head = read_copy(source)
    database = _choose(source, stamp)
    check_no_workshop(target)
    with folder_beside(target, prefix=".restoring-") as place:
        files = FileStore(source / "files")
        missing = lay_out(database, files, place, tell=tell, incomplete=incomplete)
        with open_shop(place) as shop:
            again = tuple(_forget_again(shop, head))
            tell("checking every promise")
            _check_sound(shop, missing)
            (events,) = shop.conn.execute("SELECT count(*) FROM event").fetchone()
            (kept,) = shop.conn.execute("SELECT count(*) FROM file").fetchone()
            (newest,) = shop.conn.execute("SELECT max(at) FROM event").fetchone()
        put_in_place(place, target)
    made_at = head.made_at if database.name == DATABASE_NAME else str(newest)
    return Restored(str(target), made_at, int(events), int(kept), missing, again)


def _choose(source: Path, stamp: str) -> Path:
    there = copies_in(source)
    wanted = "".join(filter(str.isdigit, stamp))
    found = [path for name, path in there.items() if name.startswith(wanted)]
    if stamp and (not wanted or len(found) != 1):
        raise NotFound(
            f"'{stamp}' names {len(found) if wanted else 0} copies in {source}",
            hint=f"there are: {', '.join(there)}",
        )
    return found[0]


def check_no_workshop(target: Path) -> None:
    """
    Raise unless a workshop may be laid out in a place.

    Raises:
        Refused: If a workshop or something else lies there.
    """
    if (target / DATABASE_NAME).exists():
        raise Refused(
            f"a workshop lies in {target} already",
            hint="name a new folder with --shop; nothing is ever restored over a workshop",
        )
    check_free(target, hint="name a new folder with --shop")


def _forget_again(shop: Workshop, head: CopyHead) -> Iterator[Code]:
    known = {code for (code,) in shop.conn.execute("SELECT donor FROM forgotten")}
    for donor in map(Code, head.forgotten):
        if donor not in known and exists(shop.conn, donor):
            forget_donor(shop, donor=donor, reason="forgotten after this copy was made")
            yield donor


def _check_sound(shop: Workshop, missing: tuple[str, ...]) -> None:
    for line in run_checks(shop):
        faults = [fault for fault in line.faults if not any(name[:12] in fault for name in missing)]
        if faults:
            raise StoreTrouble(
                f"the copy does not pass its check: {line.name}: {faults[0]}",
                hint="restore an older one: --older STAMP",
            )
