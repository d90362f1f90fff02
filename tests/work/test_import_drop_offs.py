"""A table of drop-offs: all of it or none of it, and every mistake named at its place."""

from __future__ import annotations

import pytest

from salvage.errors import BadFile, BadValue, ManyMistakes
from salvage.work import import_drop_offs as room
from salvage.work.donors import NewDonor, list_donors
from salvage.work.import_drop_offs import (
    COLUMNS,
    ImportResult,
    import_drop_offs,
    parse_count,
    parse_data_parts,
)
from salvage.work.receive import NewDropOff, log_drop_off, view_drop_off
from salvage.work.workshop import Workshop
from tests.bench import START, dump

HEAD = "received_on,donor,contents\n"


def _take(
    shop: Workshop, text: str | bytes, *, keep_good: bool = False, dry_run: bool = False
) -> ImportResult:
    data = text if isinstance(text, bytes) else text.encode()
    return import_drop_offs(shop, data=data, name="boxes.csv", keep_good=keep_good, dry_run=dry_run)


def _mistakes(shop: Workshop, text: str) -> list[str]:
    before = dump(shop)
    with pytest.raises(ManyMistakes, match="nothing was written") as caught:
        _take(shop, text)

    assert dump(shop) == before
    return [str(mistake) for mistake in caught.value.mistakes]


def test_a_full_row_arrives_whole(empty_shop: Workshop) -> None:
    """Every column lands in its field, commas and line breaks within quotes included."""
    row = (
        "2026-05-01,Kelpie Point Planetarium,public body,Described,at the counter,a planetarium,"
        '"kelpie@example.org","14 cards, two racks",14,"6,2 kg",by hand,Kelpie Point,ie,'
        '"""Stars""\nfor all",damp,hard disk:2; memory card\n'
    )
    (code,) = _take(empty_shop, ",".join(COLUMNS) + "\n" + row).logged
    view = view_drop_off(empty_shop.conn, code)
    found = view.drop_off

    assert (view.donor.name, view.donor.contact) == (
        "Kelpie Point Planetarium",
        "kelpie@example.org",
    )
    assert view.donor.public == "a planetarium"
    assert view.donor.donor.source_kind == "public body"
    assert (found.contents, found.board_count, found.weight_mg) == (
        "14 cards, two racks",
        14,
        6_200_000,
    )
    assert (found.origin, found.origin_country) == ("Kelpie Point", "IE")
    assert (found.story, found.notes) == ('"Stars"\nfor all', "damp")
    assert [(part.part, part.count) for part in view.data_parts] == [
        ("hard disk", 2),
        ("memory card", 1),
    ]


def test_columns_may_stand_in_any_order_and_be_few(empty_shop: Workshop) -> None:
    """Only three columns must be there; the rest takes its default."""
    (code,) = _take(empty_shop, "contents,donor,received_on\na box,Ilva,2026-05-01\n").logged
    view = view_drop_off(empty_shop.conn, code)

    assert (view.drop_off.contents, view.drop_off.channel) == ("a box", "by hand")
    assert view.donor.donor.naming == "anonymous"


def test_a_byte_order_mark_and_empty_rows_do_no_harm(empty_shop: Workshop) -> None:
    """What a spreadsheet saves is taken as it is."""
    text = "\ufeff" + HEAD + "\r\n,,\r\n2026-05-01,Ilva,a box\r\n ,,\r\n"

    assert len(_take(empty_shop, text).logged) == 1


def test_one_name_on_several_rows_is_one_donor(empty_shop: Workshop) -> None:
    """Three boxes of one donor, however the name was spaced, hang on one donor."""
    rows = "2026-05-01,Harbour Radio,a\n2026-05-01,harbour  RADIO,b\n2026-05-02, Harbour Radio,c\n"
    codes = _take(empty_shop, HEAD + rows).logged
    donors = {view_drop_off(empty_shop.conn, code).drop_off.donor for code in codes}

    assert len(codes) == 3
    assert len(donors) == len(list_donors(empty_shop)) == 1


def test_known_donors_are_found_by_name_and_by_code(empty_shop: Workshop) -> None:
    """Two rows with the codes of two donors, and one with a name, make no new donor."""
    _take(empty_shop, HEAD + "2026-05-01,Harbour Radio,a\n2026-05-01,Ilva,b\n")
    radio, ilva = (view.donor.code for view in list_donors(empty_shop))
    rows = f"2026-05-01,{radio},c\n2026-05-01,{ilva.lower()},d\n2026-05-01,ILVA,e\n"
    codes = _take(empty_shop, HEAD + rows).logged
    donors = [view_drop_off(empty_shop.conn, code).drop_off.donor for code in codes]

    assert donors == [radio, ilva, ilva]
    assert len(list_donors(empty_shop)) == 2


def test_a_name_that_two_donors_bear_is_refused_with_a_question(empty_shop: Workshop) -> None:
    """Where the name does not tell them apart, the codes of both are offered."""
    for kind in ("college", "school"):
        log_drop_off(
            empty_shop,
            donor=NewDonor("Tern Hill", source_kind=kind),
            new=NewDropOff(START.date(), "a box"),
        )
    first, second = (view.donor.code for view in list_donors(empty_shop))

    (mistake,) = _mistakes(empty_shop, HEAD + "2026-05-01,tern hill,a\n")

    assert mistake.startswith("line 2, donor: 2 donors are called 'tern hill'")
    assert mistake.endswith(f"write the code of the one you mean: {first}, {second}")
    assert len(_take(empty_shop, HEAD + f"2026-05-01,{second},a\n").logged) == 1


def test_a_mistyped_code_does_not_become_a_donor(empty_shop: Workshop) -> None:
    """A code whose check letter does not fit, of another kind, or unknown is refused."""
    rows = "2026-05-01,GD0009D,a\n2026-05-01,BC0002J,b\n2026-05-01,GC0004E,c\n"
    mistakes = _mistakes(empty_shop, HEAD + rows)

    assert "line 2, donor: 'GD0009D' is misread or mistyped" in mistakes[0]
    assert "line 3, donor: BC0002J is a board, not a donor" in mistakes[1]
    assert "line 4, donor:" in mistakes[2]


def test_a_second_wish_of_one_donor_is_a_mistake(empty_shop: Workshop) -> None:
    """A row that would name a donor who is anonymous elsewhere does not win in silence."""
    head = "received_on,donor,contents,naming\n"
    rows = "2026-05-01,Ilva,a,anonymous\n2026-05-01,Ilva,b,named\n2026-05-01,Ilva,c,\n"
    (mistake,) = _mistakes(empty_shop, head + rows)
    _take(empty_shop, head + "2026-05-01,Ilva,a,anonymous\n")
    code = list_donors(empty_shop)[0].donor.code
    (known,) = _mistakes(empty_shop, head + "2026-05-01,Ilva,a,named\n")

    assert mistake.startswith("line 3, naming: the donor is anonymous in an earlier row, not named")
    assert known.startswith(f"line 2, naming: the donor is anonymous in {code}, not named")


def test_every_mistake_is_told_with_line_and_column(empty_shop: Workshop) -> None:
    """The maker mends the whole table at once, not one cell a try."""
    head = "received_on,donor,contents,board_count,weight,naming,channel,data_parts\n"
    rows = (
        "2026-05-01,Ilva,a box,3,1 kg,named,post,\n"
        "2027-01-01,,a box,0,heavy,famous,post,disk:x\n"
        '2026-05-01,"Harbour\nRadio",,,,,pigeon,hard disk:-1\n'
        "2026-05-01,Tern,a box,,,described,,\n"
    )
    mistakes = _mistakes(empty_shop, head + rows)
    places = [mistake.split(":")[0] for mistake in mistakes]

    assert places == [
        "line 3, received_on",
        "line 3, board_count",
        "line 3, weight",
        "line 3, data_parts",
        "line 3, donor",
        "line 3, naming",
        "line 5, contents",
        "line 5, channel",
        "line 5, data_parts",
        "line 6, described_as",
    ]
    assert "2027-01-01 is in the future" in mistakes[0]


def test_good_rows_can_be_kept(empty_shop: Workshop) -> None:
    """Who asks for it logs the good rows and reads what was wrong with the others."""
    rows = "2026-05-01,Ilva,a box\n2026-13-01,Ilva,b\n2026-05-01,Tern,c\n"
    result = _take(empty_shop, HEAD + rows, keep_good=True)

    assert len(result.logged) == 2
    assert [str(mistake)[:19] for mistake in result.mistakes] == ["line 3, received_on"]
    assert len(list_donors(empty_shop)) == 2


def test_a_trial_writes_nothing(empty_shop: Workshop) -> None:
    """A dry run gives the codes that it would give."""
    before = dump(empty_shop)
    tried = _take(empty_shop, HEAD + "2026-05-01,Ilva,a box\n", dry_run=True)
    after = dump(empty_shop)
    done = _take(empty_shop, HEAD + "2026-05-01,Ilva,a box\n")

    assert after == before
    assert tried == done


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"", "columns missing: received_on, donor, contents"),
        (b"received_on,contents\n", "columns missing: donor"),
        (b"received_on,donor,contents,mood\n", "columns not known: mood"),
        (b"received_on,donor,contents,donor\n", "a column stands twice"),
        ((HEAD + "2026-05-01,Caf\u00e9,a box\n").encode("cp1252"), r"not UTF-8 \(byte 41\)"),
        ((HEAD + "2026-05-01,Ilva,a box\n").encode("utf-16"), "not UTF-8"),
        (b"received_on;donor;contents\n2026-05-01;Ilva;a box\n", "semicolons .* commas"),
        (b"received_on\tdonor\tcontents\n2026-05-01\tIlva\ta box\n", "tabs between"),
        ((HEAD + "2026-05-01,Ilva,a\0box\n").encode(), "zero bytes"),
        (HEAD.encode(), "boxes.csv has no rows"),
        ((HEAD + "\n,,\n").encode(), "boxes.csv has no rows"),
        ((HEAD + '2026-05-01,Ilva,a\n2026-05-01,"Ilva,a box\n').encode(), "line 3: not a CSV row"),
        ((HEAD + "2026-05-01,Ilva," + "x" * 200_000 + "\n").encode(), "line 2: not a CSV row"),
        (b"x" * (room.MOST_BYTES + 1), "larger than 20 MB"),
    ],
)
def test_a_file_that_is_no_such_table_is_refused(
    empty_shop: Workshop, data: bytes, says: str
) -> None:
    """What is wrong with the file as a whole is told with the mend; nothing is written."""
    before = dump(empty_shop)
    with pytest.raises(BadFile, match=says):
        _take(empty_shop, data, keep_good=True)

    assert dump(empty_shop) == before


def test_a_table_without_end_is_refused(
    empty_shop: Workshop, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Beyond the longest table the maker is asked to split it."""
    monkeypatch.setattr(room, "MOST_ROWS", 2)

    assert len(_take(empty_shop, HEAD + "2026-05-01,Ilva,a box\n" * 2).logged) == 2
    with pytest.raises(BadFile, match="more than 2 rows"):
        _take(empty_shop, HEAD + "2026-05-01,Ilva,a box\n" * 3)


def test_text_stays_text(empty_shop: Workshop) -> None:
    """A cell that looks like SQL, a formula or markup is kept as it was typed."""
    nasty = "=1+1'); DROP TABLE board;-- [red]<b>"
    (code,) = _take(empty_shop, f'{HEAD}2026-05-01,"{nasty}","{nasty}"\n').logged
    view = view_drop_off(empty_shop.conn, code)

    assert (view.drop_off.contents, view.donor.name) == (nasty, nasty)


@pytest.mark.parametrize("text", ["0", "-1", "1.5", "١", "100001", "many", ""])
def test_a_count_is_a_whole_number(text: str) -> None:
    """Nought, negatives, fractions and other scripts' digits are no count."""
    with pytest.raises(BadValue, match="not a count"):
        parse_count(text)


def test_a_search_that_found_nothing_counts_nothing() -> None:
    """'None found' is a finding of its own, with no number."""
    assert parse_data_parts("none found; soldered storage : 3;") == (
        ("none found", 0),
        ("soldered storage", 3),
    )


def test_a_file_taken_in_twice_is_noticed(empty_shop: Workshop) -> None:
    """Rows that are on record already are named with their codes; only what is new is logged."""
    head = "received_on,donor,contents,weight\n"
    rows = "2026-05-01,Ilva,a box,3 kg\n2026-05-01,Tern,a box,\n"
    first, second = _take(empty_shop, head + rows).logged
    mistakes = _mistakes(empty_shop, head + rows)
    more = "2026-05-01,Ilva,a box,4 kg\n2026-05-02,Tern,a box,\n2026-05-01,Tern,a bag,\n"
    result = _take(empty_shop, head + rows + more, keep_good=True)

    assert mistakes[0].startswith(f"line 2, contents: already logged as {first}")
    assert mistakes[1].startswith(f"line 3, contents: already logged as {second}")
    assert len(result.logged) == 3
    assert [str(mistake) for mistake in result.mistakes] == mistakes


def test_two_like_boxes_in_one_file_are_two(empty_shop: Workshop) -> None:
    """A donor may hand in the same twice on one day; the file says so by saying it twice."""
    assert len(_take(empty_shop, HEAD + "2026-05-01,Ilva,a box\n" * 2).logged) == 2


def test_a_row_with_too_many_cells_is_a_mistake_of_its_own(empty_shop: Workshop) -> None:
    """One forgotten quote does not hide what else is wrong, nor keep the good rows out."""
    rows = "2026-05-01,Ilva,a box,and more\n2026-13-01,Ilva,a\n2026-05-01,Tern,b\n"
    mistakes = _mistakes(empty_shop, HEAD + rows)
    result = _take(empty_shop, HEAD + rows, keep_good=True)

    assert mistakes[0].startswith("line 2: more cells than columns; put text with commas")
    assert mistakes[1].startswith("line 3, received_on")
    assert len(result.logged) == 1


def test_one_slip_is_one_mistake(empty_shop: Workshop) -> None:
    """An empty donor or a word that is no wish brings no mistakes in its train."""
    head = "received_on,donor,contents,naming\n"
    rows = (
        "2026-05-01,,a box,named\n"
        "2026-05-01,Ilva,a box,famous\n"
        "2026-05-01,Ilva,a box,named\n"
        "2026-05-01,,a box,\n"
        "2026-05-01,Ilva,a bag,famous\n"
    )
    places = [mistake.split(":")[0] for mistake in _mistakes(empty_shop, head + rows)]

    assert places == ["line 2, donor", "line 3, naming", "line 5, donor", "line 6, naming"]


def test_a_wish_in_other_words_is_a_mistake_too(empty_shop: Workshop) -> None:
    """How a donor is described, and how they said so, is not silently dropped."""
    head = "received_on,donor,contents,naming,described_as,naming_how\n"
    first = "2026-05-01,Ilva,a,described,a potter,at the door\n"
    again = "2026-05-01,ilva,b,described,a weaver,by letter\n"
    mistakes = _mistakes(empty_shop, head + first + again)
    _take(empty_shop, head + first)
    code = list_donors(empty_shop)[0].donor.code
    known = _mistakes(empty_shop, head + again)

    assert mistakes[0].startswith("line 3, naming_how: it is 'at the door' in an earlier row")
    assert mistakes[1].startswith("line 3, described_as: it is 'a potter' in an earlier row")
    assert known[1].startswith(f"line 2, described_as: it is 'a potter' in {code}, not a weaver")
    assert f"salvage donor naming {code}" in known[1]


def test_another_contact_or_kind_of_a_known_donor_is_a_mistake(empty_shop: Workshop) -> None:
    """A new telephone number in a table is asked about, not silently dropped."""
    head = "received_on,donor,contents,source_kind,contact\n"
    first = "2026-05-01,Ilva,a,college,555 0101\n"
    again = "2026-05-01,Ilva,b,firm,555 0202\n"
    mistakes = _mistakes(empty_shop, head + first + again)
    _take(empty_shop, head + first)
    code = list_donors(empty_shop)[0].donor.code
    known = _mistakes(empty_shop, head + again)
    _take(empty_shop, head + first.replace(",a,", ",c,"))

    assert [mistake.split(":")[0] for mistake in mistakes] == [
        "line 3, source_kind",
        "line 3, contact",
    ]
    assert known[1].startswith(f"line 2, contact: it is '555 0101' in {code}, not 555 0202")
    assert f"salvage correct donor {code}" in known[1]
    assert len(list_donors(empty_shop)) == 1


def test_a_country_is_a_code_of_two_letters(empty_shop: Workshop) -> None:
    """A name in the country's cell is asked about, as a parcel's papers would."""
    head = "received_on,donor,contents,origin_country\n"
    (mistake,) = _mistakes(empty_shop, head + "2026-05-01,Ilva,a,Ireland\n")

    assert mistake.startswith("line 2, origin_country: 'Ireland' is not a country code")
