"""Equipment that could be bought: read from a list, tried on the pack that is there."""

from __future__ import annotations

from pathlib import Path

import pytest
from strategies import good_build, good_charger, good_inverter

from evpack.base.errors import DataError, DescriptionError
from evpack.describe.equipment import EquipmentList
from evpack.load.equipment_list import generic_equipment, parse_equipment, read_equipment
from evpack.outcome.design import Verdict
from evpack.search.equipment import search_equipment

LIST = """
title = "second-hand list"

[[inverter]]
name = "the small one"
price = "180 EUR"
continuous = "2.2 kW"
window_low = "42 V"
window_high = "60 V"
basis = "datasheet"

[[charger]]
name = "the loud one"
source = "mains"
current = "20 A"
price = "65.50 EUR"
"""


def test_a_list_is_read_with_its_prices(tmp_path: Path) -> None:
    file = tmp_path / "list.toml"
    file.write_text(LIST, encoding="utf-8")
    held = read_equipment(file)
    assert (held.name, held.money) == ("second-hand list", "EUR")
    assert [i.name for i in held.inverters] == ["the small one"]
    assert held.prices == {"the small one": 180.0, "the loud one": 65.5}


@pytest.mark.parametrize(
    ("old", "new", "key", "words"),
    [
        ('"180 EUR"', "180", "inverter.price", 'such as "450 EUR"'),
        ('"65.50 EUR"', '"65 USD"', "charger.price", "and that of inverter is in EUR"),
        ('"180 EUR"', '"1e12 EUR"', "inverter.price", "is no price"),
        ("window_low", "window_lo", "inverter.window_lo", "did you mean 'window_low'"),
        ("title", "tittle", "tittle", "did you mean 'title'"),
        ('"2.2 kW"', "2200", "inverter.continuous", "has no unit"),
        ('"the loud one"', '"the small one"', "charger.name", "two devices are called"),
    ],
)
def test_a_slip_in_a_list_is_told(old: str, new: str, key: str, words: str) -> None:
    with pytest.raises(DataError) as told:
        parse_equipment(LIST.replace(old, new, 1), "list.toml")
    assert told.value.key == key
    assert words in str(told.value)


def test_a_list_of_nothing_is_refused() -> None:
    with pytest.raises(DataError, match="no device is listed"):
        parse_equipment('title = "empty"\n', "list.toml")
    with pytest.raises(DescriptionError, match="is empty"):
        search_equipment(good_build(), EquipmentList())


def test_a_dead_inverter_is_replaced_by_what_suits_the_pack() -> None:
    held = EquipmentList(
        inverters=(
            good_inverter(name="fits", continuous="3.5 kW"),
            good_inverter(name="24 V", window_low="21 V", window_high="30 V", survives="33 V"),
            good_inverter(name="unread", cut_off=None),
        ),
        chargers=(good_charger(name="slow", current="10 A"),),
        prices={"fits": 300.0, "slow": 40.0},
        money="EUR",
    )
    found = search_equipment(good_build(), held)
    by_name = {c.name: c for c in found.candidates}
    # Three inverters, one charger, and each inverter with it.
    assert len(by_name) == 3 + 1 + 3
    assert by_name["fits"].go
    assert by_name["fits"].price == 300.0
    assert by_name["fits with slow"].price == 340.0
    assert by_name["24 V"].verdict is Verdict.DOES_NOT_WORK
    assert by_name["unread"].verdict is Verdict.CANNOT_TELL_YET
    assert by_name["unread"].price is None
    names = [c.name for c in found.candidates]
    # Go first, then what is only not known, then what does not work.
    assert names.index("fits") < names.index("unread") < names.index("24 V")


def test_a_charger_of_another_source_is_said_not_to_be_tried() -> None:
    held = EquipmentList(
        inverters=(good_inverter(name="other"),),
        chargers=(good_charger(name="sunny", source="solar"),),
    )
    found = search_equipment(good_build(), held)
    assert [c.name for c in found.candidates] == ["other"]
    assert "sunny" in found.note


def test_the_classes_of_the_library_are_never_a_plain_go() -> None:
    found = search_equipment(good_build(), generic_equipment())
    assert found.candidates
    assert not any(c.verdict is Verdict.WORKS for c in found.candidates)
    high = next(c for c in found.candidates if "high-voltage" in c.name)
    assert high.verdict is Verdict.DOES_NOT_WORK


def test_a_budget_leaves_the_dearer_out_and_what_has_no_price() -> None:
    held = EquipmentList(
        inverters=tuple(good_inverter(name=name) for name in ("cheap", "dear", "unpriced")),
        prices={"cheap": 200.0, "dear": 900.0},
        money="EUR",
    )
    found = search_equipment(good_build(), held, budget=600.0)
    assert [c.name for c in found.candidates] == ["cheap"]
    assert "600 EUR, or without a price: 2" in found.note
    with pytest.raises(DescriptionError, match="budget must not lie below 0"):
        search_equipment(good_build(), held, budget=-1.0)


def test_every_unit_is_paid_for_and_an_unknown_price_is_never_the_cheapest() -> None:
    three = good_build(inverters=(good_inverter(count=3, continuous="1 kW", surge="2 kW"),))
    same = {"continuous": "1 kW", "surge": "2 kW"}
    held = EquipmentList(
        inverters=tuple(good_inverter(name=name, **same) for name in ("unpriced", "known")),
        prices={"known": 200.0},
        money="EUR",
    )
    found = search_equipment(three, held)
    by_name = {c.name: c.price for c in found.candidates}
    assert by_name == {"known": 600.0, "unpriced": None}
    assert [c.name for c in found.candidates] == ["known", "unpriced"]


def test_reasons_name_the_device_that_is_tried() -> None:
    held = EquipmentList(
        inverters=(good_inverter(name="24 V", window_low="21 V", window_high="30 V"),)
    )
    found = search_equipment(good_build(), held)
    assert {h.about for h in found.candidates[0].held_by if "window" in h.rule} == {"24 V"}
