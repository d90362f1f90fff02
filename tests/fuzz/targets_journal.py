"""Doors for what other devices and copies bring: bundles, events, folders of copies."""

from __future__ import annotations

import io
import json
import lzma
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
from salvage.store.exchange import BundleHead, Line, known_counts, write_bundle
from salvage.store.journal import link, read_head
from salvage.work.devices import begin_device, merge_bundle, write_for_others
from salvage.work.workshop import Workshop
from tests.bench import add_cleared_board, add_drop_off, cut_circle
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


JOURNAL_TARGETS = (
    Target("bundle", open_bundle, change_bundle, 400, 60_000, grow_bundles),
    Target("beginning", open_beginning, change_bundle, 10, 60_000, grow_bundles),
    Target("events", open_events, change_events, 130, 30_000, grow_events),
)
"""Doors for what other devices and copies bring."""
