"""The workshop's self-check: every invariant of the design, one line each."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

from salvage.errors import SalvageError
from salvage.records.region import region_of_text
from salvage.records.things import Board, Cut, KeepOut
from salvage.store.connection import plain_errors
from salvage.store.journal import (
    check_form,
    count_events,
    read_events_about,
    undone_ids,
    verify_chain,
)
from salvage.store.migrations import schema_files, split_statements
from salvage.store.projection import TABLES, replay
from salvage.store.rows import select
from salvage.units import format_mass
from salvage.work.area import account_board, board_outline
from salvage.work.check_clearance import check_hazards_first
from salvage.work.check_folder import check_folder
from salvage.work.check_ledger import check_ledger
from salvage.work.check_lineage import check_articles, check_consent, check_lineage
from salvage.work.check_proof import check_checkpoints, check_seals
from salvage.work.check_recalls import check_recalls
from salvage.work.check_safety import SAFETY_CHECKS
from salvage.work.check_waste import WASTE_CHECKS
from salvage.work.clashes import find_clashes
from salvage.work.mass import SCALES, account_mass, outweighed
from salvage.work.workshop import Workshop

if TYPE_CHECKING:
    from salvage.geometry.ledger import Taken

# What a check stumbles over where rows or events were taken away, moved or rewritten: that turns
# its line red, and the other lines still have their say.
_UNREADABLE = (LookupError, ValueError, TypeError, AttributeError, AssertionError)

# The design's tolerance for the conservation of area.
_AREA_TOLERANCE = 0.001


@dataclass(frozen=True, slots=True)
class CheckLine:
    """
    One invariant.

    Args:
        name: What must hold.
        faults: Where it does not; empty when all is well.
        note: Figures worth knowing.
    """

    name: str
    faults: tuple[str, ...]
    note: str = ""

    @property
    def ok(self) -> bool:
        """True when the invariant holds."""
        return not self.faults


def _unreadable() -> tuple[type[Exception], ...]:
    """Those, and what the geometry's library raises for a region that crosses itself."""
    from shapely.errors import ShapelyError

    return (*_UNREADABLE, ShapelyError)


Check = Callable[[Workshop], tuple[Iterator[str], str]]


def run_checks(
    shop: Workshop, *, progress: Callable[[str], None] | None = None
) -> tuple[CheckLine, ...]:
    """
    Check every invariant; nothing is changed.

    Args:
        shop: The open workshop.
        progress: Called with the name of each check before it runs.
    """
    lines = []
    for name, check in CHECKS.items():
        if progress:
            progress(name)
        try:
            faults, note = check(shop)
            lines.append(CheckLine(name, tuple(faults), note))
        except (SalvageError, sqlite3.DatabaseError) as error:
            lines.append(CheckLine(name, (str(error),)))
        except _unreadable() as error:
            what = f"the record cannot be read ({type(error).__name__}: {error})"
            lines.append(CheckLine(name, (what,)))
    return tuple(lines)


def _database(shop: Workshop) -> tuple[Iterator[str], str]:
    def faults() -> Iterator[str]:
        for (verdict,) in shop.conn.execute("PRAGMA integrity_check(5)"):
            if verdict != "ok":
                yield str(verdict)
        for table, row, parent, _ in shop.conn.execute("PRAGMA foreign_key_check"):
            yield f"row {row} of {table} points to nothing in {parent}"

    return faults(), ""


def _schema(shop: Workshop) -> tuple[Iterator[str], str]:
    def faults() -> Iterator[str]:
        applied = dict(shop.conn.execute("SELECT name, sha256 FROM schema_file"))
        for file in schema_files():
            if file.name not in applied:
                yield f"{file.name} was not applied"
            elif applied[file.name] != file.sha256:
                yield f"{file.name} is not the file that was applied"
        fresh = _empty_database()
        here = _schema_objects(shop.conn)
        shipped = _schema_objects(fresh)
        for key, sql in shipped.items():
            if here.get(key) != sql:
                yield f"{key[0]} {key[1]} is missing or altered"
        for kind, name in here.keys() - shipped.keys():
            yield f"{kind} {name} was added by somebody else"
        fresh.close()

    return faults(), ""


def _schema_objects(conn: sqlite3.Connection) -> dict[tuple[str, str], str]:
    rows = conn.execute(
        "SELECT type, name, sql FROM sqlite_schema"
        " WHERE sql IS NOT NULL AND name NOT LIKE 'sqlite~_%' ESCAPE '~'"
    )
    return {(kind, name): sql for kind, name, sql in rows}


def _empty_database() -> sqlite3.Connection:
    conn = sqlite3.connect(":memory:", isolation_level=None)
    conn.deserialize(_empty_bytes())
    return conn


@cache
def _empty_bytes() -> bytes:
    """A database with all tables and no rows, made once: two checks need one of their own."""
    with closing(sqlite3.connect(":memory:", isolation_level=None)) as conn:
        for file in schema_files():
            for statement in split_statements(file.text):
                conn.execute(statement)
        return conn.serialize()


def _chain(shop: Workshop) -> tuple[Iterator[str], str]:
    heads = verify_chain(shop.conn)
    check_form(shop.conn)
    newest = ", ".join(head.short for head in heads)
    return iter(()), f"{count_events(shop.conn)} events, head {newest}"


def compare_with_rebuild(conn: sqlite3.Connection) -> Iterator[str]:
    """Tables whose rows differ from a replay of the journal into an empty database."""
    fresh = _empty_database()
    try:
        replay(conn, fresh)
        for table in TABLES:
            query = f"SELECT * FROM {table}"
            there = sorted(map(repr, fresh.execute(query)))
            here = sorted(map(repr, conn.execute(query)))
            if here != there:
                odd = set(here) ^ set(there)
                yield f"{table}: {len(odd)} rows differ, such as {sorted(odd)[0][:120]}"
    finally:
        fresh.close()


def _projection(shop: Workshop) -> tuple[Iterator[str], str]:
    return compare_with_rebuild(shop.conn), ""


def _areas(shop: Workshop) -> tuple[Iterator[str], str]:
    boards = select(shop.conn, Board, "FROM board WHERE outline IS NOT NULL ORDER BY code")

    def faults() -> Iterator[str]:
        for board in boards:
            yield from _area_faults(shop.conn, board)

    return faults(), f"{len(boards)} boards"


def _area_faults(conn: sqlite3.Connection, board: Board) -> Iterator[str]:
    ledger = account_board(conn, board)
    assert ledger is not None  # only boards with an outline are asked
    if abs(ledger.imbalance_mm2) > _AREA_TOLERANCE * ledger.outline_mm2:
        yield f"{board.code}: areas miss the outline by {ledger.imbalance_mm2:.1f} mm²"
    difference = abs(ledger.usable_mm2 - board.usable_um2 / 1e6)
    if not board.retired and difference > _AREA_TOLERANCE * ledger.outline_mm2:
        yield f"{board.code}: usable area is recorded {difference:.1f} mm² off"
    yield from _cut_faults(conn, board)


def _cut_faults(conn: sqlite3.Connection, board: Board) -> Iterator[str]:
    """Cuts against the outline, and against the cuts and standing keep-outs that came first."""
    from salvage.geometry.conflicts import find_conflicts, say
    from salvage.geometry.ledger import Taken

    outline = board_outline(board)
    assert outline is not None  # only boards with an outline are asked
    keep_outs = tuple(_keep_outs_in_order(conn, board))
    earlier: list[Taken] = []
    for cut in select(conn, Cut, "FROM cut WHERE board = ? ORDER BY clock, code", (board.code,)):
        region = region_of_text(cut.region)
        ours = [item for item in earlier if item.label[1] == cut.code[1]]  # others' are clashes
        taken = [*ours, *(item for clock, item in keep_outs if clock < cut.clock)]
        for conflict in find_conflicts(region, kerf_mm=0, outline=outline, taken=taken):
            yield f"{cut.code} on {board.code} {say(conflict)}"
        earlier.append(Taken("cut", cut.code, region, cut.kerf_um))


def _clashes(shop: Workshop) -> tuple[Iterator[str], str]:
    clashes = find_clashes(shop.conn)
    still_open = [clash for clash in clashes if not clash.settled]
    return (f"{clash.name}: {clash.words}" for clash in still_open), ""


def _keep_outs_in_order(conn: sqlite3.Connection, board: Board) -> Iterator[tuple[int, Taken]]:
    """Keep-outs that stand, each with the number of the event that marked it."""
    from salvage.geometry.ledger import Taken

    query = "FROM keep_out WHERE board = ? AND lifted = 0"
    standing = {found.n: found for found in select(conn, KeepOut, query, (board.code,))}
    if not standing:
        return
    gone = undone_ids(conn)
    for event in read_events_about(conn, board.code):
        if event.kind != "keepout.added" or event.id in gone:
            continue
        found = standing.get(int(str(event.data["n"])))
        if found:
            yield event.clock, Taken("keep-out", found.reason, region_of_text(found.region))


def _files(shop: Workshop) -> tuple[Iterator[str], str]:
    # A shape that was taken back stays in the cuts that were made with it.
    query = "SELECT sha256 FROM file UNION SELECT shape_sha256 FROM cut WHERE shape_sha256 <> ''"
    wanted = [sha256 for (sha256,) in shop.conn.execute(f"{query} ORDER BY 1")]

    def faults() -> Iterator[str]:
        for sha256 in wanted:
            try:
                shop.files.load(sha256)
            except SalvageError as error:
                yield str(error)

    orphans = len(set(shop.files.kept()) - set(wanted))
    note = f"{len(wanted)} files"
    return faults(), f"{note}, {orphans} more that no event mentions" if orphans else note


def _mass(shop: Workshop) -> tuple[Iterator[str], str]:
    account = account_mass(shop)
    found = account.received_g - account.unexplained_g

    def faults() -> Iterator[str]:
        if not account.unweighed and account.unexplained_g < -SCALES * account.received_g:
            yield f"{found:.0f} g are found of {account.received_g:.0f} g that came in"
        for code, came_mg, sent_mg in outweighed(shop.conn):
            sent, came = format_mass(sent_mg / 1000), format_mass(came_mg / 1000)
            yield f"{sent} of {code} were sent off, and {came} came in"

    share = f", {account.unweighed} drop-offs not weighed" if account.unweighed else ""
    return faults(), f"{account.unexplained_g / 1000:.1f} kg unexplained{share}"


CHECKS: dict[str, Check] = {
    "the database is sound": _database,
    "the schema is as shipped, guards included": _schema,
    "the journal's chain verifies": _chain,
    "signed checkpoints still hold": check_checkpoints,
    "the tables equal a rebuild from the journal": _projection,
    "areas add up and cuts are apart": _areas,
    "devices do not stand against one another": _clashes,
    "one computer alone writes in the folder": check_folder,
    "hazards were settled before the first cut": check_hazards_first,
    "every piece traces back to a donor": check_lineage,
    "articles are what their parts are": check_articles,
    "every photo and shape file is as it was": _files,
    "cards name donors only as they wished": check_consent,
    "names and contacts are as they were sealed": check_seals,
    "recalls hold all that they reach": check_recalls,
    "mass is accounted for": _mass,
    "the ledger of sales adds up": check_ledger,
    **WASTE_CHECKS,
    **SAFETY_CHECKS,
}
"""All checks by the invariant that they check."""


def rebuild_tables(shop: Workshop) -> int:
    """
    Empty the tables and replay the whole journal into them.

    Returns:
        The number of events replayed.

    Raises:
        StoreTrouble: If the journal's chain does not verify, or is newer than this version.
    """
    from salvage.store.projection import rebuild

    shop.check_may_write()
    verify_chain(shop.conn)
    with plain_errors(shop.path):
        shop.conn.execute("BEGIN IMMEDIATE")
        try:
            rebuild(shop.conn)
            shop.conn.execute("COMMIT")
        except BaseException:
            if shop.conn.in_transaction:  # a full disk has rolled back already
                shop.conn.execute("ROLLBACK")
            raise
    return count_events(shop.conn)
