"""Plans, boards and shapes as pictures: maps in characters, SVG and PNG."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from salvage.errors import BadOutline, BadValue, Refused
from salvage.ids import Code
from salvage.records.region import Region, region_of_text
from salvage.records.things import Reservation
from salvage.store.lookup import load_board
from salvage.work.area import board_outline, cut_rules, read_taken
from salvage.work.library import ShapeView
from salvage.work.papers import fonts_of
from salvage.work.plans import PlanView, view_plan
from salvage.work.workshop import Workshop

if TYPE_CHECKING:
    from salvage.geometry.ledger import Ledger
    from salvage.paper.board_sheet import Drawing

# One sign for each place on a board; none of them stands for a layer of the map.
SIGNS = "123456789ABCDEFGHIJKLMNPQSTUVWYZ"
MOST_BOARDS = 60
"""Boards in one picture; of more none could be read."""


@dataclass(frozen=True, slots=True)
class PlanChart:
    """
    A board's map in characters with a plan's places.

    Args:
        rows: From the top down.
        legend: What the characters mean.
        places: Its places by their sign on the map.
    """

    rows: tuple[str, ...]
    legend: str
    places: Mapping[str, Reservation]


def chart_plan_board(
    shop: Workshop, view: PlanView, board: Code, *, columns: int, ascii_only: bool = False
) -> PlanChart:
    """
    One board of a plan as a map in characters, each place drawn with a sign of its own.

    Args:
        shop: The open workshop.
        view: The plan.
        board: One of its boards.
        columns: Width in characters.
        ascii_only: For terminals without block characters.

    Raises:
        BadOutline: If the board has no outline.
    """
    from salvage.geometry.chart import draw_chart
    from salvage.work.look import chart_legend

    outline, ledger = _accounted(shop, board, view, before=True)
    places = _signed(view, board)
    marks = {sign: region_of_text(place.region) for sign, place in places.items()}
    rows = draw_chart(outline, ledger.layers, columns=columns, marks=marks, ascii_only=ascii_only)
    signs = f"{next(iter(places))}… this plan's places   " if places else ""
    return PlanChart(rows, signs + chart_legend(rows, ascii_only=ascii_only), places)


def _signed(view: PlanView, board: Code) -> dict[str, Reservation]:
    """The plan's places on a board by sign; what goes beyond the signs bears the last one."""
    here = [place for place in view.places if place.board == board]
    return dict(zip(SIGNS, here, strict=False))


def _accounted(
    shop: Workshop, board: Code, view: PlanView | None, *, before: bool
) -> tuple[Region, Ledger]:
    """A board's ledger; *before* leaves out what the plan holds and has cut."""
    from salvage.geometry.ledger import account

    found = load_board(shop.conn, board)
    outline = board_outline(found)
    if outline is None:
        raise BadOutline(f"{board} has no outline yet", hint=f"salvage board outline {board} …")
    own = {place.code for place in view.places} if view else set()
    cuts = {
        code
        for code, reservation in shop.conn.execute(
            "SELECT code, reservation FROM cut WHERE board = ?", (board,)
        )
        if reservation in own
    }
    taken = read_taken(shop.conn, board)
    if before:
        taken = tuple(each for each in taken if each.label not in own | cuts)
    return outline, account(outline, taken, cut_rules(shop.settings))


def draw_plan(shop: Workshop, *, plan: Code, before: bool = False, form: str = "svg") -> bytes:
    """
    The boards of a plan with its places, side by side.

    Args:
        shop: The open workshop.
        plan: The plan's code.
        before: Draw the boards as they are without the plan.
        form: ``svg`` or ``png``.

    Raises:
        NotFound: If there is no such plan.
        Refused: If it has no place, or too many boards for one picture.
        BadValue: If the form is not known.
    """
    from salvage.paper.board_sheet import DrawnBoard, draw_boards

    check_form(form)
    view = view_plan(shop, plan=plan)
    if not view.boards:
        raise Refused(f"{plan} has no place to draw")
    if len(view.boards) > MOST_BOARDS:
        raise Refused(f"{plan} is on {len(view.boards)} boards; a picture takes {MOST_BOARDS}")
    drawn = []
    for code in view.boards:
        board = load_board(shop.conn, code)
        outline, ledger = _accounted(shop, code, view, before=True)
        signed = {} if before else _signed(view, code)
        lies = f", {board.place}" if board.place else ""
        drawn.append(
            DrawnBoard(
                code,
                f"{board.title}{lies}",
                outline,
                dict(ledger.layers),
                {sign: region_of_text(place.region) for sign, place in signed.items()},
                ()
                if before
                else tuple(
                    (cut.from_x_um, cut.from_y_um, cut.to_x_um, cut.to_y_um)
                    for cut in view.shears
                    if cut.board == code
                ),
            )
        )
    when = "before" if before else "planned"
    title = f"{plan} for {view.plan.for_whom}: {when}"
    return _finish(shop, draw_boards(drawn, title=title), form)


def draw_shape(shop: Workshop, view: ShapeView, *, form: str = "svg") -> bytes:
    """
    A shape in true size, with what the bit cannot do marked on it.

    Args:
        shop: The open workshop.
        view: The shape with its facts.
        form: ``svg`` or ``png``.

    Raises:
        BadValue: If the form is not known.
    """
    from salvage.paper.board_sheet import DrawnBoard, draw_boards

    check_form(form)
    region = view.shape.region
    width, height = region.size_mm
    lost = [loss.region for loss in view.report.facts.what_is_lost]
    words = f"{width:.1f} x {height:.1f} mm"
    drawn = DrawnBoard(view.shape.name, words, region, {"shape": [region], "lost": lost})
    title = f"{view.shape.name}, {view.report.tool_mm:g} mm bit"
    return _finish(shop, draw_boards([drawn], title=title), form)


def chart_shape(view: ShapeView, *, columns: int, ascii_only: bool = False) -> tuple[str, ...]:
    """
    A shape in characters, for a preview.

    Args:
        view: The shape.
        columns: Width in characters.
        ascii_only: For terminals without block characters.
    """
    from salvage.geometry.chart import draw_chart

    region = view.shape.region
    layers: dict[str, Sequence[Region]] = {"cut": [region]}
    return draw_chart(region, layers, columns=columns, ascii_only=ascii_only)


def check_form(form: str) -> None:
    """
    Raise unless pictures are drawn in that form.

    Raises:
        BadValue: If they are not.
    """
    if form not in ("svg", "png"):
        raise BadValue(f"'{form}' is no form of picture", hint="svg or png", field="--picture")


def _finish(shop: Workshop, drawing: Drawing, form: str) -> bytes:
    from salvage.paper.board_sheet import draw_png

    if form == "svg":
        return drawing.svg
    return draw_png(drawing, made_on=shop.today, extra_fonts=fonts_of(shop))
