"""Articles of several pieces: one code to sell, and every part's line of descent kept."""

from __future__ import annotations

import pytest

from salvage.errors import BadValue, Held, NotFound, Refused
from salvage.ids import Code
from salvage.records.counting import StockTake
from salvage.store.lookup import load_piece
from salvage.store.projection import TABLES, rebuild
from salvage.store.rows import select
from salvage.work.articles import assemble, list_articles, split_whole, take_apart
from salvage.work.cards import print_card
from salvage.work.check import run_checks
from salvage.work.cutting import NewCut, record_cut
from salvage.work.history import read_history, undo
from salvage.work.labels import codes_without_label
from salvage.work.lineage import boards_of, donors_of
from salvage.work.mass import account_mass
from salvage.work.outings import NewOuting, plan_outing
from salvage.work.packing import pack
from salvage.work.pieces import (
    list_pieces,
    sell,
    set_price,
    set_stage,
    take_back,
    view_piece,
    weigh_piece,
)
from salvage.work.recall import open_recall, view_recall
from salvage.work.stock_difference import find_differences, judge_codes
from salvage.work.stock_take import (
    Settlement,
    begin_stock_take,
    record_seen,
    settle_stock_take,
)
from salvage.work.trace import descendants, trace, where_now
from salvage.work.workshop import Workshop
from tests.bench import (
    START,
    add_board,
    circle_at,
    dump,
)
from tests.work.pair import Pair
from tests.work.stock import last_operation, projection


@pytest.fixture(name="pair")
def _pair(empty_shop: Workshop) -> Pair:
    return Pair(empty_shop)


def _stage(pair: Pair, code: Code) -> str:
    return load_piece(pair.shop.conn, code).stage


def _checks_hold(shop: Workshop) -> bool:
    return not [line for line in run_checks(shop) if not line.ok]


def test_two_pieces_become_one_article(pair: Pair) -> None:
    """The article has a code of its own, its parts keep theirs, and all boards are known."""
    article = pair.assemble()
    view = view_piece(pair.shop.conn, article)

    assert [part.piece for part in view.parts] == [pair.left, pair.right]
    assert [board.code for board in view.boards] == [pair.first, pair.second]
    assert view.piece.custody == "controlled blending"
    assert view.piece.stage == _stage(pair, pair.left) == "assembled"
    assert [one.piece.code for one in list_articles(pair.shop)] == [article]
    assert _checks_hold(pair.shop)


def test_pieces_of_one_board_stay_identity_preserved(pair: Pair) -> None:
    """Earrings from one board are still of one source (ISO 22095, identity preserved model)."""
    article = pair.assemble(pair.left, pair.middle)

    assert load_piece(pair.shop.conn, article).custody == "identity preserved"
    assert _checks_hold(pair.shop)


def test_shares_are_by_weight_where_all_parts_are_weighed(pair: Pair) -> None:
    """One gram and three: a quarter and three quarters; without weights equal circles are equal."""
    by_area = pair.assemble()
    take_apart(pair.shop, article=by_area, reason="not weighed")
    weigh_piece(pair.shop, piece=pair.left, weight_g=1.0)
    weigh_piece(pair.shop, piece=pair.right, weight_g=3.0)
    by_weight = pair.assemble()
    rows = pair.shop.conn.execute("SELECT article, board, share_ppm, measured FROM board_share")
    shares = {(article, board): (ppm, how) for article, board, ppm, how in rows}

    assert shares == {
        (by_area, pair.first): (500_000, "area"),
        (by_area, pair.second): (500_000, "area"),
        (by_weight, pair.first): (250_000, "weight"),
        (by_weight, pair.second): (750_000, "weight"),
    }


@pytest.mark.parametrize("amounts", [(1, 1, 1), (1, 2), (7,), (999_999, 1, 3, 5, 9, 2), (1, 0)])
def test_shares_add_up_to_the_whole(amounts: tuple[int, ...]) -> None:
    """Whatever the rounding, nothing of the whole is lost, and none is off by a millionth."""
    given = {Code(f"B{n}"): amount for n, amount in enumerate(amounts)}
    shares = split_whole(given)

    assert sum(shares.values()) == 1_000_000
    for code, amount in given.items():
        assert abs(shares[code] - amount * 1_000_000 / sum(amounts)) < 1


def test_an_article_traces_to_all_its_donors(pair: Pair) -> None:
    """Back along every part, and forward from each donor to the article."""
    article = pair.assemble()
    found = trace(pair.shop, article)
    donors = [donor.code for donor in donors_of(pair.shop.conn, article)]
    back = [link.code for link in found.back]

    assert len(donors) == 2
    assert {*donors, pair.first, pair.second, pair.left, pair.right} < set(back)
    assert len(back) == len(set(back)) == 10
    assert [branch.link.code for branch in found.origins.branches] == [pair.left, pair.right]
    for donor in donors:
        assert article in descendants(pair.shop.conn, donor)
    assert "50 % " in found.subject.words


def test_an_article_may_be_part_of_another(pair: Pair) -> None:
    """A set of earrings and a brooch: three pieces, two boards, one code to sell."""
    inner = pair.assemble()
    outer = pair.assemble(inner, pair.middle)
    boards = [board.code for board in boards_of(pair.shop.conn, outer)]

    assert boards == [pair.first, pair.second]
    assert where_now(pair.shop.conn, load_piece(pair.shop.conn, pair.left)) == (
        f"in article {outer}, assembled"
    )
    with pytest.raises(Refused, match=f"{inner} is a part of {outer}"):
        take_apart(pair.shop, article=inner, reason="no")
    assert _checks_hold(pair.shop)


def test_a_part_is_not_sold_singly(pair: Pair) -> None:
    """Neither sale nor stage nor card: the article speaks for its parts."""
    article = pair.assemble()

    for deed in (
        lambda: sell(pair.shop, piece=pair.left, price_minor=900),
        lambda: set_stage(pair.shop, pieces=[pair.left], stage="ready"),
        lambda: print_card(pair.shop, piece=pair.left),
        lambda: pair.assemble(pair.left, pair.middle),
    ):
        with pytest.raises(Refused, match=f"{pair.left} is a part of {article}"):
            deed()
    assert pair.left not in [piece.code for piece in list_pieces(pair.shop)]
    assert pair.left not in codes_without_label(pair.shop)
    assert article in codes_without_label(pair.shop)


def test_an_article_is_priced_sold_and_comes_back(pair: Pair) -> None:
    """It goes the way of any piece, and its parts are where it is."""
    article = pair.assemble()
    set_price(pair.shop, pieces=[article], price_minor=3200)
    set_stage(pair.shop, pieces=[article], stage="ready")
    sell(pair.shop, piece=article, venue="Lantern Fair")
    there = where_now(pair.shop.conn, load_piece(pair.shop.conn, pair.left))
    with pytest.raises(Refused, match="is sold"):
        take_apart(pair.shop, article=article, reason="no")
    take_back(pair.shop, piece=article, reason="hook bent")

    assert there == f"in article {article}, sold at Lantern Fair on 2026-05-04"
    assert load_piece(pair.shop.conn, article).stage == "returned"
    assert load_piece(pair.shop.conn, article).price_minor == 3200
    assert _checks_hold(pair.shop)


def test_taken_apart_each_part_is_what_it_was(pair: Pair) -> None:
    """The sealed one is sealed again, the rough one rough; the article is no more."""
    set_stage(pair.shop, pieces=[pair.left], stage="sealed")
    article = pair.assemble()
    freed = take_apart(pair.shop, article=article, reason="hook broke")

    assert [view.piece.stage for view in freed] == ["sealed", "rough"]
    assert _stage(pair, article) == "withdrawn"
    assert trace(pair.shop, pair.left).forward.branches == ()
    assert trace(pair.shop, article).back[0].code == pair.left
    sell(pair.shop, piece=pair.left, price_minor=900)
    with pytest.raises(Refused, match="taken apart already"):
        take_apart(pair.shop, article=article, reason="again")
    with pytest.raises(Refused, match="was taken apart"):
        set_stage(pair.shop, pieces=[article], stage="ready")
    assert _checks_hold(pair.shop)


def test_only_what_is_in_hand_becomes_a_part(pair: Pair) -> None:
    """Sold, withdrawn, recalled, lost or unknown pieces are refused, and so is one piece alone."""
    shop = pair.shop
    sell(shop, piece=pair.middle, price_minor=900)
    with pytest.raises(Refused, match="is sold"):
        pair.assemble(pair.left, pair.middle)
    take_back(shop, piece=pair.middle, reason="sold by mistake")
    set_stage(shop, pieces=[pair.middle], stage="withdrawn", note="cracked")
    with pytest.raises(Refused, match="is withdrawn"):
        pair.assemble(pair.left, pair.middle)
    begin_stock_take(shop, things="pieces")
    record_seen(shop, codes=[pair.left], source="typed")
    settle_stock_take(shop, settlement=Settlement(lost=[pair.right], reason="not there"))
    with pytest.raises(Refused, match="not found at a stock-take"):
        pair.assemble()
    open_recall(shop, subject=pair.left, reason="sharp")
    with pytest.raises(Refused, match="is recalled"):
        pair.assemble(pair.left, pair.right)
    with pytest.raises(NotFound, match="no piece"):
        pair.assemble(pair.left, Code("PX0001D"))
    for parts, name in (((pair.left,), "x"), ((pair.left, pair.left), "x"), ((pair.left,) * 2, "")):
        with pytest.raises(BadValue, match=r"two pieces|named twice"):
            assemble(shop, parts=parts, name=name)
    with pytest.raises(BadValue, match="say what it is"):
        assemble(shop, parts=(pair.left, pair.right), name=" ")


def test_what_is_packed_stays_as_it_is(pair: Pair) -> None:
    """In the box for the fair lies what the packing list says: no part goes, no article opens."""
    fair = plan_outing(pair.shop, new=NewOuting("Lantern Fair", START.date())).outing.code
    set_stage(pair.shop, pieces=[pair.middle], stage="ready")
    pack(pair.shop, outing=fair, pieces=[pair.middle])
    with pytest.raises(Refused, match=f"{pair.middle} is packed for {fair}"):
        pair.assemble(pair.left, pair.middle)
    article = pair.assemble()
    set_stage(pair.shop, pieces=[article], stage="ready")
    pack(pair.shop, outing=fair, pieces=[article])
    with pytest.raises(Refused, match=f"{article} is packed for {fair}"):
        take_apart(pair.shop, article=article, reason="hook broke")
    with pytest.raises(Refused, match=f"{pair.left} is a part of {article}"):
        pack(pair.shop, outing=fair, pieces=[pair.left])


def test_taking_apart_needs_an_article_and_a_reason(pair: Pair) -> None:
    """A piece of one cut cannot be taken apart."""
    with pytest.raises(Refused, match="one piece"):
        take_apart(pair.shop, article=pair.left, reason="no")
    with pytest.raises(BadValue, match="say why"):
        take_apart(pair.shop, article=pair.left, reason=" ")


def test_undo_brings_the_parts_back_and_refuses_with_the_list(pair: Pair) -> None:
    """The assembly is taken back as if it never was; a part's cut cannot be, while it is in it."""
    cut = last_operation(pair.shop)
    before = projection(pair.shop)
    article = pair.assemble()
    made = last_operation(pair.shop)
    with pytest.raises(Refused, match=f"{article} .*tern earrings assembled"):
        undo(pair.shop, operation=cut)
    set_price(pair.shop, pieces=[article], price_minor=3200)
    with pytest.raises(Refused, match="priced"):
        undo(pair.shop, operation=made)
    undo(pair.shop)
    undo(pair.shop)

    assert projection(pair.shop) == before


def test_a_rebuild_gives_the_same_rows(pair: Pair) -> None:
    """The tables follow from the journal alone."""
    article = pair.assemble()
    pair.assemble(article, pair.middle)
    before = dump(pair.shop)
    pair.shop.conn.execute("BEGIN")
    rebuild(pair.shop.conn)
    pair.shop.conn.execute("COMMIT")

    assert dump(pair.shop) == before
    assert {"part", "board_share"} < set(TABLES)


@pytest.mark.parametrize("subject", ["right", "second"])
def test_a_recall_of_one_part_holds_the_article(pair: Pair, subject: str) -> None:
    """Whatever is wrong with one board is wrong with all that it went into; the others are free."""
    article = pair.assemble()
    recall = open_recall(pair.shop, subject=getattr(pair, subject), reason="mercury").recall.code
    items = [item.code for item in view_recall(pair.shop.conn, recall).items]

    assert article in items
    assert pair.left not in items
    assert len(items) == len(set(items))
    with pytest.raises(Refused, match="recalled"):
        sell(pair.shop, piece=article, price_minor=3200)
    shown = trace(pair.shop, recall).forward.branches
    assert article not in [branch.link.code for branch in shown]
    assert _checks_hold(pair.shop)


def test_a_part_cut_by_override_bars_the_sale(empty_shop: Workshop) -> None:
    """A buyer has not agreed to a hazard that is open on one of the boards."""
    pair = Pair(empty_shop)
    board = add_board(empty_shop).code
    cut = NewCut(board, circle_at(empty_shop, 40, 40), override_reason="only one left")
    piece = record_cut(empty_shop, new=cut).piece
    assert piece is not None
    article = pair.assemble(pair.left, piece.code)

    with pytest.raises(Held, match="cut by override"):
        sell(empty_shop, piece=article, price_minor=3200)
    with pytest.raises(Held, match="cut by override"):
        print_card(empty_shop, piece=article)


def test_weights_are_not_counted_twice(pair: Pair) -> None:
    """Hooks and rings never came in as boards: the account of mass stays as it was."""
    weigh_piece(pair.shop, piece=pair.left, weight_g=1.2)
    weigh_piece(pair.shop, piece=pair.right, weight_g=1.3)
    before = account_mass(pair.shop)
    article = pair.assemble()
    weigh_piece(pair.shop, piece=article, weight_g=3.1)

    assert account_mass(pair.shop) == before
    with pytest.raises(Refused, match=r"less than the 2.5 g of its parts"):
        weigh_piece(pair.shop, piece=article, weight_g=2.0)


def _take(pair: Pair) -> StockTake:
    return select(pair.shop.conn, StockTake, "FROM stock_take ORDER BY code DESC LIMIT 1")[0]


def test_a_stock_take_counts_the_article_once(pair: Pair) -> None:
    """Whoever sees the article or one of its parts has seen it; its parts are not missed."""
    article = pair.assemble()
    begin_stock_take(pair.shop, things="pieces")
    missing = {one.code for one in find_differences(pair.shop.conn, _take(pair))}
    record_seen(pair.shop, codes=[pair.right], source="typed")
    after = {one.code for one in find_differences(pair.shop.conn, _take(pair))}

    assert missing == {article, pair.middle}
    assert after == {pair.middle}
    assert judge_codes(pair.shop.conn, _take(pair), [pair.right]) == {}


def test_a_part_seen_after_the_article_was_sold_is_told(pair: Pair) -> None:
    """The earrings are sold, and one of them lies on the bench."""
    article = pair.assemble()
    sell(pair.shop, piece=article, price_minor=3200)
    begin_stock_take(pair.shop, things="pieces")
    record_seen(pair.shop, codes=[pair.left], source="typed")
    odd = judge_codes(pair.shop.conn, _take(pair), [pair.left])[pair.left]
    kinds = {one.code: one.kind for one in find_differences(pair.shop.conn, _take(pair))}

    assert (odd.kind, odd.code) == ("sold", article)
    assert kinds[article] == "sold"


def test_the_history_tells_in_plain_words(pair: Pair) -> None:
    """Each part's history tells what it went into."""
    article = pair.assemble()
    take_apart(pair.shop, article=article, reason="hook broke")
    words = [line.words for line in read_history(pair.shop, pair.left)]

    assert words[-2].startswith(f"tern earrings assembled of {pair.left} {pair.right}")
    assert words[-1] == "taken apart: hook broke"
