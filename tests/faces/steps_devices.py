"""A second device joins, holds a place that was held at home as well, and is merged."""

from __future__ import annotations

import sqlite3
from pathlib import Path

from salvage.ids import Code
from salvage.work import clashes, cutting, devices, record
from salvage.work.first_outline import outline_of_size
from salvage.work.library import choose_shape
from salvage.work.workshop import Workshop, open_workshop
from tests.faces.step import Memory, Step

_MADE: dict[str, bytes] = {}


def _folder(shop: Workshop) -> Path:
    return shop.folder.parent / "tablet"


def _record(shop: Workshop, memory: Memory) -> Code:
    outline = outline_of_size("100x80")
    new = record.NewBoard(
        memory["again"], "other", outline=outline.region, outline_from=outline.outline_from
    )
    return record.record_boards(shop, new=new)[0].code


def _add(shop: Workshop, memory: Memory) -> None:
    _MADE["tablet"] = devices.add_device(shop, name="fair tablet").data


def _begin(shop: Workshop, memory: Memory) -> None:
    def open_shop(folder: Path, conn: sqlite3.Connection) -> Workshop:
        return Workshop(folder, conn, clock=shop.clock, entropy=shop.entropy, by="Maren")

    data = _MADE["tablet"]
    devices.begin_device(_folder(shop), data=data, name="tablet.zip", open_shop=open_shop)


def _reserve(shop: Workshop, memory: Memory) -> None:
    spot = cutting.Spot(choose_shape(shop, name="circle", width_mm=20), 40_000, 40_000)
    cutting.reserve(shop, board=memory["lent"], spot=spot, for_whom="order 51")


def _reserve_there(shop: Workshop, memory: Memory) -> None:
    with open_workshop(_folder(shop), clock=shop.clock, entropy=shop.entropy, by="Maren") as there:
        _reserve(there, memory)
        _MADE["back"] = devices.write_for_others(there).data


def _merge(shop: Workshop, memory: Memory) -> None:
    devices.merge_bundle(shop, data=_MADE["back"], name="back.zip")


def _find(shop: Workshop, memory: Memory) -> str:
    (clash,) = clashes.list_clashes(shop)
    return clash.name


def _settle(shop: Workshop, memory: Memory) -> None:
    clashes.settle_clash(shop, clash=memory["clash"], how="both want one piece")


_RESERVE = 'reserve {lent} --shape circle --width 20 --at 40,40 --for "order 51"'

STEPS = (
    Step("record_boards", _record, "board add {again} --type other --size 100x80", "lent"),
    Step("add_device", _add, 'device add "fair tablet" --out {out}/tablet.zip'),
    Step("begin_device", _begin, "device start {out}/tablet.zip --shop {out}/tablet"),
    Step("reserve", _reserve, _RESERVE),
    Step("reserve", _reserve_there, f"{_RESERVE} --shop {{out}}/tablet"),
    Step(
        "merge_bundle",
        lambda shop, memory: None,  # the bundle is written in the step before
        "device export --out {out}/back.zip --shop {out}/tablet",
    ),
    Step("merge_bundle", _merge, "device merge {out}/back.zip"),
    Step("settle_clash", _find, "device clashes", "clash"),
    Step("settle_clash", _settle, 'device settle {clash} --how "both want one piece"'),
)
