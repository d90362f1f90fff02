"""The hub answers for every workshop as the workshop itself would."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from typing import Any

import psycopg
import pytest

from salvage.ids import Code
from salvage.work.hub import send_to_hub
from salvage.work.ledger import EVER, Period, read_totals
from salvage.work.recall import affected_by
from salvage.work.recall_causes import RecallCause
from salvage.work.season_figures import figure_season
from salvage.work.season_report import report_season
from salvage.work.trace import Branch, trace
from salvage.work.workshop import Workshop
from tests.postgres import Server
from tests.work.hubs import two_workshops
from tests.work.stall import DAY

Answers = list[tuple[Any, ...]]

PERIODS = (EVER, Period(DAY, DAY))

_THINGS = {
    "donor": "G", "drop_off": "D", "board": "B", "cut": "K", "piece": "P", "reservation": "R",
    "consignment": "C", "recall": "H", "batch": "V", "plan": "J",
}  # fmt: skip


class Hub:
    """Two workshops that have sent to one hub, and the open hub."""

    def __init__(self, shops: tuple[Workshop, Workshop], address: str) -> None:
        self.shops = shops
        for shop in shops:
            assert send_to_hub(shop, address=address, names=True).events
        self.conn = psycopg.connect(address, autocommit=True)

    def ask(self, query: str, *values: object) -> Answers:
        """The rows that the hub answers."""
        return self.conn.execute(query.encode(), values).fetchall()


@pytest.fixture(scope="module")
def hub(postgres: Server, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Hub]:
    """Two full workshops at one hub."""
    with two_workshops(tmp_path_factory.mktemp("shops")) as shops:
        found = Hub(shops, postgres.empty_hub("answers"))
        yield found
        found.conn.close()


def codes_of(shop: Workshop, table: str) -> list[Code]:
    """All codes of one table."""
    return [Code(c) for (c,) in shop.conn.execute(f"SELECT code FROM {table} ORDER BY code")]


def flat(branch: Branch, depth: int = 0, parent: str | None = None) -> Answers:
    """A tree as rows: depth, code, and what it came of."""
    rows: Answers = [(depth, branch.link.code, parent)]
    for below in branch.branches:
        rows += flat(below, depth + 1, branch.link.code)
    return rows


def test_the_workshops_share_letters_and_codes(hub: Hub) -> None:
    """Both workshops gave the same codes to different things, or the rest would prove little."""
    first, second = ({*codes_of(shop, "piece")} for shop in hub.shops)
    letters = [shop.settings.device for shop in hub.shops]

    assert letters == ["C", "C"]
    assert len(first & second) > 30
    assert hub.ask("SELECT count(*) FROM salvage.workshop") == [(2,)]


@pytest.mark.parametrize("table", _THINGS)
def test_a_trace_is_the_same(hub: Hub, table: str) -> None:
    """From any thing back to its donors, and forward to all that came of it."""
    asked = 0
    for ws, shop in enumerate(hub.shops, 1):
        for code in codes_of(shop, table):
            found = trace(shop, code)
            back = hub.ask("SELECT code FROM salvage.trace_back(%s, %s)", ws, code)
            forward = hub.ask(
                "SELECT depth, code, came_of FROM salvage.trace_forward(%s, %s)", ws, code
            )
            asked += 1

            assert [c for (c,) in back] == [link.code for link in found.back], code
            assert forward == flat(found.forward), code
    assert asked


def test_the_trace_of_all_pieces_is_one_table(hub: Hub) -> None:
    """Each piece with its boards, drop-offs and donors is what its own line back says."""
    asked = 0
    for ws, shop in enumerate(hub.shops, 1):
        rows = hub.ask(
            "SELECT piece, board, drop_off, donor FROM salvage.piece_from WHERE ws = %s", ws
        )
        for piece in codes_of(shop, "piece"):
            mine = {code for row in rows if row[0] == piece for code in row[1:]}
            back = {link.code for link in trace(shop, piece).back if link.code[0] in "BDG"}
            asked += 1

            assert mine == back, piece
    assert asked > 100


def causes_of(shop: Workshop) -> Iterator[dict[str, Any]]:
    """Causes of every kind that a workshop can call back by."""
    for table in ("donor", "drop_off", "board", "batch"):
        yield from ({"kind": "descent", "code": code} for code in codes_of(shop, table))
    for table in ("cut", "piece"):
        yield from ({"kind": "descent", "code": code} for code in codes_of(shop, table)[::7])
    articles = shop.conn.execute("SELECT DISTINCT article FROM part").fetchall()
    yield from ({"kind": "descent", "code": code} for (code,) in articles)
    hazards = shop.conn.execute("SELECT DISTINCT hazard FROM hazard_mark").fetchall()
    for (hazard,) in hazards:
        for marks in (["found"], ["accepted", "overridden"], ["found", "accepted", "overridden"]):
            yield {"kind": "hazard", "hazard": hazard, "marks": marks}
    for first, last in (("9840", "9852"), ("9701", "0653"), ("7001", "6953")):
        yield {"kind": "date code", "first": first, "last": last}
    ever = {"since": "0001", "until": "9999"}
    for how in ("calipers", "WIDTH", "mat", "nothing at all"):
        yield {"kind": "measured", "how": how, **ever}
    yield {"kind": "measured", "how": "width", "since": "2026-05-04T09:30", "until": "2026-05-05"}
    for (how,) in shop.conn.execute("SELECT DISTINCT how FROM measuring WHERE how LIKE '%mat M%'"):
        yield {"kind": "mat", "serial": how.rpartition(" ")[2]}
    for stages in ([], ["rough"], ["sealed", "ready"]):
        yield {"kind": "worker", "by": ["Maren"], "stages": stages, **ever}
        yield {"kind": "worker", "by": ["Ilva", "nobody"], "stages": stages, **ever}


def reached(shop: Workshop, cause: dict[str, Any]) -> set[tuple[Any, ...]]:
    """What a cause reaches at the workshop itself."""
    found = affected_by(shop.conn, RecallCause("", cause))
    return {(one.code, one.what, one.group, one.venue, one.day) for one in found}


_REACHED = "SELECT code, what, place, venue, day FROM salvage.recall_reach(%s, %s)"


def test_a_recall_reaches_the_same(hub: Hub) -> None:
    """By donor, board, cut, batch, hazard, date code, worker, mat: the same things, as far gone."""
    kinds: dict[str, int] = {}
    for ws, shop in enumerate(hub.shops, 1):
        for cause in causes_of(shop):
            rows = hub.ask(_REACHED, json.dumps(cause), ws)
            kinds[cause["kind"]] = kinds.get(cause["kind"], 0) + len(rows)

            assert len(rows) == len(set(rows))
            assert set(rows) == reached(shop, cause), cause
    assert all(kinds.values()), kinds
    assert set(kinds) == {"descent", "hazard", "date code", "measured", "worker", "mat"}


def test_a_recall_reaches_all_workshops_at_once(hub: Hub) -> None:
    """A cause that is nobody's own reaches every workshop's things, the sold ones first."""
    cause = {"kind": "hazard", "hazard": "coin-cell", "marks": ["found"]}
    rows = hub.ask("SELECT ws, code, place FROM salvage.recall_reach(%s)", json.dumps(cause))
    own = {
        (ws, row[0], row[2]) for ws, shop in enumerate(hub.shops, 1) for row in reached(shop, cause)
    }

    assert set(rows) == own
    assert {ws for ws, *_ in rows} == {1, 2}
    assert [place for *_, place in rows][:2] == ["sold", "sold"]


def test_one_lot_is_found_wherever_it_was_used(hub: Hub) -> None:
    """A maker calls one lot of varnish back: every workshop's batch of it, and what it is in."""
    maker = "Harbour Coatings"
    lots = hub.ask("SELECT DISTINCT lot FROM salvage.batch WHERE maker = %s", maker)
    asked = 0
    for (lot,) in lots:
        cause = json.dumps({"kind": "lot", "maker": maker, "lot": lot})
        rows = set(hub.ask("SELECT ws, code FROM salvage.recall_reach(%s)", cause))
        own = set()
        for ws, shop in enumerate(hub.shops, 1):
            query = "SELECT code FROM batch WHERE maker = ? AND lot = ?"
            for (batch,) in shop.conn.execute(query, (maker, lot)).fetchall():
                descent = {"kind": "descent", "code": batch}
                own |= {(ws, row[0]) for row in reached(shop, descent)}
        asked += len(rows)

        assert rows == own
    assert asked


def test_a_code_alone_is_nobodys(hub: Hub) -> None:
    """A code without its workshop names several things, so the hub asks for the workshop."""
    cause = json.dumps({"kind": "descent", "code": codes_of(hub.shops[0], "board")[0]})

    with pytest.raises(psycopg.errors.RaiseException, match="name its number as well"):
        hub.ask("SELECT * FROM salvage.recall_reach(%s)", cause)
    with pytest.raises(psycopg.errors.RaiseException, match="nothing is known of a cause"):
        hub.ask('SELECT * FROM salvage.recall_reach(\'{"kind": "moon"}\')')


def bounds(period: Period) -> tuple[str, str]:
    """The days of a period as the hub takes them."""
    return str(period.first or ""), str(period.last or "9999")


@pytest.mark.parametrize("period", PERIODS, ids=("ever", "one day"))
def test_season_totals_are_the_same(hub: Hub, period: Period) -> None:
    """In all, by month, by shape and by outing, to the last cent."""
    keys = {"month": "substr(day, 1, 7)", "shape": "words", "outing": "outing"}
    sums = (
        "sold, given, returned, list_minor, discount_minor, paid_minor, refunded_minor, tax_minor,"
        " fee_minor"
    )
    for ws, shop in enumerate(hub.shops, 1):
        for by, key in {"": "''", **keys}.items():
            others = [name for name in keys if name != by]
            only = " AND ".join(f"{name} IS NULL" for name in others)
            rows = hub.ask(
                f"SELECT coalesce({by or 'NULL'}, ''), currency, {sums}"
                f" FROM salvage.season_totals(%s, %s) WHERE ws = %s AND {only}"
                f" AND {by or 'NULL'} IS {'NOT NULL' if by else 'NULL'} ORDER BY 1, 2",
                *bounds(period),
                ws,
            )
            own = read_totals(shop.conn, key, period)

            assert own
            assert rows == [
                (t.key, t.currency, t.sold, t.given, t.returned, t.list_minor, t.discount_minor,
                 t.paid_minor, t.refunded_minor, t.tax_minor, t.fee_minor)
                for t in own
            ]  # fmt: skip


def test_the_season_report_is_the_same(hub: Hub) -> None:
    """What each shape and outing earned, sell-through, stock and the months."""
    for ws, shop in enumerate(hub.shops, 1):
        own = report_season(shop)
        assert own.whole
        shapes = hub.ask(
            "SELECT shape, sold, returned, stock, net_minor, earned_minor, sold_percent"
            " FROM salvage.season_shape WHERE ws = %s ORDER BY earned_minor DESC, shape",
            ws,
        )
        outings = hub.ask(
            "SELECT outing, name, there, sold, returned, net_minor, stall_fee_minor, earned_minor,"
            " sold_percent FROM salvage.season_outing WHERE ws = %s"
            " ORDER BY begins_on DESC, outing DESC",
            ws,
        )
        months = hub.ask(
            "SELECT month, sold, net_minor FROM salvage.season_month WHERE ws = %s ORDER BY 1", ws
        )
        whole = hub.ask(
            "SELECT workshop, sold, given, net_minor FROM salvage.season_whole WHERE ws = %s", ws
        )
        stock = hub.ask("SELECT shape, stage, pieces FROM salvage.season_stock WHERE ws = %s", ws)

        assert [*map(as_floats, shapes)] == [
            (o.total.key, o.total.sold, o.total.returned, o.stock, o.total.net_minor,
             o.earned_minor, tenth(o.sold_percent))
            for o in own.shapes
        ]  # fmt: skip
        assert own.outings
        assert [*map(as_floats, outings)] == [
            (o.code, o.name, o.there, o.total.sold, o.total.returned, o.total.net_minor,
             o.stall_fee_minor, o.earned_minor, tenth(o.sold_percent))
            for o in own.outings
        ]  # fmt: skip
        assert months == [(one.key, one.sold, one.net_minor) for one in own.months]
        assert whole == [(shop.settings.name, own.whole.sold, own.whole.given, own.whole.net_minor)]
        assert sorted(stock) == sorted(
            (shape, stage, n) for shape, stages in own.stock for stage, n in stages.items()
        )


def tenth(share: float | None) -> float | None:
    """A percentage as the hub rounds it."""
    return None if share is None else round(share, 1)


def as_floats(row: tuple[Any, ...]) -> tuple[Any, ...]:
    """A row whose last cell is a percentage."""
    return (*row[:-1], None if row[-1] is None else float(row[-1]))


@pytest.mark.parametrize("period", PERIODS, ids=("ever", "one day"))
def test_boards_and_donors_yield_the_same(hub: Hub, period: Period) -> None:
    """What each board and donor gave; an article's price is shared out to the last cent."""
    for ws, shop in enumerate(hub.shops, 1):
        own = figure_season(shop, period=period)
        boards = hub.ask(
            "SELECT board, donor, outline_um2, pieces_um2, usable_um2, pieces, sold, net_minor"
            " FROM salvage.season_boards(%s, %s) WHERE ws = %s",
            *bounds(period),
            ws,
        )
        donors = hub.ask(
            "SELECT donor, words, received_mg, unweighed, boards, pieces, sold, net_minor"
            " FROM salvage.season_donors(%s, %s) WHERE ws = %s",
            *bounds(period),
            ws,
        )
        untraced = hub.ask(
            "SELECT net_minor FROM salvage.sales_of_boards(%s, %s) WHERE ws = %s AND board = ''",
            *bounds(period),
            ws,
        )
        remnants = hub.ask("SELECT board FROM salvage.season_remnants WHERE ws = %s", ws)

        assert boards == sorted(
            (o.board, o.donor, o.outline_um2, o.pieces_um2, o.usable_um2, o.pieces, o.sold,
             o.net_minor)
            for o in own.boards
        )  # fmt: skip
        assert donors == [
            (o.donor, o.words.removesuffix(f" ({o.donor})"), o.received_mg, o.unweighed, o.boards,
             o.pieces, o.sold, o.net_minor)
            for o in own.donors
        ]  # fmt: skip
        assert sum(n for (n,) in untraced) == own.untraced_minor
        assert [code for (code,) in remnants] == [one.board for one in own.remnants]


def test_shares_of_an_article_sum_to_what_was_paid(hub: Hub) -> None:
    """Two boards, 1999 cents: the hub shares a cent that cannot be halved as the workshop does."""
    kept: Mapping[int, int] = dict(
        hub.ask("SELECT ws, sum(net_minor)::bigint FROM salvage.sales_of_boards() GROUP BY ws")
    )
    for ws, shop in enumerate(hub.shops, 1):
        whole = report_season(shop).whole
        assert whole
        assert kept[ws] == whole.net_minor


def test_workshops_together_are_the_sum(hub: Hub) -> None:
    """The network's months are the workshops' months, each currency by itself."""
    together = hub.ask("SELECT currency, month, sold, net_minor FROM salvage.season_together")
    sums: dict[tuple[str, str], list[int]] = {}
    for shop in hub.shops:
        for month in report_season(shop).months:
            mine = sums.setdefault((month.currency, month.key), [0, 0])
            mine[0] += month.sold
            mine[1] += month.net_minor

    assert sorted(together) == sorted((*key, *values) for key, values in sums.items())
    assert together


def test_open_recalls_of_all_workshops_are_one_list(hub: Hub) -> None:
    """What a workshop called back and nobody settled is seen by the network."""
    rows = hub.ask("SELECT ws, recall, code FROM salvage.recall_open")
    own = {
        (ws, *row)
        for ws, shop in enumerate(hub.shops, 1)
        for row in shop.conn.execute(
            "SELECT recall, recall_item.code FROM recall_item JOIN recall ON recall = recall.code"
            " WHERE state = 'open' AND recall_item.outcome IN ('', 'returned')"
        )
    }

    assert set(rows) == own
