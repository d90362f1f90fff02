"""What is to be cut, and from which boards, as people type it."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from salvage.errors import BadValue
from salvage.ids import Code
from salvage.records.choices import parse_choice
from salvage.store.lookup import load_board, load_donor, load_drop_off
from salvage.units import parse_from_zero_mm, parse_length_mm
from salvage.work.cutting import usual_kerf_mm
from salvage.work.fitting import BoardFilter, Wish
from salvage.work.import_drop_offs import parse_count
from salvage.work.library import check_cuttable, choose_shape
from salvage.work.planning import Demand
from salvage.work.reading import read_code
from salvage.work.workshop import Workshop

_MOST_DEGREES = 1e6
_ANGLE = re.compile(r"[+-]?[0-9]+(?:\.[0-9]+)?")


@dataclass(frozen=True, slots=True)
class TypedWish:
    """
    A wish as typed; empty for what was left out.

    Args:
        shape: Name of the shape.
        width, height: Size to draw it to.
        kerf: Width that the tool removes; the workshop's own if empty.
        clearance: Room besides.
        angles: Degrees with commas between; all angles if empty.
        either_face: Whether the picture may be on the back.
        finest: Whether places and boards are ranked by richness.
        tool: ``router`` or ``shears``.
        anyway: Look although the bit cannot cut the shape as drawn.
    """

    shape: str
    width: str = ""
    height: str = ""
    kerf: str = ""
    clearance: str = ""
    angles: str = ""
    either_face: bool = False
    finest: bool = False
    tool: str = "router"
    anyway: bool = False


@dataclass(frozen=True, slots=True)
class TypedFilter:
    """
    A filter of boards as typed; empty for what was left out.

    Args:
        cleared: Only cleared boards.
        donor, drop_off: Codes.
        type, colour: Words.
        thickness: A length.
        only, keep_off: Codes of boards.
    """

    cleared: bool = False
    donor: str = ""
    drop_off: str = ""
    type: str = ""
    colour: str = ""
    thickness: str = ""
    only: tuple[str, ...] = ()
    keep_off: tuple[str, ...] = ()


def parse_wish(shop: Workshop, typed: TypedWish) -> Wish:
    """
    The wish that was typed.

    Raises:
        NotFound: If there is no such shape.
        BadValue: If a length, angle or tool does not parse.
        Refused: If the workshop's bit cannot cut the shape as drawn.
    """
    width, height = (
        parse_length_mm(text, field=field) if text else None
        for text, field in ((typed.width, "--width"), (typed.height, "--height"))
    )
    tool = parse_choice(typed.tool, ("router", "shears"), field="--tool")
    kerf = (
        parse_from_zero_mm(typed.kerf, field="--kerf", most_mm=20)
        if typed.kerf
        else usual_kerf_mm(shop, tool)
    )
    clearance = parse_from_zero_mm(typed.clearance or "0", field="--clearance", most_mm=50)
    shape = choose_shape(shop, name=typed.shape, width_mm=width, height_mm=height)
    if tool == "router" and not typed.anyway:
        check_cuttable(shop, shape)
    return Wish(
        shape,
        kerf,
        clearance,
        parse_angles(typed.angles),
        typed.either_face,
        finest=typed.finest or shape.finest,
        tool=tool,
        anyway=typed.anyway,
    )


def parse_angles(text: str, *, field: str = "--angles") -> tuple[int, ...]:
    """
    Angles in thousandths of a degree; empty for all.

    Raises:
        BadValue: If one is no number of degrees.

    >>> parse_angles("0, 90, 22.5")
    (0, 90000, 22500)
    """
    found = []
    for part in filter(None, (part.strip() for part in text.split(","))):
        if not _ANGLE.fullmatch(part) or abs(float(part)) > _MOST_DEGREES:
            raise BadValue(f"'{part}' is not an angle", hint="degrees such as 0,90", field=field)
        found.append(round(float(part) * 1000) % 360_000)
    return tuple(dict.fromkeys(found))


def parse_turns(typed: str, *, any_angle: bool) -> tuple[int, ...]:
    """
    Angles at which pieces of an order may lie; empty for right angles.

    Raises:
        BadValue: If one is no number of degrees, or both ways of choosing are used.

    >>> len(parse_turns("", any_angle=True))
    24
    """
    from salvage.geometry.pack import ANGLES_MDEG

    if typed and any_angle:
        raise BadValue("give angles or any angle, not both", field="--angles")
    return ANGLES_MDEG if any_angle else parse_angles(typed)


def parse_demand(shop: Workshop, text: str) -> Demand:
    """
    One line of an order, such as ``tern:4`` or ``circle@40:6`` for a circle of 40 mm.

    Raises:
        NotFound: If there is no such shape.
        BadValue: If quantity or width do not parse.
    """
    name, _, number = text.partition(":")
    shape, _, width = name.partition("@")
    quantity = parse_count(number or "1", field=text)
    width_mm = parse_length_mm(width, field=text) if width else None
    try:
        chosen = choose_shape(shop, name=shape, width_mm=width_mm)
    except BadValue as error:
        raise BadValue(error.message, hint=f"such as {shape}@40:{quantity}", field=text) from error
    label = f"{chosen.name}@{width_mm:g}" if width_mm else ""
    return Demand(chosen, quantity, label)


def parse_filter(shop: Workshop, typed: TypedFilter) -> BoardFilter:
    """
    The filter that was typed.

    Raises:
        NotFound: If a donor, drop-off or board type is not known.
        BadValue: If a code or length does not parse.
    """
    from salvage.knowledge.board_types import parse_board_type

    donor = drop_off = ""
    if typed.donor:
        donor = load_donor(shop.conn, read_code(shop, text=typed.donor, kinds="G")).code
    if typed.drop_off:
        drop_off = load_drop_off(shop.conn, read_code(shop, text=typed.drop_off, kinds="D")).code
    return BoardFilter(
        cleared_only=typed.cleared,
        donor=donor,
        drop_off=drop_off,
        type=parse_board_type(typed.type, field="--type") if typed.type else "",
        colour=typed.colour,
        thickness_mm=(
            parse_length_mm(typed.thickness, field="--thickness") if typed.thickness else None
        ),
        only=read_boards(shop, typed.only, field="--only"),
        keep_off=read_boards(shop, typed.keep_off, field="--keep-off"),
    )


def read_boards(shop: Workshop, typed: Sequence[str], *, field: str) -> tuple[Code, ...]:
    """
    Codes of boards as typed, also several in one word with commas between.

    Raises:
        BadCode: If one is no code of a board.
        NotFound: If there is no such board.
    """
    words = [word for text in typed for word in re.split(r"[,\s]+", text) if word]
    codes = (read_code(shop, text=word, kinds="B", field=field) for word in words)
    return tuple(dict.fromkeys(load_board(shop.conn, code).code for code in codes))


def read_places(shop: Workshop, typed: Sequence[str], *, field: str) -> tuple[Code, ...]:
    """
    Codes of reserved places as typed, also several in one word with commas between.

    Raises:
        BadCode: If one is no code of a place.
    """
    words = [word for text in typed for word in re.split(r"[,\s]+", text) if word]
    codes = (read_code(shop, text=word, kinds="R", field=field) for word in words)
    return tuple(dict.fromkeys(codes))
