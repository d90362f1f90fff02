"""A drawing comes out true to size, the right way up, with its holes."""

from __future__ import annotations

import math

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from salvage.errors import BadFile
from salvage.geometry.svg import one_outline, read_svg

SHEET = 'width="100mm" height="100mm" viewBox="0 0 100 100"'
KITE = '<path d="M50 10 L70 40 L50 90 L30 40 z"/>'


def drawing(body: str, sheet: str = SHEET) -> bytes:
    """A drawing in the SVG namespace, on a sheet of 100 x 100 mm unless said otherwise."""
    return f'<svg xmlns="http://www.w3.org/2000/svg" {sheet}>{body}</svg>'.encode()


def outlines_or_refusal(data: bytes) -> int | str:
    """How many outlines a drawing gives, or why it is refused."""
    try:
        return len(read_svg(data))
    except BadFile as refusal:
        return str(refusal)


@pytest.mark.parametrize(
    ("body", "area_mm2"),
    [
        ('<rect x="10" y="20" width="40" height="25"/>', 1000.0),
        ('<rect width="40" height="25" rx="5"/>', 1000 - (4 - math.pi) * 25),
        ('<circle cx="50" cy="50" r="20"/>', math.pi * 400),
        ('<ellipse cx="50" cy="50" rx="30" ry="20"/>', math.pi * 600),
        ('<polygon points="0,0 40,0 40,30"/>', 600.0),
        ('<polyline points="0,0 40,0 40,30 0,0"/>', 600.0),
        # Archimedes, Quadrature of the Parabola: four thirds of the inscribed triangle.
        ('<path d="M0 0 Q50 80 100 0 z"/>', 4 / 3 * 100 * 40 / 2),
        ('<path d="M50 30 a20 20 0 1 1 0 40 a20 20 0 1 1 0 -40 z"/>', math.pi * 400),
        ('<g transform="rotate(30 50 50) scale(.5)"><circle r="40"/></g>', math.pi * 400),
        ('<rect transform="skewX(20)" width="40" height="25"/>', 1000.0),
        ('<rect transform="matrix(0 2 -1 0 60 0)" width="20" height="25"/>', 1000.0),
    ],
)
def test_a_drawn_shape_has_its_analytic_area(body: str, area_mm2: float) -> None:
    """Each kind of element, transformed, to within a twentieth of a per cent."""
    regions = read_svg(drawing(body), tolerance_mm=0.002)

    assert len(regions) == 1
    assert regions[0].area_mm2 == pytest.approx(area_mm2, rel=5e-4)


def test_the_triangle_of_the_standard_has_its_area() -> None:
    """SVG 1.1, section 8.3.2, example triangle01: 200 x 200 / 2 units of 0.1 mm (from memory)."""
    data = drawing(
        '<path d="M 100 100 L 300 100 L 200 300 z"/>',
        'width="4cm" height="4cm" viewBox="0 0 400 400"',
    )

    assert one_outline(data).area_mm2 == pytest.approx(200.0, abs=0.01)
    assert one_outline(data).bounds_um == (10_000, 10_000, 30_000, 30_000)


def test_y_points_up_and_the_lower_left_corner_is_the_origin() -> None:
    """A rectangle drawn near the top of the sheet lies high on the board."""
    region = one_outline(drawing('<rect x="10" y="20" width="40" height="25"/>'))

    assert region.bounds_um == (10_000, 55_000, 50_000, 80_000)


@pytest.mark.parametrize(
    ("sheet", "width_mm"),
    [
        ('width="50mm" height="50mm" viewBox="0 0 100 100"', 20.0),
        ('width="20cm" height="20cm" viewBox="0 0 100 100"', 80.0),
        ('width="4in" height="4in" viewBox="0 0 40 40"', 101.6),
        ('width="72pt" height="72pt" viewBox="0 0 40 40"', 25.4),
        ('width="6pc" height="6pc" viewBox="0 0 40 40"', 25.4),
        ('width="100mm" height="100mm"', 40 * 25.4 / 96),
        ('width=" 100 mm " height="100 mm"', 40 * 25.4 / 96),
        ('width="100MM" height="100MM" viewBox="0 0 100 100"', 40.0),
        ('width="2000mm" height="2000mm" viewBox="0 0 40 40"', 2000.0),
        ('width="100mm" height="50mm" viewBox="0 0 100 100"', 20.0),
    ],
)
def test_the_size_on_paper_rules(sheet: str, width_mm: float) -> None:
    """A width of 40 in each unit that programs write; without a view box, 96 per inch."""
    region = one_outline(drawing('<rect width="40" height="40"/>', sheet))

    assert region.size_mm[0] == pytest.approx(width_mm, abs=0.0011)


@pytest.mark.parametrize(
    ("body", "holes"),
    [
        ('<path fill-rule="evenodd" d="M0 0h30v30h-30z M10 10h10v10h-10z"/>', 1),
        ('<path style="fill-rule:evenodd" d="M0 0h30v30h-30z M10 10h10v10h-10z"/>', 1),
        ('<g fill-rule="evenodd"><path d="M0 0h30v30h-30z M10 10h10v10h-10z"/></g>', 1),
        ("<style>.a{fill-rule:evenodd}</style>" + '<path class="a" d="M0 0h9v9z M6 2h2v2z"/>', 1),
        ('<path d="M0 0h30v30h-30z M10 10v10h10v-10z"/>', 1),
        ('<path d="M0 0h30v30h-30z M10 10h10v10h-10z"/>', 0),
        ('<g fill="none" stroke="black"><circle r="20"/><circle r="5"/></g>', 1),
    ],
)
def test_holes_follow_the_rule_of_the_file(body: str, holes: int) -> None:
    """Even-odd, nonzero in both directions, and lines within lines."""
    assert len(one_outline(drawing(body)).holes) == holes


def test_a_line_drawn_twice_counts_once() -> None:
    """Two copies of an outline on top of each other do not cancel out."""
    circle = '<circle cx="50" cy="50" r="20" fill="none"/>'

    assert one_outline(drawing(circle + circle)) == one_outline(drawing(circle))


def test_lines_that_cross_are_refused() -> None:
    """Two overlapping circles without fill leave open what is to be cut."""
    body = '<g fill="none"><circle cx="40" cy="50" r="20"/><circle cx="60" cy="50" r="20"/></g>'

    with pytest.raises(BadFile, match="cross or touch"):
        read_svg(drawing(body))


def test_several_outlines_come_largest_first() -> None:
    """A sheet with a tern and a lighthouse gives two regions."""
    body = '<rect width="10" height="10"/><rect x="20" width="20" height="20"/>'

    assert [region.area_mm2 for region in read_svg(drawing(body))] == pytest.approx([400, 100])


def test_one_outline_is_asked_for_and_two_are_there() -> None:
    """The maker sees how many, and how large they are."""
    boxes = "".join(f'<rect x="{x}" width="5" height="5"/>' for x in (0, 10, 20, 30))

    with pytest.raises(BadFile) as refusal:
        one_outline(drawing(boxes), name="terns.svg")

    assert "4 outlines (5 x 5 mm, 5 x 5 mm, 5 x 5 mm, …)" in str(refusal.value)


@pytest.mark.parametrize(
    "body",
    [
        "",
        '<circle r="0"/>',
        '<circle r="5" visibility="hidden"/>',
        '<g style="visibility:hidden"><circle r="5"/></g>',
        '<g display="none"><circle r="5"/></g>',
        '<circle r="5" style="display:none"/>',
        '<defs><circle r="5"/></defs>',
        '<circle r="0.02"/>',
        '<path d="M5 5"/>',
    ],
)
def test_a_drawing_without_an_outline_is_refused(body: str) -> None:
    """Hidden, defined but not drawn, or a speck of dust."""
    with pytest.raises(BadFile, match="no closed outline"):
        read_svg(drawing(body))


@pytest.mark.parametrize(
    ("body", "words"),
    [
        ('<line x1="0" y1="0" x2="50" y2="50"/>' + KITE, "open line"),
        ('<rect width="30" height="3000"/>', "at most 2000 mm"),
        ("<text>kite</text>" + KITE, "holds a 'text'"),
        ('<rect width="wide" height="5"/>' + KITE, "a rect that cannot be read"),
    ],
)
def test_refusals_name_the_file(body: str, words: str) -> None:
    """Of ten drawings dropped in at once, the maker sees which one is meant."""
    with pytest.raises(BadFile) as refusal:
        read_svg(drawing(body), name="kite.svg")

    assert words in str(refusal.value)
    assert str(refusal.value).startswith("kite.svg: ")


def test_too_many_points_are_refused_over_all_paths() -> None:
    """Three paths of 8000 points each are more than 20 000."""
    path = "M0 0" + "".join(f"L{x} {x % 2}" for x in range(1, 8000)) + "V50H0z"

    with pytest.raises(BadFile, match="points"):
        read_svg(drawing(f'<path d="{path}"/>' * 3))


@settings(max_examples=60, deadline=None)
@given(
    attributes=st.lists(
        st.tuples(
            st.sampled_from(["d", "transform", "fill", "points", "r", "cx", "style", "viewBox"]),
            st.text(alphabet="MLQCAZz0123456789.,-+e%()mpx :;#rotascle", max_size=24),
        ),
        max_size=4,
        unique_by=lambda pair: pair[0],
    ),
    tag=st.sampled_from(["path", "circle", "polygon", "g", "rect", "style"]),
)
@example(attributes=[("transform", "rotate(")], tag="circle")
@example(attributes=[("d", "M0 0 A 5 5")], tag="path")
def test_nonsense_is_refused_and_never_crashes(attributes: list[tuple[str, str]], tag: str) -> None:
    """Whatever is in the attributes, the maker gets outlines or a refusal."""
    inside = " ".join(f'{name}="{value}"' for name, value in attributes)
    outcome = outlines_or_refusal(drawing(f"<{tag} {inside}/>{KITE}"))

    assert outcome
