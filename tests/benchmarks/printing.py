"""
Time of printed cards: one from a cold start, a hundred on sheets, and the same by a second library.

``python -m tests.benchmarks.printing --json``

The baseline is reportlab, which draws the same business card with the same words, the same photo,
symbol and sizes, without fitting anything: it is given the sizes that fit.
"""

from __future__ import annotations

import argparse
import io
import os
import resource
import statistics
import subprocess
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from salvage.ids import Code
from salvage.paper.card import StoryCard
from salvage.work.papers import compose_card
from salvage.work.photos import NewPhoto, add_photo
from salvage.work.pieces import view_piece
from salvage.work.workshop import Workshop
from tests.bench import add_cleared_board, cut_circle, make_shop
from tests.benchmarks.timing import interleave, report, show

_FONTS = Path(__file__).parents[2] / "salvage" / "paper" / "fonts"
_COUNT = 100
_PER_BOARD = 3
_MM = 72 / 25.4


def _phone_photo(number: int) -> bytes:
    """A photo of three million pixels, no two alike, as busy as a photo of a board."""
    from PIL import Image, ImageDraw, ImageFilter

    size = (2048, 1536)
    picture = Image.effect_noise((512, 384), 60).resize(size).convert("RGB")
    draw = ImageDraw.Draw(picture)
    green = (20 + number % 40, 90 + number % 60, 60)
    draw.ellipse((600, 350, 1450, 1200), fill=green, outline="white", width=8)
    for line in range(12):
        top = 420 + 60 * line
        draw.line((700 + 7 * (number % 30), top, 1350, top), fill="gold", width=4)
    file = io.BytesIO()
    picture.filter(ImageFilter.GaussianBlur(1)).save(file, "JPEG", quality=90)
    return file.getvalue()


def _stock(shop: Workshop) -> list[Code]:
    """A hundred pieces with a photo each."""
    pieces: list[Code] = []
    while len(pieces) < _COUNT:
        board = add_cleared_board(shop).code
        for place in range(_PER_BOARD):
            made = cut_circle(shop, board, 18 + 33 * place, 40).piece
            assert made is not None
            add_photo(shop, code=made.code, new=NewPhoto(_phone_photo(len(pieces)), "a.jpg"))
            pieces.append(made.code)
    return pieces[:_COUNT]


def draw_baseline(cards: Sequence[StoryCard]) -> bytes:
    """The business cards, nine on a sheet of A4, front and back, by reportlab."""
    from reportlab import rl_config
    from reportlab.lib.pagesizes import A4, landscape
    from reportlab.lib.styles import ParagraphStyle
    from reportlab.lib.utils import ImageReader
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont
    from reportlab.pdfgen.canvas import Canvas
    from reportlab.platypus import Paragraph

    rl_config.useA85 = 0  # photos as they are, not spelt out in letters
    for name in ("NotoSans-Regular", "NotoSans-Bold"):
        pdfmetrics.registerFont(TTFont(name, str(_FONTS / f"{name}.ttf")))
    style = ParagraphStyle("back", fontName="NotoSans-Regular", fontSize=7, leading=9)
    head = ParagraphStyle("front", fontName="NotoSans-Bold", fontSize=11, leading=13)
    file = io.BytesIO()
    canvas = Canvas(file, pagesize=landscape(A4), invariant=1)
    for start in range(0, len(cards), 9):
        chunk = cards[start : start + 9]
        for side in ("front", "back"):
            for n, card in enumerate(chunk):
                column = n % 3 if side == "front" else 2 - n % 3
                x, y = (15 + 91 * column) * _MM, (12 + 61 * (2 - n // 3)) * _MM
                if side == "front":
                    photo = ImageReader(io.BytesIO(card.photo))
                    canvas.drawImage(photo, x, y, 51 * _MM, 38 * _MM)
                    _flow(canvas, Paragraph(card.headline, head), x + 55 * _MM, y + 30 * _MM, 26)
                    _draw_symbol(canvas, card.code, x + 55 * _MM, y + 8 * _MM, 16.5 * _MM)
                    canvas.setFont("NotoSans-Bold", 8)
                    canvas.drawString(x + 55 * _MM, y + 4 * _MM, card.code)
                else:
                    words = "<br/>".join((*card.story, *card.origin, *card.care))
                    _flow(canvas, Paragraph(words, style), x + 5 * _MM, y + 4 * _MM, 75)
            canvas.showPage()
    canvas.save()
    return file.getvalue()


# The library's own types are in a package of their own, so its things are Any here.
def _flow(canvas: Any, words: Any, x: float, y: float, width_mm: float) -> None:
    words.wrapOn(canvas, width_mm * _MM, 200)
    words.drawOn(canvas, x, y)


def _draw_symbol(canvas: Any, code: str, x: float, y: float, side: float) -> None:
    from salvage.codes.draw import draw_qr

    rows = draw_qr(code).rows
    module = side / len(rows)
    path = canvas.beginPath()
    for down, row in enumerate(rows):
        for across, is_dark in enumerate(row):
            if is_dark:
                path.rect(x + across * module, y + side - (down + 1) * module, module, module)
    canvas.drawPath(path, stroke=0, fill=1)


def _cold_ms(words: Sequence[str], folder: Path) -> float:
    """Processor time of a whole process, in milliseconds."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    environment = {**os.environ, "SALVAGE_SHOP": str(folder)}
    subprocess.run(
        [sys.executable, "-m", "salvage", *words], env=environment, check=True, capture_output=True
    )
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return (after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime) * 1000


def run(rounds: int) -> dict[str, object]:
    """Time cards of a workshop with a hundred pieces; ours are of whole processes."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        with make_shop(folder) as shop:
            pieces = _stock(shop)
            cards = [
                compose_card(shop, view_piece(shop.conn, piece), photo_px=638) for piece in pieces
            ]
        times = interleave({"100 cards, reportlab": lambda: draw_baseline(cards)}, rounds=rounds)
        many = [*pieces, "--design", "pocket", "--on", "a4", "--out", str(folder / "a.pdf")]
        taken: dict[str, list[float]] = {"start": [], "one": [], "new": [], "ready": []}
        for turn in range(rounds):
            (folder / "cache.db").unlink(missing_ok=True)
            one = ["card", pieces[turn], "--out", str(folder / "a.pdf"), "--force"]
            taken["start"].append(_cold_ms(["--version"], folder))
            taken["one"].append(_cold_ms(one, folder))
            taken["new"].append(_cold_ms(["card", *many, "--force", "--dry-run"], folder))
            taken["ready"].append(_cold_ms(["card", *many, "--force", "--dry-run"], folder))
    middle = {name: statistics.median(values) for name, values in taken.items()}
    times["start of the program"] = middle["start"]
    times["one A6 card beyond the start"] = middle["one"] - middle["start"]
    times["100 cards beyond the start, photos new"] = middle["new"] - middle["start"]
    times["100 cards beyond the start, photos ready"] = middle["ready"] - middle["start"]
    return report("printed cards", times, baseline="100 cards, reportlab", more={"rounds": rounds})


def _main() -> None:
    parser = argparse.ArgumentParser(description="Time of printed cards.")
    parser.add_argument("--json", action="store_true", help="print JSON with stable keys")
    parser.add_argument("--rounds", type=int, default=5, help="timed rounds of each task")
    arguments = parser.parse_args()
    show(run(arguments.rounds), as_json=arguments.json)


if __name__ == "__main__":
    _main()
