"""Designs of cards and tags: ours, and those that the workshop copied and changed."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from salvage.errors import BadFile, BadTemplate, BadValue, NotFound, Refused
from salvage.store.durable import make_folder, put_file
from salvage.store.files import plain_os_errors
from salvage.work.workshop import Workshop

if TYPE_CHECKING:
    from salvage.paper.designs import Design

FOLDER = "designs"
"""Folder in the workshop's own where its designs lie."""

USUAL_DESIGN = "a6"
"""Design of a story card when none is named."""

_NAME = re.compile(r"[a-z][a-z0-9_-]{0,30}")
_BESIDE = re.compile(r"[a-z0-9_-]{1,40}\.(png|jpg|jpeg|svg|typ)")
_MOST_BYTES = 20_000_000


@dataclass(frozen=True, slots=True)
class CopiedDesign:
    """
    A design that was copied to be changed.

    Args:
        name: What it is called.
        path: Its file.
        copied_from: The design that it is a copy of.
    """

    name: str
    path: Path
    copied_from: str


def designs_folder(shop: Workshop) -> Path:
    """Where the workshop's own designs lie; it need not be there yet."""
    return shop.folder / FOLDER


def list_designs(shop: Workshop) -> tuple[Design, ...]:
    """
    Every design: ours, then the workshop's own by name.

    One of the workshop's own that cannot be used is listed with the reason, and without a size.
    """
    from salvage.paper.designs import Design, shipped_designs

    own: list[Design] = []
    for path in _own_files(shop):
        try:
            own.append(_own_design(path))
        except BadTemplate as error:
            reason = f"cannot be used: {error.message}"
            own.append(Design(path.stem, reason, "", (0.0, 0.0), "", own=True))
    return (*shipped_designs().values(), *own)


def _own_files(shop: Workshop) -> list[Path]:
    """Page descriptions that are designs: parts that others import have no paper of their own."""
    found = designs_folder(shop)
    listed = sorted(found.glob("[!.]*.typ")) if found.is_dir() else []
    paths = [path for path in listed if path.is_file()]  # nor a device or a pipe
    return [path for path in paths if "#let paper" in path.read_text("utf-8", errors="replace")]


def _own_design(path: Path) -> Design:
    from salvage.paper.designs import parse_design

    try:
        return parse_design(path.stem, _read(path).decode("utf-8", errors="replace"), own=True)
    except BadTemplate as error:
        raise plain_template_error(error) from None


def find_design(shop: Workshop, name: str) -> Design:
    """
    The design of a name, as its file stands now.

    Raises:
        NotFound: If there is none of that name.
        BadTemplate: If one of the workshop's own asks for what it may not, or lacks its head.
    """
    from salvage.paper.designs import shipped_designs

    path = designs_folder(shop) / f"{name}.typ"
    if _NAME.fullmatch(name) and path.is_file():
        return _own_design(path)
    if name in shipped_designs():
        return shipped_designs()[name]
    known = [*shipped_designs(), *(path.stem for path in _own_files(shop))]
    raise NotFound(f"there is no design '{name}'", hint=f"known: {', '.join(known)}")


def files_beside(shop: Workshop, design: Design) -> dict[str, bytes]:
    """
    Pictures and parts that one of the workshop's own designs names, from beside it.

    Raises:
        BadFile: If one lies outside of the folder, or all together are too large.
        BadTemplate: If a part asks for what a design may not.
    """
    if not design.own:
        return {}
    folder = designs_folder(shop)
    found: dict[str, bytes] = {}
    texts = [design.source]
    while texts:
        text = texts.pop()
        for path in sorted(folder.iterdir()):
            name = path.name
            if name == design.file or name in found or not _BESIDE.fullmatch(name):
                continue
            if f'"{name}"' not in text:
                continue
            found[name] = _read(path)
            if name.endswith(".typ"):
                texts.append(found[name].decode("utf-8", errors="replace"))
                _check_part(path.stem, texts[-1])
    if sum(map(len, found.values())) > _MOST_BYTES:
        raise BadFile(f"the files of {design.name} have more than {_MOST_BYTES // 10**6} MB")
    return found


def _check_part(name: str, text: str) -> None:
    from salvage.paper.designs import check_harmless

    try:
        check_harmless(name, text)
    except BadTemplate as error:
        raise plain_template_error(error) from None


def _read(path: Path) -> bytes:
    """The bytes of a file of the designs' folder; what only points out of it is not read."""
    if path.is_symlink() or not path.is_file():
        raise BadFile(f"{path.name} is no file of its own", hint="copy the file into the folder")
    return path.read_bytes()


def copy_design(
    shop: Workshop, *, design: str, name: str, force: bool = False, dry_run: bool = False
) -> CopiedDesign:
    """
    Copy a design into the workshop's folder, to be changed there.

    Args:
        shop: The open workshop.
        design: The design to begin with.
        name: What the copy is called.
        force: Replace one of that name.
        dry_run: Look whether it could be done.

    Raises:
        BadValue: If the name cannot be one.
        NotFound: If there is no such design.
        Refused: If one of ours has the name, or one is there and *force* is false.
    """
    from salvage.paper.designs import shipped_designs

    source = find_design(shop, design).source
    if not _NAME.fullmatch(name):
        raise BadValue(
            f"'{name}' cannot be the name of a design",
            hint="small letters, digits, - and _, beginning with a letter",
        )
    if name in shipped_designs():
        raise Refused(f"{name} is one of ours", hint="choose another name")
    path = designs_folder(shop) / f"{name}.typ"
    if path.exists() and not force:
        raise Refused(f"{path} is there already", hint="replace it with --force, or name another")
    if not dry_run:
        with plain_os_errors(path):
            make_folder(path.parent)
            put_file(path, source.encode())
    return CopiedDesign(name, path, design)


def plain_template_error(error: BadTemplate) -> BadTemplate:
    """The error with a hint for whoever edits a design."""
    error.message = (
        f"{error.file}, line {error.line}, column {error.column}: {error.reason}"
        if error.line
        else error.reason
    )
    error.hint = "mend it there; 'salvage card CODE --design NAME --watch' shows each change"
    return error
