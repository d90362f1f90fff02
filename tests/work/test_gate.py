"""The gate: no unsafe piece is sold by mistake, and nothing is said that is not on record."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date

import pytest

from salvage.errors import BadValue, Held, Refused
from salvage.ids import Code
from salvage.knowledge.amounts import parse_amount
from salvage.knowledge.product_rules import PARTS
from salvage.work.articles import assemble
from salvage.work.assays import NewAssay, record_assay, void_assay
from salvage.work.check import run_checks
from salvage.work.duties import list_duties
from salvage.work.gate import GateView, gate_of, view_gate
from salvage.work.gate_steps import NewProduct, accept_point, describe_pieces, set_audience
from salvage.work.history import undo
from salvage.work.materials import NewBatch, Use, add_batch, use_batches
from salvage.work.own_facts import add_own_facts
from salvage.work.pieces import sell, set_stage, view_piece
from salvage.work.recall import open_recall
from salvage.work.setup import change_settings
from salvage.work.workshop import Workshop
from tests.bench import add_cleared_board, cut_circle, dump

BARE = NewProduct(
    "pendant",
    solder="absent",
    component="absent",
    metal="absent",
    finding="absent",
    coating="absent",
)
LAB = NewAssay(
    "lead",
    parse_amount("<10 ppm"),
    "digestion",
    part="laminate",
    instrument="ICP 2",
    lab="Quay lab",
)


@pytest.fixture
def piece(empty_shop: Workshop) -> Code:
    """A piece of bare laminate, in a workshop that sells in the union."""
    change_settings(empty_shop, typed={"markets": "EU"})
    return _piece(empty_shop)


def _piece(shop: Workshop, x_mm: float = 30) -> Code:
    board = shop.conn.execute("SELECT code FROM board").fetchone()
    code = board[0] if board else add_cleared_board(shop).code
    found = cut_circle(shop, code, x_mm, 40).piece
    assert found is not None
    return found.code


def _describe(shop: Workshop, piece: Code, new: NewProduct = BARE) -> GateView:
    return describe_pieces(shop, pieces=[piece], new=new)[0]


def _stops(view: GateView) -> set[str]:
    return {point.name for point in view.stops}


def _test_board(shop: Workshop, piece: Code, new: NewAssay = LAB) -> None:
    board = view_piece(shop.conn, piece).board.code
    record_assay(shop, code=board, new=new)


def test_what_nobody_looked_at_counts_as_there(empty_shop: Workshop, piece: Code) -> None:
    """Unknown is the strict branch: every part is asked for, and any kind of article."""
    view = view_gate(empty_shop, piece=piece)

    assert [part.part for part in view.parts] == list(PARTS)
    assert {f"eu-jewellery-lead:{part.replace(' ', '-')}" for part in PARTS} <= _stops(view)
    assert {"eu-post-nickel:finding", "eu-mouthable-lead:solder"} <= _stops(view)
    assert "product" in {point.name for point in view.points if point.effect == "warns"}


def test_ready_and_sale_wait_for_evidence(empty_shop: Workshop, piece: Code) -> None:
    """A pendant of bare laminate: held without a test, sold with one."""
    _describe(empty_shop, piece)
    before = dump(empty_shop)
    with pytest.raises(Held, match="lead in laminate"):
        set_stage(empty_shop, pieces=[piece], stage="ready")
    with pytest.raises(Held, match="not for sale yet"):
        sell(empty_shop, piece=piece, price_minor=1800)
    assert dump(empty_shop) == before
    _test_board(empty_shop, piece)
    set_stage(empty_shop, pieces=[piece], stage="ready")

    assert sell(empty_shop, piece=piece, price_minor=1800).piece.stage == "sold"


@pytest.mark.parametrize("value", ["0.05 %", "501 mg/kg", "37 %"])
def test_a_result_over_the_limit_cannot_be_answered_for(
    empty_shop: Workshop, piece: Code, value: str
) -> None:
    """REACH XVII entry 63: below 0.05 % in each part; a good laminate does not make up for it."""
    _describe(empty_shop, piece, replace(BARE, solder="present"))
    _test_board(empty_shop, piece)
    _test_board(empty_shop, piece, replace(LAB, part="solder", amount=parse_amount(value)))
    name = "eu-jewellery-lead:solder"

    assert name in _stops(view_gate(empty_shop, piece=piece))
    with pytest.raises(Refused, match="nobody can answer for this"):
        accept_point(empty_shop, pieces=[piece], point=name, reason="it is small")
    with pytest.raises(Held):
        sell(empty_shop, piece=piece, price_minor=1800)


def test_a_coating_hides_no_joint(empty_shop: Workshop, piece: Code) -> None:
    """16 CFR 1500.87: what lies below a varnish is still a part; so a clean varnish clears none."""
    _describe(empty_shop, piece, replace(BARE, solder="present"))
    varnish = add_batch(empty_shop, new=NewBatch("sealant", "varnish")).batch.code
    use_batches(empty_shop, batches=[varnish], pieces=[piece], use=Use())
    record_assay(empty_shop, code=varnish, new=replace(LAB, part=""))
    _test_board(empty_shop, piece)

    stops = _stops(view_gate(empty_shop, piece=piece))
    assert {name.split(":")[1] for name in stops} == {"solder"}
    assert "eu-jewellery-lead:solder" in stops


def test_an_override_is_on_the_record_for_ever(empty_shop: Workshop, piece: Code) -> None:
    """Who answers for an open point says why, and whoever looks at the piece reads it."""
    _describe(empty_shop, piece)
    with pytest.raises(BadValue, match="say why"):
        accept_point(empty_shop, pieces=[piece], point="eu-jewellery-lead", reason=" ")
    with pytest.raises(Refused, match="no open point 'eu-moon'"):
        accept_point(empty_shop, pieces=[piece], point="eu-moon", reason="x")
    accept_point(empty_shop, pieces=[piece], point="eu-jewellery-lead", reason="bare, cleaned")
    sold = sell(empty_shop, piece=piece, price_minor=1800)
    _test_board(empty_shop, piece)
    view = view_gate(empty_shop, piece=piece)

    assert sold.piece.stage == "sold"
    assert [(each.point, each.reason, each.by) for each in view.accepted] == [
        ("eu-jewellery-lead:laminate", "bare, cleaned", "Maren")
    ]
    with pytest.raises(Refused, match="is sold"):
        accept_point(empty_shop, pieces=[piece], point="sealing", reason="late")


@pytest.mark.parametrize("product", ["earring", "pendant", "ring"])
def test_skin_contact_asks_for_nickel_by_batch_and_for_a_seal(
    empty_shop: Workshop, piece: Code, product: str
) -> None:
    """Entry 27 by batch of hooks; a post in a pierced ear has the lower limit as well."""
    _describe(empty_shop, piece, replace(BARE, product=product))
    hook = add_batch(empty_shop, new=NewBatch("finding", "hook", lot="L7")).batch.code
    use_batches(empty_shop, batches=[hook], pieces=[piece], use=Use())
    asked = _stops(view_gate(empty_shop, piece=piece))
    warned = {p.name for p in view_gate(empty_shop, piece=piece).points if p.effect == "warns"}
    nickel = replace(LAB, analyte="nickel", part="", method="release test")
    record_assay(empty_shop, code=hook, new=replace(nickel, amount=parse_amount("<0.3 ug/cm2/wk")))
    left = _stops(view_gate(empty_shop, piece=piece))
    set_stage(empty_shop, pieces=[piece], stage="sealed")
    sealed = {p.name for p in view_gate(empty_shop, piece=piece).points if p.effect == "warns"}

    skin, post = f"eu-skin-nickel:finding-{hook}", f"eu-post-nickel:finding-{hook}"
    assert (skin in asked, post in asked) == (True, product == "earring")
    assert (skin in left, post in left) == (False, product == "earring")
    assert ("sealing" in warned, "sealing" in sealed) == (True, False)
    # Sealed after all: the coating that was said to be absent is now a part of its own.
    assert "eu-jewellery-lead:coating" in _stops(view_gate(empty_shop, piece=piece))


def test_an_ornament_is_asked_nothing_about_skin(empty_shop: Workshop, piece: Code) -> None:
    """It hangs on a wall; what a child can put in the mouth is asked all the same."""
    view = _describe(empty_shop, piece, replace(BARE, product="ornament", finding="present"))
    names = {point.name for point in view.points}

    assert not [name for name in names if "nickel" in name or name == "sealing"]
    assert "eu-mouthable-lead:laminate" in _stops(view)


def test_either_way_meets_the_duty_for_what_a_child_can_mouth(
    empty_shop: Workshop, piece: Code
) -> None:
    """Entry 63 (7) to (10): below 0.05 %, or a release of at most 0.05 ug/cm2/h."""
    _describe(empty_shop, piece, replace(BARE, product="key ring"))
    _test_board(empty_shop, piece, replace(LAB, amount=parse_amount("0.06 %")))
    over = view_gate(empty_shop, piece=piece)
    release = replace(LAB, amount=parse_amount("0.05 ug/cm2/h"), method="release test")
    _test_board(empty_shop, piece, release)

    assert _stops(over) == {"eu-mouthable-lead:laminate"}
    assert view_gate(empty_shop, piece=piece).stops == ()


def _child_ready(shop: Workshop, piece: Code, *, lab: str = "Quay lab") -> None:
    _describe(shop, piece, replace(BARE, product="ornament"))
    _test_board(shop, piece, replace(LAB, lab=lab))


def test_nothing_is_marked_for_children_without_evidence(empty_shop: Workshop) -> None:
    """CPSIA section 101: an outside laboratory's result for each part, or 'not for children'."""
    change_settings(empty_shop, typed={"markets": "US"})
    piece = _piece(empty_shop)
    _describe(empty_shop, piece, replace(BARE, product="ornament"))
    before = dump(empty_shop)
    with pytest.raises(Held, match="stays marked 'not for children'"):
        set_audience(empty_shop, piece=piece, audience="child", reason="cute")
    assert dump(empty_shop) == before
    _child_ready(empty_shop, piece, lab="")
    with pytest.raises(Held, match="only an outside laboratory"):
        set_audience(empty_shop, piece=piece, audience="child", reason="own XRF")
    _child_ready(empty_shop, piece)
    view = set_audience(empty_shop, piece=piece, audience="child", reason="report L-204")

    assert view.for_children
    assert [line.name for line in run_checks(empty_shop) if not line.ok] == []


@pytest.mark.parametrize(
    ("markets", "changed", "says"),
    [
        ("US", {"solder": "not checked"}, "in solder"),
        ("US", {"component": "cannot tell"}, "in component"),
        ("US", {"coating": "present"}, "in coating"),
        ("EU", {}, "no limit for children's goods of this kind in EU"),
        ("US,NZ", {}, "in NZ"),
        ("", {}, "no market is chosen"),
    ],
)
def test_one_gap_is_enough_to_keep_it_from_children(
    empty_shop: Workshop, markets: str, changed: dict[str, str], says: str
) -> None:
    """A part that nobody looked at, a market of which nothing is known, or none chosen."""
    change_settings(empty_shop, typed={"markets": markets})
    piece = _piece(empty_shop)
    _child_ready(empty_shop, piece)
    _describe(empty_shop, piece, replace(BARE, product="ornament", **changed))
    with pytest.raises(Held, match=says):
        set_audience(empty_shop, piece=piece, audience="child", reason="report L-204")

    assert not view_gate(empty_shop, piece=piece).for_children


def test_what_was_accepted_for_adults_is_no_evidence_for_children(empty_shop: Workshop) -> None:
    """No reason overrides the gate for children."""
    change_settings(empty_shop, typed={"markets": "US-CA"})
    piece = _piece(empty_shop)
    _describe(empty_shop, piece)
    for point in ("ca-jewellery-lead", "ca-jewellery-plastic-lead", "sealing"):
        accept_point(empty_shop, pieces=[piece], point=point, reason="bare, cleaned")
    assert view_gate(empty_shop, piece=piece).stops == ()
    with pytest.raises(Held, match="stays marked"):
        set_audience(empty_shop, piece=piece, audience="child", reason="same")


def test_evidence_that_falls_takes_the_mark_with_it(empty_shop: Workshop) -> None:
    """A report that is withdrawn: the piece is held, and no card calls it fit for a child."""
    change_settings(empty_shop, typed={"markets": "US"})
    piece = _piece(empty_shop)
    _child_ready(empty_shop, piece)
    set_audience(empty_shop, piece=piece, audience="child", reason="report L-204")
    board = view_piece(empty_shop.conn, piece).board.code
    void_assay(empty_shop, code=board, n=1, why="report withdrawn")
    view = view_gate(empty_shop, piece=piece)

    assert not view.for_children
    assert _stops(view) == {"us-children-lead:laminate"}
    with pytest.raises(Held):
        sell(empty_shop, piece=piece, price_minor=1800)
    back = set_audience(empty_shop, piece=piece, audience="adult", reason="no report any more")
    assert back.stops == ()


@pytest.mark.parametrize("how", ["withdrawn", "recalled"])
def test_a_withdrawn_or_recalled_piece_is_not_sold(
    empty_shop: Workshop, piece: Code, how: str
) -> None:
    """Whatever its evidence: both the sale and the gate say so, and nobody can answer for it."""
    _describe(empty_shop, piece)
    _test_board(empty_shop, piece)
    if how == "withdrawn":
        set_stage(empty_shop, pieces=[piece], stage="withdrawn", note="sharp")
    else:
        open_recall(empty_shop, subject=piece, reason="sharp")
    before = dump(empty_shop)
    with pytest.raises(Refused, match=how):
        sell(empty_shop, piece=piece, price_minor=1800)

    assert dump(empty_shop) == before
    assert how in _stops(view_gate(empty_shop, piece=piece))
    with pytest.raises(Refused):
        accept_point(empty_shop, pieces=[piece], point=how, reason="please")


def test_a_market_of_which_nothing_is_known_is_said(empty_shop: Workshop, piece: Code) -> None:
    """It may be sold, for nobody knows a rule; but nobody takes silence for leave."""
    change_settings(empty_shop, typed={"markets": "NZ,US"})
    _describe(empty_shop, piece)
    view = view_gate(empty_shop, piece=piece)
    told = {point.name: point.words for point in view.points if point.effect == "warns"}

    assert view.stops == ()
    for market in ("NZ", "US"):
        assert "does not mean that none is in force" in told[f"no-limits:{market}"]


def test_every_point_names_its_source(empty_shop: Workshop, piece: Code) -> None:
    """Document, section and how it was read; practice is told as practice."""
    for point in view_gate(empty_shop, piece=piece).points:
        if point.limit:
            assert point.limit.source.text in point.source
        else:
            assert point.source == "common practice, no source"


def test_an_article_is_asked_for_every_piece_of_it(empty_shop: Workshop, piece: Code) -> None:
    """Two terns on one hook: the laminate of each, and the hook."""
    other = _piece(empty_shop, 75)
    for code in (piece, other):
        _describe(empty_shop, code)
    article = assemble(empty_shop, parts=[piece, other], name="tern pair").piece.code
    hook = add_batch(empty_shop, new=NewBatch("finding", "hook")).batch.code
    use_batches(empty_shop, batches=[hook], pieces=[article], use=Use())
    view = _describe(empty_shop, article, replace(BARE, product="brooch"))
    stops = _stops(view)
    record_assay(empty_shop, code=piece, new=LAB)

    assert {f"eu-jewellery-lead:laminate-{code}" for code in (piece, other)} <= stops
    assert f"eu-jewellery-cadmium:finding-{hook}" in stops
    left = _stops(view_gate(empty_shop, piece=article))
    assert f"eu-jewellery-lead:laminate-{piece}" not in left
    assert f"eu-jewellery-lead:laminate-{other}" in left


def test_every_step_can_be_taken_back(empty_shop: Workshop, piece: Code) -> None:
    """Described, accepted, graded: undone, the gate is as it was."""
    before = view_gate(empty_shop, piece=piece)
    _describe(empty_shop, piece)
    accept_point(empty_shop, pieces=[piece], point="sealing", reason="worn over a shirt")
    set_audience(empty_shop, piece=piece, audience="adult", reason="sharp")
    for _ in range(3):
        undo(empty_shop, why="a slip")

    assert view_gate(empty_shop, piece=piece) == before


def test_bad_words_are_refused(empty_shop: Workshop, piece: Code) -> None:
    """A grade nobody knows, a grade without a reason, and a child's toy of unknown kind."""
    for audience, reason in (("baby", "x"), ("child", " "), ("child", "report")):
        with pytest.raises(BadValue):
            set_audience(empty_shop, piece=piece, audience=audience, reason=reason)


def test_limits_count_on_the_day(empty_shop: Workshop, piece: Code) -> None:
    """Before 2020-06-01 California's looser rows held; today they bind nothing."""
    _describe(empty_shop, piece, replace(BARE, finding="present"))
    found = view_piece(empty_shop.conn, piece).piece

    def names(day: date) -> Sequence[str]:
        points = gate_of(empty_shop.conn, found, "US-CA", day).points
        return [point.limit.slug for point in points if point.limit]

    assert "ca-jewellery-plated-lead-2019" in names(date(2020, 5, 31))
    assert "ca-jewellery-plated-lead-2019" not in names(date(2026, 5, 4))


def test_a_row_of_the_workshops_own_binds_like_ours(empty_shop: Workshop) -> None:
    """A maker in New Zealand adds the limit that her authority told her; it holds her pieces."""
    row = {
        "topic": "jewellery",
        "jurisdiction": "NZ",
        "subject": "lead",
        "operator": "<=",
        "value": "90",
        "unit": "ppm",
        "source": "letter of the authority, 2026",
        "confidence": "read-primary",
    }
    change_settings(empty_shop, typed={"markets": "NZ"})
    piece = _piece(empty_shop)
    _describe(empty_shop, piece)
    before = {point.name for point in view_gate(empty_shop, piece=piece).points}
    add_own_facts(empty_shop, kind="limit", rows=[("nz-lead", row)])
    view = view_gate(empty_shop, piece=piece)
    _test_board(empty_shop, piece, replace(LAB, amount=parse_amount("91 ppm")))
    exceeded = view_gate(empty_shop, piece=piece).stops[0]

    assert "no-limits:NZ" in before
    assert _stops(view) == {"own-nz-lead:laminate"}
    assert "letter of the authority" in view.stops[0].source
    assert (exceeded.verdict, exceeded.may_accept) == ("exceeds", False)
    assert list_duties(empty_shop, topic="jewellery").unknown == ()
