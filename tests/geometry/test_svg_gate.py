"""A drawing is looked at before it is read."""

from __future__ import annotations

import pytest

from salvage.errors import BadFile
from salvage.geometry.svg_gate import MOST_BYTES, check_drawing


def drawing(body: str = "", size: str = 'width="100mm" height="50mm"') -> bytes:
    """A drawing in the SVG namespace."""
    return f'<svg xmlns="http://www.w3.org/2000/svg" {size}>{body}</svg>'.encode()


@pytest.mark.parametrize(
    ("width", "width_mm"),
    [
        ("100mm", 100.0),
        ("10cm", 100.0),
        ("4in", 101.6),
        ("72pt", 25.4),
        ("6pc", 25.4),
        (" 1e2 MM ", 100.0),
        (".5in", 12.7),
    ],
)
def test_absolute_units_are_understood(width: str, width_mm: float) -> None:
    """1 in = 25.4 mm = 72 pt = 6 pc: CSS Values and Units Module Level 3 (from memory)."""
    sheet = check_drawing(drawing(size=f'width="{width}" height="20mm"'))

    assert sheet.width_mm == pytest.approx(width_mm)
    assert sheet.height_mm == 20.0


@pytest.mark.parametrize(
    ("size", "words"),
    [
        ('width="96" height="96"', "at 96 dpi it would be 25.4 mm wide"),
        ('width="192px" height="96px"', "at 96 dpi it would be 50.8 mm wide"),
        ('viewBox="0 0 480 100"', "at 96 dpi it would be 127.0 mm wide"),
        ('width="100%" height="100%" viewBox="0,0,480,100"', "127.0 mm wide"),
        ('width="100mm"', "set width and height in mm"),
        ('width="0mm" height="5mm"', "set width and height in mm"),
        ('width="5em" height="5em"', "set width and height in mm"),
        ('width="-5mm" height="5mm"', "set width and height in mm"),
        ('viewBox="0 0 wide 100"', "set width and height in mm"),
        ("", "set width and height in mm"),
    ],
)
def test_a_drawing_without_a_size_on_paper_is_refused(size: str, words: str) -> None:
    """A drawing in pixels would come out 3.8 times too large or too small, and nobody would see."""
    with pytest.raises(BadFile) as refusal:
        check_drawing(drawing(size=size), name="fern.svg")

    assert words in str(refusal.value)
    assert str(refusal.value).startswith("fern.svg: the drawing does not say how large it is")


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"not a drawing",
        b"<svg",
        b"\x1f\x8b\x08\x00compressed",
        b'<svg xmlns="http://www.w3.org/2000/svg"><path></svg>',
        b"\xff\xfe\x00",
        b'<?xml version="1.0" encoding="no-such-code"?><svg/>',
        b'<?xml version="1.0" encoding="utf-7"?><svg/>',
    ],
)
def test_a_damaged_file_is_refused(data: bytes) -> None:
    """Cut short, compressed, or no XML at all."""
    with pytest.raises(BadFile) as refusal:
        check_drawing(data)

    assert "plain" in refusal.value.hint


@pytest.mark.parametrize(
    "head",
    [
        '<!DOCTYPE svg PUBLIC "-//W3C//DTD SVG 1.1//EN" "http://example.invalid/svg11.dtd">',
        '<!DOCTYPE svg [<!ENTITY a "aaaa"><!ENTITY b "&a;&a;&a;">]>',
        '<!DOCTYPE svg [<!ENTITY file SYSTEM "file:///etc/hostname">]>',
    ],
)
def test_entities_are_refused(head: str) -> None:
    """A drawing that defines its own words may blow up, or read files of the workshop."""
    with pytest.raises(BadFile, match="DOCTYPE"):
        check_drawing(head.encode() + drawing())


def test_another_kind_of_xml_is_refused() -> None:
    """A web page is no drawing."""
    with pytest.raises(BadFile, match="root is 'html'"):
        check_drawing(b"<html/>")


def test_a_huge_file_is_refused_unread() -> None:
    """More than 5 MB is a picture in disguise."""
    with pytest.raises(BadFile, match=r"5\.0 MB"):
        check_drawing(b" " * (MOST_BYTES + 1))


@pytest.mark.parametrize(
    ("body", "words"),
    [
        ("<text>tide bell</text>", "holds a 'text'; turn the text into paths"),
        ("<g><g><image/></g></g>", "trace the picture"),
        ("<foreignObject/>", "holds a 'foreignObject'"),
        ('<use href="#a"/>', "turn the clones into plain paths"),
        ("<symbol/>", "holds a 'symbol'"),
        ("<mask/>", "holds a 'mask'"),
        ("<clipPath/>", "holds a 'clipPath'"),
        ("<marker/>", "holds a 'marker'"),
        ("<pattern/>", "holds a 'pattern'"),
        ("<switch/>", "holds a 'switch'"),
        ("<svg/>", "holds a 'svg'"),
        ('<g clip-path="url(#a)"/>', "uses a 'clip-path'"),
        ('<g style="fill:none; clip-path : url(#a)"/>', "uses a 'clip-path'"),
        ('<path mask="url(#a)" d=""/>', "uses a 'mask'"),
        ("<style>.a{mask:url(#a)}</style>", "uses a 'mask'"),
        ("<defs><style>.a{clip-path:url(#a)}</style></defs>", "uses a 'clip-path'"),
        ('<path d="M0 0 LNaN 5z"/>', "a path that cannot be read"),
        ('<polygon points="0,0 5,x"/>', "a polygon that cannot be read"),
        ('<circle r="NaN"/>', "a circle that cannot be read"),
        ('<circle r="5MM"/>', "a circle that cannot be read"),
    ],
)
def test_what_is_no_outline_is_refused_with_a_mend(body: str, words: str) -> None:
    """Nothing is left out silently: the maker learns what to change in the drawing."""
    with pytest.raises(BadFile) as refusal:
        check_drawing(drawing(body))

    assert words in str(refusal.value)


def test_unused_definitions_do_no_harm() -> None:
    """Drawing programs leave clips and markers in the definitions."""
    body = '<defs><clipPath id="a"><rect/></clipPath><marker/></defs><!-- kite --><g mask="none"/>'

    assert check_drawing(drawing(body)).height_mm == 50.0


def test_more_than_a_drawing_needs_is_refused() -> None:
    """Files made to keep the machine busy for minutes are stopped at once."""
    with pytest.raises(BadFile, match="more than 20000 elements"):
        check_drawing(drawing("<g/>" * 20_001))
    with pytest.raises(BadFile, match="huge style sheet"):
        check_drawing(drawing("<style>" + ".a{fill:none}" * 8000 + "</style>"))


@pytest.mark.parametrize("depth", [101, 10_000])
def test_deep_nesting_is_refused(depth: int) -> None:
    """Ten thousand groups in one another are no drawing, and crash nothing."""
    with pytest.raises(BadFile, match="nests more than 100 groups"):
        check_drawing(drawing("<g>" * depth + "</g>" * depth))
    with pytest.raises(BadFile, match="nests more than 100 groups"):
        check_drawing(drawing("<defs>" + "<g>" * depth + "</g>" * depth + "</defs>"))


def test_groups_in_groups_are_usual() -> None:
    """A hundred levels are more than any drawing needs."""
    assert check_drawing(drawing("<g>" * 100 + "</g>" * 100)).width_mm == 100.0
