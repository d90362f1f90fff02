from __future__ import annotations

import itertools
import math
from io import BytesIO

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image, ImageChops, ImageStat

from salvage.errors import BadFile, BadValue
from salvage.photo.map_styles import STYLES, draw_pattern
from salvage.photo.overlay import Mark, draw_map
from salvage.records.region import Region, Ring


def _ring(cx: float, cy: float, radius: float, *, hole: bool = False) -> Ring:
    turns = [2 * math.pi * step / 40 for step in range(40)]
    ring = tuple(
        (round(1000 * (cx + radius * math.cos(t))), round(1000 * (cy + radius * math.sin(t))))
        for t in turns
    )
    return ring[::-1] if hole else ring


def _box(left: float, bottom: float, width: float, height: float) -> Region:
    west, south, east, north = (
        round(1000 * v) for v in (left, bottom, left + width, bottom + height)
    )
    return Region(((west, south), (east, south), (east, north), (west, north)))


_BOARD = Region(_box(0, 0, 120, 80).outer, (_ring(10, 70, 4, hole=True),))


def _map(*marks: Mark, picture: bytes | None = None, legend: bool = False) -> Image.Image:
    png = draw_map(_BOARD, marks, picture_png=picture, px_per_mm=5, legend=legend)
    return Image.open(BytesIO(png)).convert("RGB")


def _spot(image: Image.Image, x_mm: float, y_mm: float) -> Image.Image:
    """The 6 mm round a place of the board; the map has a margin, found by its dark edge."""
    left, top = _board_corner(image)
    x, y = left + x_mm * 5, top + (80 - y_mm) * 5
    return image.crop((round(x - 15), round(y - 15), round(x + 15), round(y + 15)))


def _board_corner(image: Image.Image) -> tuple[float, float]:
    box = image.convert("L").point(lambda level: 255 * (level < 80)).getbbox()
    edge_px = 2
    return (box[0] + edge_px, box[1] + edge_px) if box else (0.0, 0.0)


def _mean(image: Image.Image) -> float:
    return ImageStat.Stat(image.convert("L")).mean[0]


def _photo() -> bytes:
    out = BytesIO()
    Image.new("RGB", (600, 400), (20, 110, 50)).save(out, "PNG")
    return out.getvalue()


def test_the_same_board_gives_the_same_bytes() -> None:
    """A printed map can be told from a changed one by its hash."""
    marks = [Mark("usable", _BOARD), Mark("this", _box(50, 30, 20, 20), "PC0002E")]

    drawings = {
        draw_map(_BOARD, marks, picture_png=_photo(), px_per_mm=4, legend=True, title="Map")
        for _ in range(2)
    }

    assert len(drawings) == 1


def test_y_runs_upwards() -> None:
    """A cut near the lower edge of the board is drawn near the lower edge."""
    image = _map(Mark("kerf", _box(50, 5, 20, 10)))

    assert _mean(_spot(image, 60, 10)) < 100
    assert _mean(_spot(image, 60, 70)) > 200


def test_a_hole_of_a_region_stays_empty() -> None:
    """Kerf is a ring: the piece inside it is not dust."""
    ring = Region(_ring(60, 40, 25), (_ring(60, 40, 15, hole=True),))

    image = _map(Mark("kerf", ring))

    assert _mean(_spot(image, 60, 40)) > 200
    assert _mean(_spot(image, 40, 40)) < 100


def test_a_hole_of_the_board_shows_paper() -> None:
    """A mounting hole is no board."""
    image = _map(Mark("usable", _box(30, 0, 90, 80)))
    left, top = _board_corner(image)

    assert image.getpixel((round(left + 10 * 5), round(top + 10 * 5))) == (255, 255, 255)


_PATTERNED = sorted(set(STYLES) - {"outline", "this"})


@pytest.mark.parametrize(("one", "other"), list(itertools.combinations(_PATTERNED, 2)))
def test_styles_differ_without_any_colour(one: str, other: str) -> None:
    """On a grey printer each region is told by its pattern alone."""
    size = (120, 120)
    first, second = (draw_pattern(STYLES[name].pattern, size, 24.0) for name in (one, other))
    ink = max(ImageStat.Stat(picture).mean[0] for picture in (first, second))

    different = ImageStat.Stat(ImageChops.difference(first, second)).mean[0]

    assert different > 0.5 * ink


def test_rising_and_falling_hatches_are_mirror_images() -> None:
    """Cut and reserved are told apart by the slant of their lines."""
    rising = draw_pattern("rising", (96, 96), 20.0)
    falling = draw_pattern("falling", (96, 96), 20.0)

    def slant(picture: Image.Image) -> int:
        shifted = ImageChops.offset(picture, 3, 3)
        return round(ImageStat.Stat(ImageChops.difference(picture, shifted)).mean[0])

    assert slant(falling) < slant(rising)


def test_this_place_is_drawn_last_and_loudest() -> None:
    """Wherever it stands in the list, the place a piece came from lies on top."""
    this, rest = Mark("this", _box(50, 30, 20, 20), "here"), Mark("cut", _box(40, 20, 40, 40))

    first, last = _map(this, rest), _map(rest, this)
    yellow = _spot(first, 60, 40).resize((1, 1), Image.Resampling.BOX).getpixel((0, 0))

    assert first.tobytes() == last.tobytes()
    assert isinstance(yellow, tuple)
    assert yellow[0] > 200
    assert yellow[2] < 150


def test_over_a_photo_this_place_keeps_its_colours_and_the_rest_fades() -> None:
    """The eye goes to the one place in full colour."""
    image = _map(Mark("this", _box(45, 25, 30, 30)), picture=_photo())

    assert _spot(image, 60, 40).getpixel((15, 15)) == (20, 110, 50)
    faded = _spot(image, 100, 10).getpixel((15, 15))
    assert isinstance(faded, tuple)
    assert min(faded) > 140


def test_the_photo_is_clipped_to_the_board() -> None:
    """The bench behind a board is no part of its map."""
    corner = Region(((0, 0), (120_000, 0), (0, 80_000)))
    png = draw_map(corner, [], picture_png=_photo(), px_per_mm=5, legend=False)

    image = Image.open(BytesIO(png)).convert("RGB")

    assert _spot(image, 110, 70).getpixel((15, 15)) == (255, 255, 255)
    assert _spot(image, 20, 15).getpixel((15, 15)) != (255, 255, 255)


@pytest.mark.parametrize(("width_mm", "bar_mm"), [(160.0, 50), (70.0, 50), (40.0, 10)])
@pytest.mark.parametrize("px_per_mm", [4.0, 7.5])
def test_the_scale_bar_is_true(width_mm: float, bar_mm: int, px_per_mm: float) -> None:
    """A maker lays calipers on the printed bar."""
    png = draw_map(
        _box(0, 0, width_mm, 60), [], picture_png=None, px_per_mm=px_per_mm, legend=False
    )
    grey = Image.open(BytesIO(png)).convert("L")

    # Below the board, the longest dark line is the frame of the bar; its words stand to the right.
    rows = [grey.crop((0, y, grey.width, y + 1)).tobytes() for y in range(grey.height)]
    longest = [
        max(
            (len(list(run)) for dark, run in itertools.groupby(row, lambda v: v < 140) if dark),
            default=0,
        )
        for row in rows
    ]
    board_ends = max(y for y, length in enumerate(longest) if length >= width_mm * px_per_mm)
    assert abs(max(longest[board_ends + 1 :]) - bar_mm * px_per_mm) <= 1.5


def test_a_legend_and_a_title_take_room_of_their_own() -> None:
    """Words stand beside the board, never on it."""
    bare = draw_map(
        _BOARD, [Mark("cut", _box(9, 9, 9, 9))], picture_png=None, px_per_mm=5, legend=False
    )
    full = draw_map(
        _BOARD,
        [Mark("cut", _box(9, 9, 9, 9))],
        picture_png=None,
        px_per_mm=5,
        legend=True,
        title="Board",
    )

    heights = [Image.open(BytesIO(png)).height for png in (bare, full)]

    assert heights[1] > heights[0] + 40


def test_an_endless_title_ends_within_the_sheet() -> None:
    """A note of a thousand words, with line breaks, is data and stays on one line."""
    short = draw_map(_BOARD, [], picture_png=None, px_per_mm=5, legend=False, title="x")
    long = draw_map(
        _BOARD, [], picture_png=None, px_per_mm=5, legend=False, title="long words\n" * 2000
    )

    sizes = {Image.open(BytesIO(png)).size for png in (short, long)}

    assert len(sizes) == 1


def test_a_cut_at_the_rim_may_reach_over_it() -> None:
    """Kerf along the edge runs off the board; the map shows what is on the sheet."""
    assert _mean(_spot(_map(Mark("kerf", _box(-20, 30, 40, 20))), 10, 40)) < 100


def test_an_unknown_style_is_refused() -> None:
    """Styles have names."""
    with pytest.raises(BadValue, match="'pink' is not a style"):
        draw_map(_BOARD, [Mark("pink", _BOARD)], picture_png=None, px_per_mm=5, legend=True)


@pytest.mark.parametrize("px_per_mm", [0.0, -2.0, math.nan, 900.0])
def test_a_senseless_scale_is_refused(px_per_mm: float) -> None:
    """A map is a picture that a laptop can hold."""
    with pytest.raises(BadValue, match="pixels per mm"):
        draw_map(_BOARD, [], picture_png=None, px_per_mm=px_per_mm, legend=False)


def test_a_damaged_photo_is_refused() -> None:
    """A map over a photo needs the photo."""
    with pytest.raises(BadFile):
        draw_map(_BOARD, [], picture_png=b"\x89PNG\r\n\x1a\n", px_per_mm=5, legend=False)


@settings(max_examples=25)
@given(
    style=st.sampled_from(sorted(STYLES)),
    label=st.text(max_size=30),
    places=st.lists(
        st.tuples(st.integers(-50_000, 200_000), st.integers(-50_000, 150_000)),
        min_size=3,
        max_size=8,
    ),
    px_per_mm=st.floats(0.05, 6),
    over_photo=st.booleans(),
)
def test_any_region_and_any_words_can_be_drawn(
    style: str,
    label: str,
    places: list[tuple[int, int]],
    px_per_mm: float,
    over_photo: bool,
) -> None:
    """A map never fails over a thin sliver, a far-off region or an odd label."""
    png = draw_map(
        _BOARD,
        [Mark(style, Region(tuple(places)), label)],
        picture_png=_photo() if over_photo else None,
        px_per_mm=px_per_mm,
        legend=True,
        title=label,
    )

    assert Image.open(BytesIO(png)).format == "PNG"


def test_the_arrow_touches_the_place_itself() -> None:
    """The place is a triangle; the arrow ends at its slope, not at the corner of its box."""
    triangle = Region(((20_000, 20_000), (100_000, 20_000), (100_000, 60_000)))

    image = _map(Mark("this", triangle, "PC0002E"))
    left, top = _board_corner(image)
    # The slope is at 45 mm above the middle of the widest row that is looked at; so is the tip.
    shaft = (round(left + 70.4 * 5), round(top + (80 - 48.5) * 5))

    assert image.getpixel(shaft) != _map().getpixel(shaft)
