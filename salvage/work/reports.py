"""Papers of the workshop: hazard log and consignment note, and what all such papers share."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Sequence
from datetime import date
from typing import TYPE_CHECKING

from salvage.errors import BadValue
from salvage.ids import Code
from salvage.records.events import Event
from salvage.records.things import HazardCheck
from salvage.store.change import Change
from salvage.store.journal import read_events, read_head, undone_ids
from salvage.store.rows import select
from salvage.work.consigning import ConsignmentView, view_consignment
from salvage.work.day_order import local_day
from salvage.work.impact import said_of
from salvage.work.own_facts import find_known_hazard
from salvage.work.papers import fonts_of, naming_glyph, symbol_svg
from salvage.work.wordings import local_of, note_printed
from salvage.work.workshop import Workshop

if TYPE_CHECKING:
    from salvage.paper.local import Local
    from salvage.paper.report import Report, Section


def print_paper(
    shop: Workshop, document: str, code: Code | None, report: Report, *, dry_run: bool
) -> bytes:
    """
    A report as PDF, and a record that it was printed.

    Args:
        shop: The open workshop.
        document: Whose wording it has.
        code: What it is about; None for the whole workshop.
        report: What it says.
        dry_run: Do everything, then roll back.
    """
    from salvage.paper.report import print_report

    def steps(change: Change) -> bytes:
        with naming_glyph(f"the document '{document}'"):
            pdf = print_report(
                report,
                paper=shop.settings.paper,
                made_on=shop.today,
                extra_fonts=fonts_of(shop),
            )
        note_printed(change, document, code, report.words, said_of(report))
        return pdf

    return shop.commit("print report", steps, dry_run=dry_run)


def base_report(shop: Workshop, local: Local, **more: object) -> Report:
    """A report with what all of them share."""
    from salvage.paper.report import Report

    settings, head = shop.settings, read_head(shop.conn, shop.settings.device)
    # Every further field is one of Report's own; a slip is a TypeError in every test of it.
    given: dict[str, object] = {
        "title": local.words["title"],
        "code": "",
        "symbol_svg": "",
        "workshop": settings.name,
        "address": settings.contact or settings.web_address,
        "statement": local.words["statement"],
        "signatures": (),
        "sign_hint": "",
        "sources": (),
        "words": local.words,
        "count": head.count,
        "head": head.hash,
        **more,
    }
    return Report(**given)  # type: ignore[arg-type]


def print_hazard_log(
    shop: Workshop,
    *,
    since: date | None = None,
    until: date | None = None,
    board: Code | None = None,
    dry_run: bool = False,
) -> bytes:
    """
    What was looked for and found on boards, in the order of the record, as PDF.

    Args:
        shop: The open workshop.
        since: First day; from the beginning when None.
        until: Last day; today when None.
        board: Only this board.
        dry_run: Do everything, then roll back.

    Raises:
        BadValue: If the days are in the wrong order.
    """
    from salvage.paper.report import Section

    last = until or shop.today
    if since and since > last:
        raise BadValue(f"{since} is after {last}", hint="give the earlier day first")
    local = local_of(shop, "hazards")
    words = local.words
    found = tuple(_checks_in(shop.conn, since, last, board))
    sections = [_log_section(shop.conn, found, local), *_open_sections(shop.conn, board, local)]
    overrides = _overrides(shop.conn, since, last, board, local)
    if overrides:
        sections.append(Section(words["overrides"], overrides))
    first = local.day(since) if since else "…"
    report = base_report(
        shop,
        local,
        facts=((words["period"], f"{first} – {local.day(last)}"),),
        sections=tuple(sections),
        sources=_hazard_sources(shop.conn, {str(event.data["hazard"]) for event in found}),
        is_wide=True,
    )
    return print_paper(shop, "hazards", board, report, dry_run=dry_run)


def _log_section(conn: sqlite3.Connection, found: Sequence[Event], local: Local) -> Section:
    from salvage.paper.report import Section, Table

    words = local.words
    if not found:
        return Section(words["log"], (words["none"],))
    rows = tuple(_check_row(conn, event, local) for event in found)
    head = tuple(
        words[name] for name in ("day", "board", "hazard", "finding", "what", "goes_to", "by")
    )
    return Section(words["log"], (), Table(head, rows, (2.7, 1.7, 3.6, 1.8, 4.8, 3.4, 1.6)))


def _open_sections(
    conn: sqlite3.Connection, board: Code | None, local: Local
) -> tuple[Section, ...]:
    from salvage.paper.report import Section, Table

    words, still = local.words, _still_open(conn, board)
    if not still:
        return ()
    table = Table((words["board"], words["open"]), tuple(still), (1.6, 8))
    return (Section(words["still_open"], (), table),)


def _checks_in(
    conn: sqlite3.Connection, since: date | None, last: date, board: Code | None
) -> Iterator[Event]:
    gone = undone_ids(conn)
    for event in read_events(conn):
        if event.kind != "hazard.checked" or event.id in gone:
            continue
        day = local_day(event.at)
        if (since is None or since <= day) and day <= last and board in (None, event.about[0]):
            yield event


def _check_row(conn: sqlite3.Connection, event: Event, local: Local) -> tuple[str, ...]:
    data = {name: str(value) for name, value in event.data.items()}
    outcome = local.words[f"outcome_{data['outcome']}"] if data["outcome"] else ""
    done = ": ".join(text for text in (outcome, data["how"] or data["reason"]) if text)
    return (
        local.day(local_day(event.at)),
        event.about[0],
        find_known_hazard(conn, data["hazard"]).name,
        local.words[f"finding_{data['finding'].replace(' ', '_')}"],
        done,
        data["goes_to"],
        event.by,
    )


def _still_open(conn: sqlite3.Connection, board: Code | None) -> list[tuple[str, str]]:
    """Boards that are not retired, with the hazards that still hold them."""
    checks = select(
        conn,
        HazardCheck,
        "FROM hazard_check WHERE board IN (SELECT code FROM board WHERE retired = '')"
        " ORDER BY board, hazard",
    )
    found: dict[str, list[str]] = {}
    for check in checks:
        if not check.is_settled and board in (None, check.board):
            found.setdefault(check.board, []).append(check.hazard)
    return [(code, ", ".join(hazards)) for code, hazards in found.items()]


def _overrides(
    conn: sqlite3.Connection, since: date | None, last: date, board: Code | None, local: Local
) -> tuple[str, ...]:
    rows = conn.execute(
        "SELECT code, board, override_reason, by, at FROM cut WHERE override_reason <> ''"
        " ORDER BY clock, code"
    )
    return tuple(
        f"{local.day(local_day(at))}, {cut}, {of}: {why} ({by})"
        for cut, of, why, by, at in rows
        if (since is None or since <= local_day(at))
        and local_day(at) <= last
        and board in (None, of)
    )


def _hazard_sources(conn: sqlite3.Connection, slugs: set[str]) -> tuple[str, ...]:
    known = (find_known_hazard(conn, slug) for slug in sorted(slugs))
    return tuple(f"{hazard.name}: {hazard.source.marked_words}" for hazard in known)


def print_consignment_note(shop: Workshop, *, consignment: Code, dry_run: bool = False) -> bytes:
    """
    The note that goes with a consignment, as PDF.

    Args:
        shop: The open workshop.
        consignment: Its code.
        dry_run: Do everything, then roll back.

    Raises:
        NotFound: If there is no such consignment.
    """
    from salvage.paper.report import Section

    view, local = view_consignment(shop.conn, consignment), local_of(shop, "consignment")
    words, sent = local.words, view.consignment
    sections = [_items_section(shop.conn, view, local)]
    rules = _rules(shop.conn, view, local)
    if rules:
        sections.append(Section(words["labels"], rules))
    sections.append(Section("", _receipt_lines(view, local)))
    settings = shop.settings
    sender = ", ".join(t for t in (settings.name, settings.place, settings.contact) if t)
    report = base_report(
        shop,
        local,
        code=consignment,
        symbol_svg=symbol_svg(consignment),
        facts=(
            (words["sender"], sender),
            (words["receiver"], sent.receiver),
            (words["permit"], view.detail.permit if view.detail else ""),
            (words["document"], sent.document),
            (words["sent_on"], local.day(sent.sent_on)),
            (words["weight"], local.mass(sent.weight_mg)),
        ),
        sections=tuple(sections),
        signatures=(words["handed"], words["taken"]),
        sign_hint=words["sign"],
    )
    return print_paper(shop, "consignment", consignment, report, dry_run=dry_run)


def _items_section(conn: sqlite3.Connection, view: ConsignmentView, local: Local) -> Section:
    from salvage.paper.report import Section, Table

    words, sent = local.words, view.consignment
    opened = dict(conn.execute("SELECT code, opened_on FROM waste_container"))
    rows = [
        (
            str(item.n),
            item.words,
            local.day(opened[item.code]) if item.code in opened else "",
            local.mass(item.weight_mg) + ("" if item.weighed else f" ({words['estimated']})"),
        )
        for item in view.items
    ] or [("1", sent.contents, "", local.mass(sent.weight_mg))]
    rows.append(("", words["total"], "", local.mass(sent.weight_mg)))
    head = tuple(words[name] for name in ("number", "what", "opened", "item_weight"))
    table = Table(head, tuple(rows), (0.8, 6, 2.4, 2.8), right=(3,), strong_last=True)
    return Section(words["items"], (), table)


def _rules(conn: sqlite3.Connection, view: ConsignmentView, local: Local) -> tuple[str, ...]:
    """What is written on the containers of a consignment, each with the rule that it rests on."""
    from salvage.paper.wording import fill

    told = []
    for item in view.items:
        row = conn.execute(
            "SELECT words, rule FROM waste_container WHERE code = ?", (item.code,)
        ).fetchone()
        if row:
            told.append(fill(local.words, "rule", words=row[0], rule=row[1]))
    return tuple(dict.fromkeys(told))


def _receipt_lines(view: ConsignmentView, local: Local) -> tuple[str, ...]:
    from salvage.paper.wording import fill

    detail = view.detail
    if detail is None or not detail.confirmed_on:
        return (local.words["not_confirmed"],)
    day = local.day(detail.confirmed_on)
    lines = [fill(local.words, "confirmed", date=day, paper=detail.confirmation)]
    if detail.confirmed_mg is not None:
        lines.append(fill(local.words, "confirmed_weight", mass=local.mass(detail.confirmed_mg)))
    return tuple(lines)
