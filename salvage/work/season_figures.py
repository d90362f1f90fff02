"""What each board and each donor yielded, and what remnants are left to make more of."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from salvage.ids import Code
from salvage.work.amounts import share_out
from salvage.work.donors import UNNAMED, public_name
from salvage.work.ledger import EVER, Period, read_totals
from salvage.work.lineage import cut_pieces
from salvage.work.workshop import Workshop


@dataclass(frozen=True, slots=True)
class BoardYield:
    """
    What a board that was cut has given.

    Args:
        board: Its code.
        donor: Code of who gave it.
        outline_um2: Its area as it came; 0 where it has no outline.
        pieces_um2: Area that became pieces.
        usable_um2: Area that can still be cut; 0 once the board is retired or lost.
        pieces: Pieces cut from it.
        sold: Pieces of it that went and stayed away in the period, those in articles too.
        net_minor: Paid for them, less what was given back, in the workshop's currency.
    """

    board: Code
    donor: Code
    outline_um2: int
    pieces_um2: int
    usable_um2: int
    pieces: int
    sold: int
    net_minor: int

    @property
    def pieces_percent(self) -> float | None:
        """Yield: the part of the board's area that became pieces."""
        return 100 * self.pieces_um2 / self.outline_um2 if self.outline_um2 else None

    @property
    def usable_percent(self) -> float | None:
        """The part of its area that can still be cut."""
        return 100 * self.usable_um2 / self.outline_um2 if self.outline_um2 else None


@dataclass(frozen=True, slots=True)
class DonorYield:
    """
    What came of a donor's equipment.

    Args:
        donor: Their code.
        words: How they may be called in public; never more than they consented to.
        received_mg: Weighed drop-offs.
        unweighed: Drop-offs without a weight, which are missing from *received_mg*.
        boards: Boards on record.
        pieces: Pieces cut from them.
        sold: As of :class:`BoardYield`.
        net_minor: As of :class:`BoardYield`.
    """

    donor: Code
    words: str
    received_mg: int
    unweighed: int
    boards: int
    pieces: int
    sold: int
    net_minor: int


@dataclass(frozen=True, slots=True)
class SeasonFigures:
    """
    What boards and donors yielded.

    Args:
        currency: Of the amounts.
        boards: Boards that were cut, the best yield first.
        remnants: Those of them that have usable area left, the most first.
        donors: All donors, the most kept first.
        untraced_minor: Paid, less what was given back, for things whose label was lost.
    """

    currency: str
    boards: tuple[BoardYield, ...]
    remnants: tuple[BoardYield, ...]
    donors: tuple[DonorYield, ...]
    untraced_minor: int


def figure_season(shop: Workshop, *, period: Period = EVER) -> SeasonFigures:
    """
    What each board and donor yielded; area and pieces as of now, sales of the period.

    What was paid for an article is shared among its boards as its material is.

    Args:
        shop: The open workshop.
        period: Which part of the ledger.
    """
    sold, net = _sales_of_boards(shop, period)
    boards = _boards(shop, sold, net)
    by_yield = sorted(boards, key=lambda one: (-(one.pieces_percent or 0.0), one.board))
    left = [one for one in boards if one.usable_um2]
    return SeasonFigures(
        shop.settings.currency,
        tuple(by_yield),
        tuple(sorted(left, key=lambda one: (-one.usable_um2, one.board))),
        _donors(shop, boards),
        net.get("", 0),
    )


_ORIGIN = "(SELECT coalesce(board, code) FROM piece WHERE code = ledger.piece)"
"""Board of a piece, the article's own code, or nothing where the label was lost."""


def _sales_of_boards(shop: Workshop, period: Period) -> tuple[dict[str, int], dict[str, int]]:
    """Pieces that stayed away, and what was kept for them, by board; what is untraced under ''."""
    sold: dict[str, int] = {}
    net: dict[str, int] = {}
    for total in read_totals(shop.conn, _ORIGIN, period):
        if total.currency != shop.settings.currency:
            continue
        gone = total.sold + total.given - total.returned
        for board, count in _pieces_in(shop, total.key).items():
            sold[board] = sold.get(board, 0) + gone * count
        for board, minor in _shares(shop, total.key, total.net_minor):
            net[board] = net.get(board, 0) + minor
    return sold, net


def _pieces_in(shop: Workshop, origin: str) -> Counter[str]:
    """Pieces by board that went with one sale: all that are in an article, else the one."""
    if not origin.startswith("P"):
        return Counter((origin,))
    return Counter(piece.board or "" for piece in cut_pieces(shop.conn, Code(origin)))


def _shares(shop: Workshop, origin: str, minor: int) -> list[tuple[str, int]]:
    """An amount by board: of an article by its material, else all to the one board."""
    shares = shop.conn.execute(
        "SELECT board, share_ppm FROM board_share WHERE article = ? ORDER BY board", (origin,)
    ).fetchall()
    if not shares:
        known = shop.conn.execute("SELECT 1 FROM board WHERE code = ?", (origin,)).fetchone()
        return [(origin if known else "", minor)]
    sign = -1 if minor < 0 else 1
    parts = share_out(abs(minor), [share for _, share in shares])
    return [(board, sign * part) for (board, _), part in zip(shares, parts, strict=True)]


def _boards(shop: Workshop, sold: dict[str, int], net: dict[str, int]) -> list[BoardYield]:
    rows = shop.conn.execute(
        "SELECT board.code, donor, outline_um2, sum(cut.area_um2 * (outcome = 'piece')),"
        " CASE WHEN retired = '' AND board.code NOT IN (SELECT code FROM lost_thing)"
        " THEN usable_um2 ELSE 0 END, sum(outcome = 'piece')"
        " FROM board JOIN drop_off ON drop_off.code = drop_off JOIN cut ON cut.board = board.code"
        " GROUP BY board.code ORDER BY board.code"
    )
    sales = ((*row, sold.get(row[0], 0), net.get(row[0], 0)) for row in rows)
    return [BoardYield(*values) for values in sales]


def _donors(shop: Workshop, boards: list[BoardYield]) -> tuple[DonorYield, ...]:
    mine: dict[str, list[BoardYield]] = {}
    for board in boards:
        mine.setdefault(board.donor, []).append(board)
    rows = shop.conn.execute(
        "SELECT donor.code, coalesce(sum(weight_mg), 0),"
        " coalesce(sum(drop_off.code IS NOT NULL AND weight_mg IS NULL), 0),"
        " (SELECT count(*) FROM board JOIN drop_off AS own ON own.code = board.drop_off"
        "  WHERE own.donor = donor.code)"
        " FROM donor LEFT JOIN drop_off ON drop_off.donor = donor.code GROUP BY donor.code"
    ).fetchall()
    words = {code: public_name(shop.conn, Code(code)) for code, *_ in rows}
    called = list(words.values())
    found = [
        DonorYield(
            Code(code),
            _apart(words[code], code, called),
            received_mg,
            unweighed,
            count,
            sum(one.pieces for one in mine.get(code, ())),
            sum(one.sold for one in mine.get(code, ())),
            sum(one.net_minor for one in mine.get(code, ())),
        )
        for code, received_mg, unweighed, count in rows
    ]
    return tuple(sorted(found, key=lambda one: (-one.net_minor, -one.pieces, one.donor)))


def _apart(words: str, code: str, called: list[str]) -> str:
    """The public words, with the code where several donors are called the same."""
    return f"{words} ({code})" if words == UNNAMED or called.count(words) > 1 else words
