"""The report of one year: where the weight went, how many, what left, what waits."""

from __future__ import annotations

import sqlite3
from datetime import date
from typing import TYPE_CHECKING

from salvage.work.consigning import view_consignment
from salvage.work.day_order import local_day
from salvage.work.impact import put, source_lines
from salvage.work.mass import list_consignments
from salvage.work.mass_lines import year_lines
from salvage.work.reports import base_report, print_paper
from salvage.work.waste import list_containers
from salvage.work.wordings import local_of
from salvage.work.workshop import Workshop
from salvage.work.year_mass import balance_year

if TYPE_CHECKING:
    from salvage.paper.local import Local
    from salvage.paper.report import Section


def print_year_report(shop: Workshop, *, year: int, dry_run: bool = False) -> bytes:
    """
    The report of one year, as PDF.

    Args:
        shop: The open workshop.
        year: Such as 2026.
        dry_run: Do everything, then roll back.
    """
    local = local_of(shop, "year")
    words = local.words
    sections = [
        _mass_section(shop, year, local),
        _count_section(shop.conn, year, local),
        _consignment_section(shop, year, local),
    ]
    if year == shop.today.year:  # of an earlier year they have been emptied since
        sections.append(_container_section(shop, local))
    last = min(date(year, 12, 31), shop.today)
    report = base_report(
        shop,
        local,
        facts=((words["year"], str(year)), (words["up_to"], local.day(last))),
        sections=tuple(sections),
        sources=source_lines(),
    )
    return print_paper(shop, "year", None, report, dry_run=dry_run)


def _mass_section(shop: Workshop, year: int, local: Local) -> Section:
    from salvage.paper.report import Section, Table
    from salvage.paper.wording import fill

    found, words = balance_year(shop, year=year), local.words
    rows = [(words[f"line_{line.name}"], put(line.amount, local)) for line in year_lines(found)]
    rows.append((words["line_rest"], local.mass(found.unexplained_mg)))
    after = (fill(words, "unweighed", count=found.unweighed),) if found.unweighed else ()
    table = Table((), tuple(rows), (2.6, 3.0), right=(1,), strong_last=True)
    return Section(words["mass"], (), table, after=after)


def _count_section(conn: sqlite3.Connection, year: int, local: Local) -> Section:
    from salvage.paper.report import Section, Table

    words, mark = local.words, f"{year}-"
    counts = {
        "count_drop_offs": "drop_off WHERE received_on LIKE ? || '%'",
        "count_sold": "sale WHERE returned_on = '' AND sold_on LIKE ? || '%'",
        "count_consignments": "consignment WHERE sent_on LIKE ? || '%'",
        "count_confirmed": (
            "consignment_detail JOIN consignment ON code = consignment WHERE confirmed_on <> ''"
            " AND sent_on LIKE ? || '%'"
        ),
    }
    told = {
        name: conn.execute(f"SELECT count(*) FROM {rest}", (mark,)).fetchone()[0]
        for name, rest in counts.items()
    }
    for name, query in (
        ("count_boards", "SELECT recorded_at FROM board"),
        ("count_pieces", "SELECT made_at FROM piece WHERE cut IS NOT NULL"),
    ):
        told[name] = sum(local_day(at).year == year for (at,) in conn.execute(query))
    order = (
        *("count_drop_offs", "count_boards", "count_pieces", "count_sold"),
        *("count_consignments", "count_confirmed"),
    )
    rows = tuple((words[name], str(told[name])) for name in order)
    return Section(words["counts"], (), Table((), rows, (5, 1), right=(1,)))


def _consignment_section(shop: Workshop, year: int, local: Local) -> Section:
    from salvage.paper.report import Section, Table

    words = local.words
    rows = []
    for sent in reversed(list_consignments(shop)):
        if not sent.sent_on.startswith(f"{year}-"):
            continue
        detail = view_consignment(shop.conn, sent.code).detail
        papers = ", ".join(t for t in (sent.document, detail.permit if detail else "") if t)
        day, mass = local.day(sent.sent_on), local.mass(sent.weight_mg)
        rows.append((day, sent.receiver, sent.contents, mass, papers))
    if not rows:
        return Section(words["consignments"], (words["none"],))
    head = tuple(words[name] for name in ("day", "receiver", "what", "weight", "paper"))
    table = Table(head, tuple(rows), (2.2, 2.6, 4, 1.6, 2.2), right=(3,))
    return Section(words["consignments"], (), table)


def _container_section(shop: Workshop, local: Local) -> Section:
    from salvage.paper.report import Section, Table

    words = local.words
    rows = tuple(
        (
            f"{view.container.words} ({view.container.code})",
            local.day(view.container.opened_on),
            f"{local.day(view.due_on)}{late(view.days_left, words['over'])}" if view.due_on else "",
            local.mass(view.weight_mg),
        )
        for view in list_containers(shop)
    )
    if not rows:
        return Section(words["containers"], (words["none"],))
    head = tuple(words[name] for name in ("container", "since", "leaves", "weight"))
    return Section(words["containers"], (), Table(head, rows, (5, 2.2, 2.6, 1.6), right=(3,)))


def late(days_left: int | None, words: str) -> str:
    """Words behind a last day that is over; nothing before."""
    return f", {words}" if days_left is not None and days_left < 0 else ""
