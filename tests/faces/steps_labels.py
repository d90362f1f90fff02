"""The job at the printer: shelves named, label stock and a printer described and measured."""

from __future__ import annotations

from salvage.ids import Code
from salvage.paper.correction import Frame
from salvage.paper.sheet import TypedSheet, parse_sheet
from salvage.work import labels, places, printers
from salvage.work.workshop import Workshop
from tests.faces.step import Memory, Step


def _name_place(shop: Workshop, memory: Memory) -> Code:
    return places.name_places(shop, names=["shelf A3"])[0].code


def _describe_stock(shop: Workshop, memory: Memory) -> None:
    typed = TypedSheet("63.5x33.9", page="a4", grid="3x8", gap="2.5x0")
    printers.describe_stock(shop, stock=parse_sheet("bins", typed))


def _check_printer(shop: Workshop, memory: Memory) -> None:
    printers.check_printer(
        shop,
        printer=printers.find_printer(shop, "counter"),
        read=Frame(20.4, 19.7, 170.3, 257.1),
    )


def _draw_labels(shop: Workshop, memory: Memory) -> None:
    labels.draw_labels(
        shop,
        codes=[memory["shelf"]],
        stock=printers.find_stock(shop, "57x32mm"),
        look=labels.LabelLook(symbol="data-matrix", printer=printers.chosen_printer(shop)),
    )


STEPS = (
    Step("name_places", _name_place, 'place add "shelf A3"', made="shelf"),
    Step(
        "describe_stock",
        _describe_stock,
        "printer stock bins --page a4 --grid 3x8 --label 63.5x33.9 --gap 2.5x0",
    ),
    Step(
        "describe_printer",
        lambda shop, memory: printers.describe_printer(shop, name="counter", dpi=300, stock="bins"),
        "printer set counter --dpi 300 --stock bins",
    ),
    Step(
        "check_printer",
        _check_printer,
        "printer check counter --left 20.4 --top 19.7 --width 170.3 --height 257.1",
    ),
    Step(
        "draw_labels",
        _draw_labels,
        "label {shelf} --stock 57x32mm --symbol data-matrix --out {out}/shelf.png",
    ),
)
