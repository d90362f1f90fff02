"""
What a drawing file must be before its paths are read.

A drawing comes from anywhere, so the gate looks at the plain XML first: its size, that it defines
no entities, that it holds nothing which cannot become an outline, and that it says how large it is
on paper. Nothing is fetched and nothing is run.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from salvage.errors import BadFile

if TYPE_CHECKING:
    from collections.abc import Iterator
    from xml.etree.ElementTree import Element

MOST_BYTES = 5_000_000
MOST_LEVELS = 100
MOST_ELEMENTS = 20_000
MOST_STYLE = 100_000  # characters of a style sheet
# An arc takes seven numbers, so no drawing that may be taken has more in its paths.
MOST_NUMBERS = 7 * 20_000
MM_PER_INCH = 25.4
# CSS pixels per inch (CSS Values and Units Module Level 3, W3C, section 5.2; from memory).
PIXELS_PER_INCH = 96.0

# Absolute units of the same section that the drawing library reads too.
_MM_PER = {"mm": 1.0, "cm": 10.0, "in": 25.4, "pt": 25.4 / 72, "pc": 25.4 / 6}
_SIZE = re.compile(r"\s*\+?([0-9]*\.?[0-9]+(?:[eE][+-]?[0-9]+)?)\s*([a-zA-Z%]*)\s*")
_LENGTH = re.compile(
    r"\s*(?:auto|[+-]?[0-9]*\.?[0-9]+(?:[eE][+-]?[0-9]+)?(?:mm|cm|in|pt|pc|px|%)?)\s*"
)
_LENGTHS = ("x", "y", "width", "height", "cx", "cy", "r", "rx", "ry")
_DRAWN = ("rect", "circle", "ellipse")
_PATH_NUMBER = re.compile(r"[0-9]*\.?[0-9]+(?:[eE][+-]?[0-9]+)?|[MmZzLlHhVvCcSsQqTtAa]")
_PATH_TEXT = re.compile(r"[MmZzLlHhVvCcSsQqTtAaeE0-9.,+\-\s]*")

_MENDS = {
    "text": "turn the text into paths in the drawing program",
    "image": "trace the picture into a path in the drawing program",
    "foreignObject": "remove it, or turn it into paths",
    "use": "turn the clones into plain paths in the drawing program",
    "symbol": "turn the symbols into plain paths in the drawing program",
    "mask": "remove the mask, and draw the outline as it shall be cut",
    "clipPath": "remove the clip, and draw the outline as it shall be cut",
    "marker": "remove the markers, or move them into the definitions",
    "pattern": "remove the pattern, or move it into the definitions",
    "switch": "keep one of the choices",
    "svg": "move the inner drawing's paths into the outer one",
}


@dataclass(frozen=True, slots=True)
class Sheet:
    """
    Size of a drawing on paper.

    Args:
        width_mm: Its width.
        height_mm: Its height.
        data: The drawing, its own width and height rewritten in pixels of 1/96 inch: the drawing
            library takes ``100MM`` for 100 pixels, and its millimetre is off by half a millionth.
    """

    width_mm: float
    height_mm: float
    data: bytes


def check_drawing(data: bytes, *, name: str = "", any_size: bool = False) -> Sheet:
    """
    The size of a drawing that can be read as outlines.

    Args:
        data: The file's bytes.
        name: The file's name, for the message.
        any_size: Take a drawing without a size on paper; it is drawn 100 mm wide or high.

    Raises:
        BadFile: If it is too large, no well-formed SVG, defines entities, has no physical size, or
            holds what is no outline.
    """
    if len(data) > MOST_BYTES:
        raise BadFile(
            f"the drawing has {len(data) / 1e6:.1f} MB",
            hint=f"at most {MOST_BYTES / 1e6:.0f} MB; simplify it",
            field=name,
        )
    root = _parse(data, name=name)
    if _tag(root) != "svg":
        raise BadFile(
            f"the file is XML, but its root is '{_tag(root)}', not 'svg'",
            hint="export it as plain SVG",
            field=name,
        )
    _check_amount(root, name=name)
    _check_elements(root, name=name)
    if any_size:
        _give_size(root)
    return _read_sheet(root, name=name)


def _give_size(root: Element) -> None:
    """Give a drawing that says no size on paper one by its proportions."""
    sizes = [_SIZE.fullmatch(root.get(side, "")) for side in ("width", "height")]
    if all(size and size[2].lower() in _MM_PER for size in sizes):
        return
    try:
        box = [float(word) for word in re.split(r"[\s,]+", root.get("viewBox", "").strip()) if word]
        wide, high = box[2:] or [float(root.get(side, "")) for side in ("width", "height")]
    except ValueError:
        return  # it is refused for want of a size
    if min(wide, high) > 0 and max(wide, high) < float("inf"):
        root.set("viewBox", root.get("viewBox") or f"0 0 {wide!r} {high!r}")
        for side, size in (("width", wide), ("height", high)):
            root.set(side, f"{100 * size / max(wide, high):.6f}mm")


def _parse(data: bytes, *, name: str) -> Element:
    from xml.etree.ElementTree import ParseError

    from defusedxml import ElementTree
    from defusedxml.common import DefusedXmlException

    try:
        root: Element = ElementTree.fromstring(data, forbid_dtd=True)
    except ParseError as error:
        raise BadFile(
            f"the file is no well-formed SVG ({error})",
            hint="export it as plain, uncompressed SVG",
            field=name,
        ) from None
    except DefusedXmlException:
        raise BadFile(
            "the drawing has a DOCTYPE or defines entities",
            hint="export it as plain SVG, or delete the line that starts with <!DOCTYPE",
            field=name,
        ) from None
    except (LookupError, ValueError) as error:
        raise BadFile(
            f"the file's text cannot be read ({error})",
            hint="export it as plain SVG in UTF-8",
            field=name,
        ) from None
    return root


def _check_elements(root: Element, *, name: str) -> None:
    for element in _shown(root):
        tag = _tag(element)
        if tag in _MENDS and element is not root:
            raise BadFile(f"the drawing holds a '{tag}'", hint=_MENDS[tag], field=name)
        look = " ".join((element.get("style", ""), element.text or "" if tag == "style" else ""))
        for clip in ("clip-path", "mask"):
            if element.get(clip, "none") != "none" or re.search(rf"\b{clip}\s*:\s*url", look):
                mend = _MENDS["mask" if clip == "mask" else "clipPath"]
                raise BadFile(f"the drawing uses a '{clip}'", hint=mend, field=name)
        if not _is_legible(element, tag):
            raise BadFile(
                f"the drawing has a {tag} that cannot be read", hint="export it again", field=name
            )


def _is_legible(element: Element, tag: str) -> bool:
    """Whether its numbers are numbers: the drawing library would drop it silently otherwise."""
    sizes = [element.get(side, "0") for side in _LENGTHS] if tag in _DRAWN else []
    paths = [element.get(path, "") for path in ("d", "points")]
    return all(map(_LENGTH.fullmatch, sizes)) and all(map(_PATH_TEXT.fullmatch, paths))


def _shown(root: Element) -> Iterator[Element]:
    """All elements but those inside definitions; style sheets everywhere."""
    waiting = [root]
    while waiting:
        element = waiting.pop()
        yield element
        defined = _tag(element) == "defs"
        waiting.extend(child for child in element if not defined or _tag(child) == "style")


def _check_amount(root: Element, *, name: str) -> None:
    if sum(1 for _ in root.iter()) > MOST_ELEMENTS:
        raise BadFile(
            f"the drawing has more than {MOST_ELEMENTS} elements",
            hint="simplify it in the drawing program",
            field=name,
        )
    if _count_numbers(root) > MOST_NUMBERS:  # the drawing library would read them all
        raise BadFile(
            "the drawing's paths have too many points",
            hint="simplify its paths in the drawing program",
            field=name,
        )
    if sum(len(e.text or "") for e in root.iter() if _tag(e) == "style") > MOST_STYLE:
        raise BadFile(
            "the drawing has a huge style sheet", hint="export it as plain SVG", field=name
        )
    level = [root]
    for _ in range(MOST_LEVELS + 1):
        level = [child for element in level for child in element]
        if not level:
            return
    raise BadFile(
        f"the drawing nests more than {MOST_LEVELS} groups",
        hint="ungroup it in the drawing program",
        field=name,
    )


def _count_numbers(root: Element) -> int:
    """Numbers and letters of all paths, as far as it takes to know that they are too many."""
    count = 0
    for element in root.iter():
        for path in ("d", "points", "transform"):
            for _ in _PATH_NUMBER.finditer(element.get(path, "")):
                count += 1
                if count > MOST_NUMBERS:
                    return count
    return count


def _tag(element: Element) -> str:
    """Its name without the namespace; the parser leaves comments out."""
    return element.tag.rpartition("}")[2]


def _read_sheet(root: Element, *, name: str) -> Sheet:
    from xml.etree.ElementTree import tostring

    sizes = []
    for side in ("width", "height"):
        size = _SIZE.fullmatch(root.get(side, ""))
        if not size or size[2].lower() not in _MM_PER or float(size[1]) == 0:
            raise BadFile(
                "the drawing does not say how large it is on paper",
                hint=_guess(root) + "set width and height in mm in the drawing program",
                field=name,
            )
        sizes.append(float(size[1]) * _MM_PER[size[2].lower()])
    for side, size_mm in zip(("width", "height"), sizes, strict=True):
        root.set(side, repr(size_mm * PIXELS_PER_INCH / MM_PER_INCH))
    return Sheet(sizes[0], sizes[1], tostring(root))


def _guess(root: Element) -> str:
    """The width in mm if the drawing's pixels were CSS pixels, as a question to the maker."""
    size = _SIZE.fullmatch(root.get("width", ""))
    box = root.get("viewBox", "").replace(",", " ").split()
    text = size[1] if size and size[2] in ("", "px") else box[2] if len(box) == 4 else ""
    number = _SIZE.fullmatch(text)
    if not number:
        return ""
    width_mm = float(number[1]) * MM_PER_INCH / PIXELS_PER_INCH
    return f"at 96 dpi it would be {width_mm:.1f} mm wide, which may be wrong; "
