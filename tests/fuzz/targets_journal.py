"""Doors for what other devices and copies bring: bundles, events, folders of copies."""

from __future__ import annotations

import hashlib
import io
import json
import lzma
import shutil
import struct
import zipfile
import zlib
from collections.abc import Iterator, Mapping
from contextlib import ExitStack
from pathlib import Path
from random import Random
from typing import Any

from salvage.canonical import canonical_bytes
from salvage.errors import BadValue
from salvage.ids import uuid7
from salvage.records.events import KINDS, VERSION
from salvage.store.copies import copies_in, read_copy
from salvage.store.exchange import BundleHead, Line, known_counts, write_bundle
from salvage.store.journal import link, read_head
from salvage.store.signing import KEY_NAME, load_signer
from salvage.work.checkpoints import FOLDER, kept_faults
from salvage.work.copies import back_up, restore
from salvage.work.devices import begin_device, merge_bundle, write_for_others
from salvage.work.export_all import export_all
from salvage.work.import_all import begin_from_export
from salvage.work.last_copy import last_copy
from salvage.work.workshop import Workshop
from tests.bench import add_cleared_board, add_drop_off, cut_circle, make_shop
from tests.fuzz.mutate import change_bytes, change_json, change_value, odd_value
from tests.fuzz.target import Importer, Target
from tests.work.fleet import Fleet

_NO_ZIP = (
    *(zipfile.BadZipFile, zlib.error, struct.error, lzma.LZMAError),
    *(EOFError, KeyError, OSError, ValueError, RuntimeError),
)
_LINES = ("events.jsonl", "sealed.jsonl")


def _fleet(folder: Path) -> Fleet:
    """A laptop and a tablet, the same ones every time; they stay open."""
    return Fleet(folder, ExitStack(), count=2)


def _tablet_works(fleet: Fleet) -> None:
    tablet = fleet.shops[1]
    add_drop_off(tablet)
    board = add_cleared_board(tablet)
    cut_circle(tablet, board.code, 30, 40)


def open_bundle(folder: Path) -> Importer:
    """Bundles as a device takes them in."""
    laptop = _fleet(folder).shops[0]

    def importer(data: bytes) -> None:
        merge_bundle(laptop, data=data, name="tablet.zip", dry_run=True)

    return importer


def open_beginning(folder: Path) -> Importer:
    """Bundles with which a new device begins."""

    def importer(data: bytes) -> None:
        begin_device(
            folder / "new",
            data=data,
            name="tablet.zip",
            open_shop=lambda at, conn: Workshop(at, conn),
            dry_run=True,
        )

    return importer


def grow_bundles(folder: Path) -> list[bytes]:
    """What the tablet wrote since, and all that it knows."""
    fleet = _fleet(folder)
    _tablet_works(fleet)
    tablet = fleet.shops[1]
    found = [write_for_others(tablet).data, write_for_others(tablet, everything=True).data]
    return [*found, _for_letter(found[1])]


def _for_letter(data: bytes) -> bytes:
    parts = _unzip(data)
    parts["head.json"] = json.dumps({**json.loads(parts["head.json"]), "to_letter": "F"}).encode()
    return _zip(parts)


def _unzip(data: bytes) -> dict[str, bytes]:
    with zipfile.ZipFile(io.BytesIO(data)) as bundle:
        return {info.filename: bundle.read(info) for info in bundle.infolist()}


def _zip(parts: Mapping[str, bytes]) -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as bundle:
        for name, data in parts.items():
            bundle.writestr(zipfile.ZipInfo(name), data)
    return stream.getvalue()


def change_bundle(rng: Random, data: bytes) -> bytes:
    """A bundle with a line of one of its parts changed, or its parts, or its bytes."""
    try:
        parts = _unzip(data)
    except _NO_ZIP:
        return change_bytes(rng, data)
    deed = rng.randrange(10)
    if deed == 0 or not parts:
        return change_bytes(rng, data)
    name = rng.choice(list(parts))
    if deed == 1:
        del parts[name]
    elif deed == 2:
        parts[rng.choice(("files/../../x", "files/" + "0" * 64, "head.json/x", name + "x"))] = b"x"
    elif name in _LINES:
        lines = parts[name].splitlines()
        at = rng.randrange(len(lines) + 1)
        if lines and deed < 8:
            at %= len(lines)
            lines[at] = change_json(rng, lines[at])
        else:
            lines[at : at + rng.randrange(3)] = lines[:1]
        parts[name] = b"\n".join(lines)
    else:
        parts[name] = change_json(rng, parts[name])
    return _zip(parts)


_ENVELOPE = ("about", "act", "at", "by", "data", "kind", "made")


def open_events(folder: Path) -> Importer:
    """
    Events of a stranger who knows how chains are made.

    The input is a list of events without numbers and hashes, which are put in here, so that every
    check but those of the content itself is passed.
    """
    laptop, tablet = _fleet(folder).shops
    known = known_counts(laptop.conn)
    letter = tablet.settings.device

    def importer(data: bytes) -> None:
        lines = tuple(_chain(laptop, letter, known.get(letter, 0), data))
        head = BundleHead(letter, "", known)
        bundle = write_bundle(head, lines, (), ())
        merge_bundle(laptop, data=bundle, name="tablet.zip", dry_run=True)

    return importer


def _chain(shop: Workshop, letter: str, n: int, data: bytes) -> Iterator[Line]:
    try:
        events = json.loads(data)
    except (ValueError, RecursionError):
        raise BadValue("the input is no list of events") from None
    prev = read_head(shop.conn, letter).hash
    for number, event in enumerate(events if isinstance(events, list) else (), 1):
        if not isinstance(event, dict) or event.keys() != set(_ENVELOPE):
            raise BadValue("an event of the input is none")
        whole = {
            **event,
            "clock": 100_000 + number,
            "device": letter,
            "id": uuid7(1_780_000_000_000 + number, number.to_bytes(10, "big")),
            "n": n + number,
            "operation": uuid7(1_780_000_000_000, bytes(10)),
            "version": VERSION,
        }
        try:
            body = canonical_bytes(whole)
        except (TypeError, ValueError):
            raise BadValue("an event of the input cannot be written") from None
        prev = link(prev, body)
        yield Line(body.decode(), prev)


_USUAL: Mapping[str, Any] = {"text": "x", "int": 1, "flag": True, "list": [], "map": {}}


def grow_events(folder: Path) -> list[bytes]:
    """What the tablet did, event by event and whole, and one event of every kind."""
    fleet = _fleet(folder)
    before = read_head(fleet.shops[1].conn, fleet.shops[1].settings.device).count
    _tablet_works(fleet)
    rows = fleet.shops[1].conn.execute(
        "SELECT body FROM event WHERE device = ? AND n > ? ORDER BY n",
        (fleet.shops[1].settings.device, before),
    )
    done = [{name: json.loads(body)[name] for name in _ENVELOPE} for (body,) in rows]
    board = fleet.board.code
    each = [
        {
            "about": [board],
            "act": "x",
            "at": "2026-05-04T10:00:00.000Z",
            "by": "Ilva",
            "data": {name: _USUAL[kind.rstrip("?")] for name, kind in fields.items()},
            "kind": name_of_kind,
            "made": [],
        }
        for name_of_kind, fields in KINDS.items()
    ]
    return [json.dumps(events).encode() for events in (done, *([*done, one] for one in each))]


def change_events(rng: Random, data: bytes) -> bytes:
    """One event's fields exchanged for others of the same or another kind."""
    try:
        events = json.loads(data)
        event = rng.choice(events[-3:])
        field = rng.choice(list(event["data"]))
    except (ValueError, LookupError, TypeError, RecursionError):
        return change_json(rng, data)
    deed = rng.randrange(8)
    if deed == 0:
        return change_json(rng, data)
    if deed == 1:
        event["about"] = change_value(rng, event["about"])
    elif deed == 2:
        event["made"] = rng.choice((event["about"], event["made"], ["BD9000R"], ["PD0002T"]))
    elif deed == 3:
        events.append(rng.choice(events))
    elif deed == 4:
        event["data"][field] = change_value(rng, event["data"][field])
    elif deed == 5:
        event[rng.choice(("at", "by", "act"))] = odd_value(rng)
    else:
        now = event["data"][field]
        same = [v for one in events for v in one["data"].values() if type(v) is type(now)]
        event["data"][field] = rng.choice(
            [*same, odd_value(rng), 0, "", [[[0, 0], [9, 0], [0, 9]]]]
        )
    try:
        return json.dumps(events).encode()
    except (ValueError, RecursionError):
        return data


_SMALL = ("copy.json", "backups/last-copy.json", KEY_NAME, f"{FOLDER}/june.json")


def open_small_files(folder: Path) -> Importer:
    """Small files that lie beside a workshop or its copy; the first byte chooses one."""
    shop = make_shop(folder / "shop")
    add_cleared_board(shop)
    back_up(shop, folder=folder / "copy")
    (shop.folder / FOLDER).mkdir(exist_ok=True)

    def importer(data: bytes) -> None:
        which = (data[:1] or b"0")[0] % len(_SMALL)
        (folder / ("shop" if which else "copy") / _SMALL[which]).write_bytes(data[1:])
        if which == 0:
            read_copy(folder / "copy")
            copies_in(folder / "copy")
        elif which == 1:
            last_copy(shop)
        elif which == 2:
            load_signer(shop.folder / KEY_NAME)
        else:
            kept_faults(shop)

    return importer


def grow_small_files(folder: Path) -> list[bytes]:
    """Each of them as the program writes it."""
    from salvage.work.checkpoints import sign_checkpoint

    with make_shop(folder / "writing") as shop:
        add_cleared_board(shop)
        back_up(shop, folder=folder / "written")
        signed = sign_checkpoint(shop).data
        files = [
            (folder / "written" / _SMALL[0]).read_bytes(),
            (shop.folder / _SMALL[1]).read_bytes(),
            (shop.folder / _SMALL[2]).read_bytes(),
            signed,
        ]
    return [bytes([which]) + data for which, data in enumerate(files)]


def change_small_file(rng: Random, data: bytes) -> bytes:
    """Its JSON or its bytes changed."""
    if data[:1] == b"\2":
        return data[:1] + change_bytes(rng, data[1:])
    return data[:1] + change_json(rng, data[1:])


def open_copy(folder: Path) -> Importer:
    """A copy whose head is an input's JSON ``head`` and whose database has bytes changed."""
    with make_shop(folder / "shop") as shop:
        board = add_cleared_board(shop)
        cut_circle(shop, board.code, 30, 40)
        back_up(shop, folder=folder / "copy")
    sound = (folder / "copy" / "workshop.db").read_bytes()

    def importer(data: bytes) -> None:
        try:
            value = json.loads(data)
            head, patches = value["head"], value["patches"]
            database = bytearray(sound)
            for place, text in patches:
                at = int(place) % len(database)
                database[at : at + len(bytes.fromhex(text))] = bytes.fromhex(text)
        except (ValueError, LookupError, TypeError, AttributeError, OverflowError, RecursionError):
            raise BadValue("the input is no copy") from None
        (folder / "copy" / "workshop.db").write_bytes(database)
        (folder / "copy" / "copy.json").write_text(json.dumps(head), "utf-8", "surrogatepass")
        target = folder / "restored"
        try:
            restore(folder / "copy", target=target, open_shop=make_shop)
        finally:
            shutil.rmtree(target, ignore_errors=True)

    return importer


def grow_copies(folder: Path) -> list[bytes]:
    """The copy as it was written."""
    with make_shop(folder / "writing") as shop:
        back_up(shop, folder=folder / "written")
    head = json.loads((folder / "written" / "copy.json").read_bytes())
    return [json.dumps({"head": head, "patches": [[20_000, "00"]]}).encode()]


def change_copy(rng: Random, data: bytes) -> bytes:
    """Other bytes of the database, or another head."""
    try:
        value = json.loads(data)
        if rng.random() < 0.2:
            value["head"] = change_value(rng, value["head"])
        else:
            place = rng.choice(
                (rng.randrange(400_000), rng.randrange(200), 4096 * rng.randrange(90))
            )
            value["patches"] = [
                *value["patches"][-2:],
                [place, rng.randbytes(rng.choice((1, 1, 2, 16))).hex()],
            ]
        return json.dumps(value).encode()
    except (ValueError, LookupError, TypeError, RecursionError):
        return data


_EXPORTED = ("export.json", "journal.jsonl", "sealed.jsonl", "files.csv", "SHA256SUMS")


def _export(folder: Path) -> Path:
    with make_shop(folder / "exporting") as shop:
        board = add_cleared_board(shop)
        cut_circle(shop, board.code, 30, 40)
        export_all(shop, folder=folder / "export", with_names=True)
    return folder / "export"


def open_export(folder: Path) -> Importer:
    """
    A folder that an export of everything wrote, with one file of it changed.

    The first byte chooses the file, the rest is its content; its hash is put into the list, so that
    what the file says is looked at.
    """
    source = _export(folder)
    sound = {name: (source / name).read_bytes() for name in _EXPORTED}

    def importer(data: bytes) -> None:
        name = _EXPORTED[(data[:1] or b"0")[0] % len(_EXPORTED)]
        sums = sound["SHA256SUMS"].replace(
            hashlib.sha256(sound[name]).hexdigest().encode(),
            hashlib.sha256(data[1:]).hexdigest().encode(),
        )
        for file, content in {**sound, "SHA256SUMS": sums, name: data[1:]}.items():
            (source / file).write_bytes(content)
        target = folder / "begun"
        try:
            begin_from_export(
                source,
                target=target,
                open_shop=lambda at, conn: Workshop(at, conn),
                incomplete=True,
            )
        finally:
            shutil.rmtree(target, ignore_errors=True)

    return importer


def grow_exports(folder: Path) -> list[bytes]:
    """Each file as it was written."""
    source = _export(folder)
    return [bytes([n]) + (source / name).read_bytes() for n, name in enumerate(_EXPORTED)]


def change_export(rng: Random, data: bytes) -> bytes:
    """A line of the file changed as JSON or as text."""
    lines = data[1:].split(b"\n")
    at = rng.randrange(len(lines))
    lines[at] = change_json(rng, lines[at]) if data[:1] < b"\3" else change_bytes(rng, lines[at])
    return data[:1] + b"\n".join(lines)


JOURNAL_TARGETS = (
    Target("bundle", open_bundle, change_bundle, 400, 60_000, grow_bundles),
    Target("beginning", open_beginning, change_bundle, 10, 60_000, grow_bundles),
    Target("events", open_events, change_events, 130, 30_000, grow_events),
    Target("export", open_export, change_export, 8, 60_000, grow_exports),
    Target("small-files", open_small_files, change_small_file, 700, 2000, grow_small_files),
    Target("copy", open_copy, change_copy, 10, 3000, grow_copies),
)
"""Doors for what other devices and copies bring."""
