"""Boards drawn side by side."""

from __future__ import annotations

import io
import xml.etree.ElementTree as ET
from datetime import date

from PIL import Image

from salvage.paper.board_sheet import DrawnBoard, draw_boards, draw_png
from salvage.records.region import Region

EDGE = Region(((0, 0), (120_000, 0), (120_000, 80_000), (0, 80_000)))
HOLE = Region(((10_000, 10_000), (30_000, 10_000), (30_000, 30_000), (10_000, 30_000)))


def _drawn(name: str = "BC0002J") -> DrawnBoard:
    return DrawnBoard(name, "card <&> more", EDGE, {"usable": [EDGE]}, {"7": HOLE})


def test_a_drawing_is_sound_and_in_true_millimetres() -> None:
    """It parses as XML, its size is in mm, and text from people is text."""
    drawing = draw_boards([_drawn(), _drawn("BC0003K")], title="order <12>")
    root = ET.fromstring(drawing.svg)
    words = [node.text for node in root.iter("{http://www.w3.org/2000/svg}text")]

    assert root.get("width") == f"{drawing.width_mm:g}mm"
    assert {"order <12>", "card <&> more", "7", "BC0003K", "planned", "usable"} <= set(words)


def test_the_key_names_only_what_occurs() -> None:
    """Without a plan there is nothing planned to explain."""
    bare = DrawnBoard("BC0002J", "", EDGE, {"usable": [EDGE]})

    assert b"planned" not in draw_boards([bare], title="before").svg


def test_the_same_drawing_as_png_keeps_its_proportion() -> None:
    """Width to height as in the drawing, and no more than 2,400 pixels long."""
    drawing = draw_boards([_drawn()], title="order 12")
    with Image.open(io.BytesIO(draw_png(drawing, made_on=date(2026, 5, 4)))) as picture:
        wide, high = picture.size

    assert max(wide, high) <= 2400
    assert abs(wide / high - drawing.width_mm / drawing.height_mm) < 0.01
