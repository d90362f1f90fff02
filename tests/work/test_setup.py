"""Settings: typed as people type, kept exactly, never undone but set again."""

from __future__ import annotations

from pathlib import Path

import pytest

from salvage.errors import ManyMistakes, Refused
from salvage.ids import LETTERS
from salvage.work.history import undo
from salvage.work.printers import describe_printer
from salvage.work.settings import SETTING_NAMES, Settings, show_settings
from salvage.work.setup import change_settings
from salvage.work.tools import NewTool, describe_tool
from salvage.work.workshop import Workshop
from tests.bench import add_cleared_board, cut_circle, dump, make_shop
from tests.work.stock import last_operation

FONTS = Path(__file__).resolve().parents[2] / "salvage" / "paper" / "fonts"

TYPED = {
    "name": "  Tidewrack   Workshop ",
    "place": "Kelpie Point",
    "contact": "tidewrack@example.org",
    "web-address": "https://tidewrack.example/s/",
    "currency": "gbp",
    "operator": "Ilva",
    "kerf-mm": "1,5",
    "tool-mm": "0.0625 in",
    "wall-mm": "0",
    "least-mm": "8",
    "hold-days": "45 days",
    "fonts-folder": f" {FONTS} ",
    "printer": "office laser",
    "markets": "eu, us-ca; nz",
    "hourly-rate": "24,50",
    "material-factor": "1.5",
    "selling-cost": "1",
    "price-step": "0.5",
    "card-fee": "16.9 ‰",
    "tax-rate": "8.875 %",
    "tax-note": "prices hold the tax",
    "paper": "Letter",
    "bit": "2 mm SPIRAL",
    "units": "inch",
    "date-format": "mdy",
    "backup-folder": f" {FONTS}/copies ",
}


def test_every_setting_can_be_set_and_read_back(empty_shop: Workshop) -> None:
    """What was typed comes back tidy, lengths in whole micrometres; none is forgotten here."""
    describe_printer(empty_shop, name="office laser", dpi=600)
    describe_tool(empty_shop, new=NewTool("2 mm spiral", "bit"))
    settings = change_settings(empty_shop, typed=TYPED)

    assert set(TYPED) == set(SETTING_NAMES)
    assert settings == empty_shop.settings
    assert settings == Settings(
        name="Tidewrack Workshop",
        place="Kelpie Point",
        contact="tidewrack@example.org",
        web_address="https://tidewrack.example/s",
        currency="GBP",
        device=empty_shop.settings.device,
        operator="Ilva",
        kerf_um=1500,
        tool_um=1588,  # 1/16 inch is 1.5875 mm
        wall_um=0,
        least_um=8000,
        hold_days=45,
        fonts_folder=str(FONTS),
        printer="office laser",
        markets="EU,US-CA,NZ",
        hourly_rate="24.50",
        material_factor="1.5",
        selling_cost="1",
        price_step="0.5",
        card_fee_ppm=16_900,
        tax_rate="88750",
        tax_note="prices hold the tax",
        paper="letter",
        bit="2 mm spiral",
        units="inch",
        date_format="mdy",
        backup_folder=f"{FONTS}/copies",
    )


def test_what_is_shown_can_be_typed_again(empty_shop: Workshop) -> None:
    """The list of settings is itself good input."""
    describe_printer(empty_shop, name="office laser", dpi=600)
    describe_tool(empty_shop, new=NewTool("2 mm spiral", "bit"))
    settings = change_settings(empty_shop, typed=TYPED)
    shown = show_settings(settings)

    assert set(shown) == set(SETTING_NAMES)
    assert change_settings(empty_shop, typed=shown) == settings


def test_all_mistakes_are_told_at_once(empty_shop: Workshop) -> None:
    """Nothing is set while one of them is wrong."""
    before = dump(empty_shop)
    typed = {
        "name": "Tidewrack",
        "mood": "good",
        "currency": "euros",
        "hold-days": "0",
        "kerf-mm": "thin",
        "wall-mm": "-1",
        "tool-mm": "900",
        "web-address": "tidewrack at example",
        "paper": "a7",
    }
    with pytest.raises(ManyMistakes) as caught:
        change_settings(empty_shop, typed=typed)
    text = str(caught.value)

    assert len(caught.value.mistakes) == 8
    for word in ("mood", "euros", "'0'", "thin", "-1", "900", "tidewrack at example", "a7"):
        assert word in text
    assert dump(empty_shop) == before


def test_a_new_workshop_has_a_device_and_defaults(empty_shop: Workshop) -> None:
    """Nothing has to be set before the first drop-off."""
    assert empty_shop.settings.device in LETTERS
    assert (empty_shop.settings.currency, empty_shop.settings.kerf_mm) == ("EUR", 2.0)


def test_settings_cannot_be_undone(empty_shop: Workshop) -> None:
    """They are set again; undoing them would change areas behind later cuts."""
    change_settings(empty_shop, typed={"wall-mm": "3"})
    before = dump(empty_shop)
    with pytest.raises(Refused, match="cannot be undone; set the old value again"):
        undo(empty_shop, operation=last_operation(empty_shop))

    assert dump(empty_shop) == before


def test_a_device_is_not_taken_back(empty_shop: Workshop) -> None:
    """Its letter is in every code that it gave."""
    with pytest.raises(Refused, match="'begin' cannot be undone"):
        undo(empty_shop, operation=last_operation(empty_shop))


def test_a_trial_sets_nothing(empty_shop: Workshop) -> None:
    """A dry run shows the settings that would be."""
    board = add_cleared_board(empty_shop)
    cut_circle(empty_shop, board.code, 40, 40)
    before = dump(empty_shop)
    tried = change_settings(empty_shop, typed={"least-mm": "20"}, dry_run=True)

    assert tried.least_um == 20_000
    assert dump(empty_shop) == before


def test_who_works_is_the_operator_where_nobody_is_named(tmp_path: Path) -> None:
    """The one who opened, else the one in the settings, else 'the maker'."""
    with make_shop(tmp_path / "shop") as shop:
        named = shop.by
        nameless = Workshop(shop.folder, shop.conn)
        before = nameless.by
        change_settings(shop, typed={"operator": "Ilva"})

        assert (named, before, nameless.by) == ("Maren", "the maker", "Ilva")


@pytest.mark.parametrize(
    ("name", "typed", "says"),
    [
        ("name", "  ", "a workshop has a name"),
        ("fonts-folder", "/no/such", "no folder /no/such"),
        ("backup-folder", "/no/such/copies", "no folder /no/such"),
    ],
)
def test_what_papers_rest_on_is_checked(
    empty_shop: Workshop, name: str, typed: str, says: str
) -> None:
    """A nameless workshop, or fonts that are not there, would be noticed only on paper."""
    before = dump(empty_shop)
    with pytest.raises(ManyMistakes, match=says):
        change_settings(empty_shop, typed={name: typed})

    assert dump(empty_shop) == before


def test_the_folder_of_fonts_may_be_given_up(empty_shop: Workshop) -> None:
    """Emptied, it is none; and shears remove no width at all."""
    change_settings(empty_shop, typed={"fonts-folder": str(FONTS)})
    settings = change_settings(empty_shop, typed={"fonts-folder": "", "kerf-mm": "0"})

    assert (settings.fonts_folder, settings.kerf_um) == ("", 0)
