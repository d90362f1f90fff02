"""Drop-offs: what was brought, by whom as far as may be seen, and the form at the door."""

from __future__ import annotations

from collections.abc import Callable

from salvage.errors import Refused
from salvage.ids import Code
from salvage.knowledge.board_types import UNKNOWN_TYPE, board_types, parse_board_type
from salvage.knowledge.lead import parse_lead_status
from salvage.records.choices import CHANNELS, DATA_PARTS, LEAD_STATUSES, NAMINGS, SOURCE_KINDS
from salvage.units import parse_length_mm, parse_mass_g
from salvage.web.board_deeds import add_photo, keep_outs_of
from salvage.web.doors import Way
from salvage.web.shelf import board_state
from salvage.web.visit import Answer, Done, Sheet, Visit
from salvage.work import record
from salvage.work.first_outline import outline_of_form, outline_of_size
from salvage.work.gather import Gatherer
from salvage.work.import_drop_offs import parse_count
from salvage.work.photos import list_photos
from salvage.work.receive import list_drop_offs, log_drop_off, view_drop_off
from salvage.work.typed_drop_off import TypedDropOff, parse_drop_off


def show_drop_offs(visit: Visit) -> Answer:
    """The newest drop-offs."""
    return Sheet("dropoffs.html", "Drop-offs", {"views": list_drop_offs(visit.shop, most=60)})


def show_form(visit: Visit) -> Answer:
    """The form at the door."""
    names = []
    if visit.guest.is_owner:
        views = list_drop_offs(visit.shop, most=60)
        names = sorted({view.donor.name for view in views if view.donor.name})
    facts = {
        "sources": SOURCE_KINDS,
        "namings": NAMINGS,
        "channels": CHANNELS,
        "data_parts": DATA_PARTS,
        "today": visit.shop.today.isoformat(),
        "names": names,
    }
    return Sheet("dropoff_new.html", "New drop-off", facts)


def add(visit: Visit) -> Answer:
    """Log a drop-off."""
    from salvage.errors import BadValue, ManyMistakes

    typed = _typed(visit)
    missing = [
        BadValue(words, field=name)
        for name, words in (("donor", "say who brought it"), ("contents", "say what arrived"))
        if not visit.text(name)
    ]
    if missing:
        raise ManyMistakes(missing)
    try:
        donor, new = parse_drop_off(visit.shop, typed)
    except Refused as refused:
        if visit.guest.is_owner:
            raise
        # What is known of a donor stands in the words of the refusal.
        raise Refused("this donor is known under other words", hint="ask the owner") from refused
    view = log_drop_off(visit.shop, donor=donor, new=new)
    code = view.drop_off.code
    return Done(f"{code} is logged.", (code,), f"/dropoff/{code}")


def _typed(visit: Visit) -> TypedDropOff:
    counted = [
        f"{part}:{visit.text(f'data-{part}')}"
        for part in DATA_PARTS
        if part != "none found" and visit.text(f"data-{part}")
    ]
    if visit.text("data-none"):
        counted.append("none found")
    return TypedDropOff(
        donor=visit.text("donor"),
        contents=visit.text("contents"),
        boards=visit.text("boards"),
        weight=visit.text("weight"),
        source=visit.text("source"),
        naming=visit.text("naming"),
        naming_how=visit.text("naming-how"),
        described_as=visit.text("described-as"),
        contact=visit.text("contact"),
        data=tuple(counted),
        date=visit.text("date"),
        channel=visit.text("channel"),
        origin=visit.text("origin"),
        origin_country=visit.text("origin-country"),
        story=visit.text("story"),
        notes=visit.text("notes"),
    )


def show_drop_off(visit: Visit) -> Answer:
    """One drop-off with its boards, and the form to record more of them."""
    code = visit.code("D")
    view = view_drop_off(visit.shop.conn, code)
    facts = {
        "view": view,
        "drop_off": view.drop_off,
        "photos": list_photos(visit.shop, code),
        "types": board_types(),
        "leads": LEAD_STATUSES,
        "state_of": board_state,
    }
    return Sheet("dropoff.html", f"Drop-off {code}", facts)


def add_boards(visit: Visit) -> Answer:
    """Record boards of a drop-off."""
    code, gather = visit.code("D"), Gatherer()
    form, size, weight = visit.text("form"), visit.text("size"), visit.text("weight")
    outline = None
    nothing: tuple[record.NewKeepOut, ...] = ()
    keep_outs = gather.take(lambda: keep_outs_of(visit), nothing)
    if form:
        outline = gather.take(lambda: outline_of_form(form, field="form"), None)
    elif size:
        outline = gather.take(lambda: outline_of_size(size, field="size"), None)
    new = record.NewBoard(
        drop_off=code,
        type=gather.take(lambda: parse_board_type(visit.text("type"), field="type"), UNKNOWN_TYPE),
        maker=visit.text("maker"),
        model=visit.text("model"),
        date_code=visit.text("date-code"),
        colour=visit.text("colour"),
        thickness_mm=_optional(gather, visit.text("thickness"), _thickness_mm),
        weight_g=_optional(gather, weight, lambda text: parse_mass_g(text, field="weight")),
        lead_status=gather.take(
            lambda: parse_lead_status(visit.text("lead", "unknown"), field="lead"), "unknown"
        ),
        lead_evidence=visit.text("lead-evidence"),
        place=visit.text("place"),
        notes=visit.text("notes"),
        outline=outline.region if outline else None,
        outline_from=outline.outline_from if outline else "",
        keep_outs=(*(outline.keep_outs if outline else ()), *keep_outs),
    )
    count = gather.take(lambda: parse_count(visit.text("count", "1"), field="count"), 1)
    gather.finish()
    boards = record.record_boards(visit.shop, new=new, count=count)
    codes = tuple(Code(board.code) for board in boards)
    then = f"/board/{codes[0]}" if count == 1 else f"/dropoff/{code}"
    return Done(f"{', '.join(codes)} recorded.", codes, then)


def _thickness_mm(text: str) -> float:
    return parse_length_mm(text, field="thickness", most_mm=20)


def _optional(gather: Gatherer, text: str, parse: Callable[[str], float]) -> float | None:
    return gather.take(lambda: parse(text), 0.0) if text else None


def keep_photo(visit: Visit) -> Answer:
    """Keep a photo of a drop-off."""
    return add_photo(visit, visit.code("D"))


WAYS = (
    Way("/dropoff", show_drop_offs),
    Way("/dropoff/new", show_form),
    Way("/dropoff/add", add, form=show_form),
    Way("/dropoff/{code}", show_drop_off),
    Way("/dropoff/{code}/board", add_boards, form=show_drop_off),
    Way("/dropoff/{code}/photo", keep_photo, form=show_drop_off),
)
