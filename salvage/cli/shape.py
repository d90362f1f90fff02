"""``salvage shape``: the library of shapes."""

from __future__ import annotations

from typing import Annotated

import typer

from salvage.cli.command import CommandSet
from salvage.cli.records import record_of
from salvage.cli.session import session_of
from salvage.cli.show import Column, show_change, show_list
from salvage.records.things import Shape
from salvage.units import format_area, format_mm

commands = CommandSet("shape", "The library of shapes to cut.", "salvage shape add tern tern.svg")


@commands.command("add", example='salvage shape add "tide bell" tide-bell.svg', changes=True)
def add(
    context: typer.Context,
    name: Annotated[str, typer.Argument(metavar="NAME", help="Its name in the library.")],
    file: Annotated[str, typer.Argument(metavar="FILE", help="SVG in mm, one closed outline.")],
) -> None:
    """Add a shape, or a new version of one; earlier cuts keep theirs."""
    from pathlib import Path

    from salvage.cli.files import read_file
    from salvage.work.library import add_shape, list_shapes, tidy_shape_name

    session = session_of(context)
    data = read_file(session, file)
    with session.open(create=True) as shop:
        known = {shape.name: shape for shape in list_shapes(shop)}
        old = known.get(tidy_shape_name(name))
        shape = add_shape(
            shop, name=name, data=data, file_name=Path(file).name, dry_run=session.dry_run
        )
    words = f"{_size(shape)}, {format_area(shape.area_um2 / 1e6)}, in the library"
    if old:
        words += f"; replaces the one of {_size(old)}, {format_area(old.area_um2 / 1e6)}"
    show_change(
        session,
        record_of(shape, replaces=record_of(old) if old else None),
        lines=[f"{shape.name}  {words}"],
        codes=[shape.name],
        next_step=f"cut BOARD --shape {shape.name} --at X,Y --dry-run",
    )


def _size(shape: Shape) -> str:
    return f"{format_mm(shape.width_um / 1000)} x {format_mm(shape.height_um / 1000)}"


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
