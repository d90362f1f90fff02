"""What a piece's dossier says, from the record, and what its pictures are drawn from."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass, replace
from typing import TYPE_CHECKING, Any

from salvage.canonical import Json, canonical_bytes, sha256_hex
from salvage.errors import NotFound
from salvage.ids import Code
from salvage.records.events import Event
from salvage.records.things import Board, HazardCheck, Photo
from salvage.store.lookup import load_drop_off
from salvage.store.rows import select
from salvage.units import format_mass
from salvage.work.articles import SEVERAL_BOARDS
from salvage.work.card_claims import card_care
from salvage.work.card_words import marked, tool_words
from salvage.work.discretion import WITHHELD, Discretion
from salvage.work.donors import public_name
from salvage.work.lineage import boards_of, cut_pieces, outermost, shares_of
from salvage.work.own_facts import find_known_hazard
from salvage.work.papers import card_headline, card_origin, card_story
from salvage.work.photos import list_photos
from salvage.work.pieces import PieceView, view_piece
from salvage.work.proof import told_events
from salvage.work.workshop import Workshop

if TYPE_CHECKING:
    from salvage.paper.dossier import Dossier, HazardLine, Step

NOBODY = "the maker"
"""Who works where no name was ever given; nobody is known by it."""

UNNAMED_WORKER = "who worked is not named on this page"

# The fields of an event are what its kind says (salvage.records.events.KINDS), so Any is safe here.
Data = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class DossierFacts:
    """
    All that decides how a page looks, but for the proof.

    Args:
        view: The piece.
        dossier: What the page says.
        key: Hash over all of it and what its pictures are drawn from.
        hide: Why an event is not to be read in the proof.
    """

    view: PieceView
    dossier: Dossier
    key: str
    hide: Callable[[Event], str]


def gather_facts(
    shop: Workshop, code: Code, discretion: Discretion, *, with_workers: bool
) -> DossierFacts:
    """
    The facts of one page.

    Args:
        shop: The open workshop.
        code: A piece.
        discretion: What may be shown.
        with_workers: Whether those who work here agreed to be named.

    Raises:
        NotFound: If there is no such piece.
    """
    from salvage.paper.dossier import Dossier
    from salvage.paper.dossier_page import page_form

    view = view_piece(shop.conn, code)
    named = None if with_workers else {NOBODY, shop.settings.name}

    def who(by: str) -> str:
        return by if named is None or by in named else ""

    def hide(event: Event) -> str:
        return "" if who(event.by) else UNNAMED_WORKER

    settings = shop.settings
    dossier = Dossier(
        code=code,
        headline=discretion.show(card_headline(view)),
        workshop=settings.name,
        contact=settings.contact,
        web_address=settings.web_address,
        alarm=_alarm(view),
        note=_note(shop.conn, view),
        story=_story(shop, view, discretion),
        origin=tuple(_origin(shop, board, discretion) for board in view.boards),
        care=tuple(map(discretion.show, card_care(shop, view.piece, view.boards))),
        custody=_custody(shop.conn, view),
        steps=_steps(shop.conn, code, discretion, who, hide),
        hazards=_hazards(shop.conn, view.boards, discretion, who),
    )
    drawn: dict[str, Json] = {
        "form": page_form(),
        "says": _jsonable(asdict(dossier)),
        "drawn from": _drawn_from(shop, view),
        "told": [f"{event.hash} {why}" for event, why in told_events(shop.conn, code, hide=hide)],
    }
    return DossierFacts(view, dossier, sha256_hex(canonical_bytes(drawn)), hide)


def _story(shop: Workshop, view: PieceView, discretion: Discretion) -> tuple[str, ...]:
    """The card's story, less what a donor told with a name in it."""
    stories = {board.drop_off: load_drop_off(shop.conn, board.drop_off) for board in view.boards}
    private = [
        one.story
        for one in stories.values()
        if one.story and discretion.show_of(one.donor, one.story) == WITHHELD
    ]
    sentences = [
        sentence
        for sentence in card_story(shop, view)
        if not any(f"“{story}”" in sentence for story in private)
    ]
    told = " ".join(sentences).replace("marked in front", "shown above")
    return (discretion.show(told),)


def _origin(shop: Workshop, board: Board, discretion: Discretion) -> str:
    """The card's words on where a board is from, without a place that holds a name."""
    drop_off = load_drop_off(shop.conn, board.drop_off)
    told = " ".join(card_origin(shop, board))
    if drop_off.origin and discretion.show_of(drop_off.donor, drop_off.origin) == WITHHELD:
        told = told.replace(f", {drop_off.origin}.", ".", 1)
    return discretion.show(told)


def _jsonable(value: Any) -> Json:
    if isinstance(value, dict):
        return {name: _jsonable(one) for name, one in value.items()}
    if isinstance(value, list | tuple):
        return [_jsonable(one) for one in value]
    assert isinstance(value, str | int | bool) or value is None
    return value


def _alarm(view: PieceView) -> str:
    if not view.piece.recalled:
        return ""
    return (
        f"{view.piece.code} is recalled. Put it away, out of reach of children, and ask the"
        " workshop what to do."
    )


def _note(conn: sqlite3.Connection, view: PieceView) -> str:
    around = outermost(conn, view.piece.code)
    if around != view.piece.code:
        return f"This piece is part of {around}."
    if view.parts and view.parts[0].taken_out_at:
        return f"This article was taken apart on {view.parts[0].taken_out_at[:10]}."
    return "This piece was withdrawn." if view.piece.stage == "withdrawn" else ""


def _custody(conn: sqlite3.Connection, view: PieceView) -> tuple[str, ...]:
    model = f"Chain of custody model, in the words of ISO 22095: {view.piece.custody}."
    shares = shares_of(conn, view.piece.code)
    if view.piece.custody != SEVERAL_BOARDS:
        return (model,)
    told = ", ".join(f"{share.share_ppm / 10_000:.1f} % from {share.board}" for share in shares)
    return (model, f"Board material by {shares[0].measured}: {told}.")


def _steps(
    conn: sqlite3.Connection,
    code: Code,
    discretion: Discretion,
    who: Callable[[str], str],
    hide: Callable[[Event], str],
) -> tuple[Step, ...]:
    from salvage.paper.dossier import Step

    found: list[Step] = []
    looked: dict[Step, int] = {}  # hazards looked for on one board on one day, as one step
    for event, why in told_events(conn, code, hide=hide):
        rule = _WORDS.get(event.kind)
        if event.kind == "hazard.checked":
            step = Step(event.at[:10], f"{event.about[0]} looked over", who(event.by))
            looked[step] = looked.get(step, 0) + 1
            found += [step] if looked[step] == 1 else []
        elif why and why != UNNAMED_WORKER and event.kind.startswith("donor."):
            found.append(Step(event.at[:10], f"not shown: {why}", is_told=False))
        elif rule is not None:
            words = discretion.show_own(rule(conn, event))
            day = str(event.data.get("received_on", event.at[:10]))
            found.append(Step(day, words, who(event.by)))
    return tuple(_with_count(step, looked.get(step, 0)) for step in found)


def _with_count(step: Step, count: int) -> Step:
    if not count:
        return step
    return replace(step, words=f"{step.words}: {count} hazard{'s' if count > 1 else ''}")


def _cut_words(conn: sqlite3.Connection, event: Event) -> str:
    del conn
    data: Data = event.data
    place = f"{data['x_um'] / 1000:g}, {data['y_um'] / 1000:g} mm from its lower left corner"
    override = ", before all its hazards were settled" if data["override_reason"] else ""
    return (
        f"{event.about[2]} cut from {event.about[1]} with {tool_words(data['tool'])}, {place}"
        f"{override}"
    )


def _board_words(conn: sqlite3.Connection, event: Event) -> str:
    code = event.about[0]
    board = select(conn, Board, "FROM board WHERE code = ?", (code,))[0]
    return f"{code} recorded: {marked(board)}"


def _arrived(conn: sqlite3.Connection, event: Event) -> str:
    donor = load_drop_off(conn, event.about[0]).donor
    return f"{event.about[0]} arrived, given by {public_name(conn, donor)}"


def _first(template: str, *fields: str) -> Callable[[sqlite3.Connection, Event], str]:
    """Words in which the thing's code comes first, then fields of the event."""

    def words(conn: sqlite3.Connection, event: Event) -> str:
        del conn
        return template.format(event.about[0], *(event.data[field] for field in fields))

    return words


_WORDS: Mapping[str, Callable[[sqlite3.Connection, Event], str]] = {
    "dropoff.logged": _arrived,
    "dropoff.corrected": _first("{}: the record was corrected"),
    "board.recorded": _board_words,
    "board.corrected": _first("{}: the record was corrected"),
    "board.lead_set": _first("{}: lead status {}", "lead_status"),
    "cut.made": _cut_words,
    "piece.staged": _first("{} {}", "stage"),
    "piece.weighed": lambda conn, event: (
        f"{event.about[0]} weighs {format_mass(int(str(event.data['weight_mg'])) / 1000)}"
    ),
    "article.assembled": lambda conn, event: (
        f"{event.about[0]} assembled of {', '.join(event.about[1:])}"
    ),
    "card.printed": _first("{}: story card printed"),
}


def _hazards(
    conn: sqlite3.Connection,
    boards: tuple[Board, ...],
    discretion: Discretion,
    who: Callable[[str], str],
) -> tuple[HazardLine, ...]:
    from salvage.paper.dossier import HazardLine

    rest = "FROM hazard_check WHERE board = ? ORDER BY hazard"
    checks = [
        (load_drop_off(conn, board.drop_off).donor, check)
        for board in boards
        for check in select(conn, HazardCheck, rest, (board.code,))
    ]
    return tuple(
        HazardLine(
            check.board,
            _hazard_name(conn, check.hazard),
            _found(check, donor, discretion),
            check.at[:10],
            who(check.by) if check.by else "",
        )
        for donor, check in checks
    )


def _hazard_name(conn: sqlite3.Connection, slug: str) -> str:
    try:
        return find_known_hazard(conn, slug).name
    except NotFound:  # recorded by a version that knew it
        return slug.replace("-", " ")


def _found(check: HazardCheck, donor: Code, discretion: Discretion) -> str:
    told = [check.finding, check.outcome]
    if check.how:
        told.append(discretion.show_of(donor, check.how))
    return ", ".join(text for text in told if text)


def _drawn_from(shop: Workshop, view: PieceView) -> list[Json]:
    """Everything that the page's pictures follow from."""
    conn = shop.conn
    found: list[Json] = [_photo(photo) for photo in list_photos(shop, view.piece.code)]
    for piece in cut_pieces(conn, view.piece.code):
        found.append(piece.code)
        if piece.code != view.piece.code:
            found += [_photo(photo) for photo in list_photos(shop, piece.code)]
    for board in boards_of(conn, view.piece.code):
        found += [board.outline, *(_photo(photo) for photo in list_photos(shop, board.code))]
        for query in (
            "SELECT code, region FROM cut WHERE board = ? ORDER BY code",
            "SELECT n || ' ' || lifted, region FROM keep_out WHERE board = ? ORDER BY n",
            "SELECT code || state, region FROM reservation WHERE board = ? ORDER BY code",
        ):
            found += [" ".join(map(str, row)) for row in conn.execute(query, (board.code,))]
    return found


def _photo(photo: Photo) -> str:
    return f"{photo.sha256} {photo.side} {photo.corners}"
