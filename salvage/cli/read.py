"""``salvage read``: every code in a folder of photos, to try the reader on photos of one's own."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from salvage.cli.command import CommandSet
from salvage.cli.session import Session, session_of
from salvage.cli.show import clean, note, say, show_json, show_plain

if TYPE_CHECKING:
    from collections.abc import Callable

    from salvage.codes.reading import PictureCodes, Reading

commands = CommandSet()

_ENDINGS = (".jpg", ".jpeg", ".png", ".webp", ".heic", ".tif", ".tiff", ".gif", ".bmp")


@commands.command("read", example="salvage read photos --json")
def read(
    context: typer.Context,
    path: Annotated[str, typer.Argument(metavar="PATH", help="A folder of photos, or one photo.")],
) -> None:
    """
    Read every code in a folder of photos: what it says, where it stands and who read it.

    Nothing is recorded, and no workshop is needed; where there is one, it is told whether each code
    exists in it. Ends with exit code 1 where a label was seen but not read, or a file is no photo.
    """
    from salvage.cli.files import naming, read_file
    from salvage.codes.read import read_picture
    from salvage.errors import BadFile

    session = session_of(context)
    exists = _existence(session)
    records: list[dict[str, Any]] = []
    for name in _names(session, path):
        try:
            with naming(name):
                seen = read_picture(read_file(session, name))
        except BadFile as error:
            records.append(_nothing(name, str(error)))
        else:
            records.append(_record(name, seen, exists))
    _show(session, records)
    if any(one["trouble"] or one["doubtful"] or one["unread"] for one in records):
        raise typer.Exit(1)


def _names(session: Session, path: str) -> list[str]:
    """The photos of a folder by name, or the one file."""
    from salvage.errors import BadFile

    folder = session.place(path)
    if not folder.is_dir():
        return [path]
    names = sorted(one.name for one in folder.iterdir() if one.suffix.lower() in _ENDINGS)
    if not names:
        raise BadFile(
            f"there are no photos in {path}", hint=f"photos end in {', '.join(_ENDINGS[:5])} …"
        )
    return [str(Path(path) / name) for name in names]


def _existence(session: Session) -> Callable[[str], bool | None]:
    """Whether a code exists in the workshop; None for each where there is no workshop."""
    from salvage.errors import NotFound
    from salvage.ids import Code
    from salvage.store.lookup import exists

    def in_workshop(code: str) -> bool | None:
        with session.open() as shop:
            return exists(shop.conn, Code(code))

    try:
        with session.open():
            return in_workshop
    except NotFound:
        return lambda code: None


def _record(name: str, seen: PictureCodes, exists: Callable[[str], bool | None]) -> dict[str, Any]:
    return {
        "file": name,
        "width_px": seen.width_px,
        "height_px": seen.height_px,
        "codes": [
            _reading(one) | {"code": one.code, "exists": exists(str(one.code))}
            for one in seen.codes
        ],
        "strangers": [_reading(one) for one in seen.strangers],
        "doubtful": [_reading(one) for one in seen.doubtful],
        "unread": [[list(corner) for corner in rim] for rim in seen.unread],
        "trouble": "",
    }


def _nothing(name: str, trouble: str) -> dict[str, Any]:
    empty: dict[str, Any] = {key: [] for key in ("codes", "strangers", "doubtful", "unread")}
    return {"file": name, "width_px": 0, "height_px": 0, **empty, "trouble": trouble}


def _reading(one: Reading) -> dict[str, Any]:
    return {
        "text": one.text,
        "symbology": one.symbology,
        "corners_px": [list(corner) for corner in one.corners_px],
        "reader": one.reader,
        "step": one.step,
        "module_px": one.module_px,
    }


def _show(session: Session, records: list[dict[str, Any]]) -> None:
    if session.form == "json":
        show_json(session, records)
    elif session.form == "plain":
        show_plain(
            session,
            (
                [one["file"], code["code"], code["symbology"], code["reader"], code["step"]]
                for one in records
                for code in one["codes"] or [dict.fromkeys(_CELLS, "")]
            ),
        )
    else:
        for one in records:
            _tell(session, one)
        shown = sum(bool(one["codes"]) for one in records)
        note(session, f"{shown} of {len(records)} photos show a code of ours")


_CELLS = ("code", "symbology", "reader", "step")


def _tell(session: Session, one: dict[str, Any]) -> None:
    if one["trouble"]:
        say(session, clean(one["trouble"]))
        return
    words = [_code_words(code) for code in one["codes"]]
    words += [f"not ours: {code['text'][:40]}" for code in one["strangers"]]
    words += [f"doubtful, readers differ: {code['text'][:40]}" for code in one["doubtful"]]
    words += [f"a label at {_spot(rim)}, unread: come closer" for rim in one["unread"]]
    say(session, clean(f"{one['file']}: {'; '.join(words) or 'no code'}"))


def _code_words(code: dict[str, Any]) -> str:
    absent = " (not in this workshop)" if code["exists"] is False else ""
    small = ", small: come closer" if 0 < code["module_px"] < 3 else ""
    return f"{code['code']}{absent} at {_spot(code['corners_px'])}{small}"


def _spot(rim: list[list[int]]) -> str:
    """The middle of a place, across and down."""
    count = max(1, len(rim))
    return f"{sum(x for x, _ in rim) // count}, {sum(y for _, y in rim) // count} px"
