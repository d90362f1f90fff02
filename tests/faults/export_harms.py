"""What can happen to an export on its way, by accident and on purpose, and what is said of it."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable
from pathlib import Path

Harm = Callable[[Path], object]


def reseal(folder: Path) -> None:
    """Write the list of hashes anew, as somebody would who wants to hide a change."""
    paths = [path for path in folder.rglob("*") if path.is_file() and path.name != "SHA256SUMS"]
    lines = [
        f"{hashlib.sha256(path.read_bytes()).hexdigest()}  {path.relative_to(folder).as_posix()}\n"
        for path in sorted(paths)
    ]
    (folder / "SHA256SUMS").write_text("".join(lines))


def change(name: str, old: bytes, new: bytes) -> Harm:
    """Replace some bytes of a file."""

    def harm(folder: Path) -> None:
        data = (folder / name).read_bytes()
        assert old in data
        (folder / name).write_bytes(data.replace(old, new, 1))

    return harm


def cut_short(name: str, count: int) -> Harm:
    """Take bytes from a file's end."""
    return lambda folder: (folder / name).write_bytes((folder / name).read_bytes()[:-count])


def last_event(folder: Path) -> None:
    """Take the newest event away."""
    path = folder / "journal.jsonl"
    path.write_bytes(b"".join(path.read_bytes().splitlines(keepends=True)[:-1]))


def twice(folder: Path) -> None:
    """Tell the newest event twice."""
    path = folder / "journal.jsonl"
    path.write_bytes(path.read_bytes() + path.read_bytes().splitlines(keepends=True)[-1])


def first_photo(folder: Path) -> Path:
    """One of the files that go under their own hash."""
    return min((folder / "files").iterdir())


def say(folder: Path, **fields: object) -> None:
    """Change fields of the export's head."""
    path = folder / "export.json"
    path.write_text(json.dumps(json.loads(path.read_text("utf-8")) | fields), "utf-8")


def other_rows(folder: Path) -> None:
    """Claim other rows of a table."""
    tables = json.loads((folder / "export.json").read_text("utf-8"))["tables"]
    tables["board"]["sha256"] = "0" * 64
    say(folder, tables=tables)


def link_outside(folder: Path) -> None:
    """Put a link to something else in a file's place."""
    (folder / "README.txt").unlink()
    (folder / "README.txt").symlink_to("/etc/hostname")


def path_trick(folder: Path) -> None:
    """Name a file outside of the folder."""
    with (folder / "SHA256SUMS").open("a") as file:
        file.write(f"{'0' * 64}  ../escaped.txt\n")


HARMS: dict[str, tuple[Harm, str]] = {
    "a changed event": (
        change("journal.jsonl", b'"by":"Maren"', b'"by":"Moren"'),
        "journal.jsonl is not as it was written",
    ),
    "a table saved by another program": (
        change("tables/board.csv", b"\r\n", b"\n"),
        "tables/board.csv is not as it was written",
    ),
    "a journal cut short": (cut_short("journal.jsonl", 9), "journal.jsonl is not as it was"),
    "a photo cut short": (
        lambda folder: cut_short(f"files/{first_photo(folder).name}", 1)(folder),
        "is not as it was written",
    ),
    "a photo taken away": (lambda folder: first_photo(folder).unlink(), "is missing"),
    "a file added": (
        lambda folder: (folder / "tables" / "more.csv").write_text("a"),
        "tables/more.csv does not belong to the export",
    ),
    "no list of hashes": (lambda folder: (folder / "SHA256SUMS").unlink(), "SHA256SUMS is missing"),
    "a list cut short": (cut_short("SHA256SUMS", 3), "of SHA256SUMS is cut short"),
    "a list of other things": (path_trick, "of SHA256SUMS names no file of an export"),
    "a link": (link_outside, "README.txt is no plain file"),
    "no head": (lambda folder: (folder / "export.json").unlink(), "export.json is missing"),
}
"""Harms, and what is said of each."""

HIDDEN: dict[str, tuple[Harm, str]] = {
    "a changed event": (
        change("journal.jsonl", b'"by":"Maren"', b'"by":"Moren"'),
        "does not end where export.json says",
    ),
    "an event that is not canonical": (
        change("journal.jsonl", b'"act":', b' "act":'),
        "its text is not canonical",
    ),
    "an event of an unknown kind": (
        change("journal.jsonl", b'"kind":"device.joined"', b'"kind":"device.vanished"'),
        "event 1 of the bundle cannot be taken in",
    ),
    "a journal cut within a line": (cut_short("journal.jsonl", 9), "is cut short or too long"),
    "a journal without its newest event": (last_event, "does not end where export.json says"),
    "an event told twice": (twice, "of journal.jsonl does not follow the one before"),
    "a line that is no text": (
        change("journal.jsonl", b'"by":"Maren"', b'"by":"M\xffren"'),
        "of journal.jsonl is no UTF-8",
    ),
    "a line that is no event": (
        change("journal.jsonl", b"\n", b"\n[1]\n"),
        "line 2 of journal.jsonl is no event",
    ),
    "another sealed word": (
        change("sealed.jsonl", b"Skerry", b"Kelpie"),
        "is not what its seal says",
    ),
    "another photo under its name": (
        lambda folder: first_photo(folder).write_bytes(b"other"),
        "is not as it was written",
    ),
    "other rows than it claims": (other_rows, "the table board comes out other"),
    "a newer form": (lambda folder: say(folder, form="salvage export 2"), "a newer version wrote"),
    "a newer schema": (lambda folder: say(folder, schema=999), "a newer version wrote it"),
    "a device that never was": (lambda folder: say(folder, device="X"), "never joined"),
    "no device": (lambda folder: say(folder, device="é"), "does not say which device"),
    "no sealed words": (
        lambda folder: (folder / "sealed.jsonl").unlink(),
        "sealed.jsonl is missing",
    ),
    "a photo that the list no longer names": (
        lambda folder: first_photo(folder).unlink(),
        "the journal names is not in it",
    ),
    "a head that is a list": (
        lambda folder: (folder / "export.json").write_text("[]"),
        "export.json cannot be read",
    ),
    "a head without tables": (lambda folder: say(folder, tables=3), "export.json cannot be read"),
    "a checkpoint of another journal": (
        lambda folder: change(
            f"checkpoints/{min((folder / 'checkpoints').iterdir()).name}", b'"count":', b'"count":1'
        )(folder),
        "a signed checkpoint does not fit",
    ),
}
"""Harms that somebody tried to hide by writing the list of hashes anew."""
