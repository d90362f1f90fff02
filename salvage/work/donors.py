"""Donors: who gave, and how they agreed to appear."""

from __future__ import annotations

import re
import unicodedata
from typing import TYPE_CHECKING

from salvage.errors import BadCode, BadValue, Refused
from salvage.frozen import dataclass
from salvage.ids import Code, parse_code, tidy_code
from salvage.records.things import Donor
from salvage.store.lookup import load_donor, read_private
from salvage.store.rows import select

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Collection

    from salvage.store.change import Change
    from salvage.work.workshop import Workshop

# A letter of a kind, one of a device, a number, a letter: nobody is called that.
_LIKE_A_CODE = re.compile(r"[A-Z]{2}[0-9]{4,9}[A-Z]")

UNNAMED = "a donor who stays unnamed"
"""What a card says of an anonymous donor."""


@dataclass(frozen=True, slots=True)
class NewDonor:
    """
    A donor not yet known.

    Args:
        name: Person or body; kept apart from the journal, sealed.
        source_kind: One of :data:`salvage.records.choices.SOURCE_KINDS`.
        naming: One of :data:`salvage.records.choices.NAMINGS`.
        naming_how: How the consent was given, such as "said at the counter".
        described_as: Words that may stand for the name, such as "a planetarium".
        contact: Address or telephone; sealed as well.
    """

    name: str
    source_kind: str = "other"
    naming: str = "anonymous"
    naming_how: str = ""
    described_as: str = ""
    contact: str = ""


@dataclass(frozen=True, slots=True)
class DonorView:
    """
    A donor with what the owner may see.

    Args:
        donor: The record.
        name: The name, private.
        contact: The contact, private.
        public: How cards and reports call the donor.
        forgotten_at: When name and contact were erased on request; empty where they were not.
    """

    donor: Donor
    name: str
    contact: str
    public: str
    forgotten_at: str = ""


def check_naming(naming: str, described_as: str, name: str) -> None:
    """
    Raise unless the consent and the words fit together.

    Raises:
        BadValue: If a described donor has no description or a named one no name.
    """
    if naming == "described" and not described_as.strip():
        raise BadValue(
            "a donor who is to be described needs a description",
            hint="such as 'a college physics department'",
            field="--described-as",
        )
    if naming == "named" and not donor_key(name):
        raise BadValue("a donor who is to be named needs a name", field="--donor")


def add_donor_in(change: Change, new: NewDonor) -> Code:
    """Journal a new donor inside an open change and give the code."""
    check_naming(new.naming, new.described_as, new.name)
    code = change.new_code("G")
    change.append(
        "donor.added",
        (code,),
        {
            "source_kind": new.source_kind,
            "described_as": new.described_as,
            "naming": new.naming,
            "naming_how": new.naming_how,
            "name_seal": change.seal(new.name),
            "contact_seal": change.seal(new.contact),
        },
        made=(code,),
    )
    return code


def view_donor(conn: sqlite3.Connection, code: Code) -> DonorView:
    """The donor with the owner's private fields."""
    donor = load_donor(conn, code)
    name = read_private(conn, donor.name_seal)
    row = conn.execute("SELECT at FROM forgotten WHERE donor = ?", (code,)).fetchone()
    return DonorView(
        donor,
        name,
        read_private(conn, donor.contact_seal),
        _public(donor, name),
        str(row[0]) if row else "",
    )


def public_name(conn: sqlite3.Connection, code: Code) -> str:
    """How cards, receipts and reports call this donor, as consented; never more."""
    return view_donor(conn, code).public


def _public(donor: Donor, name: str) -> str:
    if donor.naming == "named" and name:
        return name
    if donor.naming != "anonymous" and donor.described_as:
        return donor.described_as
    return UNNAMED


def list_donors(shop: Workshop) -> tuple[DonorView, ...]:
    """All donors, oldest first."""
    return tuple(
        view_donor(shop.conn, donor.code)
        for donor in select(shop.conn, Donor, "FROM donor ORDER BY code")
    )


def donor_key(name: str) -> str:
    """
    What a name is compared by: the letters that people see.

    Case, runs of blanks, accents written as one character or two (Unicode Standard Annex 15), and
    characters that nobody sees (categories Cc and Cf) do not tell two donors apart.

    >>> donor_key("CAFE\\u0301  Tern\\u200b") == donor_key("Caf\\u00e9 tern")
    True
    """
    seen = "".join(c for c in " ".join(name.split()) if unicodedata.category(c) not in ("Cc", "Cf"))
    return unicodedata.normalize("NFC", " ".join(seen.split())).casefold()


def find_donors(shop: Workshop, name: str) -> tuple[DonorView, ...]:
    """Donors whose name reads as *name*, in any case; none for a name that cannot be seen."""
    wanted = donor_key(name)
    if not wanted:
        return ()
    return tuple(view for view in list_donors(shop) if donor_key(view.name) == wanted)


def choose_donor(
    shop: Workshop, *, typed: str, new: NewDonor, stated: Collection[str] = ()
) -> Code | NewDonor:
    """
    The known donor that a typed code or exact name means, or the new one.

    Args:
        shop: The open workshop.
        typed: Code or name.
        new: What is to be recorded if nobody of that name is known.
        stated: Names of the fields of *new* that were said outright. Those that hold anything but
            their default are taken as said anyhow; "anonymous" and "other" need this to be told
            from a field that was left out.

    Raises:
        NotFound: If it is a donor's code that is not known.
        BadCode: If it looks like a code, but is misread or of another kind.
        Refused: If several bear the name, or a known donor is described in other words.
    """
    try:
        code = parse_code(typed, kind="G")
    except BadCode:
        known = find_donors(shop, typed)
        if not known and _LIKE_A_CODE.fullmatch(tidy_code(typed)):
            raise
    else:
        known = (view_donor(shop.conn, code),)
    if len(known) > 1:
        codes = ", ".join(view.donor.code for view in known)
        raise Refused(
            f"{len(known)} donors are called '{typed}'",
            hint=f"give the code of the one you mean: {codes}",
            field="--donor",
        )
    if not known:
        return new
    _check_same(known[0], new, stated)
    return known[0].donor.code


_FLAGS = {
    "source_kind": "--source",
    "naming": "--naming",
    "described_as": "--described-as",
    "naming_how": "--naming-how",
    "contact": "--contact",
}
_WISH = ("naming", "described_as", "naming_how")


def _check_same(known: DonorView, new: NewDonor, stated: Collection[str]) -> None:
    """Raise if a known donor is told differently; a wish is changed on purpose, never dropped."""
    donor, plain = known.donor, NewDonor("")
    for name, flag in _FLAGS.items():
        typed = getattr(new, name)
        recorded = known.contact if name == "contact" else getattr(donor, name)
        is_told = name in stated or typed != getattr(plain, name)
        if is_told and typed != recorded:
            command = (
                f"donor naming {donor.code}" if name in _WISH else f"correct donor {donor.code}"
            )
            what = "a new wish" if name in _WISH else "what was wrong"
            raise Refused(
                f"{donor.code} is known already, and recorded as '{recorded}', not '{typed}'",
                hint=f"leave {flag} out; 'salvage {command}' records {what}",
                field=flag,
            )


def set_naming(
    shop: Workshop,
    *,
    donor: Code,
    naming: str,
    naming_how: str,
    described_as: str = "",
    dry_run: bool = False,
) -> DonorView:
    """
    Record how a donor wishes to appear from now on; cards already sold are not recalled.

    Args:
        shop: The open workshop.
        donor: The donor's code.
        naming: One of :data:`salvage.records.choices.NAMINGS`.
        naming_how: How the wish was given.
        described_as: New description; the old one stays when empty.
        dry_run: Do everything, then roll back.

    Raises:
        NotFound: If there is no such donor.
        BadValue: If the wish lacks its words.
    """

    def steps(change: Change) -> DonorView:
        view = view_donor(change.conn, donor)
        words = described_as or view.donor.described_as
        check_naming(naming, words, view.name)
        data = {"naming": naming, "naming_how": naming_how, "described_as": words}
        change.append("donor.naming_set", (donor,), data)
        return view_donor(change.conn, donor)

    return shop.commit("set naming", steps, dry_run=dry_run)
