"""
Photos that come in by themselves: filed to what their label says, or kept waiting with the reason.

A photo is filed only where there is no doubt about what it shows. Everything else is kept safely
and waits in the inbox until somebody says what it is, or puts it out.
"""

from __future__ import annotations

import re
import sqlite3
from dataclasses import dataclass
from typing import TYPE_CHECKING

from salvage.canonical import Json, sha256_hex
from salvage.errors import BadCode, BadFile, NotFound
from salvage.ids import Code, kind_of, parse_code
from salvage.records.actions import find_action, is_action
from salvage.records.choices import PHOTO_SIDES
from salvage.records.counting import WaitingPhoto
from salvage.records.things import Photo
from salvage.store.change import Change
from salvage.store.lookup import exists
from salvage.store.rows import select, select_one
from salvage.work.photos import NewPhoto, add_photo, append_photo, list_photos, take_in
from salvage.work.workshop import Workshop

if TYPE_CHECKING:
    from salvage.codes.reading import PictureCodes

_PHOTOGRAPHED = "BPD"
_LEAST_HASH = 6
_WORD = re.compile(r"[0-9A-Za-z]+")


@dataclass(frozen=True, slots=True)
class Filing:
    """
    What became of a photo.

    Args:
        name: The file's name.
        outcome: ``filed``; ``waiting`` in the inbox; ``known`` where the workshop has it already;
            ``left`` where it is no picture, so that it was not kept.
        code: What it was filed to; empty for none.
        side: The side that it shows, where it was filed.
        reason: Why it waits, is known or was left; how it was filed.
    """

    name: str
    outcome: str
    code: str = ""
    side: str = ""
    reason: str = ""

    @property
    def is_kept(self) -> bool:
        """Whether the workshop has the photo, so that the file may go from where it lay."""
        return self.outcome != "left"


@dataclass(frozen=True, slots=True)
class _Subject:
    """What a photo shows without doubt, and how that is known."""

    code: Code
    how: str


@dataclass(frozen=True, slots=True)
class _Doubt:
    """Why a photo cannot be filed by itself."""

    reason: str
    codes: tuple[str, ...] = ()


def take_in_photo(shop: Workshop, *, data: bytes, name: str, dry_run: bool = False) -> Filing:
    """
    Keep a photo and file it to the board, piece or drop-off whose label it shows.

    Doing it again with the same bytes changes nothing, so that whoever hands photos in may be
    stopped at any moment and begin anew.

    Args:
        shop: The open workshop.
        data: Bytes of the file.
        name: Its name; the words ``front``, ``back`` and ``other`` in it say the side where no
            side card lies in the picture, and a code of ours in it stands for a label that is not
            seen.
        dry_run: Do everything, then roll back; the file is not kept either.
    """
    name = name.encode("utf-8", "replace").decode("utf-8")
    sha256 = sha256_hex(data)
    known = _find_known(shop.conn, sha256)
    if known:
        return Filing(name, "known", reason=known)
    try:
        judged = _judge(shop, data, name)
        if isinstance(judged, _Doubt):
            return _keep_waiting(shop, data, name, judged, dry_run)
        subject, side = judged
        new = NewPhoto(data, name, side)
        taken = take_in(shop, code=subject.code, new=new, dry_run=dry_run)
    except BadFile as error:
        return Filing(name, "left", reason=error.message)

    def steps(change: Change) -> Filing:
        if known := _find_known(change.conn, sha256):  # somebody else was quicker
            return Filing(name, "known", reason=known)
        append_photo(change, subject.code, taken)
        return Filing(name, "filed", subject.code, side, subject.how)

    return shop.commit("file photo", steps, dry_run=dry_run)


def _find_known(conn: sqlite3.Connection, sha256: str) -> str:
    """Where the workshop has a file already; empty where it has not."""
    photo = select_one(conn, Photo, "FROM photo WHERE sha256 = ?", (sha256,))
    if photo:
        return f"it is photo {photo.n} of {photo.code} already"
    if select_one(conn, WaitingPhoto, "FROM inbox WHERE sha256 = ?", (sha256,)):
        return "it waits in the inbox already"
    if conn.execute("SELECT 1 FROM file WHERE sha256 = ?", (sha256,)).fetchone():
        return "it was put out of the inbox before"
    return ""


def _judge(shop: Workshop, data: bytes, name: str) -> tuple[_Subject, str] | _Doubt:
    """What a photo shows, and its side; or why that is not sure."""
    from salvage.codes.read import read_picture

    picture = read_picture(data)
    named = [code for code in _codes_of_name(name) if exists(shop.conn, code)]
    subject = _subject(shop.conn, picture, named)
    if isinstance(subject, _Doubt):
        return subject
    side = _side(shop, subject.code, name, _side_cards(picture))
    return (subject, side) if isinstance(side, str) else side


def _side_cards(picture: PictureCodes) -> list[str]:
    """Sides that cards in the picture say, each once."""
    actions = [find_action(one.code) for one in picture.codes if one.code and is_action(one.code)]
    return list(dict.fromkeys(card.argument for card in actions if card.verb == "side"))


def _subject(
    conn: sqlite3.Connection, picture: PictureCodes, named: list[Code]
) -> _Subject | _Doubt:
    seen = [Code(one.code) for one in picture.codes if one.code]
    things = [code for code in seen if code[0] in _PHOTOGRAPHED and exists(conn, code)]
    missing = [code for code in seen if not exists(conn, code)]
    told = tuple(dict.fromkeys(seen))
    if picture.doubtful:
        return _Doubt("the readers do not agree about a label", told)
    if missing:
        return _Doubt(f"shows {' '.join(missing)}, which this workshop does not hold", told)
    if len(things) > 1:
        return _Doubt(f"shows several things: {' '.join(things)}", told)
    if len(named) > 1 or (named and things and named != things):
        return _Doubt(f"its name says {' '.join(named)}, its label {' '.join(things)}", told)
    if things:
        return _Subject(things[0], "by its label")
    if named:
        return _Subject(named[0], "by its name")
    return _Doubt(_why_nothing(picture, told), told)


def _why_nothing(picture: PictureCodes, told: tuple[str, ...]) -> str:
    if picture.unread:
        return "shows a label that could not be read; come closer, in even light"
    if picture.strangers:
        return "shows only codes that are not ours"
    return f"shows a {kind_of(told[0])}'s code only" if told else "shows no label"


def _codes_of_name(name: str) -> list[Code]:
    found = []
    for word in _WORD.findall(name):
        try:
            code = parse_code(word, kind=_PHOTOGRAPHED)
        except BadCode:
            continue
        found.append(code)
    return list(dict.fromkeys(found))


def _side(shop: Workshop, code: Code, name: str, cards: list[str]) -> str | _Doubt:
    """The side that a card or the name says; else the front of a first photo."""
    words = _WORD.findall(name.lower())
    said = cards or [side for side in PHOTO_SIDES if side in words]
    if len(said) == 1:
        return said[0]
    if len(cards) > 1:
        return _Doubt(f"shows {code} with cards for several sides: {', '.join(cards)}", (code,))
    if code[0] == "D":
        return "other"
    if not list_photos(shop, code):
        return "front"
    if code[0] == "P":
        return "other"
    return _Doubt(f"shows {code}, which has a photo already; say which side this is", (code,))


def _keep_waiting(shop: Workshop, data: bytes, name: str, doubt: _Doubt, dry_run: bool) -> Filing:
    from salvage.photo.intake import inspect_photo

    facts = inspect_photo(data, name=name)
    sha256 = sha256_hex(data) if dry_run else shop.files.save(data)
    told: dict[str, Json] = {
        "sha256": sha256,
        "media_type": facts.media_type,
        "byte_count": facts.byte_count,
        "name": name,
        "reason": doubt.reason,
        "codes": list(doubt.codes),
    }

    def steps(change: Change) -> Filing:
        if known := _find_known(change.conn, sha256):  # somebody else was quicker
            return Filing(name, "known", reason=known)
        change.append("inbox.waiting", (), told)
        return Filing(name, "waiting", reason=doubt.reason)

    return shop.commit("keep photo waiting", steps, dry_run=dry_run)


def list_inbox(shop: Workshop) -> tuple[WaitingPhoto, ...]:
    """Photos that wait, oldest first."""
    return select(shop.conn, WaitingPhoto, "FROM inbox ORDER BY at, name, sha256")


def find_waiting(shop: Workshop, text: str) -> WaitingPhoto:
    """
    The waiting photo with a name, or with a hash that begins so.

    Raises:
        NotFound: If none or several wait under that name.
    """
    waiting = list_inbox(shop)
    tidy = text.strip().lower()
    found = [photo for photo in waiting if photo.name.lower() == tidy]
    if not found and len(tidy) >= _LEAST_HASH:
        found = [photo for photo in waiting if photo.sha256.startswith(tidy)]
    if len(found) == 1:
        return found[0]
    if found:
        hashes = ", ".join(photo.sha256[:12] for photo in found)
        raise NotFound(f"{len(found)} photos wait as '{text}'", hint=f"say which: {hashes}")
    hint = "'salvage inbox' lists what waits" if waiting else "the inbox is empty"
    raise NotFound(f"no photo waits as '{text}'", hint=hint)


def file_waiting(
    shop: Workshop, *, photo: WaitingPhoto, code: Code, side: str, dry_run: bool = False
) -> Photo:
    """
    File a waiting photo to what it shows.

    Args:
        shop: The open workshop.
        photo: From :func:`find_waiting`.
        code: What it shows.
        side: One of :data:`salvage.records.choices.PHOTO_SIDES`.
        dry_run: Do everything, then roll back.

    Raises:
        NotFound: If there is nothing with this code.
        StoreTrouble: If the file is gone or has changed.
    """
    new = NewPhoto(shop.files.load(photo.sha256), photo.name, side)
    return add_photo(shop, code=code, new=new, dry_run=dry_run)


def drop_waiting(
    shop: Workshop, *, photo: WaitingPhoto, reason: str = "", dry_run: bool = False
) -> WaitingPhoto:
    """
    Put a photo out of the inbox; its bytes stay with the journal that mentions them.

    Args:
        shop: The open workshop.
        photo: From :func:`find_waiting`.
        reason: Why.
        dry_run: Do everything, then roll back.
    """
    data = {"sha256": photo.sha256, "name": photo.name, "reason": reason}

    def steps(change: Change) -> WaitingPhoto:
        change.append("inbox.dropped", (), data)
        return photo

    return shop.commit("drop photo", steps, dry_run=dry_run)
