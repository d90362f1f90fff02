"""``salvage sales report``: what the season tells, in tables and bars."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

import typer

from salvage.cli.records import record_of
from salvage.cli.sales import From, Until, commands, read_period
from salvage.cli.season_pictures import write_pictures
from salvage.cli.session import Session, session_of
from salvage.cli.show import clean, note, paint, say, show_json, show_plain
from salvage.units import format_money

if TYPE_CHECKING:
    from salvage.cli.options import Force
    from salvage.work.season_figures import SeasonFigures
    from salvage.work.season_report import OutingResult, SeasonReport, ShapeResult

_MOST = 8
"""Boards and donors that the terminal shows; --json has all."""

_BAR = 24


@commands.command("report", example="salvage sales report --plots season-2026")
def report(
    context: typer.Context,
    first: From = "",
    last: Until = "",
    plots: Annotated[
        str, typer.Option(metavar="FOLDER", help="Draw it too, each plot as a file in a folder.")
    ] = "",
    form: Annotated[str, typer.Option(metavar="FORM", help="Of the plots: png or svg.")] = "png",
    force: Force = False,
) -> None:
    """
    What sold, where, what an hour brought, what boards yielded, and what is left on the shelf.

    Sell-through is what sold of what there was: of a shape, of what sold and is in stock now; of an
    outing, of what was there. Donors are named only as they agreed.
    """
    from salvage.work.season_figures import figure_season
    from salvage.work.season_report import report_season

    session = session_of(context)
    with session.open() as shop:
        period = read_period(shop, first, last, "")
        found, figures = report_season(shop, period=period), figure_season(shop, period=period)
        drawn = write_pictures(session, shop, period, (plots, form), force=force)
    if session.form == "json":
        show_json(session, _record(found) | _yield_record(figures) | {"plots": drawn})
    elif session.form == "plain":
        show_plain(session, [(*_cells(one),) for one in found.shapes])
    else:
        _tell(session, found)
        _tell_yields(session, figures)
        if drawn:
            say(session)
            say(session, f"{len(drawn)} plots drawn in {clean(plots)}: {', '.join(drawn)}")


def _yield_record(figures: SeasonFigures) -> dict[str, Any]:
    boards = (
        record_of(
            one,
            pieces_percent=_tenth(one.pieces_percent),
            usable_percent=_tenth(one.usable_percent),
        )
        for one in figures.boards
    )
    return {
        "boards": list(boards),
        "remnants": [one.board for one in figures.remnants],
        "donors": [record_of(one) for one in figures.donors],
        "untraced_minor": figures.untraced_minor,
    }


def _tell_yields(session: Session, figures: SeasonFigures) -> None:
    def money(minor: int) -> str:
        return format_money(minor, figures.currency)

    if figures.boards:
        _head(session, "by board: how much of it became pieces")
        for one in figures.boards[:_MOST]:
            share = one.pieces_percent or 0.0
            told = f"{share:.0f} %, pieces: {one.pieces}, {money(one.net_minor)} kept"
            _line(session, one.board, round(share), 100, told)
        _more(session, len(figures.boards))
    if figures.remnants:
        _head(session, "remnants: what can still be cut")
        most = figures.remnants[0].usable_um2
        for one in figures.remnants[:_MOST]:
            told = f"{one.usable_um2 / 1e8:.1f} cm²"
            _line(session, one.board, one.usable_um2, most, told)
        _more(session, len(figures.remnants))
    if figures.donors:
        _head(session, "by donor: what was kept for pieces of their boards")
        most = max(donor.net_minor for donor in figures.donors)
        for donor in figures.donors[:_MOST]:
            words = donor.words.removesuffix(f" ({donor.donor})")
            told = f"{money(donor.net_minor)}, {clean(words)}"
            _line(session, donor.donor, donor.net_minor, most, told)
        _more(session, len(figures.donors))


def _more(session: Session, count: int) -> None:
    if count > _MOST:
        say(session, f"  and {count - _MOST} more: salvage sales report --json")


def _record(found: SeasonReport) -> dict[str, Any]:
    return {
        "currency": found.currency,
        "whole": record_of(found.whole, net_minor=found.whole.net_minor) if found.whole else None,
        "shapes": [_shape_record(one) for one in found.shapes],
        "outings": [_outing_record(one) for one in found.outings],
        "months": [record_of(one, net_minor=one.net_minor) for one in found.months],
        "stock": [{"shape": shape, "stages": stages} for shape, stages in found.stock],
        "other_currencies": list(found.other_currencies),
    }


def _shape_record(one: ShapeResult) -> dict[str, Any]:
    return {
        "shape": one.total.key,
        "sold": one.total.sold,
        "given": one.total.given,
        "returned": one.total.returned,
        "stock": one.stock,
        "sold_percent": _tenth(one.sold_percent),
        "net_minor": one.total.net_minor,
        "earned_minor": one.earned_minor,
        "seconds": None if one.seconds is None else round(one.seconds),
        "hourly_minor": one.hourly_minor,
    }


def _outing_record(one: OutingResult) -> dict[str, Any]:
    return {
        "outing": one.code,
        "name": one.name,
        "there": one.there,
        "sold": one.total.sold,
        "returned": one.total.returned,
        "sold_percent": _tenth(one.sold_percent),
        "net_minor": one.total.net_minor,
        "stall_fee_minor": one.stall_fee_minor,
        "earned_minor": one.earned_minor,
    }


def _tenth(share: float | None) -> float | None:
    return None if share is None else round(share, 1)


def _cells(one: ShapeResult) -> tuple[object, ...]:
    record = _shape_record(one)
    keys = ("shape", "sold", "stock", "sold_percent", "net_minor", "earned_minor", "hourly_minor")
    return tuple(record[key] for key in keys)


def _tell(session: Session, found: SeasonReport) -> None:
    if found.whole is None:
        note(session, "nothing was sold; next: salvage outing plan")
    else:
        _tell_sales(session, found)
    if found.stock:
        most = max(sum(stages.values()) for _, stages in found.stock)
        _head(session, "on the shelf, by stage")
        for shape, stages in found.stock:
            told = ", ".join(f"{count} {stage}" for stage, count in stages.items())
            _line(session, shape, sum(stages.values()), most, told)
    if found.other_currencies:
        left_out = ", ".join(found.other_currencies)
        note(session, f"sales in {left_out} are left out: salvage sales totals")


def _tell_sales(session: Session, found: SeasonReport) -> None:
    def money(minor: int | None) -> str:
        return "-" if minor is None else format_money(minor, found.currency)

    assert found.whole is not None
    whole = found.whole
    say(session, f"{whole.sold} sold, {whole.given} given, {whole.returned} came back:")
    say(session, f"  {money(whole.net_minor)} kept of {money(whole.paid_minor)} paid")
    _head(session, "by shape: what it earned")
    most = max((one.earned_minor for one in found.shapes), default=0)
    for one in found.shapes:
        told = f"{money(one.earned_minor)}, {_percent(one.sold_percent)} sold"
        told += f", {money(one.hourly_minor)} an hour" if one.hourly_minor is not None else ""
        _line(session, one.total.key, one.earned_minor, most, told)
    if found.outings:
        _head(session, "by outing: what it earned after its stall fee")
        most = max(one.earned_minor for one in found.outings)
        for stall in found.outings:
            share = _percent(stall.sold_percent)
            told = f"{money(stall.earned_minor)}, {share} of what was there sold"
            _line(session, stall.name, stall.earned_minor, most, told)
    _head(session, "by month: kept")
    most = max(month.net_minor for month in found.months)
    for month in found.months:
        _line(session, month.key, month.net_minor, most, money(month.net_minor))


def _percent(share: float | None) -> str:
    return "-" if share is None else f"{share:.0f} %"


def _head(session: Session, words: str) -> None:
    say(session)
    say(session, paint(session, words, "strong"))


def _line(session: Session, name: str, value: int, most: int, told: str) -> None:
    """A name, a bar as long as its part of the longest, and the figure that it stands for."""
    from rich.cells import set_cell_size

    bar = "█" if session.world.has_blocks else "#"
    length = round(_BAR * max(0, value) / most) if most > 0 else 0
    say(session, f"  {set_cell_size(clean(name), 22)} {bar * length:{_BAR}} {told}")
