"""
Signed checkpoints: how far each device's chain had come, in a small file to be kept elsewhere.

A chain by itself cannot show that its tail was cut off, or that all of it was worked out anew. A
checkpoint can: it holds the heads, signed with the device's key. Whoever can write the workshop's
folder can also take checkpoints and key away, so a copy belongs somewhere else.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

from salvage.canonical import Json, canonical_bytes
from salvage.errors import BadFile, SalvageError
from salvage.store.change import Change
from salvage.store.durable import make_folder, put_file
from salvage.store.files import plain_os_errors
from salvage.store.journal import FIRST_PREV, verify_chain
from salvage.store.merkle import leaf_hash, tree_root
from salvage.store.signing import KEY_NAME, Signer, is_signed, load_signer, make_signer, save_signer
from salvage.units import format_instant
from salvage.work.workshop import Workshop

FORM = "salvage checkpoint 1"
"""What stands in a checkpoint; another form is refused."""

FOLDER = "checkpoints"
"""Where this device's checkpoints lie, in the workshop's folder."""

_FIELDS = ("form", "workshop", "at", "device", "public_key", "chains")
_CHAIN_FIELDS = ("device", "count", "hash", "root")


@dataclass(frozen=True, slots=True)
class SignedHead:
    """
    How far one chain had come.

    Args:
        device: The device's letter.
        count: Number of its events.
        hash: Hash of the last one.
        root: Root of the Merkle tree over all its hashes.
    """

    device: str
    count: int
    hash: str
    root: str


@dataclass(frozen=True, slots=True)
class Checkpoint:
    """
    A checkpoint as it was signed.

    Args:
        workshop: Hash of the workshop's first event.
        at: When it was signed.
        device: The device that signed.
        public_key: Its key, in hexadecimal.
        chains: Every chain that the device knew.
        signature: Over the canonical JSON of all that.
    """

    workshop: str
    at: str
    device: str
    public_key: str
    chains: tuple[SignedHead, ...]
    signature: str

    @property
    def signed(self) -> dict[str, Json]:
        """The object whose canonical JSON was signed."""
        chains = [{name: getattr(chain, name) for name in _CHAIN_FIELDS} for chain in self.chains]
        named = {name: getattr(self, name) for name in ("workshop", "at", "device", "public_key")}
        return {"form": FORM, **named, "chains": chains}

    @property
    def value(self) -> dict[str, Json]:
        """The whole file as an object."""
        return {"signed": self.signed, "signature": self.signature}

    @property
    def data(self) -> bytes:
        """The whole file: canonical JSON."""
        return canonical_bytes(self.value)

    @property
    def short(self) -> str:
        """Heads as on paper, such as ``C57-1a2b3c4d``."""
        return " ".join(f"{one.device}{one.count}-{one.hash[:8]}" for one in self.chains)


@dataclass(frozen=True, slots=True)
class Verdict:
    """
    What became of a checkpoint.

    Args:
        name: The file's name.
        at: When it was signed.
        device: Who signed it.
        heads: As on paper.
        faults: What does not hold; empty when all is well.
    """

    name: str
    at: str
    device: str
    heads: str
    faults: tuple[str, ...]

    @property
    def ok(self) -> bool:
        """True when the journal still holds all that was signed."""
        return not self.faults


def sign_checkpoint(shop: Workshop, *, dry_run: bool = False) -> Checkpoint:
    """
    Sign how far every chain has come, and keep that in the workshop's folder.

    The device's key is made once; its public half is journalled, so that the other devices and
    later checkpoints name it.

    Args:
        shop: The open workshop.
        dry_run: Do everything, then roll back and keep no file.

    Raises:
        StoreTrouble: If the chain does not verify, or key or checkpoint cannot be written.
        MissingTool: If the library that signs is not there.
    """
    made = sign_in(shop, dry_run=dry_run)
    if not dry_run:
        folder = shop.folder / FOLDER
        with plain_os_errors(folder / "checkpoint"):
            make_folder(folder)
        own = next(chain for chain in made.chains if chain.device == made.device)
        _keep(folder / f"checkpoint-{own.device}{own.count}-{own.hash[:8]}.json", made.data)
    return made


def sign_in(shop: Workshop, *, dry_run: bool) -> Checkpoint:
    """A fresh checkpoint, not kept; the key is, unless *dry_run*."""
    path = shop.folder / KEY_NAME
    signer = load_signer(path)
    if signer is None:
        signer = make_signer(shop.entropy(32))
        if not dry_run:
            save_signer(path, signer)
    key = signer

    def steps(change: Change) -> Checkpoint:
        letter = change.author.device
        known = change.conn.execute(
            "SELECT 1 FROM device_key WHERE letter = ? AND public_key = ?", (letter, key.public_key)
        ).fetchone()
        if not known:
            change.append("device.keyed", (), {"public_key": key.public_key})
        verify_chain(change.conn)
        return sign_heads(change.conn, key, device=letter, at=format_instant(change.author.at))

    return shop.commit("sign checkpoint", steps, dry_run=dry_run)


def sign_heads(conn: sqlite3.Connection, signer: Signer, *, device: str, at: str) -> Checkpoint:
    """
    A checkpoint of how far every chain has come, kept nowhere.

    Args:
        conn: The workshop's database.
        signer: The key of the device that signs.
        device: Its letter.
        at: The instant.
    """
    chains = []
    for letter, hashes in chain_hashes(conn).items():
        root = tree_root([leaf_hash(bytes.fromhex(one)) for one in hashes])
        chains.append(SignedHead(letter, len(hashes), hashes[-1], root.hex()))
    bare = Checkpoint(_workshop_of(conn), at, device, signer.public_key, tuple(chains), "")
    signature = signer.sign(canonical_bytes(bare.signed))
    return Checkpoint(bare.workshop, at, device, bare.public_key, bare.chains, signature)


def chain_hashes(conn: sqlite3.Connection) -> dict[str, list[str]]:
    """The hashes of every device's chain, in order."""
    found: dict[str, list[str]] = {}
    for device, digest in conn.execute("SELECT device, hash FROM event ORDER BY device, n"):
        found.setdefault(device, []).append(digest)
    return found


def _workshop_of(conn: sqlite3.Connection) -> str:
    row = conn.execute("SELECT hash FROM event ORDER BY clock, device LIMIT 1").fetchone()
    return str(row[0]) if row else FIRST_PREV


def _keep(path: Path, data: bytes) -> None:
    with plain_os_errors(path):
        put_file(path, data)


def parse_checkpoint(data: bytes, *, name: str) -> Checkpoint:
    """
    The checkpoint in a file; that of a piece's proof as well.

    Raises:
        BadFile: If it is no checkpoint.
    """
    try:
        value = json.loads(data)
        value = value.get("checkpoint", value)
        signed, signature = value["signed"], value["signature"]
        if signed["form"] != FORM or signed.keys() != set(_FIELDS):
            raise BadFile(f"{name} is a checkpoint of another form, perhaps by a newer version")
        chains = tuple(
            SignedHead(*(one[field] for field in _CHAIN_FIELDS)) for one in signed["chains"]
        )
        texts = [*(signed[field] for field in _FIELDS[:-1]), signature]
        texts += [text for one in chains for text in (one.device, one.hash, one.root)]
        if not all(type(text) is str for text in texts):
            raise TypeError
        if not all(type(one.count) is int and one.count > 0 for one in chains):
            raise TypeError
        canonical_bytes(signed)
    except (ValueError, TypeError, LookupError, AttributeError, RecursionError) as error:
        raise BadFile(f"{name} is no checkpoint", hint="'salvage proof sign' writes one") from error
    return Checkpoint(
        signed["workshop"], signed["at"], signed["device"], signed["public_key"], chains, signature
    )


def verify_checkpoint(shop: Workshop, *, data: bytes, name: str) -> Verdict:
    """
    Whether the journal still holds all that a checkpoint signed.

    Args:
        shop: The open workshop.
        data: The file.
        name: What to call it.

    Raises:
        BadFile: If it is no checkpoint.
    """
    found = parse_checkpoint(data, name=name)
    faults = list(_faults(shop, found))
    try:
        verify_chain(shop.conn)
    except SalvageError as error:
        faults.append(str(error))
    if not faults:
        faults += _root_faults(shop.conn, found)
    return Verdict(name, found.at, found.device, found.short, tuple(faults))


def _faults(shop: Workshop, found: Checkpoint) -> Iterator[str]:
    if not is_signed(found.public_key, found.signature, canonical_bytes(found.signed)):
        yield "its signature is not good: the file was altered"
        return
    known = shop.conn.execute(
        "SELECT 1 FROM event WHERE kind = 'device.keyed' AND device = ? AND instr(body, ?) > 0",
        (found.device, found.public_key),
    ).fetchone()
    if not known:
        yield f"the journal does not know its key as one of device {found.device}"
    if found.workshop != _workshop_of(shop.conn):
        yield "it is of another workshop, or the journal was rewritten from its first event on"
    for chain in found.chains:
        yield from _chain_faults(shop, chain)


def _chain_faults(shop: Workshop, chain: SignedHead) -> Iterator[str]:
    (count,) = shop.conn.execute(
        "SELECT count(*) FROM event WHERE device = ?", (chain.device,)
    ).fetchone()
    if count < chain.count:
        merged = "" if chain.device == shop.settings.device else ", or is not merged here yet"
        yield (
            f"the journal has {count} events of device {chain.device} and had {chain.count}:"
            f" its tail was cut off{merged}"
        )
        return
    row = shop.conn.execute(
        "SELECT hash FROM event WHERE device = ? AND n = ?", (chain.device, chain.count)
    ).fetchone()
    if row is None or row[0] != chain.hash:
        yield (
            f"event {chain.count} of device {chain.device} is another one than was signed:"
            " history was rewritten"
        )


def _root_faults(conn: sqlite3.Connection, found: Checkpoint) -> Iterator[str]:
    hashes = chain_hashes(conn)
    for chain in found.chains:
        leaves = [leaf_hash(bytes.fromhex(one)) for one in hashes[chain.device][: chain.count]]
        if tree_root(leaves).hex() != chain.root:
            yield f"the root over the events of device {chain.device} is another one"


def kept_faults(shop: Workshop) -> tuple[Mapping[str, tuple[str, ...]], int]:
    """
    Faults of each checkpoint in the workshop's folder, by file name, and the events they cover.

    The chain itself is checked elsewhere, so the head of each chain is enough.
    """
    found: dict[str, tuple[str, ...]] = {}
    covered = 0
    for path in sorted((shop.folder / FOLDER).glob("[!.]*.json")):  # none that is half written
        try:
            checkpoint = parse_checkpoint(path.read_bytes(), name=path.name)
        except (SalvageError, OSError) as error:
            found[path.name] = (str(error),)
            continue
        found[path.name] = tuple(_faults(shop, checkpoint))
        covered = max(covered, sum(chain.count for chain in checkpoint.chains))
    return found, covered
