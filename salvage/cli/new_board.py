"""A new board from its options, every mistake gathered."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from salvage.cli.failures import Misuse
from salvage.cli.files import read_file
from salvage.cli.gather import Gatherer
from salvage.cli.session import Session
from salvage.errors import BadOutline, BadValue
from salvage.ids import Code
from salvage.knowledge.board_types import UNKNOWN_TYPE, parse_board_type
from salvage.knowledge.lead import parse_lead_status
from salvage.units import parse_length_mm, parse_mass_g
from salvage.work.reading import read_code
from salvage.work.record import NewBoard, NewKeepOut
from salvage.work.spots import parse_keep_out
from salvage.work.workshop import Workshop

if TYPE_CHECKING:
    from salvage.work.first_outline import FirstOutline

Parsed = TypeVar("Parsed")


@dataclass(frozen=True)
class Typed:
    """
    What was typed for a board, one text for each option; empty for what was left out.

    Args:
        code: The drop-off.
        type_: Board type.
        form, size, svg: One way to tell the outline.
        no_holes: Leave the form factor's mounting holes unmarked.
        maker, model, date_code, colour: As printed.
        thickness, weight: As measured.
        lead, lead_evidence: Lead status and what it rests on.
        place, notes: For the workshop.
        keepout: Regions not to cut.
    """

    code: str
    type_: str
    form: str = ""
    size: str = ""
    svg: str = ""
    no_holes: bool = False
    maker: str = ""
    model: str = ""
    date_code: str = ""
    colour: str = ""
    thickness: str = ""
    weight: str = ""
    lead: str = "unknown"
    lead_evidence: str = ""
    place: str = ""
    notes: str = ""
    keepout: tuple[str, ...] = ()


def parse_typed(session: Session, shop: Workshop, typed: Typed) -> NewBoard:
    """
    The board that was typed.

    Args:
        session: The run, for the drawing's file.
        shop: The open workshop.
        typed: The texts.

    Raises:
        Misuse: If the outline is told in more than one way.
        SalvageError: The one mistake, or all of them together.
    """
    gather = Gatherer()
    outline = gather.take(
        lambda: read_outline(
            session, form=typed.form, size=typed.size, svg=typed.svg, no_holes=typed.no_holes
        ),
        None,
    )
    new = NewBoard(
        drop_off=gather.take(lambda: read_code(shop, text=typed.code, kinds="D"), Code("")),
        type=gather.take(lambda: parse_board_type(typed.type_, field="--type"), UNKNOWN_TYPE),
        maker=typed.maker,
        model=typed.model,
        date_code=typed.date_code,
        colour=typed.colour,
        thickness_mm=_optional(gather, typed.thickness, _parse_thickness),
        weight_g=_optional(gather, typed.weight, lambda t: parse_mass_g(t, field="--weight")),
        lead_status=gather.take(lambda: parse_lead_status(typed.lead, field="--lead"), "unknown"),
        lead_evidence=typed.lead_evidence,
        place=typed.place,
        notes=typed.notes,
        outline=outline.region if outline else None,
        outline_from=outline.outline_from if outline else "",
        keep_outs=(
            *(outline.keep_outs if outline else ()),
            *read_keep_outs(gather, typed.keepout, field="--keepout"),
        ),
    )
    gather.finish()
    return new


def _parse_thickness(text: str) -> float:
    return parse_length_mm(text, field="--thickness", most_mm=20)


def _optional(gather: Gatherer, text: str, parse: Callable[[str], Parsed]) -> Parsed | None:
    return gather.take(lambda: parse(text), None) if text else None


def read_keep_outs(gather: Gatherer, typed: Sequence[str], *, field: str) -> tuple[NewKeepOut, ...]:
    """
    Keep-outs from typed lines; what does not parse is gathered.

    Args:
        gather: Keeps the mistakes.
        typed: One line for each.
        field: Label for errors.
    """
    found: list[NewKeepOut] = []
    for text in typed:
        try:
            found.append(parse_keep_out(text, field=field))
        except (BadValue, BadOutline) as mistake:
            gather.mistakes.append(mistake)
    return tuple(found)


def read_outline(
    session: Session, *, form: str, size: str, svg: str, no_holes: bool = False
) -> FirstOutline | None:
    """
    The outline that the options tell, or None where they tell nothing.

    Raises:
        Misuse: If more than one way is given.
        SalvageError: If it does not parse.
    """
    from salvage.work.first_outline import outline_of_drawing, outline_of_form, outline_of_size

    if sum(map(bool, (form, size, svg))) > 1:
        raise Misuse("give one of --form, --size and --svg")
    if form:
        return outline_of_form(form, holes=not no_holes)
    if size:
        return outline_of_size(size)
    if svg:
        return outline_of_drawing(read_file(session, svg), file_name=Path(svg).name)
    return None
