"""Outings: what was packed, sold and brought home, and the till that a finger works."""

from __future__ import annotations

from salvage.errors import BadValue
from salvage.ids import Code
from salvage.records.choices import parse_choice
from salvage.records.season import PAYMENTS
from salvage.units import format_money, parse_money
from salvage.web.doors import Way
from salvage.web.visit import Answer, Done, Facts, Sheet, Visit
from salvage.work.outing_day import bring_home, open_outing
from salvage.work.outings import list_outings, view_outing
from salvage.work.packing import pack
from salvage.work.reading import read_code
from salvage.work.season_report import report_season
from salvage.work.selling import sell_pieces
from salvage.work.slips import Terms
from salvage.work.till import describe_sold
from salvage.work.till_words import SaleWords, read_sale


def show_outings(visit: Visit) -> Answer:
    """All outings, the latest first."""
    return Sheet("outings.html", "Outings", {"views": list_outings(visit.shop)})


def show_outing(visit: Visit) -> Answer:
    """One outing: its box of pieces, its cash, and while it is open the till."""
    view = view_outing(visit.shop, outing=_code(visit))
    facts = {
        "view": view,
        "outing": view.outing,
        "for_sale": [one for one in view.pieces if one.state in ("packed", "back")],
        "payments": PAYMENTS,
    }
    return Sheet("outing.html", view.outing.name, facts)


def _code(visit: Visit) -> Code:
    return read_code(visit.shop, text=visit.path["code"])


def _said(visit: Visit) -> SaleWords:
    words = visit.text("words").split()
    if not words:
        raise BadValue("the basket is empty", hint="tap pieces, or type a code", field="words")
    return read_sale(visit.shop, words=words, outing=_code(visit))


def _terms(visit: Visit, said: SaleWords) -> Terms:
    typed = visit.text("paid-by", "cash")
    paid_by = parse_choice(typed, PAYMENTS, field="paid-by")
    notes = visit.text("notes") or ("brought back at the stall" if said.back else "")
    return Terms(visit.shop.today, paid_by, outing=_code(visit), notes=notes)


def try_sale(visit: Visit) -> Answer:
    """What a basket comes to, before anything is sold."""
    said = _said(visit)
    sold = sell_pieces(
        visit.shop,
        items=said.items,
        terms=_terms(visit, said),
        back=said.back,
        discount=said.discount,
        given_minor=said.given_minor,
        dry_run=True,
    )
    to_pay = format_money(abs(sold.to_pay_minor), sold.currency)
    lines = [
        {"piece": line.piece, "words": line.words}
        for slip in (*([sold.sale] if sold.sale else []), *sold.refunds)
        for line in slip.lines
    ]
    words = f"give back {to_pay}" if sold.to_pay_minor < 0 else f"to pay {to_pay}"
    if sold.change_minor is not None:
        words += f", change {format_money(sold.change_minor, sold.currency)}"
    return Facts({"words": words, "lines": lines})


def sell(visit: Visit) -> Answer:
    """Sell what is in the basket on one slip."""
    said, code = _said(visit), _code(visit)
    sold = sell_pieces(
        visit.shop,
        items=said.items,
        terms=_terms(visit, said),
        back=said.back,
        discount=said.discount,
        given_minor=said.given_minor,
    )
    pieces = tuple(item.piece for item in said.items if item.piece)
    return Done(describe_sold(sold), (code, *pieces), f"/outing/{code}")


def show_season(visit: Visit) -> Answer:
    """What sold where, and what it brought: bars beside their figures."""
    report = report_season(visit.shop)
    plots = (
        ("By month", [(one.key, one.net_minor, one.sold) for one in report.months]),
        (
            "By outing, less the stall",
            [(o.name, o.earned_minor, o.total.sold) for o in report.outings],
        ),
        ("By shape", [(one.total.key, one.earned_minor, one.net_sold) for one in report.shapes]),
    )
    facts = {"report": report, "plots": [(title, _bars(rows)) for title, rows in plots]}
    return Sheet("season.html", "Season", facts)


def _bars(rows: list[tuple[str, int, int]]) -> list[tuple[str, int, int, float]]:
    """Rows with the length of their bars in percent; what lost money has none."""
    most = max((minor for _, minor, _ in rows), default=0)
    return [
        (name, minor, count, round(100 * max(0, minor) / most, 1) if most > 0 else 0.0)
        for name, minor, count in rows
    ]


def open_stall(visit: Visit) -> Answer:
    """Open the stall with cash in the box."""
    code, typed = _code(visit), visit.text("float")
    currency = view_outing(visit.shop, outing=code).outing.currency
    minor = parse_money(typed, currency=currency, field="float") if typed else 0
    view = open_outing(visit.shop, outing=code, float_minor=minor)
    return Done(f"{view.outing.name} is open.", (code,), f"/outing/{code}")


def pack_pieces(visit: Visit) -> Answer:
    """Pack pieces."""
    code = _code(visit)
    pack(visit.shop, outing=code, pieces=_pieces(visit))
    return Done("Packed.", (code,), f"/outing/{code}")


def bring_pieces_home(visit: Visit) -> Answer:
    """Note pieces that came home."""
    code = _code(visit)
    bring_home(visit.shop, outing=code, pieces=_pieces(visit))
    return Done("Noted as home.", (code,), f"/outing/{code}")


def _pieces(visit: Visit) -> list[Code]:
    typed = visit.text("pieces").replace(",", " ").split()
    if not typed:
        raise BadValue("no piece was named", hint="scan or type codes", field="pieces")
    return [read_code(visit.shop, text=text, kinds="P", field="pieces") for text in typed]


_TOP = "/outing/{code}"
WAYS = (
    Way("/season", show_season, role="owner"),
    Way("/outing", show_outings, role="owner"),
    Way(_TOP, show_outing, role="owner"),
    Way(f"{_TOP}/try", try_sale, role="owner", asks=True),
    Way(f"{_TOP}/sell", sell, form=show_outing, role="owner"),
    Way(f"{_TOP}/open", open_stall, form=show_outing, role="owner"),
    Way(f"{_TOP}/pack", pack_pieces, form=show_outing, role="owner"),
    Way(f"{_TOP}/home", bring_pieces_home, form=show_outing, role="owner"),
)
