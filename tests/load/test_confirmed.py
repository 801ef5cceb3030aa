"""``confirmed = true`` beside a value: read, refused where it is no yes or no, never lost."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from evpack.base.errors import DataError
from evpack.describe.build import Build
from evpack.describe.charger import Charger
from evpack.load.equipment_list import parse_equipment
from evpack.load.sheet import parse_sheet

RECORD = "library:ev_pouch_cell_33Ah_hppc_25C.bdf.csv"
SHEET = """
title = "Plain"

[module]
chemistry = "nmc"
cells_in_series = 7
capacity = "60 Ah"
resistance = "9 mOhm"

[pack]
modules_in_series = 2

[[inverter]]
name = "box"

[load]
continuous = "1 kW"
"""
MODULE = 'capacity = "60 Ah"'
SURE = "confirmed = true"


def read(old: str = "", new: str = "", more: str = "") -> Build:
    assert old in SHEET
    return parse_sheet(SHEET.replace(old, new, 1) + more, "plain.toml")


def module(line: str) -> Any:
    return read(MODULE, line).pack.module.basis


def test_what_nobody_confirmed_is_not() -> None:
    build = read()
    assert build.pack.module.basis.confirmed == frozenset()
    assert build.load.basis.confirmed == frozenset()


def test_a_confirmed_value_is_remembered_with_how_it_is_known() -> None:
    basis = module('capacity = { value = "60 Ah", basis = "measured", confirmed = true }')
    assert basis.confirmed == {"capacity"}
    assert basis.of("capacity") == "measured"


def test_a_value_said_not_to_be_confirmed_is_not() -> None:
    assert module('capacity = { value = "60 Ah", confirmed = false }').confirmed == frozenset()


# Where it stands, the line that is changed for it, what is read of it.
PLACES: dict[str, tuple[str, str, Callable[[Build], object], str]] = {
    "a resistance": (
        'resistance = "9 mOhm"',
        f'resistance = {{ value = "9 mOhm", method = "10 s pulse", {SURE} }}',
        lambda b: b.pack.module.basis.confirmed,
        "resistance",
    ),
    "a range": (
        'name = "box"',
        f'name = "box"\ncut_off = {{ from = "40 V", to = "48 V", step = "0.1 V", {SURE} }}',
        lambda b: b.inverters[0].basis.confirmed,
        "cut_off",
    ),
    "a range as a value": (
        'name = "box"',
        (
            'name = "box"\ncut_off = { value = { from = "40 V", to = "48 V", step = "0.1 V" }, '
            f"{SURE} }}"
        ),
        lambda b: b.inverters[0].basis.confirmed,
        "cut_off",
    ),
    "the load": (
        'continuous = "1 kW"',
        f'continuous = {{ value = "1 kW", {SURE} }}',
        lambda b: b.load.basis.confirmed,
        "continuous",
    ),
    "a built-in charger": (
        'name = "box"',
        f'name = "box"\n[inverter.charger]\ncurrent = {{ value = "0.01 A", {SURE} }}',
        lambda b: b.inverters[0].charger.basis.confirmed,  # type: ignore[union-attr]
        "current",
    ),
    "a cable": (
        'continuous = "1 kW"',
        (
            'continuous = "1 kW"\n[cabling.main]\nsize = "2 AWG"\n'
            f'length = {{ value = "18 mm", {SURE} }}'
        ),
        lambda b: b.cabling.main.basis.confirmed,  # type: ignore[union-attr]
        "length",
    ),
    "a cable of one device": (
        'continuous = "1 kW"',
        (
            'continuous = "1 kW"\n[cabling.own.box]\nsize = "2 AWG"\n'
            f'length = {{ value = "18 mm", {SURE} }}'
        ),
        lambda b: b.cabling.own["box"].basis.confirmed,
        "length",
    ),
    "the bars": (
        'continuous = "1 kW"',
        (
            'continuous = "1 kW"\n[cabling.bar]\nwidth = "30 mm"\nthickness = "5 mm"\n'
            f'length = "0.4 m"\ncarries = {{ value = "5 kA", {SURE} }}'
        ),
        lambda b: b.cabling.bar.basis.confirmed,  # type: ignore[union-attr]
        "carries",
    ),
    "a fuse": (
        'continuous = "1 kW"',
        (
            'continuous = "1 kW"\n[protection.string_fuse]\nname = "link"\ndc_voltage = "80 V"\n'
            f'largest = "400 A"\ninterrupting = {{ value = "500 kA", {SURE} }}'
        ),
        lambda b: b.safeguards.string_fuse.confirmed,  # type: ignore[union-attr]
        "interrupting",
    ),
    "a switch": (
        'continuous = "1 kW"',
        (
            'continuous = "1 kW"\n[protection.disconnect]\n'
            f'withstands = {{ value = "500 kA", {SURE} }}'
        ),
        lambda b: b.safeguards.disconnect.basis.confirmed,  # type: ignore[union-attr]
        "withstands",
    ),
    "panels": (
        'continuous = "1 kW"',
        (
            'continuous = "1 kW"\n[[charger]]\nname = "sun"\nsource = "solar"\n'
            "[[pv]]\nin_series = 2\n"
            f'largest_fuse = {{ value = "250 A", {SURE} }}'
        ),
        lambda b: b.solar_arrays[0].basis.confirmed,
        "largest_fuse",
    ),
    "a profile over a year": (
        'continuous = "1 kW"',
        (
            f'continuous = "1 kW"\n[operation]\nstart = {{ value = "5 %", {SURE} }}\n'
            '[operation.load]\nshape = "home"\nenergy = "8 kWh"'
        ),
        lambda b: b.operation.basis.confirmed,  # type: ignore[union-attr]
        "start",
    ),
}


@pytest.mark.parametrize(("old", "new", "told", "field"), PLACES.values(), ids=PLACES)
def test_it_is_remembered_wherever_it_stands(
    old: str, new: str, told: Callable[[Build], object], field: str
) -> None:
    assert told(read(old, new)) == {field}


@pytest.mark.parametrize(("old", "new", "told", "field"), PLACES.values(), ids=PLACES)
@pytest.mark.parametrize("word", ['"yes"', "1", '"true"', "{}"])
def test_anything_but_true_or_false_is_refused(
    old: str, new: str, told: Callable[[Build], object], field: str, word: str
) -> None:
    del told
    with pytest.raises(DataError, match=rf"{field}\.confirmed: got .+; true or false is needed"):
        read(old, new.replace("confirmed = true", f"confirmed = {word}"))


@pytest.mark.parametrize("line", ['column = { value = 75, confirmed = "yes" }'])
def test_it_is_refused_too_where_no_range_asks(line: str) -> None:
    run = f'\n[cabling.main]\nsize = "2 AWG"\nlength = "2 m"\n{line}\n'
    with pytest.raises(DataError, match=r"cabling.main.column.confirmed: got 'yes'; true or"):
        read(more=run)


def test_a_misspelt_word_is_refused_with_the_nearest() -> None:
    with pytest.raises(DataError, match=r"confirm: is not known here \(did you mean 'confirmed'"):
        module('capacity = { value = "60 Ah", confirm = true }')


def test_a_value_typed_over_a_library_entry_is_confirmed_and_the_entrys_is_not() -> None:
    entry = 'use = "pouch-7s"\ndischarge_limit = { value = "9 kA", confirmed = true }'
    assert module(entry).confirmed == {"discharge_limit"}
    assert module('use = "pouch-7s"\ndischarge_limit = "9 kA"').confirmed == frozenset()


def test_a_value_over_a_bench_record_stays_confirmed() -> None:
    sheet = SHEET.replace('resistance = "9 mOhm"', "").replace(
        MODULE,
        f'resistance = {{ value = "9 mOhm", {SURE} }}\nbench.record = "{RECORD}"',
    )
    assert parse_sheet(sheet).pack.module.basis.confirmed == {"resistance"}


def test_a_bench_record_can_be_confirmed_and_what_is_typed_over_it_is_not() -> None:
    sheet = SHEET.replace(MODULE, f'bench = {{ record = "{RECORD}", {SURE} }}')
    sure = parse_sheet(sheet).pack.module.basis.confirmed
    assert "capacity" in sure
    assert "resistance" not in sure, "typed over it"
    with pytest.raises(DataError, match=r"module.bench.confirmed: got 'yes'; true or false"):
        parse_sheet(sheet.replace("confirmed = true", 'confirmed = "yes"'))


def test_a_device_of_a_list_keeps_what_was_confirmed() -> None:
    text = """
[[inverter]]
name = "huge"
input_capacitance = { value = "0.9 F", confirmed = true }
[inverter.charger]
current = { value = "0.01 A", confirmed = true }
"""
    (inverter,) = parse_equipment(text).inverters
    assert inverter.basis.confirmed == {"input_capacitance"}
    assert isinstance(inverter.charger, Charger)
    assert inverter.charger.basis.confirmed == {"current"}
