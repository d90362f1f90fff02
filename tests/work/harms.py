"""Harm done to a workshop behind its back: to its rows, its journal and its files."""

from __future__ import annotations

import json
from collections.abc import Callable

from salvage.canonical import canonical_bytes
from salvage.ids import Code
from salvage.store.journal import FIRST_PREV, link
from salvage.work.articles import assemble
from salvage.work.check import rebuild_tables
from salvage.work.checkpoints import sign_checkpoint
from salvage.work.workshop import Workshop


def sql(*statements: str) -> Callable[[Workshop], None]:
    """Change rows past every foreign key and check."""

    def harm(shop: Workshop) -> None:
        shop.conn.execute("PRAGMA foreign_keys = OFF")
        shop.conn.execute("PRAGMA ignore_check_constraints = ON")
        for statement in statements:
            shop.conn.execute(statement)

    return harm


def without_guards(*statements: str) -> Callable[[Workshop], None]:
    """Change the journal itself, and put the guards back so that only that is to be seen."""

    def harm(shop: Workshop) -> None:
        guards = shop.conn.execute(
            "SELECT name, sql FROM sqlite_schema WHERE type = 'trigger' AND tbl_name = 'event'"
        ).fetchall()
        for name, _ in guards:
            shop.conn.execute(f"DROP TRIGGER {name}")
        sql(*statements)(shop)
        for _, text in guards:
            shop.conn.execute(text)

    return harm


def rechain(shop: Workshop, change: Callable[[list[dict[str, object]]], None]) -> None:
    """Forge the journal with every hash made to fit again, and the tables with it."""
    bodies = [json.loads(body) for (body,) in shop.conn.execute("SELECT body FROM event")]
    change(bodies)
    without_guards("DELETE FROM event_item", "DELETE FROM event")(shop)
    prev = FIRST_PREV
    for seq, body in enumerate(bodies, 1):
        text = canonical_bytes(body)
        digest = link(prev, text)
        row = (
            *(seq, body["id"], body["device"], body["n"], body["clock"]),
            *(body["kind"], body["operation"]),
            *(body["at"], text.decode(), prev, digest),
        )
        shop.conn.execute("INSERT INTO event VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)", row)
        prev = digest
    rebuild_tables(shop)
    shop.conn.execute("PRAGMA foreign_keys = ON")


def _name_on_cards(shop: Workshop) -> None:
    def change(bodies: list[dict[str, object]]) -> None:
        for body in bodies:
            if body["kind"] == "card.printed":
                body["data"] = {**body["data"], "naming": "named"}  # type: ignore[dict-item]

    rechain(shop, change)


def _cut_before_clearing(shop: Workshop) -> None:
    def change(bodies: list[dict[str, object]]) -> None:
        for body in bodies:
            if body["kind"] == "hazard.checked":
                body["data"] = {**body["data"], "finding": "cannot tell"}  # type: ignore[dict-item]

    rechain(shop, change)


def _move_a_cut(shop: Workshop) -> None:
    """The second piece's region and place become the first one's."""

    def change(bodies: list[dict[str, object]]) -> None:
        first, second = [body for body in bodies if body["kind"] == "cut.made"][:2]
        second["data"] = {**second["data"], "region": first["data"]["region"]}  # type: ignore[dict-item,index]

    rechain(shop, change)


def _lose_a_file(shop: Workshop) -> None:
    shop.files.path(next(iter(shop.files.kept()))).unlink()


def _change_a_file(shop: Workshop) -> None:
    path = shop.files.path(next(iter(shop.files.kept())))
    path.write_bytes(path.read_bytes()[:-1] + b"!")


def _sell_twice(shop: Workshop) -> None:
    """As two devices do that were apart: the newest sale stands a second time."""

    def change(bodies: list[dict[str, object]]) -> None:
        sale = next(body for body in bodies if body["kind"] == "piece.sold")
        last = bodies[-1]
        again: dict[str, object] = {**sale, "id": "0" * 36, "operation": "0" * 36}
        again["n"], again["clock"] = int(str(last["n"])) + 1, int(str(last["clock"])) + 1
        again["data"] = {**sale["data"], "n": 17}  # type: ignore[dict-item]
        bodies.append(again)

    rechain(shop, change)


def _heavy_board(shop: Workshop) -> None:
    def change(bodies: list[dict[str, object]]) -> None:
        for body in bodies:
            if body["kind"] == "dropoff.logged":
                body["data"] = {**body["data"], "weight_mg": 1000}  # type: ignore[dict-item]

    rechain(shop, change)


def _cut_the_tail(shop: Workshop) -> None:
    """All that came after the first sale is taken away; what is left is a whole journal."""
    sign_checkpoint(shop)
    (seq,) = shop.conn.execute("SELECT seq FROM event WHERE kind = 'piece.sold'").fetchone()
    without_guards(
        f"DELETE FROM event_item WHERE seq > {seq}", f"DELETE FROM event WHERE seq > {seq}"
    )(shop)
    rebuild_tables(shop)
    shop.conn.execute("PRAGMA foreign_keys = ON")


def _assemble_two(shop: Workshop) -> None:
    rows = shop.conn.execute("SELECT code FROM piece WHERE stage = 'rough' ORDER BY code LIMIT 2")
    assemble(shop, parts=[Code(code) for (code,) in rows], name="pair")


def _blend_falsely(shop: Workshop) -> None:
    """An article of one board passes for one of which half is from somewhere else."""
    _assemble_two(shop)

    def change(bodies: list[dict[str, object]]) -> None:
        for share in bodies[-1]["data"]["shares"]:  # type: ignore[index]
            share["share_ppm"] = 500_000

    rechain(shop, change)


def _hide_a_part(shop: Workshop) -> None:
    _assemble_two(shop)
    sql("UPDATE board_share SET board = (SELECT min(code) FROM board)")(shop)


def _claim_custody(shop: Workshop) -> None:
    _assemble_two(shop)
    sql("UPDATE piece SET custody = 'controlled blending' WHERE cut IS NULL")(shop)


SLIPS: dict[str, tuple[Callable[[Workshop], None], str, str]] = {
    "a payment altered": (
        sql("UPDATE slip_line SET paid_minor = paid_minor + 1"),
        "the ledger of sales adds up",
        "is not its price less its discount",
    ),
    "a payment altered on both sides": (
        sql("UPDATE slip_line SET paid_minor = 1, list_minor = 1, discount_minor = 0"),
        "the ledger of sales adds up",
        "was sold at another price than slip",
    ),
    "a tax altered": (
        sql("UPDATE slip SET tax_ppm = 190000"),
        "the ledger of sales adds up",
        "does not follow from its rate",
    ),
}

HARMS: dict[str, tuple[Callable[[Workshop], None], str, str]] = {
    "a link to nothing": (
        sql("UPDATE board SET drop_off = 'DX'"),
        "the database is sound",
        "points to nothing in drop_off",
    ),
    "a guard taken off": (
        sql("DROP TRIGGER event_no_delete"),
        "the schema is as shipped, guards included",
        "trigger event_no_delete is missing",
    ),
    "a guard weakened": (
        sql(
            "DROP TRIGGER event_no_update",
            "CREATE TRIGGER event_no_update BEFORE UPDATE ON event WHEN 0"
            " BEGIN SELECT RAISE(ABORT, 'x'); END",
        ),
        "the schema is as shipped, guards included",
        "trigger event_no_update is missing or altered",
    ),
    "a trigger slipped in": (
        sql("CREATE TRIGGER tip AFTER INSERT ON sale BEGIN DELETE FROM sale; END"),
        "the schema is as shipped, guards included",
        "trigger tip was added",
    ),
    "a table gone": (
        sql("DROP TABLE sale"),
        "the schema is as shipped, guards included",
        "table sale is missing",
    ),
    "a schema file's hash": (
        sql(
            "DROP TRIGGER schema_file_no_update", "UPDATE schema_file SET sha256 = hash FROM event"
        ),
        "the schema is as shipped, guards included",
        "0001_spine.sql is not the file that was applied",
    ),
    "an event rewritten": (
        without_guards("UPDATE event SET body = replace(body, 'Maren', 'Marek') WHERE seq = 5"),
        "the journal's chain verifies",
        "event 5 of the journal is not as it was written: its hash does not fit",
    ),
    "an event that is no text any more": (
        without_guards("UPDATE event SET body = 'x' WHERE seq = 5"),
        "the journal's chain verifies",
        "event 5 of the journal is not as it was written",
    ),
    "an event cut out": (
        without_guards("DELETE FROM event WHERE seq = 4"),
        "the journal's chain verifies",
        "an event is missing before number 5",
    ),
    "two events swapped": (
        without_guards(
            "UPDATE event SET seq = -1 WHERE seq = 4",
            "UPDATE event SET seq = 4 WHERE seq = 5",
            "UPDATE event SET seq = 5 WHERE seq = -1",
        ),
        "the journal's chain verifies",
        "event 4 of the journal is not as it was written: it does not follow",
    ),
    "a price altered": (
        sql("UPDATE sale SET price_minor = 1"),
        "the tables equal a rebuild from the journal",
        "sale: 2 rows differ",
    ),
    "a board freed by hand": (
        sql("UPDATE board SET clearance = 'cleared'"),
        "the tables equal a rebuild from the journal",
        "board: ",
    ),
    "a row taken out": (
        sql("DELETE FROM keep_out"),
        "the tables equal a rebuild from the journal",
        "keep_out: 1 rows differ",
    ),
    "a piece taken out": (
        sql("DELETE FROM piece"),
        "the tables equal a rebuild from the journal",
        "piece: ",
    ),
    "a wrong usable area": (
        sql("UPDATE board SET usable_um2 = usable_um2 + 20000000"),
        "areas add up and cuts are apart",
        "usable area is recorded 20.0 mm² off",
    ),
    "two cuts in one place": (
        _move_a_cut,
        "areas add up and cuts are apart",
        "overlaps cut",
    ),
    "a piece sold twice": (
        _sell_twice,
        "devices do not stand against one another",
        "is on record as sold twice",
    ),
    "a cut before clearing": (
        _cut_before_clearing,
        "hazards were settled before the first cut",
        "was cut before",
    ),
    "a piece from nowhere": (
        sql("UPDATE piece SET cut = 'KX' || rowid"),
        "every piece traces back to a donor",
        "does not trace back",
    ),
    "shares that are no whole": (
        _blend_falsely,
        "articles are what their parts are",
        "do not add up to the whole",
    ),
    "a share of another board": (
        _hide_a_part,
        "articles are what their parts are",
        "its shares and its parts name other boards",
    ),
    "a custody that is not so": (
        _claim_custody,
        "articles are what their parts are",
        "its custody is told as controlled blending, and it is of 1 boards",
    ),
    "a photo gone": (_lose_a_file, "every photo and shape file is as it was", "is not in"),
    "a photo changed": (
        _change_a_file,
        "every photo and shape file is as it was",
        "has changed since it was recorded",
    ),
    "a card that names without consent": (
        _name_on_cards,
        "cards name donors only as they wished",
        "names a donor who wished to be described",
    ),
    "a name exchanged": (
        sql("UPDATE private_field SET value = 'Ilva Brandt'"),
        "names and contacts are as they were sealed",
        "not those that were sealed",
    ),
    "the tail cut off": (
        _cut_the_tail,
        "signed checkpoints still hold",
        "its tail was cut off",
    ),
    "a name gone": (
        sql("DELETE FROM private_field"),
        "names and contacts are as they were sealed",
        "are gone, and nobody asked for it",
    ),
    "a thing slipped out of a recall": (
        sql("DELETE FROM recall_item"),
        "recalls hold all that they reach",
        "which its cause reaches",
    ),
    "a held board let go by hand": (
        sql("UPDATE board SET recalled = 0"),
        "recalls hold all that they reach",
        "counts as held by 0 recalls, and 1 hold it",
    ),
    "more out than in": (_heavy_board, "mass is accounted for", "g are found of 3 g"),
    **SLIPS,
}
"""By name: what is done, the line that must turn red, and what it must say."""
