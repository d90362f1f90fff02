"""
What became of a donor's equipment: the report for that donor, and for nobody else.

It holds only what is of this donor's drop-offs: their boards, the pieces cut from them, their own
words. The donor is named as they agreed; their own copy may give the name.
"""

from __future__ import annotations

import sqlite3
from dataclasses import dataclass
from typing import TYPE_CHECKING

from salvage.errors import BadValue, NotFound
from salvage.ids import Code
from salvage.records.things import Board, DataPart, DropOff, Piece, Sale
from salvage.store.change import Change
from salvage.store.journal import read_head
from salvage.store.lookup import load_drop_off
from salvage.store.rows import select
from salvage.work.balance import Amount, total
from salvage.work.donors import UNNAMED, DonorView, view_donor
from salvage.work.drop_off_mass import DropOffMass, balance_drop_off
from salvage.work.look import draw_board_map
from salvage.work.papers import fonts_of, naming_glyph, symbol_svg
from salvage.work.photos import newest_photo
from salvage.work.wordings import local_of, note_printed
from salvage.work.workshop import Workshop

if TYPE_CHECKING:
    from salvage.paper.local import Local
    from salvage.paper.report import Picture, Report, Section, Table

MOST_PICTURES = 8
"""Pictures on one report; more boards than these are told in words."""

_PICTURE_PX = 900
_MAP_PX_PER_MM = 4.0


@dataclass(frozen=True, slots=True)
class _Gift:
    """All that came from a donor, as far as one report tells it."""

    code: Code
    donor: DonorView
    drop_offs: tuple[DropOff, ...]
    masses: tuple[DropOffMass, ...]
    boards: tuple[Board, ...]
    pieces: tuple[Piece, ...]


def print_impact(
    shop: Workshop, *, subject: Code, with_name: bool = False, dry_run: bool = False
) -> bytes:
    """
    The report for a donor, on all their drop-offs or on one, as PDF; the record keeps that it was.

    Args:
        shop: The open workshop.
        subject: Code of the donor or of one drop-off.
        with_name: Print the donor's own name although cards may not give it; for their copy.
        dry_run: Do everything, then roll back.

    Raises:
        NotFound: If there is no such donor or drop-off, or nothing came from them.
        BadValue: If the code is of something else.
    """
    from salvage.paper.report import print_report

    def steps(change: Change) -> bytes:
        gift = _gather(change.conn, subject)
        report = compose_impact(shop, gift, with_name=with_name)
        with naming_glyph(f"the report for {subject}"):
            pdf = print_report(
                report,
                paper=shop.settings.paper,
                made_on=shop.today,
                extra_fonts=fonts_of(shop),
            )
        naming = "own copy" if with_name else gift.donor.donor.naming
        said = said_of(report)
        note_printed(change, "impact", subject, report.words, said, naming=naming)
        return pdf

    return shop.commit("print report", steps, dry_run=dry_run)


def said_of(report: Report) -> str:
    """What a report says in its tables and paragraphs, for the hash that the record keeps."""
    told = [
        (section.heading, section.paragraphs, section.table, section.after)
        for section in report.sections
    ]
    return repr((report.title, report.code, told, report.statement))


def _gather(conn: sqlite3.Connection, subject: Code) -> _Gift:
    if subject[0] not in "DG":
        raise BadValue(f"{subject} is neither a donor nor a drop-off")
    if subject[0] == "D":
        drop_offs: tuple[DropOff, ...] = (load_drop_off(conn, subject),)
        donor = view_donor(conn, drop_offs[0].donor)
    else:
        donor = view_donor(conn, subject)
        query = "FROM drop_off WHERE donor = ? ORDER BY received_on, code"
        drop_offs = select(conn, DropOff, query, (subject,))
        if not drop_offs:
            raise NotFound(f"nothing came from {subject} yet")
    codes = tuple(each.code for each in drop_offs)
    marks = ", ".join("?" * len(codes))
    boards = select(conn, Board, f"FROM board WHERE drop_off IN ({marks}) ORDER BY code", codes)
    pieces = select(
        conn,
        Piece,
        f"FROM piece WHERE board IN (SELECT code FROM board WHERE drop_off IN ({marks}))"
        " ORDER BY code",
        codes,
    )
    masses = tuple(balance_drop_off(conn, code) for code in codes)
    return _Gift(subject, donor, drop_offs, masses, boards, pieces)


def compose_impact(shop: Workshop, gift: _Gift, *, with_name: bool) -> Report:
    """Everything that the report says and shows, from the record and the wording."""
    from salvage.paper.report import Report, Section

    local, settings = local_of(shop, "impact"), shop.settings
    words, head = local.words, read_head(shop.conn, settings.device)
    public = words["unnamed"] if gift.donor.public == UNNAMED else gift.donor.public
    came = ", ".join(local.day(each.received_on) for each in gift.drop_offs)
    sections = [
        Section("", (words["greeting"], *_stories(gift, local))),
        _figures(gift, local),
        *_board_sections(shop, gift, local),
        *_piece_sections(shop.conn, gift, local),
        *_data_sections(shop.conn, gift, local),
        Section("", (words["thanks"],)),
    ]
    is_estimated = any(mass.pieces.estimated or mass.dust.estimated for mass in gift.masses)
    return Report(
        title=words["title"],
        code=gift.code,
        symbol_svg=symbol_svg(gift.code),
        workshop=settings.name,
        address=settings.web_address or settings.contact,
        facts=(
            (words["for"], (gift.donor.name if with_name else "") or public),
            (words["came"], came),
            (words["drop_offs"], ", ".join(each.code for each in gift.drop_offs)),
            (words["made_on"], local.day(shop.today)),
        ),
        sections=tuple(sections),
        statement=words["statement"],
        signatures=(),
        sign_hint="",
        sources=source_lines() if is_estimated else (),
        words=words,
        count=head.count,
        head=head.hash,
    )


def source_lines() -> tuple[str, ...]:
    """What estimates of mass rest on, one line each."""
    from salvage.knowledge.areal_mass import areal_sources

    return tuple(f"{what}: {source}" for what, source in areal_sources())


def _stories(gift: _Gift, local: Local) -> tuple[str, ...]:
    from salvage.paper.wording import fill

    return tuple(
        fill(local.words, "told", story=each.story) for each in gift.drop_offs if each.story
    )


def put(amount: Amount, local: Local) -> str:
    """An amount in words, with its bounds where it is an estimate."""
    if not amount.estimated or not amount.mg:
        return local.mass(amount.mg)
    return local.estimate(amount.mg, amount.least_mg, amount.most_mg)


def _figures(gift: _Gift, local: Local) -> Section:
    from salvage.paper.report import Section, Table

    words, masses = local.words, gift.masses
    lines = (
        ("line_came", total(mass.came for mass in masses)),
        ("line_pieces", total(mass.pieces for mass in masses)),
        ("line_recycled", total(mass.recycled for mass in masses)),
        ("line_confirmed", total(mass.confirmed for mass in masses)),
        ("line_waiting", total(mass.waiting for mass in masses)),
        ("line_shelf", total(mass.shelf for mass in masses)),
        ("line_dust", total(mass.dust for mass in masses)),
    )
    rest = sum(mass.unexplained_mg for mass in masses)
    rows = [(words[name], put(amount, local)) for name, amount in lines]
    rows.append((words["line_rest"], local.mass(rest)))
    table: Table = Table((), tuple(rows), (2.2, 3.0), right=(1,))
    notes = [words["estimate_words"]] if any(a.estimated for _, a in lines) else []
    return Section(words["figures"], (), table, after=(*notes, words["rest_words"]))


def _board_sections(shop: Workshop, gift: _Gift, local: Local) -> tuple[Section, ...]:
    from salvage.paper.report import Section
    from salvage.paper.wording import fill

    if not gift.boards:
        return ()
    pictures: list[Picture] = []
    told: list[str] = []
    for board in gift.boards:
        line = fill(local.words, "board_line", title=board.title, code=board.code)
        count = sum(piece.board == board.code for piece in gift.pieces)
        line = f"{line}. {fill(local.words, 'cut_count', count=count)}"
        picture = _board_picture(shop, board, line)
        if picture and len(pictures) < MOST_PICTURES:
            pictures.append(picture)
        else:
            told.append(line)
    return (Section(local.words["boards"], (), pictures=tuple(pictures), after=tuple(told)),)


def _board_picture(shop: Workshop, board: Board, caption: str) -> Picture | None:
    """The board's map over its photo, else its photo, freshly drawn so that nothing hides in it."""
    from salvage.paper.report import Picture
    from salvage.photo.upright import upright_jpeg

    if board.outline:
        data = draw_board_map(shop, board=board.code, px_per_mm=_MAP_PX_PER_MM, legend=False)
        return Picture(data, caption)
    photo = newest_photo(shop, board.code)
    if photo is None:
        return None
    data = upright_jpeg(shop.files.load(photo.sha256), longest_px=_PICTURE_PX)
    return Picture(data, caption)


def _piece_sections(conn: sqlite3.Connection, gift: _Gift, local: Local) -> tuple[Section, ...]:
    from salvage.paper.report import Section, Table

    if not gift.pieces:
        return ()
    words = local.words
    rows = tuple(
        (
            f"{piece.shape.replace('-', ' ')} ({piece.code})",
            str(piece.board),
            local.day(piece.made_at),
            _now(conn, piece, local),
        )
        for piece in gift.pieces
    )
    head = tuple(words[name] for name in ("piece", "from_board", "made", "now"))
    return (Section(words["pieces"], (), Table(head, rows, (3, 2, 2.4, 4))),)


def _now(conn: sqlite3.Connection, piece: Piece, local: Local) -> str:
    """Where a piece is; never to whom it went, which the record does not hold."""
    from salvage.paper.wording import fill

    words = local.words
    if piece.stage == "sold":
        query = "FROM sale WHERE piece = ? ORDER BY returned_on <> '', n DESC"
        (sale, *_) = select(conn, Sale, query, (piece.code,))
        day = local.day(sale.sold_on)
        if sale.venue:
            return fill(words, "sold_at", venue=sale.venue, date=day)
        return fill(words, "sold", date=day)
    if piece.recalled or piece.stage == "withdrawn":
        return words["withdrawn"]
    return fill(words, "here", stage=piece.stage)


def _data_sections(conn: sqlite3.Connection, gift: _Gift, local: Local) -> tuple[Section, ...]:
    from salvage.paper.report import Section
    from salvage.paper.wording import fill

    lines = []
    for drop_off in gift.drop_offs:
        query = "FROM data_part WHERE drop_off = ? ORDER BY n"
        for part in select(conn, DataPart, query, (drop_off.code,)):
            if part.state == "none found":
                lines.append(local.words["state_none_found"])
                continue
            state = local.words[f"state_{part.state}"]
            lines.append(
                fill(local.words, "data_line", count=part.count, part=part.part, state=state)
            )
    return (Section(local.words["data"], tuple(dict.fromkeys(lines))),) if lines else ()
