"""The choices of the panel, without a widget."""

import tomllib

import attrs
import pytest
from turned import with_choices

from evpack.base.basis import Basis
from evpack.base.errors import DescriptionError, UnitError
from evpack.describe.build import Build
from evpack.edit import charge_target_of, edited
from evpack.load.sheet import example, parse_sheet, read_sheet
from evpack.workbook.controls import as_sheet, choices_of, entries_of


@pytest.fixture
def build() -> Build:
    return read_sheet(example("wether-barn"))


def test_a_build_that_nothing_changes_is_the_same_one(build: Build) -> None:
    same = {choice.key: choice.typed(choice.value) for choice in choices_of(build)}
    assert with_choices(build) is build
    assert with_choices(build, **same) is build


def test_a_changed_choice_is_chosen_and_no_longer_assumed(build: Build) -> None:
    assert build.policy.basis.of("charge_target") is Basis.ASSUMED
    other = with_choices(build, charge_target="4 V")
    assert other.policy.charge_target.m == 4.0
    assert other.policy.basis.of("charge_target") is Basis.CHOSEN
    assert other.policy.basis.of("charger_accuracy") is Basis.ASSUMED


def test_a_charge_target_of_nothing_is_a_target_and_not_the_chemistrys(build: Build) -> None:
    policy = attrs.evolve(build.policy, charge_target="0 V")
    target = charge_target_of(attrs.evolve(build, policy=policy))
    assert target is not None
    assert target.m == 0.0


def test_a_charge_target_at_the_limits_of_a_cell_is_taken(build: Build) -> None:
    for target in (3.0, 4.2):
        assert with_choices(build, charge_target=f"{target} V").policy.charge_target.m == target


def test_what_was_confirmed_stays_so_till_its_value_is_another(build: Build) -> None:
    odd = build.sheet.replace(
        'discharge_peak = "130 A"', 'discharge_peak = { value = "9 kA", confirmed = true }'
    ).replace('continuous = "2.5 kW"', 'continuous = { value = "2.5 kW", confirmed = true }')
    sure = parse_sheet(odd)
    turned = with_choices(sure, strings=3, reserve="30 %")
    assert turned.pack.module.basis.confirmed == {"discharge_peak"}
    assert turned.load.basis.confirmed == {"continuous"}
    assert with_choices(sure, continuous_load="2 kW").load.basis.confirmed == frozenset()


def test_the_old_sheet_does_not_travel_with_a_changed_build(build: Build) -> None:
    assert build.sheet
    assert with_choices(build, strings=3).sheet == ""


def test_counts_change_the_pack_alone(build: Build) -> None:
    other = with_choices(build, modules_in_series=3, strings=1)
    assert (other.pack.modules_in_series, other.pack.strings) == (3, 1)
    assert other.policy is build.policy
    assert other.load is build.load


def test_typical_and_peak_load_follow_a_continuous_load_that_passes_them(build: Build) -> None:
    low = with_choices(build, continuous_load="0.5 kW")
    assert low.load.typical.m == 500.0
    assert low.load.peak.m == build.load.peak.m
    high = with_choices(build, continuous_load="7 kW")
    assert high.load.peak.m == 7000.0
    assert high.load.typical.m == build.load.typical.m


@pytest.mark.parametrize(
    ("choice", "refusal"),
    [
        ({"reserve": "100 %"}, "reserve"),
        ({"strings": 0}, "strings"),
        ({"modules_in_series": 401}, "modules_in_series"),
        ({"continuous_load": "0 kW"}, "above 0 W"),
        ({"charge_target": "0 V"}, "limits of one cell, 3 V to 4.2 V, got 0 V"),
        ({"charge_target": "2.99 V"}, "limits of one cell, 3 V to 4.2 V, got 2.99 V"),
        ({"charge_target": "4.21 V"}, "limits of one cell, 3 V to 4.2 V, got 4.21 V"),
    ],
)
def test_a_choice_that_cannot_exist_is_refused(build: Build, choice: dict, refusal: str) -> None:
    with pytest.raises(DescriptionError, match=refusal):
        with_choices(build, **choice)


def test_a_choice_without_its_unit_is_refused(build: Build) -> None:
    with pytest.raises(UnitError, match="no unit"):
        with_choices(build, reserve=30)


def test_controls_start_at_the_build_and_reach_past_its_limits(build: Build) -> None:
    rows = {choice.key: choice for choice in choices_of(build)}
    assert list(rows) == [
        "modules_in_series",
        "strings",
        "charge_target",
        "reserve",
        "continuous_load",
    ]
    for row in rows.values():
        assert row.low <= row.value <= row.high
    top = build.inverters[0].window_high.m
    module = build.pack.module
    assert rows["modules_in_series"].high * module.cells_in_series * module.highest.m > top
    assert rows["strings"].high * build.pack.modules_in_series > module.available
    assert rows["charge_target"].high == module.highest.m
    assert rows["reserve"].value == 25.0
    assert rows["continuous_load"].high * 1e3 > build.inverters[0].continuous.m


def test_controls_of_a_build_of_which_little_is_known(build: Build) -> None:
    inverter = attrs.evolve(
        build.inverters[0], window_high=None, survives=None, continuous=None, surge=None
    )
    module = attrs.evolve(build.pack.module, available=None)
    bare = attrs.evolve(build, inverters=(inverter,), pack=attrs.evolve(build.pack, module=module))
    for row in choices_of(bare):
        assert row.low <= row.value < row.high


def test_cells_that_are_not_charged_to_a_voltage_have_no_charge_target(build: Build) -> None:
    nickel = attrs.evolve(
        build.pack.module.chemistry, targets=None, why_refused="not to a set voltage"
    )
    pack = attrs.evolve(build.pack, module=attrs.evolve(build.pack.module, chemistry=nickel))
    refused = attrs.evolve(build, pack=pack)
    assert charge_target_of(refused) is None
    assert "charge_target" not in {choice.key for choice in choices_of(refused)}
    assert with_choices(refused, strings=2).pack.strings == 2


def test_entries_say_what_changed_and_are_read_back(build: Build) -> None:
    edits = (
        ("pack.strings", 3),
        ("policy.charge_target", "4.1 V"),
        ("policy.reserve", "30 %"),
        ("load.continuous", "0.6 kW"),
    )
    entries = entries_of(edits, build, edited(build, *edits))
    assert entries == {
        "pack": {"strings": 3},
        "policy": {"charge_target": "4.1 V", "reserve": "30 %"},
        "load": {"continuous": "0.6 kW", "typical": "0.6 kW"},
    }
    assert tomllib.loads(as_sheet(entries)) == entries
    assert entries_of((), build, build) == {}
    assert as_sheet({}) == ""
