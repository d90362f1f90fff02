"""``salvage shape``: the library of shapes."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any, TypeAlias

import typer

from salvage.cli.command import CommandSet
from salvage.cli.records import record_of
from salvage.cli.session import Session, session_of
from salvage.cli.show import Column, clean_line, note, say, show_change, show_list, show_record
from salvage.records.region import region_of_text
from salvage.records.things import Shape
from salvage.units import format_area, format_mm

if TYPE_CHECKING:
    from salvage.cli.options import Force, ShapeHeight, ShapeWidth
    from salvage.work.library import ShapeView

commands = CommandSet("shape", "The library of shapes to cut.", "salvage shape add tern tern.svg")


_Tolerance: TypeAlias = Annotated[
    str, typer.Option(metavar="MM", help="How far straight steps may lie off a curve.")
]


@commands.command("add", example='salvage shape add "tide bell" tide-bell.svg', changes=True)
def add(
    context: typer.Context,
    name: Annotated[str, typer.Argument(metavar="NAME", help="Its name in the library.")],
    file: Annotated[
        str, typer.Argument(metavar="FILE", help="SVG or DXF in mm, one closed outline.")
    ],
    width: ShapeWidth = "",
    height: ShapeHeight = "",
    tolerance: _Tolerance = "",
    finest: Annotated[
        bool, typer.Option("--finest", help="It deserves the finest areas of a board.")
    ] = False,
) -> None:
    """
    Add a shape, or a new version of one; earlier cuts keep theirs.

    It is looked at with the workshop's bit and wall: what will not come out as drawn is told.
    """
    from pathlib import Path

    from salvage.cli.files import read_file
    from salvage.units import parse_length_mm
    from salvage.work.library import ShapeIntake, add_shape, list_shapes, tidy_shape_name
    from salvage.work.shape_check import shape_cautions

    session = session_of(context)
    lengths = (("--width", width), ("--height", height), ("--tolerance", tolerance))
    sizes = [parse_length_mm(text, field=field) if text else None for field, text in lengths]
    data = read_file(session, file)
    with session.open(create=True) as shop:
        known = {shape.name: shape for shape in list_shapes(shop)}
        old = known.get(tidy_shape_name(name))
        shape = add_shape(
            shop,
            name=name,
            data=data,
            file_name=Path(file).name,
            intake=ShapeIntake(sizes[0], sizes[1], sizes[2], finest),
            dry_run=session.dry_run,
        )
        cautions = shape_cautions(shop, region_of_text(shape.region))
    words = f"{_size(shape)}, in the library{f'; replaces the one of {_size(old)}' if old else ''}"
    show_change(
        session,
        record_of(shape, replaces=record_of(old) if old else None, cautions=list(cautions)),
        lines=[f"{shape.name}  {words}", *(f"  ! {caution}" for caution in cautions)],
        codes=[shape.name],
        next_step=f"fits {shape.name}",
    )


def _size(shape: Shape) -> str:
    size = f"{format_mm(shape.width_um / 1000)} x {format_mm(shape.height_um / 1000)}"
    return f"{size}, {format_area(shape.area_um2 / 1e6)}"


_COLUMNS = (
    Column("name", "name"),
    Column("width", "width_mm", format_mm),
    Column("height", "height_mm", format_mm),
    Column("area", "area_mm2", format_area),
    Column("what", "description"),
)


@commands.command("list", example="salvage shape list")
def list_(context: typer.Context) -> None:
    """List the workshop's own shapes, and the built-in ones that take any --width."""
    from salvage.geometry.shapes import BUILT_IN_SHAPES
    from salvage.work.library import list_shapes

    session = session_of(context)
    with session.open() as shop:
        records = [
            record_of(shape, built_in=False, description="own drawing")
            for shape in list_shapes(shop)
        ]
    blank = dict.fromkeys(("width_mm", "height_mm", "area_mm2"))
    records += [
        {"name": shape.name, **blank, "built_in": True, "description": shape.description}
        for shape in BUILT_IN_SHAPES.values()
    ]
    show_list(session, records, _COLUMNS, empty="")


@commands.command("show", example="salvage shape show tern --picture tern.svg")
def show(
    context: typer.Context,
    name: Annotated[str, typer.Argument(metavar="NAME", help="See 'salvage shape list'.")],
    width: ShapeWidth = "",
    height: ShapeHeight = "",
    picture: Annotated[
        str, typer.Option("--picture", metavar="FILE", help="Draw it, as SVG or PNG.")
    ] = "",
    force: Force = False,
) -> None:
    """Show a shape: its measures, what the workshop's bit makes of it, and a preview."""
    from salvage.units import parse_length_mm
    from salvage.work.library import show_shape

    session = session_of(context)
    lengths = (("--width", width), ("--height", height))
    sizes = [parse_length_mm(text, field=field) if text else None for field, text in lengths]
    with session.open() as shop:
        view = show_shape(shop, name=name, width_mm=sizes[0], height_mm=sizes[1])
        if picture:
            from salvage.cli.files import write_file
            from salvage.cli.plan_deeds import picture_form
            from salvage.work.plan_pictures import draw_shape

            form = picture_form(picture)
            path = write_file(
                session, picture, lambda: draw_shape(shop, view, form=form), force=force
            )
            note(session, f"drawn: {path}")
    record = view_record(view)
    show_record(session, record, lines=_facts(record), plain=list(record)[:8])
    if not session.form:
        _preview(session, view)


def view_record(view: ShapeView) -> dict[str, Any]:
    """A shape with its facts as JSON; ``losses`` and ``mend`` are words."""
    facts, report = view.report.facts, view.report
    return {
        "name": view.shape.name,
        "width_mm": facts.size_mm[0],
        "height_mm": facts.size_mm[1],
        "area_mm2": round(facts.area_mm2, 3),
        "least_width_mm": facts.least_width_mm,
        "least_gap_mm": facts.least_gap_mm,
        "cuttable": facts.cuttable,
        "finest": view.shape.finest,
        "built_in": view.own is None,
        "holes": len(view.shape.region.holes),
        "symmetry": report.symmetry_words,
        "tool_mm": report.tool_mm,
        "wall_mm": report.wall_mm,
        "losses": list(report.losses),
        "mend": report.mend,
    }


def _facts(record: dict[str, Any]) -> list[str]:
    gap = f"{record['least_gap_mm']:g} mm" if record["least_gap_mm"] else "none"
    verdict = "can be cut as drawn" if record["cuttable"] else "CANNOT be cut as drawn"
    size = f"{format_mm(record['width_mm'])} x {format_mm(record['height_mm'])}"
    lines = [
        f"{record['name']}  {size}, {format_area(record['area_mm2'])}",
        f"  narrowest material {record['least_width_mm']:g} mm, narrowest gap {gap}",
        f"  symmetry: {record['symmetry']}",
        f"  {record['tool_mm']:g} mm bit, least wall {record['wall_mm']:g} mm: {verdict}",
        *(f"  ! {loss}" for loss in record["losses"][:10]),
    ]
    if record["mend"]:
        lines.append(f"    do: {record['mend']}")
    if record["finest"]:
        lines.append("  deserves the finest areas of a board")
    return lines


def _preview(session: Session, view: ShapeView) -> None:
    from salvage.work.plan_pictures import chart_shape

    columns = max(16, min(session.world.width - 4, 44))
    say(session)
    for row in chart_shape(view, columns=columns, ascii_only=not session.world.has_blocks):
        say(session, f"  {clean_line(row)}".rstrip())
