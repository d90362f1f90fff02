"""The season in pictures: what is drawn from the report, the yields and the balance of mass."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from decimal import Decimal
from typing import TYPE_CHECKING

from salvage.records.choices import STAGES
from salvage.units import format_mass, format_money
from salvage.work.amounts import half_up
from salvage.work.ledger import EVER, Period
from salvage.work.mass import account_mass
from salvage.work.prices import material_of
from salvage.work.season_figures import SeasonFigures, figure_season
from salvage.work.season_report import SeasonReport, ShapeResult, report_season
from salvage.work.workshop import Workshop

if TYPE_CHECKING:
    from salvage.paper.plots import Bar, Plot

MOST_ROWS = 16
"""Rows of one plot; what is left out is told at its foot."""


def plot_season(shop: Workshop, *, period: Period = EVER) -> tuple[Plot, ...]:
    """
    What the pictures of a season show; each is drawn by :func:`salvage.paper.plots.draw_plot`.

    Args:
        shop: The open workshop.
        period: Which part of the ledger; stock, boards and remnants are those of now.

    Raises:
        BadValue: If the period is of one outing.
    """
    report = report_season(shop, period=period)
    figures = figure_season(shop, period=period)
    return (
        _stock(shop, report),
        _shapes(shop, report, period),
        _time(shop, report, period),
        _outings(shop, report, period),
        _months(shop, report, period),
        _boards(shop, figures, period),
        _remnants(shop, figures),
        _donors(shop, figures, period),
        _mass(shop, period),
    )


_SHARES = (
    "sold of what there was",
    "sold of what was there",
    "became pieces",
    "can still be cut",
    "of the board",
    "of what came in",
)
"""Panels of percentages: all their bars are of one scale, from nothing to the whole."""


def _plot(
    shop: Workshop,
    words: Sequence[str],
    rows: Sequence[str],
    panels: Sequence[tuple[str, Sequence[Bar]]],
    *,
    when: str,
    one_scale: bool = False,
) -> Plot:
    """A plot of at most so many rows; *words* are its name, title, explanation and empty text."""
    from salvage.paper.plots import Panel, Plot

    name, title, explained, empty = words
    left_out = len(rows) - MOST_ROWS
    more = f"{left_out} more not drawn: salvage sales report --json. " if left_out > 0 else ""
    shown = tuple(
        Panel(head, tuple(bars[:MOST_ROWS]), whole=100.0 * (head in _SHARES))
        for head, bars in panels
    )
    note = f"{more}{shop.settings.name}, {when}"
    return Plot(name, title, explained, tuple(rows[:MOST_ROWS]), shown, note, one_scale, empty)


def _when(shop: Workshop, period: Period) -> str:
    last = period.last or shop.today
    return f"{period.first} to {last}" if period.first else f"up to {last}"


def _now(shop: Workshop) -> str:
    return f"as of {shop.today}"


def _percent(share: float | None) -> Bar:
    from salvage.paper.plots import Bar

    return Bar(share, "not known" if share is None else _share_words(share))


def _share_words(share: float) -> str:
    """A percentage: small ones with a tenth, so that little is not told as nothing."""
    if 0 < abs(share) < 0.1:
        return "< 0.1 %"
    return f"{share:.1f} %" if 0 < abs(share) < 10 else f"{share:.0f} %"


def _count(number: int) -> Bar:
    from salvage.paper.plots import Bar

    return Bar(number, str(number))


def _money(currency: str) -> Callable[[int | None], Bar]:
    from salvage.paper.plots import Bar

    def bar(minor: int | None) -> Bar:
        return Bar(minor, "not known" if minor is None else format_money(minor, currency))

    return bar


def _mass_bar(mg: int) -> Bar:
    from salvage.paper.plots import Bar

    return Bar(mg, f"-{format_mass(-mg / 1000)}" if mg < 0 else format_mass(mg / 1000))


def _sold(share: float | None, sold: int, there: int) -> Bar:
    """How much of what was there stayed sold; an outing's and a shape's are drawn alike."""
    from salvage.paper.plots import Bar

    return Bar(share, "-" if share is None else f"{share:.0f} % ({sold} of {there})")


def _stock(shop: Workshop, report: SeasonReport) -> Plot:
    stages = [s for s in STAGES if any(s in counts for _, counts in report.stock)]
    panels = [
        (stage, [_count(counts.get(stage, 0)) for _, counts in report.stock]) for stage in stages
    ]
    total = sum(sum(counts.values()) for _, counts in report.stock)
    title = f"On the shelf: {total} pieces" if total != 1 else "On the shelf: 1 piece"
    words = ("stock", title, "Pieces by shape and stage", "Nothing lies on the shelf.")
    rows = [shape for shape, _ in report.stock]
    return _plot(shop, words, rows, panels, when=_now(shop), one_scale=True)


_UNSOLD = "Nothing was sold in these days."


def _shapes(shop: Workshop, report: SeasonReport, period: Period) -> Plot:
    money = _money(report.currency)
    through = [
        _sold(one.sold_percent, one.net_sold, one.net_sold + one.stock) for one in report.shapes
    ]
    panels = [
        ("sold of what there was", through),
        ("earned", [money(one.earned_minor) for one in report.shapes]),
    ]
    words = (
        "shapes",
        "Which shapes sell",
        "Sold, of what sold or is in stock now; earned: paid, less refunds, tax and bank fees",
        _UNSOLD,
    )
    rows = [one.total.key for one in report.shapes]
    return _plot(shop, words, rows, panels, when=_when(shop, period))


def _time(shop: Workshop, report: SeasonReport, period: Period) -> Plot:
    from dataclasses import replace

    from salvage.paper.plots import Bar

    money = _money(report.currency)
    rate = shop.settings.money("hourly_rate") if shop.settings.hourly_rate else None
    timed = [(one, one.seconds / 60) for one in report.shapes if one.seconds is not None]
    shapes, minutes = [one for one, _ in timed], [each for _, each in timed]
    panels: list[tuple[str, Sequence[Bar]]] = [
        ("work on a piece", [Bar(float(each), f"{each:.1f} min") for each in minutes]),
        ("earned an hour", [money(one.hourly_minor) for one in shapes]),
    ]
    explained = "Work measured or by rate; earned: paid, less refunds, tax and bank fees"
    if rate is not None:
        margins = [margin_of_shape(shop, one, rate) for one in shapes]
        panels.append(("margin of a piece", [money(one) for one in margins]))
        explained += "; margin: earned, less work at your hourly rate and consumables"
    empty = "No time is known of what was sold: salvage price time" if report.shapes else _UNSOLD
    words = ("time", "What an hour brings", explained, empty)
    rows = [one.total.key for one in shapes]
    plot = _plot(shop, words, rows, panels, when=_when(shop, period))
    untimed = len(report.shapes) - len(shapes)
    if untimed:
        plot = replace(plot, note=f"Shapes whose time is not known: {untimed}. {plot.note}")
    if rate is None or not rows:
        return plot
    told = f"your rate, {format_money(rate, report.currency)}"
    hourly = replace(plot.panels[1], mark=rate, mark_words=told)
    return replace(plot, panels=(plot.panels[0], hourly, plot.panels[2]))


def margin_of_shape(shop: Workshop, result: ShapeResult, rate_minor: int) -> int | None:
    """
    What a sold piece of a shape left after work at the hourly rate and consumables.

    Args:
        shop: The open workshop.
        result: What the shape did.
        rate_minor: What an hour is reckoned at.

    Returns:
        Minor units; None where its time is not known or nothing of it stayed sold.
    """
    if result.seconds is None or result.net_sold <= 0:
        return None
    rows = shop.conn.execute(
        "SELECT code FROM piece WHERE shape = ? AND code IN (SELECT code FROM material_use)",
        (result.total.key,),
    )
    made = [code for (code,) in rows]
    (count,) = shop.conn.execute(
        "SELECT count(*) FROM piece WHERE shape = ?", (result.total.key,)
    ).fetchone()
    material = material_of(shop.conn, made, shop.settings.currency) / max(1, count)
    work = result.seconds * rate_minor / 3600
    return half_up(Decimal(result.earned_minor) / result.net_sold - work - material)


def _outings(shop: Workshop, report: SeasonReport, period: Period) -> Plot:
    money = _money(report.currency)
    through = [
        _sold(one.sold_percent, one.total.sold - one.total.returned, one.there)
        for one in report.outings
    ]
    panels = [
        ("sold of what was there", through),
        ("earned after the stall", [money(one.earned_minor) for one in report.outings]),
    ]
    words = (
        "outings",
        "Which outings pay",
        "Latest first; earned: paid, less refunds, tax, bank fees and the stall's fee",
        "Nothing was sold at an outing in these days.",
    )
    rows = [one.name for one in report.outings]
    return _plot(shop, words, rows, panels, when=_when(shop, period))


def _months(shop: Workshop, report: SeasonReport, period: Period) -> Plot:
    money = _money(report.currency)
    months = report.months[-MOST_ROWS:]
    panels = [
        ("pieces sold", [_count(one.sold) for one in months]),
        ("kept", [money(one.net_minor) for one in months]),
    ]
    explained = "Kept: paid, less what was given back"
    if len(report.months) > MOST_ROWS:
        explained += f"; the last {MOST_ROWS} months of {len(report.months)}"
    words = ("months", "Month by month", explained, _UNSOLD)
    rows = [one.key for one in months]
    return _plot(shop, words, rows, panels, when=_when(shop, period))


def _boards(shop: Workshop, figures: SeasonFigures, period: Period) -> Plot:
    money, boards = _money(figures.currency), figures.boards
    panels = [
        ("became pieces", [_percent(one.pieces_percent) for one in boards]),
        ("can still be cut", [_percent(one.usable_percent) for one in boards]),
        ("pieces", [_count(one.pieces) for one in boards]),
        ("kept", [money(one.net_minor) for one in boards]),
    ]
    words = (
        "boards",
        "What each board yields",
        "Shares of its area; kept: paid for its pieces in the period, less what was given back",
        "No board was cut yet.",
    )
    rows = [one.board for one in boards]
    return _plot(shop, words, rows, panels, when=_when(shop, period))


def _remnants(shop: Workshop, figures: SeasonFigures) -> Plot:
    from salvage.paper.plots import Bar

    left = figures.remnants
    area = [Bar(one.usable_um2, f"{one.usable_um2 / 1e8:.1f} cm²") for one in left]
    panels = [
        ("usable area", area),
        ("of the board", [_percent(one.usable_percent) for one in left]),
    ]
    whole = sum(one.usable_um2 for one in left) / 1e8
    words = (
        "remnants",
        f"Remnants: {whole:.0f} cm² to make more of",
        "Boards that were cut and can be cut again, the largest first",
        "No remnants lie on the shelf.",
    )
    return _plot(shop, words, [one.board for one in left], panels, when=_now(shop))


def _donors(shop: Workshop, figures: SeasonFigures, period: Period) -> Plot:
    money, donors = _money(figures.currency), figures.donors
    panels = [
        ("came in, weighed", [_mass_bar(one.received_mg) for one in donors]),
        ("boards", [_count(one.boards) for one in donors]),
        ("pieces", [_count(one.pieces) for one in donors]),
        ("kept", [money(one.net_minor) for one in donors]),
    ]
    words = (
        "donors",
        "What came of each donor's equipment",
        "Named only as they agreed; kept: paid for pieces in the period, less what was given back",
        "Nothing was donated yet.",
    )
    rows = [one.words for one in donors]
    return _plot(shop, words, rows, panels, when=_when(shop, period))


def _mass(shop: Workshop, period: Period) -> Plot:
    found = account_mass(shop, until=period.last)
    lines = {
        "pieces": found.pieces_g,
        "sent to recyclers": found.sent_g,
        "boards left on the shelf": found.boards_g,
        "waste containers here": found.containers_g,
        "dust, not collected": found.dust_g - found.dust_collected_g,
        "unexplained: housings, screws, mistakes": found.unexplained_g,
    }
    came = found.received_g
    diverted = found.diverted_percent
    title = f"Where {format_mass(came)} went"
    if diverted is not None:
        title += f": {_share_words(diverted)} became pieces or went to recyclers"
    explained = "Weighed where it was weighed, else estimated; the rest is shown, not hidden"
    if found.unweighed:
        explained += f"; drop-offs without a weight: {found.unweighed}"
    words = ("mass", title, explained, "No drop-off was weighed yet.")
    panels = [
        ("weight", [_mass_bar(round(1000 * grams)) for grams in lines.values()]),
        (
            "of what came in",
            [_percent(100 * grams / came if came else None) for grams in lines.values()],
        ),
    ]
    last = period.last or shop.today
    rows = list(lines) if any(abs(grams) > 0 for grams in lines.values()) else []
    return _plot(shop, words, rows, panels, when=f"up to {last}")
