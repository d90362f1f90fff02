"""Drop-offs from a CSV table: all rows good, or nothing written, unless the user says otherwise."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from salvage.errors import BadFile, BadValue, ManyMistakes, SalvageError
from salvage.ids import Code
from salvage.records.choices import CHANNELS, DATA_PARTS, parse_choice
from salvage.store.change import Change
from salvage.units import parse_country, parse_date, parse_mass_g, to_mg
from salvage.work.donors import NewDonor, donor_key
from salvage.work.import_cells import Cells
from salvage.work.import_donors import KnownDonors, parse_donor
from salvage.work.receive import NewDropOff, log_drop_off_in
from salvage.work.workshop import Workshop

COLUMNS = (
    "received_on",
    "donor",
    "source_kind",
    "naming",
    "naming_how",
    "described_as",
    "contact",
    "contents",
    "board_count",
    "weight",
    "channel",
    "origin",
    "origin_country",
    "story",
    "notes",
    "data_parts",
)
"""Columns of the table, in any order; only the first, ``donor`` and ``contents`` must be there."""

_NEEDED = ("received_on", "donor", "contents")
MOST_ROWS = 20_000
"""Longest table; a workshop's whole life is far below."""

MOST_BYTES = 20_000_000
"""Largest file."""


@dataclass(frozen=True, slots=True)
class ImportResult:
    """
    What an import did.

    Args:
        logged: Codes of the drop-offs, in the table's order.
        mistakes: What was wrong with the rows that were left out.
    """

    logged: tuple[Code, ...]
    mistakes: tuple[SalvageError, ...]


def import_drop_offs(
    shop: Workshop, *, data: bytes, name: str, keep_good: bool = False, dry_run: bool = False
) -> ImportResult:
    """
    Log the drop-offs of a CSV table in one transaction.

    A row that says what a drop-off on record says already, as when a file is taken in twice, is a
    mistake; two like rows in one file are two deliveries.

    Args:
        shop: The open workshop.
        data: The file's bytes, UTF-8, with or without a byte-order mark.
        name: The file's name, for error texts.
        keep_good: Log the good rows although others are bad.
        dry_run: Do everything, then roll back.

    Raises:
        BadFile: If the file is no such table: encoding, columns, size, no rows.
        ManyMistakes: With one line for each bad row, unless *keep_good*.
    """
    parsed: list[tuple[str, NewDonor | Code, NewDropOff]] = []
    mistakes: list[SalvageError] = []
    known = KnownDonors(shop)
    for line, row in _read_rows(data, name):
        try:
            donor, new = _parse_row(shop, row, known)
            parsed.append((donor_key(row["donor"]), donor, new))
        except ManyMistakes as several:
            mistakes += [_at_line(line, mistake) for mistake in several.mistakes]
    if not parsed and not mistakes:
        raise BadFile(f"{name} has no rows below its columns", hint="nothing was written")
    if mistakes and not keep_good:
        raise ManyMistakes(
            mistakes,
            hint="nothing was written; mend the rows, or use --keep-good to log the others",
        )

    def steps(change: Change) -> ImportResult:
        fresh: dict[str, Code] = {}
        logged = []
        for key, donor, new in parsed:
            code = log_drop_off_in(change, fresh.get(key, donor), new)
            if isinstance(donor, NewDonor):
                fresh[key] = _donor_of(change, code)
            logged.append(code)
        return ImportResult(tuple(logged), tuple(mistakes))

    return shop.commit("import drop-offs", steps, dry_run=dry_run)


def _donor_of(change: Change, drop_off: Code) -> Code:
    (donor,) = change.conn.execute(
        "SELECT donor FROM drop_off WHERE code = ?", (drop_off,)
    ).fetchone()
    return Code(donor)


def _at_line(line: int, mistake: SalvageError) -> BadValue:
    place = f"line {line}, {mistake.field}" if mistake.field else f"line {line}"
    return BadValue(mistake.message, hint=mistake.hint, field=place)


_TOO_MANY = ""
"""Key of a row's cells for which there is no column."""


def _read_rows(data: bytes, name: str) -> Iterator[tuple[int, dict[str, str]]]:
    """Line number and cells of every row that is not empty."""
    text = io.StringIO(_decode(data, name), newline="")
    reader = csv.DictReader(text, restkey=_TOO_MANY, strict=True)
    try:
        _check_columns(reader.fieldnames or (), name)
        for count, row in enumerate(reader, 1):
            if count > MOST_ROWS:
                raise BadFile(f"{name} has more than {MOST_ROWS} rows", hint="split it")
            cells = {key: "".join(value or "").strip() for key, value in row.items()}
            if any(cells.values()):
                yield reader.line_num, cells
    except csv.Error as error:
        raise BadFile(
            f"{name}, line {reader.reader.line_num}: not a CSV row ({error})",
            hint="save it again as 'CSV UTF-8'",
        ) from error


def _decode(data: bytes, name: str) -> str:
    if len(data) > MOST_BYTES:
        raise BadFile(f"{name} is larger than {MOST_BYTES // 1_000_000} MB", hint="split it")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise BadFile(
            f"{name} is not UTF-8 (byte {error.start})", hint="save it again as 'CSV UTF-8'"
        ) from error
    if "\0" in text:
        raise BadFile(f"{name} holds zero bytes", hint="save it again as 'CSV UTF-8'")
    return text


def _check_columns(found: object, name: str) -> None:
    columns = list(found) if isinstance(found, (list, tuple)) else []
    if len(columns) == 1 and (mark := next((m for m in ";\t|" if m in columns[0]), "")):
        word = {";": "semicolons", "\t": "tabs", "|": "bars"}[mark]
        raise BadFile(
            f"{name} has {word} between its cells", hint="save it again with commas between them"
        )
    unknown = [column for column in columns if column not in COLUMNS]
    missing = [column for column in _NEEDED if column not in columns]
    if not unknown and not missing and len(set(columns)) == len(columns):
        return
    parts = []
    if missing:
        parts.append(f"columns missing: {', '.join(missing)}")
    if unknown:
        parts.append(f"columns not known: {', '.join(unknown)}")
    if len(set(columns)) != len(columns):
        parts.append("a column stands twice")
    raise BadFile(f"{name}: {'; '.join(parts)}", hint=f"known columns: {', '.join(COLUMNS)}")


def _parse_row(
    shop: Workshop, row: Mapping[str, str], known: KnownDonors
) -> tuple[NewDonor | Code, NewDropOff]:
    if row.get(_TOO_MANY):
        hint = "put text with commas into double quotes"
        raise ManyMistakes([BadValue("more cells than columns", hint=hint)])
    cells = Cells(row, shop.today)
    new = NewDropOff(
        received_on=cells.parse("received_on", lambda t: parse_date(t, today=cells.today)),
        contents=cells.text("contents", needed=True),
        board_count=cells.optional("board_count", parse_count),
        weight_g=cells.optional("weight", parse_mass_g),
        channel=cells.choice("channel", CHANNELS, "by hand"),
        origin=cells.text("origin"),
        origin_country=cells.optional("origin_country", parse_country) or "",
        story=cells.text("story"),
        notes=cells.text("notes"),
        data_parts=cells.optional("data_parts", parse_data_parts) or (),
    )
    donor = parse_donor(cells, known)
    if not cells.mistakes and not isinstance(donor, NewDonor):
        _check_not_logged(shop, cells, donor, new)
    if cells.mistakes:
        raise ManyMistakes(cells.mistakes)
    return donor, new


def _check_not_logged(shop: Workshop, cells: Cells, donor: Code, new: NewDropOff) -> None:
    """A row of a file that was taken in before is a mistake, not a second delivery."""
    found = shop.conn.execute(
        "SELECT code FROM drop_off WHERE donor = ? AND received_on = ? AND contents = ?"
        " AND weight_mg IS ? ORDER BY code",
        (
            donor,
            new.received_on.isoformat(),
            new.contents,
            None if new.weight_g is None else to_mg(new.weight_g),
        ),
    ).fetchone()
    if found:
        hint = "leave the row out; if it is a second delivery, say so in its contents"
        cells.add("contents", BadValue(f"already logged as {found[0]}", hint=hint))


def parse_count(text: str, *, field: str = "") -> int:
    """
    A whole number from 1 to 100 000.

    Raises:
        BadValue: If the text is anything else.
    """
    tidy = text.strip()
    if not re.fullmatch("[0-9]{1,9}", tidy) or not 1 <= int(tidy) <= 100_000:
        raise BadValue(f"'{text}' is not a count", hint="a whole number from 1 on", field=field)
    return int(tidy)


def parse_data_parts(text: str, *, field: str = "") -> tuple[tuple[str, int], ...]:
    """
    Data-bearing parts such as ``hard disk:2; memory card``; without a number one is meant.

    Raises:
        BadValue: If a kind or number is not known.

    >>> parse_data_parts("hard disk:2; memory card")
    (('hard disk', 2), ('memory card', 1))
    """
    found = []
    for entry in filter(None, (part.strip() for part in text.split(";"))):
        kind, _, number = entry.partition(":")
        part = parse_choice(kind, DATA_PARTS, field=field)
        count = 0 if part == "none found" else parse_count(number or "1", field=field)
        found.append((part, count))
    return tuple(found)
