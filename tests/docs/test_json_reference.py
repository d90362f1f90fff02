"""The reference of JSON fields names every field that the command line gives."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.desk import Desk, cut_piece

PAGE = Path(__file__).resolve().parents[2] / "docs" / "reference" / "json.md"

# Sections whose fields appear in the answers of other commands too.
OTHERS = (
    "assay list",
    "board list",
    "board clear",
    "custody describe",
    "piece list",
    "cut",
    "trace",
    "reserve",
)

# Keys below these are data of other sorts: layers by name, an event's own fields.
OPEN = frozenset({"layers_mm2", "data", "fields"})


def fields_of(value: Any) -> Iterator[str]:
    """Every field name in a JSON value, at any depth."""
    if isinstance(value, list):
        for item in value:
            yield from fields_of(item)
    elif isinstance(value, dict):
        for key, item in value.items():
            yield key
            if key not in OPEN:
                yield from fields_of(item)


def section(title: str) -> str:
    """The text of the section whose heading names a command."""
    for part in PAGE.read_text(encoding="utf-8").split("\n### ")[1:]:
        heading, _, text = part.partition("\n")
        if f"`{title}`" in heading:
            return text
    raise AssertionError(f"no section for {title}")


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory) -> Desk:
    """A workshop with one of everything."""
    found = Desk(tmp_path_factory.mktemp("shop"))
    piece = cut_piece(found)
    board = found.do("board list --plain").first
    found.do(f"board keepout {board} '0,0 9,9 port'")
    found.do(f"article make {cut_piece(found)} {cut_piece(found)} --name pair")
    found.do(f"gate accept {piece} sealing --reason x")
    found.do(
        f"assay add {board} --part solder --analyte lead --value '37 %' --method xrf --instrument x"
    )
    found.do(f"piece sell {piece} --price 9")
    found.do("consign --receiver a --contents b --weight 3g")
    found.do("tool add spiral --kind bit")
    bin_ = found.code("waste open lithium-batteries")
    found.do(f"waste put {bin_} cell --weight 3g --from {board}")
    bin_ = found.code("waste open metal")
    found.do(f"waste put {bin_} frame --weight 9g")
    found.do(f"consign --receiver a --container {bin_}")
    found.do("plan order circle@15:1 --for shelf --seconds 0")
    found.do(f"recall open {piece} --reason x")
    drop_off = found.do("dropoff list --plain").first
    found.do(f"custody search {drop_off} 'none found' --scope crates")
    found.do(f"custody describe {drop_off} 1 --serial 7A-113")
    found.do(f"custody hand {drop_off} 1 carrier --to Ilva")
    found.do(
        f"custody sanitise {drop_off} 3 --method purge --technique crypto-erase --tool a --place b"
        " --verify full --verified-by c --title d --contact e --result repeat"
    )
    found.do("facts add material oak name=oak value=0.7 unit=g/cm3 source=scales")
    found.do("alert raise mercury-tilt --type expansion-card --reason x --source y")
    for line in found.do("board list --state held --plain").out.splitlines():
        found.do(f"board clear {line.split()[0]} --absent mercury-tilt")
    found.do(f"board evidence {board} coin-cell --note empty")
    return found


@pytest.mark.parametrize(
    "command",
    [
        "setup",
        "dropoff list",
        "dropoff show",
        "custody show",
        "custody describe",
        "donor list",
        "assay list",
        "gate show",
        "duties",
        "board lead",
        "board list",
        "board clear",
        "scan",
        "shape list",
        "piece list",
        "article list",
        "trace",
        "history",
        "journal",
        "consign",
        "mass",
        "mass board",
        "waste list",
        "waste kinds",
        "wording list",
        "tool list",
        "recall list",
        "check",
        "hazards",
        "formats",
        "cut",
        "reserve",
        "undo",
        "plan order",
        "plan list",
        "plan show",
        "plan cut",
        "fits",
        "board area",
        "shape show",
        "board show",
        "board evidence",
        "board free",
        "alert list",
        "facts limits",
        "facts materials",
        "facts removal",
        "facts capacitor",
        "facts date",
        "facts dust",
        "facts own",
    ],
)
def test_every_field_is_described(desk: Desk, command: str) -> None:
    """Who writes a script finds each field on the page, under its command."""
    board = desk.do("board list --state all --plain").first
    plan = desk.do("plan list --all --plain").first
    drop_off = desk.do("dropoff list --plain").first
    piece = desk.do("piece list --state all --plain").first
    words = {
        "gate show": f"gate show {piece}",
        "board lead": f"board lead {board}",
        "dropoff show": f"dropoff show {drop_off}",
        "custody show": f"custody show {drop_off}",
        "custody describe": f"custody describe {drop_off} 1 --serial 7A-114 --dry-run",
        "board clear": f"board clear {board}",
        "scan": f"scan {board}",
        "trace": f"trace {board}",
        "history": f"history {board}",
        "mass board": f"mass {board}",
        "cut": f"cut {board} --shape circle --width 15 --at 100,60 --dry-run",
        "reserve": f"reserve {board} --shape circle --width 15 --at 100,60 --for x --dry-run",
        "undo": "undo --dry-run --yes",
        "plan order": "plan order circle@15:1 --for x --seconds 0 --dry-run",
        "plan list": "plan list --all",
        "plan show": f"plan show {plan}",
        "plan cut": f"plan cut {plan} --dry-run",
        "fits": f"fits circle --width 15 --board {board}",
        "board area": f"board area {board}",
        "shape show": "shape show circle --width 15",
        "board show": f"board show {board}",
        "board evidence": f"board evidence {board} coin-cell --note again --dry-run",
        "board free": f"board free {board}",
        "facts date": "facts date 0626",
        "facts dust": "facts dust 100",
    }
    told = desk.run(f"{words.get(command, command)} --json")
    title = command.removesuffix(" board") if command.startswith("mass") else command
    described = set(re.findall(r"`([^`]+)`", section(title)))
    for other in OTHERS:
        described |= set(re.findall(r"`([^`]+)`", section(other)))

    assert set(fields_of(told.value)) - described == set()


def test_a_missing_field_is_caught() -> None:
    """The comparison looks at fields of any depth."""
    assert set(fields_of([{"a": [{"b": 1}], "data": {"c": 2}}])) == {"a", "b", "data"}
