"""The donor of one row of an imported table: known, named by an earlier row, or new."""

from __future__ import annotations

import re
from collections import defaultdict

from salvage.errors import BadCode, BadValue
from salvage.ids import Code, parse_code, tidy_code
from salvage.records.choices import NAMINGS, SOURCE_KINDS
from salvage.work.donors import DonorView, NewDonor, check_naming, donor_key, list_donors
from salvage.work.import_cells import Cells
from salvage.work.workshop import Workshop

_LIKE_A_CODE = re.compile(r"[A-Z]{2}[0-9]{4,9}[A-Z]")


class KnownDonors:
    """The donors that the workshop knows, and those whom earlier rows have brought."""

    def __init__(self, shop: Workshop) -> None:
        self.by_code = {view.donor.code: view for view in list_donors(shop)}
        self.by_name: dict[str, list[Code]] = defaultdict(list)
        self.new: dict[str, NewDonor] = {}
        for view in list_donors(shop):
            if view.name:
                self.by_name[donor_key(view.name)].append(view.donor.code)


def parse_donor(cells: Cells, known: KnownDonors) -> NewDonor | Code:
    """
    The known donor that a row means, or a new one; what is wrong is kept in *cells*.

    Args:
        cells: The row.
        known: Donors of the workshop and of earlier rows; a new one is added.
    """
    name = cells.text("donor", needed=True)
    code = _find_code(cells, known, name) if name else None
    new = _new_donor(cells, name)
    if cells.is_wrong("donor") or cells.is_wrong("naming"):
        return code or new  # what follows from that mistake is none of its own
    if code is not None:
        _check_same(cells, known.by_code[code])
        return code
    _check_words(cells, new)
    _check_same_as_row(cells, known.new.setdefault(donor_key(name), new))
    return new


def _find_code(cells: Cells, known: KnownDonors, name: str) -> Code | None:
    """The code that a donor's cell holds or whose name it is; None for somebody new."""
    if codes := known.by_name.get(donor_key(name)):
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


def _check_same(cells: Cells, known: DonorView) -> None:
    """What a row says of a donor on record must be what is on record."""
    code, donor = known.donor.code, known.donor
    wish = f"leave the cell empty; 'salvage donor naming {code}' records a new wish"
    facts = f"leave the cell empty; 'salvage correct donor {code}' mends the record"
    for column, recorded, hint in (
        ("naming", donor.naming, wish),
        ("naming_how", donor.naming_how, wish),
        ("described_as", donor.described_as, wish),
        ("source_kind", donor.source_kind, facts),
        ("contact", known.contact, facts),
    ):
        _compare(cells, column, recorded, where=code, hint=hint)


def _check_same_as_row(cells: Cells, earlier: NewDonor) -> None:
    """A second, different word on one donor is a mistake, not silently the first or the last."""
    for column in ("naming", "naming_how", "described_as", "source_kind", "contact"):
        hint = "leave the cell empty, or change it in both rows"
        _compare(cells, column, getattr(earlier, column), where="an earlier row", hint=hint)


_CHOICES = {"naming": NAMINGS, "source_kind": SOURCE_KINDS}


def _compare(cells: Cells, column: str, recorded: str, *, where: str, hint: str) -> None:
    choices = _CHOICES.get(column)
    told = cells.choice(column, choices, "") if choices else cells.text(column)
    if told and told != recorded:
        said = f"the donor is {recorded}" if choices else f"it is '{recorded}'"
        cells.add(column, BadValue(f"{said} in {where}, not {told}", hint=hint))


def _new_donor(cells: Cells, name: str) -> NewDonor:
    return NewDonor(
        name=name,
        source_kind=cells.choice("source_kind", SOURCE_KINDS, "other"),
        naming=cells.choice("naming", NAMINGS, "anonymous"),
        naming_how=cells.text("naming_how"),
        described_as=cells.text("described_as"),
        contact=cells.text("contact"),
    )


def _check_words(cells: Cells, new: NewDonor) -> None:
    try:
        check_naming(new.naming, new.described_as, new.name)
    except BadValue as mistake:
        cells.add("described_as", mistake)
