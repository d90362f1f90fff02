"""
Readers of the pages below docs/howto, who type every command that stands there.

A page's commands are run one after the other in a workshop that the page's reader would have: some
boards, some pieces, an order. Codes and ids on the page stand for those of the reader, and names of
files for files that the reader has.
"""

from __future__ import annotations

import re
import shlex
import shutil
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from salvage.work.alerts import list_alerts, short_alert
from salvage.work.clashes import find_clashes
from salvage.work.workshop import open_workshop
from tests.bench import SteppingClock, seeded_entropy
from tests.desk import Desk, Told
from tests.docs.pages import DOCS

HOWTO = DOCS / "howto"

ELSEWHERE = ("page", "bench", "watch", "outing till", "stocktake scan", "hub")
"""Commands that go on until somebody ends them, or need a server: they have tests of their own."""

_FENCE = re.compile(r"^```(\w*)\n(.*?)^```", re.MULTILINE | re.DOTALL)
_INDENTED = re.compile(r"^(?: {4}| {7})(salvage (?:.*\\\n)*.*)", re.MULTILINE)
_INLINE = re.compile(r"`(?:\$ )?(salvage [^`]+)`")
_CODE = re.compile(r"\b[A-Z]{2}[0-9]{4}[A-Z]\b")
_ALERT = re.compile(r"\b[0-9a-f]{8}\b")


def blocks_of(text: str) -> list[str]:
    """The commands of a page that stand on lines of their own, in order."""
    found: list[tuple[int, str]] = []
    for fence in _FENCE.finditer(text):
        if fence[1] in ("", "sh", "bash"):
            joined = fence[2].replace("\\\n", " ")
            lines = [line.strip() for line in joined.splitlines()]
            found += [(fence.start(), line) for line in lines if line.startswith("salvage ")]
    bare = _FENCE.sub(lambda match: " " * len(match[0]), text)
    found += [(one.start(), one[1].replace("\\\n", " ")) for one in _INDENTED.finditer(bare)]
    return [re.sub(r"\s+#.*$", "", line).strip() for _, line in sorted(found, key=lambda f: f[0])]


def inline_of(text: str) -> list[str]:
    """The commands of a page that stand inside a sentence."""
    return _INLINE.findall(_FENCE.sub("", text))


def misread(line: str) -> str:
    """
    Why the parser would not read a command's name or options; empty if it would.

    Args:
        line: With ``salvage`` before it; in a sentence it may leave out what it needs.
    """
    from salvage.cli.root import root_command

    command: Any = root_command()
    context = command.make_context("salvage", ["--no-input"], resilient_parsing=True)
    words = shlex.split(line)[1:]
    shared = {"--help", *(name for param in command.params for name in param.opts)}
    while words and hasattr(command, "list_commands"):
        word = words.pop(0)
        if word in ("--shop", "--by"):
            del words[:1]
        elif word.partition("=")[0] not in shared:
            found = command.get_command(context, word)
            if found is None and command.name == "card":  # pieces may stand in a command's place
                found = command.get_command(context, "print")
                words.insert(0, word)
            if found is None:
                return f"no command '{word}'"
            command = found
    known = {name for param in command.params for name in param.opts} | {"--help", "--why"}
    options = [word.partition("=")[0] for word in words if re.match("--?[a-z]", word)]
    return ", ".join(name for name in options if name not in known)


_SAVED = re.compile(r"[Ss]ave it as `([^`]+)`[^\n]*\n\n```\w+\n(.*?)^```", re.MULTILINE | re.DOTALL)


def save_files(text: str, folder: Path) -> None:
    """Save every file that a page shows in full, where the page says."""
    for name, body in _SAVED.findall(text):
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_text(body, encoding="utf-8")


class Reader:
    """
    Somebody who types what stands on a page.

    Args:
        desk: With the reader's workshop.
    """

    def __init__(self, desk: Desk) -> None:
        self.desk = desk

    def type_line(self, line: str) -> Told:
        """Run one line of a page, with the reader's own codes and places in it."""
        line = self.own(line.removeprefix("salvage "))
        if line.startswith(("plan order", "order plan")):
            line += " --seconds 0"  # the first plan serves as well as the best
        return self.desk.run(f"--yes {line}")

    def own(self, line: str) -> str:
        """The line with codes, ids and places of the reader."""
        folder = str(self.desk.folder)
        for there, here in (("/media/stick", f"{folder}/stick"), ("~/", f"{folder}/")):
            line = line.replace(there, here)
        with open_workshop(self.desk.shop, create=False) as shop:
            codes = dict(shop.conn.execute("SELECT code, max(seq) FROM event_item GROUP BY code"))
            alerts = [short_alert(view.alert) for view in list_alerts(shop)]
            clashes = [clash.name for clash in find_clashes(shop.conn) if not clash.settled]
        newest = {code[0]: code for code in sorted(codes, key=lambda code: codes[code])}
        line = line.replace("sync FOLDER", f"sync {folder}/stick")
        line = line.replace("PIECES", " ".join(code for code in codes if code[0] == "P"))
        keys = self._keys()
        for key, own in zip(("BK", "DJ"), keys, strict=False):
            line = re.sub(rf"\b{key}\b", own, line)
        line = _CODE.sub(lambda m: m[0] if m[0] in codes else newest.get(m[0][0], m[0]), line)
        if alerts:
            line = _ALERT.sub(alerts[0], line)
        return re.sub(r"\bCLASH\b", clashes[0] if clashes else "CLASH", line)

    def _keys(self) -> list[str]:
        """The two letters of pieces that are packed and not sold."""
        with open_workshop(self.desk.shop, create=False) as shop:
            rows = shop.conn.execute(
                "SELECT key FROM outing_piece JOIN piece ON piece.code = outing_piece.piece"
                " WHERE state = 'packed' AND stage = 'ready' ORDER BY piece"
            ).fetchall()
        return [str(key) for (key,) in rows]


def run_page(name: str, folder: Path, before: tuple[str, ...]) -> Iterator[tuple[str, Told]]:
    """
    Type every command of a page, and give what each told.

    Args:
        name: The page's file name.
        folder: With the reader's workshop and files in it.
        before: Command lines that the page takes for granted.
    """
    desk = Desk(folder, clock=SteppingClock(_DAY))
    desk.entropy = seeded_entropy(2)  # the first seed's were used up by the workshop
    reader = Reader(desk)
    for line in before:
        told = reader.type_line(line)
        assert told.code == 0, f"{line}: {told.err}"
    text = (HOWTO / name).read_text(encoding="utf-8")
    save_files(text, folder)
    for line in blocks_of(text):
        words = line.removeprefix("salvage ")
        if not words.startswith(ELSEWHERE) and "--watch" not in words:
            yield line, reader.type_line(line)


_DAY = datetime(2026, 11, 28, 9, 0, tzinfo=UTC)

# What every reader has done before: the tutorial's work, on three boards.
_BASE = (
    "setup --device C --name 'Tidewrack Workshop' --operator Maren",
    (
        "dropoff add --donor 'Kelpie Point Planetarium' --contents 'a star projector' --boards 14"
        " --weight 6.2kg --naming described --described-as 'a planetarium' --date 2026-05-02"
    ),
    (
        "board add DC0005X --type expansion-card --maker Orrery --model X2 --date-code 9845"
        " --size 120x80 --count 3"
    ),
    "board clear BC0003H --absent all-open --how 'lamp and mirror'",
    "shape add tern tern.svg",
    "shape add kite kite.svg",
    "shape add lighthouse lighthouse.svg",
    "cut BC0003H --shape circle --width 20 --at 20,20",
    "cut BC0003H --shape circle --width 20 --at 50,20",
)


def lay_out(folder: Path) -> None:
    """A workshop and a table of files as the pages take them for granted."""
    from demo_db.pictures import board_photo

    for shape in (DOCS.parent / "demo_db" / "shapes").glob("*.svg"):
        shutil.copy(shape, folder / shape.name)
    shutil.copy(folder / "tern.svg", folder / "rowan.svg")
    photo = board_photo(seed=7, width_mm=120, height_mm=80, mask="green", side="front").jpeg
    for name in ("holder.jpg", "front.jpg", "screen.jpg"):
        (folder / name).write_bytes(photo)
    (folder / "stick").mkdir()
    (folder / "declaration.pdf").write_bytes(b"%PDF-1.7 declaration")
    (folder / "county.csv").write_text(
        "slug,topic,jurisdiction,subject,operator,value,unit,effective,source\n"
        "lead-in-dust,exposure,Fjord County,lead in dust,<=,30,ug/m3,2026-01-01,leaflet\n",
        encoding="utf-8",
    )
    reader = Reader(Desk(folder))
    for line in _BASE:
        told = reader.desk.run(line)
        assert told.code == 0, f"{line}: {told.err}"


def main() -> None:
    """Print what every command of the pages tells, for whoever mends a page."""
    import sys
    import tempfile

    from tests.docs.test_howto import BEFORE

    for name in sys.argv[1:] or BEFORE:
        with tempfile.TemporaryDirectory() as folder:
            lay_out(Path(folder))
            print(f"=== {name}")
            for line, told in run_page(name, Path(folder), BEFORE[name]):
                print(f"[{told.code}] {line}")
                if told.code:
                    print("      " + told.err.replace("\n", "\n      "))


if __name__ == "__main__":
    main()
