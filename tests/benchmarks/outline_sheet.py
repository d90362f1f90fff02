"""
Contact sheets: photo, squared-up board with true and measured edge, and the richness hint.
"""

from __future__ import annotations

from io import BytesIO
from typing import TYPE_CHECKING

from salvage.errors import SalvageError
from salvage.photo.measure.mat import PrintScale, standard_mat
from salvage.photo.measure.measuring import measure_photo
from salvage.photo.richness import richness_map
from salvage.photo.richness_drawing import draw_richness
from tests.benchmarks.outline_score import judge_outline
from tests.benchmarks.photo_shots import make_case

if TYPE_CHECKING:
    from collections.abc import Iterable

    from PIL import Image

_CELL_PX = (460, 345)
_WORDS_PX = 18


def draw_sheet(seeds: Iterable[int], *, megapixels: int) -> bytes:
    """
    One row for each seed, as a PNG.

    Args:
        seeds: Of good cases.
        megapixels: Size of the photos.
    """
    from PIL import Image

    rows = [_row(seed, megapixels) for seed in seeds]
    width, height = 4 * _CELL_PX[0], _CELL_PX[1] + _WORDS_PX
    sheet = Image.new("RGB", (width, height * len(rows)), (24, 24, 24))
    for place, (words, pictures) in enumerate(rows):
        for column, picture in enumerate(pictures):
            sheet.paste(picture, (column * _CELL_PX[0], place * height + _WORDS_PX))
        _write(sheet, words, place * height)
    out = BytesIO()
    sheet.save(out, "PNG")
    return out.getvalue()


def _row(seed: int, megapixels: int) -> tuple[str, list[Image.Image]]:
    case = make_case(seed, megapixels=megapixels)
    first, second = case.photos()
    layout = case.board.layout
    words = f"{seed} {layout.shape} {layout.mask} tilt {case.first.camera.tilt_deg:.0f}"
    try:
        found = measure_photo(
            first,
            mats=[standard_mat("a4")],
            second_photo=second,
            print_scale=PrintScale(*case.scene.print_scale),
        )
    except SalvageError as told:
        return f"{words}: {told}", [_small(first)]
    score = judge_outline(found, case.board)
    words += f": mean {score.mean_mm:.3f} max {score.max_mm:.2f} mm, area {score.area_error:+.2%}"
    words += f", holes {score.holes.found} of {score.holes.true}, {score.holes.false} false"
    scale = found.pictures.squared_px_per_mm
    hint = richness_map(found.squared_png, px_per_mm=scale, outline=found.outline)
    drawn = draw_richness(found.squared_png, hint)
    pictures = (first, found.overlay_jpeg, found.squared_png, drawn)
    return words, [_small(picture) for picture in pictures]


def _small(data: bytes) -> Image.Image:
    from PIL import Image, ImageOps

    with Image.open(BytesIO(data)) as image:
        return ImageOps.contain(ImageOps.exif_transpose(image).convert("RGB"), _CELL_PX)


def _write(sheet: Image.Image, words: str, top: int) -> None:
    from PIL import ImageDraw

    ImageDraw.Draw(sheet).text((4, top + 2), words, fill=(255, 255, 255))
