"""Two devices and more: each writes its own chain, and they hand one another what they wrote."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

from salvage.canonical import Json, sha256_hex
from salvage.errors import BadFile, BadValue, Refused, StoreTrouble
from salvage.ids import LETTERS
from salvage.records.things import Board, Device
from salvage.store.change import Authorship, Change, run_change
from salvage.store.connection import connect, plain_errors
from salvage.store.durable import drop_part, make_folder
from salvage.store.exchange import (
    Bundle,
    BundleHead,
    Line,
    Sealed,
    known_counts,
    read_lines,
    write_bundle,
)
from salvage.store.forget import erase, flush_erased, forgotten_seals
from salvage.store.migrations import migrate
from salvage.store.projection import rebuild
from salvage.store.rows import select
from salvage.store.take_in import plain_event_errors, take_lines, take_sealed
from salvage.units import format_instant
from salvage.work.area import usable_with
from salvage.work.clash import Clash
from salvage.work.clashes import find_clashes
from salvage.work.workshop import DATABASE_NAME, Workshop


@dataclass(frozen=True, slots=True)
class DeviceView:
    """
    A device of the workshop.

    Args:
        device: The record.
        events: Number of its events that are known here.
        is_this: Whether it is the one that we work on.
    """

    device: Device
    events: int
    is_this: bool


@dataclass(frozen=True, slots=True)
class Handed:
    """
    A bundle that was written.

    Args:
        data: The zip file.
        events: Number of events in it.
        to: Letter and name of the device it is for; empty for any.
    """

    data: bytes
    events: int
    to: str = ""


@dataclass(frozen=True, slots=True)
class Merged:
    """
    What a bundle brought.

    Args:
        letter: Device that wrote the bundle.
        events: Events that were new here; 0 where it was known already.
        files: Photos and drawings that were new here.
        clashes: Open clashes after it.
        erased: Sealed words erased here, because their donor was forgotten over there.
    """

    letter: str
    events: int
    files: int
    clashes: tuple[Clash, ...]
    erased: int = 0


def list_devices(shop: Workshop) -> tuple[DeviceView, ...]:
    """All devices of the workshop, in the order in which they joined."""
    counts = known_counts(shop.conn)
    this = shop.settings.device
    found = select(shop.conn, Device, "FROM device ORDER BY joined_at, letter")
    return tuple(DeviceView(one, counts.get(one.letter, 0), one.letter == this) for one in found)


def add_device(shop: Workshop, *, name: str, dry_run: bool = False) -> Handed:
    """
    Let a further device join: it is given a letter, and a bundle to begin with.

    Args:
        shop: The open workshop.
        name: What to call it, such as "fair tablet".
        dry_run: Do everything, then roll back.

    Raises:
        BadValue: If it has no name.
        Refused: If all letters are given.
    """
    tidy = " ".join(name.split())
    if not tidy:
        raise BadValue("a device has a name", hint="such as 'fair tablet'")

    def steps(change: Change) -> Handed:
        given = {letter for (letter,) in change.conn.execute("SELECT letter FROM device")}
        free = [letter for letter in LETTERS if letter not in given]
        if not free:
            raise Refused(f"all {len(LETTERS)} letters for devices are given")
        change.append("device.joined", (), {"letter": free[0], "name": tidy})
        handed = _hand(shop, change.conn, {}, to_letter=free[0])
        return Handed(handed.data, handed.events, f"{free[0]} {tidy}")

    return shop.commit("add device", steps, dry_run=dry_run)


def write_for_others(shop: Workshop, *, everything: bool = False) -> Handed:
    """
    A bundle of what the other devices are not known to have read.

    Args:
        shop: The open workshop.
        everything: All events, whatever they are known to have.
    """
    told: dict[str, int] = {} if everything else _told_to_all(shop.conn, shop.settings.device)
    return _hand(shop, shop.conn, told)


def _told_to_all(conn: sqlite3.Connection, this: str) -> dict[str, int]:
    """Events of each chain that every other device is known to have."""
    others = {letter for (letter,) in conn.execute("SELECT letter FROM device")} - {this}
    known: dict[str, dict[str, int]] = {letter: {} for letter in others}
    for to_letter, letter, n in conn.execute("SELECT to_letter, letter, n FROM told"):
        known.setdefault(to_letter, {})[letter] = n
    counts = list(known.values())
    chains = set().union(*counts) if counts else set()
    return {letter: min(count.get(letter, 0) for count in counts) for letter in chains}


def _hand(
    shop: Workshop, conn: sqlite3.Connection, told: Mapping[str, int], *, to_letter: str = ""
) -> Handed:
    lines = list(read_lines(conn, told))
    head = BundleHead(shop.settings.device, to_letter, known_counts(conn))
    files = ((sha256, shop.files.load(sha256)) for sha256 in _files_of(lines))
    return Handed(write_bundle(head, lines, _sealed_of(conn, lines), files), len(lines))


def _sealed_of(conn: sqlite3.Connection, lines: list[Line]) -> Iterator[Sealed]:
    """Personal texts that the events commit to and that are still kept."""
    for seal, salt, value in conn.execute(
        "SELECT seal, salt, value FROM private_field ORDER BY seal"
    ):
        if any(seal in line.body for line in lines):
            yield Sealed(seal, salt, value)


def _files_of(lines: list[Line]) -> list[str]:
    import json

    found: dict[str, None] = {}
    for line in lines:
        sha256 = json.loads(line.body)["data"].get("sha256")
        if sha256:
            found[str(sha256)] = None
    return list(found)


def merge_bundle(shop: Workshop, *, data: bytes, name: str, dry_run: bool = False) -> Merged:
    """
    Take in what another device wrote; twice, or in another order, changes nothing.

    Args:
        shop: The open workshop.
        data: The bundle.
        name: What to call it in messages.
        dry_run: Do everything, then roll back; files are not kept.

    Raises:
        BadFile: If the bundle is damaged, or events before it are missing.
        Refused: If it is not of this workshop, or a device wrote two histories.
    """
    bundle = Bundle(data, name=name)
    _check_ours(shop, bundle)
    files = _new_files(shop, bundle)
    if not dry_run:
        for sha256 in files:
            shop.files.save(bundle.file(sha256))

    def steps(change: Change) -> Merged:
        salts.clear()
        with plain_event_errors():
            count = take_lines(change.conn, bundle.lines())
            salts.extend(_take_words(change.conn, bundle))
            if count:
                rebuild(change.conn)
                _count_again(change)
            _note_told(change.conn, bundle.head)
            clashes = tuple(clash for clash in find_clashes(change.conn) if not clash.settled)
        return Merged(bundle.head.letter, count, len(files), clashes, len(salts))

    salts: list[str] = []
    merged = shop.commit("merge bundle", steps, dry_run=dry_run)
    if salts and not dry_run:
        flush_erased(shop.conn, shop.path, salts)
    return merged


def _take_words(conn: sqlite3.Connection, bundle: Bundle) -> tuple[str, ...]:
    """
    Take in the sealed words, but for those of donors who are forgotten here or over there.

    Returns:
        Salts of the words that were kept here and are erased now.
    """
    gone = forgotten_seals(conn)
    salts = erase(conn, gone)
    take_sealed(conn, (text for text in bundle.sealed() if text.seal not in gone))
    return salts


def _check_ours(shop: Workshop, bundle: Bundle) -> None:
    """Raise unless the bundle's first event is the one that this workshop began with."""
    if bundle.head.letter == shop.settings.device:
        raise Refused(f"{bundle.name} was written on this device", hint="merge it on another one")
    known = known_counts(shop.conn)
    if not known.keys() & bundle.head.known.keys():
        raise Refused(
            f"{bundle.name} is of another workshop",
            hint="a device joins with 'salvage device add' on the first one",
        )


def _new_files(shop: Workshop, bundle: Bundle) -> list[str]:
    """Files that are lacking here; each is looked at by itself, so that memory holds only one."""
    found = []
    for sha256 in bundle.file_names():
        if sha256_hex(bundle.file(sha256)) != sha256:
            raise BadFile(
                f"{bundle.name}: the file {sha256[:12]}… is not what its name says",
                hint="write the bundle anew over there; nothing of it was taken",
            )
        if not shop.files.path(sha256).is_file():
            found.append(sha256)
    return found


def _count_again(change: Change) -> None:
    """Usable areas of boards that several devices worked on, where they differ from the record."""
    boards = select(
        change.conn,
        Board,
        "FROM board WHERE retired = '' AND outline IS NOT NULL AND code IN"
        " (SELECT code FROM event_item JOIN event USING (seq) GROUP BY code"
        "  HAVING count(DISTINCT device) > 1) ORDER BY code",
    )
    counted = {board.code: usable_with(change.conn, board) for board in boards}
    wrong: dict[str, Json] = {
        b.code: counted[b.code] for b in boards if counted[b.code] != b.usable_um2
    }
    if wrong:
        change.append("area.recounted", (), {"usable_um2": wrong})


def _note_told(conn: sqlite3.Connection, head: BundleHead) -> None:
    conn.executemany(
        "INSERT INTO told (to_letter, letter, n) VALUES (?, ?, ?)"
        " ON CONFLICT DO UPDATE SET n = max(n, excluded.n)",
        [(head.letter, letter, n) for letter, n in sorted(head.known.items())],
    )


def begin_device(
    folder: Path,
    *,
    data: bytes,
    name: str,
    open_shop: Callable[[Path, sqlite3.Connection], Workshop],
    dry_run: bool = False,
) -> Merged:
    """
    Begin this device's copy of a workshop from the bundle that 'salvage device add' wrote.

    Args:
        folder: Where the copy will lie; it may not hold a workshop yet.
        data: The bundle.
        name: What to call it in messages.
        open_shop: Makes the workshop from its folder and open connection.
        dry_run: Check the bundle, and leave nothing behind.

    Raises:
        BadFile: If the bundle is damaged or not one to begin with.
        Refused: If there is a workshop in the folder already.
    """
    bundle = Bundle(data, name=name)
    letter = bundle.head.to_letter
    if not letter:
        raise BadFile(
            f"{name} is not a bundle to begin with", hint="'salvage device add' writes one"
        )
    path = folder / DATABASE_NAME
    if path.exists():
        raise Refused(
            f"there is a workshop in {folder} already",
            hint="name a new folder with --shop, or take it in with 'salvage device merge'",
        )
    try:
        make_folder(folder)
    except OSError as error:
        raise StoreTrouble(f"the folder {folder} cannot be made: {error.strerror}") from error
    conn = connect(path)
    begun = None
    try:
        with plain_errors(path), open_shop(folder, conn) as shop:
            migrate(conn, path, now=format_instant(shop.clock()))
            begun = _begin(shop, bundle, letter, dry_run=dry_run)
    finally:
        conn.close()
        if dry_run or begun is None:
            for left in (path, *folder.glob(f"{DATABASE_NAME}-*")):
                drop_part(left)
    return begun


def _begin(shop: Workshop, bundle: Bundle, letter: str, *, dry_run: bool) -> Merged:
    files = _new_files(shop, bundle)
    if not dry_run:
        for sha256 in files:
            shop.files.save(bundle.file(sha256))

    def steps(change: Change) -> Merged:
        with plain_event_errors():
            count = take_lines(change.conn, bundle.lines())
            _take_words(change.conn, bundle)
            rebuild(change.conn)
        change.conn.execute("INSERT INTO this_device VALUES (1, ?)", (letter,))
        _note_told(change.conn, bundle.head)
        return Merged(bundle.head.letter, count, len(files), ())

    author = Authorship("begin device", shop.by, letter, shop.clock())
    return run_change(shop.conn, author, steps, path=shop.path, draw=shop.entropy, dry_run=dry_run)
