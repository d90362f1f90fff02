"""
The workshop's own rows of the knowledge base, each with its own source.

They are events like everything else, so that they merge between devices and can be proved. Their
names begin with ``own-``, so that no row of a later version of the program ever means another.
"""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

from salvage.errors import BadValue, ManyMistakes, NotFound, Refused, SalvageError
from salvage.frozen import dataclass
from salvage.store.rows import select
from salvage.work.own_rows import own_slug, source_of_own, tidy_row

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Mapping, Sequence

    from salvage.knowledge.hazards import Hazard
    from salvage.knowledge.limits import Limit
    from salvage.knowledge.materials import MaterialFact
    from salvage.knowledge.source import Source
    from salvage.store.change import Change
    from salvage.work.workshop import Workshop


@dataclass(frozen=True, slots=True)
class OwnFact:
    """
    One row as the workshop wrote it.

    Args:
        kind: ``hazard``, ``limit`` or ``material``.
        slug: Its name, beginning with ``own-``.
        fields: JSON object of its columns.
        withdrawn: Why it no longer counts; empty while it does.
        by: Who added it, or changed it last.
        at: When.
    """

    kind: str
    slug: str
    fields: str
    withdrawn: str
    by: str
    at: str

    @property
    def columns(self) -> dict[str, str]:
        """Text by column name."""
        return {str(name): str(text) for name, text in json.loads(self.fields).items()}

    @property
    def source(self) -> Source:
        """Where the workshop has it from."""
        return source_of_own(self.columns)


def add_own_facts(
    shop: Workshop,
    *,
    kind: str,
    rows: Sequence[tuple[str, Mapping[str, str]]],
    dry_run: bool = False,
) -> tuple[OwnFact, ...]:
    """
    Add rows of the workshop's own, or write them anew; all of them, or none.

    Args:
        shop: The open workshop.
        kind: One of :data:`salvage.work.own_rows.KINDS`.
        rows: Name and columns of each.
        dry_run: Do everything, then roll back.

    Raises:
        BadValue: If a row lacks what it needs, or a value does not fit.
        NotFound: If a column or board type is not known.
        ManyMistakes: If several things are wrong.
    """
    tidy: dict[str, dict[str, str]] = {}
    mistakes: list[SalvageError] = []
    for name, row in rows:
        try:
            slug = own_slug(name)
            tidy[slug] = tidy_row(kind, slug, row)
        except ManyMistakes as many:
            mistakes += many.mistakes
        except SalvageError as mistake:
            mistakes.append(mistake)
    if len(mistakes) == 1:
        raise mistakes[0]
    if mistakes:
        raise ManyMistakes(mistakes, hint="nothing was added")

    def steps(change: Change) -> tuple[OwnFact, ...]:
        for slug, fields in tidy.items():
            change.append("fact.added", (), {"kind": kind, "slug": slug, "fields": fields})
        return tuple(find_own_fact(change.conn, slug) for slug in tidy)

    return shop.commit(f"add own {kind}", steps, dry_run=dry_run)


def withdraw_own_fact(shop: Workshop, *, slug: str, reason: str, dry_run: bool = False) -> OwnFact:
    """
    Let an own row count no longer; what rests on it stays, and it stays on the record.

    Raises:
        NotFound: If there is no such row.
        BadValue: If no reason is given.
        Refused: If it is withdrawn already.
    """
    if not reason.strip():
        raise BadValue("say why it no longer counts", field="--reason")

    def steps(change: Change) -> OwnFact:
        old = find_own_fact(change.conn, slug)
        if old.withdrawn:
            raise Refused(f"{old.slug} is withdrawn already: {old.withdrawn}")
        data = {"kind": old.kind, "slug": old.slug, "reason": reason}
        change.append("fact.withdrawn", (), data)
        return find_own_fact(change.conn, slug)

    return shop.commit("withdraw own row", steps, dry_run=dry_run)


def list_own_facts(shop: Workshop, *, kind: str = "") -> tuple[OwnFact, ...]:
    """All rows of the workshop's own, withdrawn ones too, by kind and name."""
    return _read(shop.conn, kind, withdrawn=True)


def find_own_fact(conn: sqlite3.Connection, slug: str) -> OwnFact:
    """The own row of a name, with or without its beginning; NotFound with the nearest."""
    from salvage.knowledge.table import nearest_names

    every = _read(conn, "", withdrawn=True)
    for fact in every:
        if fact.slug == own_slug(slug):
            return fact
    nearest = nearest_names(own_slug(slug), [fact.slug for fact in every])
    raise NotFound(f"the workshop has no own row '{slug}'", nearest=nearest)


def _read(conn: sqlite3.Connection, kind: str, *, withdrawn: bool) -> tuple[OwnFact, ...]:
    rest = "FROM own_fact WHERE ? IN ('', kind) AND (? OR withdrawn = '') ORDER BY kind, slug"
    return select(conn, OwnFact, rest, (kind, int(withdrawn)))


def own_hazards(conn: sqlite3.Connection, *, withdrawn: bool = False) -> tuple[Hazard, ...]:
    """
    The workshop's own hazards.

    Args:
        conn: Open connection.
        withdrawn: Those that no longer count as well, to speak of what was recorded.
    """
    from salvage.knowledge.hazards import hazard_of_row

    facts = _read(conn, "hazard", withdrawn=withdrawn)
    rows = [(fact.columns | {"slug": fact.slug}) for fact in facts]
    return tuple(
        hazard_of_row(row, source_of_own(row), source_of_own(row, "practice_")) for row in rows
    )


def own_limits(conn: sqlite3.Connection) -> tuple[Limit, ...]:
    """The workshop's own limits."""
    from salvage.knowledge.limits import limit_of_row

    rows = [f.columns | {"slug": f.slug} for f in _read(conn, "limit", withdrawn=False)]
    return tuple(limit_of_row(row, source_of_own(row)) for row in rows)


def own_materials(conn: sqlite3.Connection) -> tuple[MaterialFact, ...]:
    """The workshop's own figures of materials."""
    from salvage.knowledge.materials import material_of_row

    rows = [f.columns | {"slug": f.slug} for f in _read(conn, "material", withdrawn=False)]
    return tuple(material_of_row(row, source_of_own(row)) for row in rows)


def find_known_hazard(conn: sqlite3.Connection, text: str, *, field: str = "") -> Hazard:
    """
    The hazard or notice of a slug or name, ours or the workshop's own, withdrawn ones too.

    Raises:
        NotFound: If there is none of that name; with the nearest.
    """
    from salvage.knowledge.hazards import find_hazard

    return find_hazard(text, field=field, own=own_hazards(conn, withdrawn=True))
