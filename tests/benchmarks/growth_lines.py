"""
A command line for every command, with what its work may grow with.

``ONE`` looks one thing up, ``PAGE`` shows ten or so, ``SOME`` shows things that are few beside
boards and pieces (orders, outings, containers), ``ALL`` answers over the whole record. The first
two may not grow with the workshop; the others no faster than what they answer over.
"""

from __future__ import annotations

from typing import NamedTuple

ONE, PAGE, SOME, ALL = "one", "page", "some", "all"


class Line(NamedTuple):
    """
    One command line.

    Args:
        words: In braces stand the names of things: ``{board}``, ``{piece}``.
        grows: What its work may grow with.
    """

    words: str
    grows: str


LINES = (
    Line("--help", ONE),
    Line("next", SOME),
    Line("history {board}", ONE),
    Line("history {piece}", ONE),
    Line("trace {piece}", ONE),
    Line("trace {board}", ONE),
    Line("trace {article}", ONE),
    Line("journal", PAGE),
    Line("board show {board}", ONE),
    Line("board show {mistyped}", ONE),
    Line("board list", PAGE),
    Line("board list --most 10 --json", PAGE),
    Line("board free {board}", ONE),
    Line("board area {board}", ONE),
    Line("board clear {board} --seen coin-cell --dry-run", ONE),
    Line("board move {board} 'shelf 1' --dry-run", ONE),
    Line("board lead {board} assumed-leaded --dry-run", ONE),
    Line("board weigh {board} 120g --dry-run", ONE),
    Line("board retire {board} --reason broken --dry-run", ONE),
    Line("board add {dropoff} --type motherboard --size 100x80 --dry-run", ONE),
    Line("board map {board} --out map.png --force", ONE),
    Line("board keepout {board} '250,200 260,210 crack' --dry-run", ONE),
    Line("board copper {board} --layers 4 --dry-run", ONE),
    Line("piece show {piece}", ONE),
    Line("piece list", PAGE),
    Line("piece stage {unsold} ready --dry-run", ONE),
    Line("piece price {piece} 18 --dry-run", ONE),
    Line("piece weigh {piece} 4g --dry-run", ONE),
    Line("piece sell {unsold} --price 18 --dry-run", ONE),
    Line("piece return {sold} --reason trial --dry-run", ONE),
    Line("gate show {piece}", ONE),
    Line("gate audience {unsold} adult --reason trial --dry-run", ONE),
    Line("card print {piece} --out card.pdf --force --dry-run", ONE),
    Line("card designs", SOME),
    Line("price show {piece}", ONE),
    Line("article list", PAGE),
    Line("material list", SOME),
    Line("material add sealant varnish --dry-run", ONE),
    Line("material use {batch} --piece {unsold} --dry-run", ONE),
    Line("material show {batch}", ONE),
    Line("assay list", SOME),
    Line("dropoff show {dropoff}", ONE),
    Line("dropoff list", PAGE),
    Line("dropoff add --donor desk --contents 'a box' --dry-run", ONE),
    Line("dropoff receipt {dropoff} --out r.pdf --force --dry-run", ONE),
    Line("dropoff search {dropoff} 'none found' --dry-run", ONE),
    Line("correct dropoff {dropoff} --contents boxes --why typo --dry-run", ONE),
    Line("donor list", SOME),
    Line("donor naming {donor} anonymous --how asked --dry-run", ONE),
    Line("donor forget {donor} --reason asked --yes --dry-run", ONE),
    Line("custody show {dropoff}", ONE),
    Line("place list", SOME),
    Line("photo {board} tern.png --dry-run", ONE),
    Line("order list", SOME),
    Line("order show {order}", ONE),
    Line("order cancel {order} --reason changed --dry-run", ONE),
    Line("order take circle@20:2 --customer wren --dry-run", ONE),
    Line("order quote {order} --each circle@20=18 --dry-run", ONE),
    Line("outing plan Fair 2030-05-04 --dry-run", ONE),
    Line("outing pack {outing} {unsold} --dry-run", ONE),
    Line("outing list", ALL),
    Line("outing show {outing}", ONE),
    Line("sales list", PAGE),
    Line("sales show {slip}", ONE),
    Line("sales totals", ALL),
    Line("sales report", ALL),
    Line("export sales --out sales.csv --force", ALL),
    Line("waste list", SOME),
    Line("waste show {container}", ONE),
    Line("waste put {container} trimmings --weight 20g --dry-run", ONE),
    Line("waste open offcuts --dry-run", ONE),
    Line("waste close {container} --dry-run", ONE),
    Line("consign --receiver yard --item offcuts:2kg --dry-run", ONE),
    Line("scan {board}", ONE),
    Line("report donor {donor} --out d.pdf --force --dry-run", ALL),
    Line("report hazards --out h.pdf --force --dry-run", ALL),
    Line("report year 2026 --out y.pdf --force --dry-run", ALL),
    Line("price rates", SOME),
    Line("wording list", SOME),
    Line("facts own", SOME),
    Line("duties", ONE),
    Line("hazards", ONE),
    Line("recall list", SOME),
    Line("recall show {recall}", ONE),
    Line("recall open {board} --reason trial --dry-run", ONE),
    Line("plan list", SOME),
    Line("reserve {board} --shape circle --width 12 --at 200,100 --for wren --dry-run", ONE),
    Line("handover {board} --out h.svg --force", ONE),
    Line("cut {board} --shape circle --width 12 --at 200,100 --override trial --dry-run", ONE),
    Line("label {board} --out label.pdf --dry-run --force", ONE),
    Line("stocktake start --dry-run", ALL),
    Line("device list", SOME),
    Line("device clashes", ALL),
    Line("alert list", SOME),
    Line("inbox list", SOME),
    Line("mat list", SOME),
    Line("tool list", SOME),
    Line("printer list", SOME),
    Line("shape list", SOME),
    Line("setup", ONE),
    Line("undo --yes --dry-run", ALL),
    Line("correct board {board} --maker Harbour --why typo --dry-run", ONE),
    Line("mass", ALL),
    Line("mass --year 2026", ALL),
    Line("fits circle --width 20 --no-input", ALL),
    Line("export csv tables --force", ALL),
    Line("export all record", ALL),
    Line("device export --out bundle.zip --force", ALL),
    Line("export prov {piece} --out p.json --force", ONE),
    Line("export epcis {piece} --out e.json --force", ONE),
    Line("check", ALL),
    Line("backup copy", ALL),
    Line("rebuild", ALL),
)
"""In the order of the job."""
