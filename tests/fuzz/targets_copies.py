"""Doors for folders: copies, exports of everything, and small files beside them."""

from __future__ import annotations

import hashlib
import json
import shutil
from pathlib import Path
from random import Random

from salvage.errors import BadValue
from salvage.store.copies import copies_in, read_copy
from salvage.store.signing import KEY_NAME, load_signer
from salvage.work.checkpoints import FOLDER, kept_faults
from salvage.work.copies import back_up, restore
from salvage.work.export_all import export_all
from salvage.work.import_all import begin_from_export
from salvage.work.last_copy import last_copy
from salvage.work.workshop import Workshop
from tests.bench import add_cleared_board, cut_circle, make_shop
from tests.fuzz.mutate import change_bytes, change_json, change_value
from tests.fuzz.target import Importer, Target

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


COPY_TARGETS = (
    Target("export", open_export, change_export, 8, 60_000, grow_exports),
    Target("small-files", open_small_files, change_small_file, 700, 2000, grow_small_files),
    Target("copy", open_copy, change_copy, 10, 3000, grow_copies),
)
"""Doors for folders."""
