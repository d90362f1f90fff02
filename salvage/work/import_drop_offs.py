"""Drop-offs from a CSV table: all rows good, or nothing written, unless the user says otherwise."""

from __future__ import annotations

import csv
import io
import re
from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from typing import TypeVar

from salvage.errors import BadCode, BadFile, BadValue, ManyMistakes, SalvageError
from salvage.ids import Code, parse_code, tidy_code
from salvage.records.choices import CHANNELS, DATA_PARTS, NAMINGS, SOURCE_KINDS, parse_choice
from salvage.store.change import Change
from salvage.units import parse_date, parse_mass_g
from salvage.work.donors import NewDonor, check_naming, list_donors
from salvage.work.receive import NewDropOff, log_drop_off_in
from salvage.work.workshop import Workshop

Parsed = TypeVar("Parsed")

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

_LIKE_A_CODE = re.compile(r"[A-Z]{2}[0-9]{4,9}[A-Z]")
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

    Args:
        shop: The open workshop.
        data: The file's bytes, UTF-8, with or without a byte-order mark.
        name: The file's name, for error texts.
        keep_good: Log the good rows although others are bad.
        dry_run: Do everything, then roll back.

    Raises:
        BadFile: If the file is no such table: encoding, columns, size.
        ManyMistakes: With one line for each bad row, unless *keep_good*.
    """
    parsed: list[tuple[str, NewDonor | Code, NewDropOff]] = []
    mistakes: list[SalvageError] = []
    known = _Donors(shop)
    for line, row in _read_rows(data, name):
        try:
            donor, new = _parse_row(shop, row, known)
            parsed.append((_donor_key(row["donor"]), donor, new))
        except ManyMistakes as several:
            mistakes += [_at_line(line, mistake) for mistake in several.mistakes]
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


def _donor_key(name: str) -> str:
    """What a name is compared by: case and runs of blanks do not tell two donors apart."""
    return " ".join(name.split()).casefold()


class _Donors:
    """The donors that the workshop knows, and those whom earlier rows have brought."""

    def __init__(self, shop: Workshop) -> None:
        self.by_code = {view.donor.code: view.donor for view in list_donors(shop)}
        self.by_name: dict[str, list[Code]] = defaultdict(list)
        self.new: dict[str, NewDonor] = {}
        for view in list_donors(shop):
            if view.name:
                self.by_name[_donor_key(view.name)].append(view.donor.code)


def _donor_of(change: Change, drop_off: Code) -> Code:
    (donor,) = change.conn.execute(
        "SELECT donor FROM drop_off WHERE code = ?", (drop_off,)
    ).fetchone()
    return Code(donor)


def _at_line(line: int, mistake: SalvageError) -> BadValue:
    return BadValue(mistake.message, hint=mistake.hint, field=f"line {line}, {mistake.field}")


def _read_rows(data: bytes, name: str) -> Iterator[tuple[int, dict[str, str]]]:
    """Line number and cells of every row that is not empty."""
    reader = csv.DictReader(io.StringIO(_decode(data, name), newline=""), strict=True)
    try:
        _check_columns(reader.fieldnames or (), name)
        for count, row in enumerate(reader, 1):
            if count > MOST_ROWS:
                raise BadFile(f"{name} has more than {MOST_ROWS} rows", hint="split it")
            if None in row:
                raise BadFile(
                    f"{name}, line {reader.line_num}: more cells than columns",
                    hint="put text with commas into double quotes",
                )
            cells = {key: (value or "").strip() for key, value in row.items()}
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
    shop: Workshop, row: Mapping[str, str], known: _Donors
) -> tuple[NewDonor | Code, NewDropOff]:
    cells = _Cells(row, shop.today)
    new = NewDropOff(
        received_on=cells.parse("received_on", lambda t: parse_date(t, today=cells.today)),
        contents=cells.text("contents", needed=True),
        board_count=cells.optional("board_count", parse_count),
        weight_g=cells.optional("weight", parse_mass_g),
        channel=cells.choice("channel", CHANNELS, "by hand"),
        origin=cells.text("origin"),
        origin_country=cells.text("origin_country").upper(),
        story=cells.text("story"),
        notes=cells.text("notes"),
        data_parts=cells.optional("data_parts", parse_data_parts) or (),
    )
    donor = _parse_donor(cells, known)
    if cells.mistakes:
        raise ManyMistakes(cells.mistakes)
    return donor, new


def _parse_donor(cells: _Cells, known: _Donors) -> NewDonor | Code:
    name = cells.text("donor", needed=True)
    code = _find_code(cells, known, name)
    if code is None:
        new = _new_donor(cells, name)
        first = known.new.setdefault(_donor_key(name), new).naming
        told = new.naming if cells.text("naming") else first
        _check_wish(cells, told, first, "an earlier row")
        return new
    if donor := known.by_code.get(code):
        _check_wish(cells, cells.choice("naming", NAMINGS, donor.naming), donor.naming, code)
    return code


def _find_code(cells: _Cells, known: _Donors, name: str) -> Code | None:
    """The code that a donor's cell holds or whose name it is; None for somebody new."""
    if codes := known.by_name.get(_donor_key(name)):
        if len(codes) > 1:
            hint = f"write the code of the one you mean: {', '.join(codes)}"
            cells.add("donor", BadValue(f"{len(codes)} donors are called '{name}'", hint=hint))
        return codes[0]
    try:
        code = parse_code(name, kind="G")
    except BadCode as error:
        if _LIKE_A_CODE.fullmatch(tidy_code(name)):
            cells.add("donor", error)  # misread or of another kind; nobody is called that
        return None
    if code not in known.by_code:
        cells.add("donor", BadValue(f"there is no donor {code}"))
    return code


def _check_wish(cells: _Cells, told: str, recorded: str, where: str) -> None:
    """A second, different wish of one donor is a mistake, not silently the first or the last."""
    if told != recorded:
        hint = "leave the cell empty, or change it in both rows"
        if where != "an earlier row":
            hint = f"leave the cell empty; 'salvage donor naming {where}' records a new wish"
        cells.add("naming", BadValue(f"the donor is {recorded} in {where}, not {told}", hint=hint))


def _new_donor(cells: _Cells, name: str) -> NewDonor:
    new = NewDonor(
        name=name,
        source_kind=cells.choice("source_kind", SOURCE_KINDS, "other"),
        naming=cells.choice("naming", NAMINGS, "anonymous"),
        naming_how=cells.text("naming_how"),
        described_as=cells.text("described_as"),
        contact=cells.text("contact"),
    )
    try:
        check_naming(new.naming, new.described_as, new.name)
    except BadValue as mistake:
        cells.add("described_as", mistake)
    return new


class _Cells:
    """One row's cells, read with every mistake gathered."""

    def __init__(self, row: Mapping[str, str], today: date) -> None:
        self.row = row
        self.today = today
        self.mistakes: list[SalvageError] = []

    def add(self, column: str, mistake: SalvageError) -> None:
        self.mistakes.append(BadValue(mistake.message, hint=mistake.hint, field=column))

    def text(self, column: str, *, needed: bool = False) -> str:
        text = self.row.get(column, "")
        if needed and not text:
            self.mistakes.append(BadValue("the cell is empty", field=column))
        return text

    def parse(self, column: str, parser: Callable[[str], date]) -> date:
        try:
            return parser(self.row.get(column, ""))
        except BadValue as mistake:
            self.add(column, mistake)
            return self.today

    def optional(self, column: str, parser: Callable[[str], Parsed]) -> Parsed | None:
        text = self.row.get(column, "")
        if not text:
            return None
        try:
            return parser(text)
        except BadValue as mistake:
            self.add(column, mistake)
            return None

    def choice(self, column: str, choices: tuple[str, ...], default: str) -> str:
        found = self.optional(column, lambda text: parse_choice(text, choices))
        return found or default


def parse_count(text: str, *, field: str = "") -> int:
    """
    A whole number from 1 to 100 000.

    Raises:
        BadValue: If the text is anything else.
    """
    tidy = text.strip()
    if not tidy.isascii() or not tidy.isdigit() or not 1 <= int(tidy) <= 100_000:
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
