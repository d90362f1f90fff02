"""What a recall may start from, checked and put into the words of the record."""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from salvage.canonical import Json
from salvage.errors import BadValue, NotFound
from salvage.ids import Code, kind_of
from salvage.records.choices import BENCH_STAGES, parse_choice
from salvage.records.recalls import MARKS, week_number
from salvage.store.lookup import exists, suggest
from salvage.units import format_instant

_FIRST, _LAST = "0001", "9999"


@dataclass(frozen=True, slots=True)
class RecallCause:
    """
    Where the trouble starts.

    Args:
        words: For people, such as ``date codes 9840 to 9952``; a code for a thing.
        fields: As the journal keeps it.
    """

    words: str
    fields: dict[str, Json]


def from_thing(conn: sqlite3.Connection, code: Code) -> RecallCause:
    """
    Everything that came of a donor, drop-off, board, cut, piece or batch of a material.

    Raises:
        NotFound: If there is nothing with this code.
        BadValue: If it is of a kind from which nothing comes.
    """
    if code[0] not in "GDBKPV":
        raise BadValue(
            f"{code} is a {kind_of(code)}",
            hint="name a donor, drop-off, board, cut, piece or batch",
            field="CODE",
        )
    if not exists(conn, code):
        raise NotFound(f"there is nothing with the code {code}", nearest=suggest(conn, code))
    return RecallCause(code, {"kind": "descent", "code": code})


def from_date_codes(text: str, *, field: str = "--date-codes") -> RecallCause:
    """
    All boards whose date code lies in a range of weeks.

    Args:
        text: Such as ``9840-9952``, or one code.
        field: Label for errors.

    Raises:
        BadValue: If it is no range of four-digit codes, or ends before it begins.
    """
    parts = re.findall(r"[0-9]{4}", text)
    weeks = [week_number(part) for part in parts]
    if len(parts) not in (1, 2) or None in weeks or re.sub(r"[0-9]{4}|[\s.–to-]", "", text):
        raise BadValue(
            f"'{text}' is no range of date codes",
            hint="write year and week twice, such as 9840-9952",
            field=field,
        )
    if str(weeks[-1]) < str(weeks[0]):
        raise BadValue(f"'{text}' ends before it begins", hint="the older code first", field=field)
    words = f"date codes {parts[0]} to {parts[-1]}" if len(parts) > 1 else f"date code {parts[0]}"
    return RecallCause(words, {"kind": "date code", "first": parts[0], "last": parts[-1]})


def from_hazard(conn: sqlite3.Connection, text: str, *, marks: Sequence[str] = ()) -> RecallCause:
    """
    All boards and pieces with a hazard that was found, accepted, or overridden at a cut.

    Args:
        conn: Open connection.
        text: The hazard's name.
        marks: Of :data:`salvage.records.recalls.MARKS`; all when empty.

    Raises:
        NotFound: If there is no such hazard.
        BadValue: If a mark is none.
    """
    from salvage.knowledge.hazards import find_hazard

    known = {slug for (slug,) in conn.execute("SELECT DISTINCT hazard FROM hazard_check")}
    slug = text if text in known else find_hazard(text, field="--hazard").slug
    chosen = [parse_choice(mark, MARKS, field="--state") for mark in marks] or list(MARKS)
    words = f"hazard {slug}" + (f" ({', '.join(chosen)})" if marks else "")
    return RecallCause(words, {"kind": "hazard", "hazard": slug, "marks": [*chosen]})


@dataclass(frozen=True, slots=True)
class Period:
    """
    Days from and to, both within; None for no bound.

    Args:
        since: First day.
        until: Last day.
    """

    since: date | None = None
    until: date | None = None

    @property
    def words(self) -> str:
        """For people; empty without bounds."""
        since = f" from {self.since}" if self.since else ""
        return f"{since}{f' until {self.until}' if self.until else ''}"

    def bounds(self) -> dict[str, Json]:
        """Instants in UTC: the first within, and the first after; by the computer's own zone."""
        if self.since and self.until and self.until < self.since:
            raise BadValue(
                f"{self.until} is before {self.since}", hint="the first day first", field="--until"
            )
        after = self.until + timedelta(days=1) if self.until else None
        return {
            "since": _instant(self.since) if self.since else _FIRST,
            "until": _instant(after) if after else _LAST,
        }


def _instant(day: date) -> str:
    return format_instant(datetime.combine(day, time()).astimezone())


def from_worker(
    conn: sqlite3.Connection, name: str, *, stages: Sequence[str] = (), period: Period | None = None
) -> RecallCause:
    """
    All pieces that somebody cut or brought to a stage.

    Args:
        conn: Open connection.
        name: As on record; capitals do not matter.
        stages: Only these; a cut counts as ``rough``; all when empty.
        period: Days; any time when None.

    Raises:
        NotFound: If nobody of that name did any.
        BadValue: If a stage is none, or the period ends before it begins.
    """
    when = period or Period()
    query = "SELECT by FROM staging UNION SELECT by FROM cut UNION SELECT by FROM material_use"
    workers = [worker for (worker,) in conn.execute(query)]
    names = sorted(worker for worker in workers if worker.casefold() == name.strip().casefold())
    if not names:
        raise NotFound(f"nobody called '{name}' worked on a piece", nearest=sorted(workers)[:5])
    chosen = [parse_choice(stage, BENCH_STAGES, field="--stage") for stage in stages]
    at_stage = f" at stage {', '.join(chosen)}" if chosen else ""
    return RecallCause(
        f"work of {names[0]}{at_stage}{when.words}",
        {"kind": "worker", "by": [*names], "stages": [*chosen], **when.bounds()},
    )


def from_mat(serial: str) -> RecallCause:
    """
    All boards that were ever measured on one mat.

    Raises:
        BadValue: If it is no serial of a mat.
    """
    tidy = serial.strip().upper()
    if not re.fullmatch(r"M[A-Z][0-9]{1,6}", tidy):
        hint = "it stands on the mat; 'salvage mat list' lists them"
        raise BadValue(f"'{serial}' is no serial of a mat", hint=hint, field="--mat")
    return RecallCause(f"mat {tidy}", {"kind": "mat", "serial": tidy})


def from_measurement(text: str, *, period: Period | None = None) -> RecallCause:
    """
    All boards whose outline was ever taken in a way, such as by ``calipers``.

    Args:
        text: Part of the words that say by what the outline was taken.
        period: Days of the measurement; any time when None.

    Raises:
        BadValue: If it is empty, or the period ends before it begins.
    """
    when = period or Period()
    if not text.strip():
        raise BadValue("say how it was measured", hint="such as 'calipers'", field="--measured")
    tidy = " ".join(text.split())
    fields: dict[str, Json] = {"kind": "measured", "how": tidy, **when.bounds()}
    return RecallCause(f"measured by {tidy}{when.words}", fields)
