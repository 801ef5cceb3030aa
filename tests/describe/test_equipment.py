"""Ranges, chargers, inverters, cables and fuses: what can be entered, and what cannot exist."""

from collections.abc import Callable
from typing import Any

import attrs
import pytest
from hypothesis import given
from hypothesis import strategies as st

from evpack.base.basis import Basis
from evpack.base.errors import DescriptionError, UnitError
from evpack.base.fitted import NOT_FITTED
from evpack.describe.cabling import Cabling, Run
from evpack.describe.charger import SOURCES, Charger, LeadAcidProfile
from evpack.describe.inverter import Inverter
from evpack.describe.ranges import (
    CurrentRange,
    VoltageRange,
    current_range,
    voltage_range,
    volts_if_fitted,
)
from evpack.describe.safeguards import FuseCatalogue, FuseFamily

Maker = Callable[..., Any]

# Ranges.

hundredths = st.integers(0, 20_000)


def test_a_range_is_held_in_its_unit() -> None:
    held = voltage_range(("48 V", "62 V", "100 mV"))
    assert isinstance(held, VoltageRange)
    assert (held.low.m, held.high.m, held.step.m) == (48.0, 62.0, 0.1)
    amps = current_range(["5 A", "60 A", "500 mA"])
    assert isinstance(amps, CurrentRange)
    assert (amps.low.m, amps.high.m, amps.step.m) == (5.0, 60.0, 0.5)


@pytest.mark.parametrize("convert", [voltage_range, current_range, volts_if_fitted])
def test_unknown_not_fitted_and_given_are_three_things(convert: Maker) -> None:
    assert convert(None) is None
    assert convert("none") is NOT_FITTED
    assert convert(NOT_FITTED) is NOT_FITTED


def test_a_range_that_is_one_passes_unchanged() -> None:
    volts, amps = VoltageRange("1 V", "2 V", "1 V"), CurrentRange("1 A", "2 A", "1 A")
    assert voltage_range(volts) is volts
    assert current_range(amps) is amps


@given(hundredths, st.integers(1, 300), st.integers(1, 500))
def test_a_range_of_whole_steps_is_held_whatever_its_binary_dust(
    low: int, count: int, step: int
) -> None:
    high = low + count * step
    assert VoltageRange(*(f"{v / 100} V" for v in (low, high, step))).high.m == high / 100


def test_a_range_of_one_entry_is_a_range() -> None:
    assert VoltageRange("48 V", "48 V", "0.1 V").high.m == 48.0


@pytest.mark.parametrize(
    ("make", "wrong", "said"),
    [
        (voltage_range, ("62 V", "48 V", "0.1 V"), "runs from low to high, got 62 to 48"),
        (voltage_range, ("48 V", "62 V", "0 V"), "the step of a range must be above 0"),
        (
            voltage_range,
            ("42 V", "50 V", "0.3 V"),  # 42 + 26 · 0.3; the next would be 50.1
            "from 42 in steps of 0.3 a range does not land on 50; its last entry would be 49.8",
        ),
        (voltage_range, ("48 V", "62 V"), r"three voltages, from, to and step: \('40 V', '48 V'"),
        (voltage_range, 48, "three voltages, from, to and step"),
        (voltage_range, CurrentRange("1 A", "2 A", "1 A"), "three voltages, from, to and step"),
        (current_range, ("60 A", "5 A", "1 A"), "runs from low to high, got 60 to 5"),
        (current_range, ("5 A", "60 A", "0 A"), "the step of a range must be above 0"),
        (current_range, ("5 A",), r"three currents, from, to and step: \('5 A', '60 A'"),
    ],
)
def test_a_range_of_nothing_is_refused(make: Maker, wrong: object, said: str) -> None:
    with pytest.raises(DescriptionError, match=said):
        make(wrong)


def test_one_value_is_what_a_device_stands_at() -> None:
    found = voltage_range("48 V")
    assert isinstance(found, VoltageRange)
    assert (found.low.m, found.high.m) == (48.0, 48.0)
    amps = current_range("5 A")
    assert isinstance(amps, CurrentRange)
    assert (amps.low.m, amps.high.m) == (5.0, 5.0)


@pytest.mark.parametrize(
    ("make", "wrong"),
    [
        (voltage_range, (48, 62, 0.1)),
        (voltage_range, ("48 A", "62 A", "1 A")),
        (current_range, ("5 V", "60 V", "1 V")),
        (volts_if_fitted, 48),
        (volts_if_fitted, "no"),
    ],
)
def test_a_range_without_its_unit_is_refused(make: Maker, wrong: object) -> None:
    with pytest.raises(UnitError):
        make(wrong)


@given(hundredths, hundredths, st.integers(0, 1000))
def test_a_range_rises_in_whole_steps_or_is_refused(low: int, high: int, step: int) -> None:
    texts = tuple(f"{v / 100} V" for v in (low, high, step))
    if low <= high and step > 0 and (high - low) % step == 0:
        held = VoltageRange(*texts)
        assert held.low.m <= held.high.m
        assert held.step.m > 0
    else:
        with pytest.raises(DescriptionError):
            VoltageRange(*texts)


# Chargers.


@pytest.mark.parametrize("source", SOURCES)
def test_a_charger_of_every_source(source: str) -> None:
    held = Charger(name="one", source=source)
    assert held.count == 1
    assert held.kept_off == ""  # in use: a charger that nobody said is off charges
    for field in attrs.fields(Charger):
        if field.name not in {"name", "source", "count", "where", "kept_off", "basis"}:
            assert getattr(held, field.name) is None, "what nobody said is unknown"


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"source": "sun"}, r"one: source 'sun' is not known"),
        ({"source": "solr"}, r"source 'solr' is not known \(did you mean 'solar'\?\)"),
        ({"accuracy": "20 %"}, "one: accuracy must lie between 0 and 20 %"),
        ({"accuracy": "100 %"}, "one: accuracy must lie between 0 and 20 %"),
        ({"accuracy": "0 %"}, "got 0 %; nothing measures perfectly, so leave it out if it is not"),
        ({"count": 0}, "count must lie between 1 and 1000, got 0"),
        ({"count": 1.0}, "count must be a whole number"),
        ({"charge_voltage": ("56 V",)}, "a range is three voltages"),
        ({"current_setting": ("56 A",)}, "a range is three currents"),
    ],
)
def test_a_charger_that_cannot_exist_is_refused(wrong: dict[str, object], said: str) -> None:
    with pytest.raises(DescriptionError, match=said):
        Charger(**{"name": "one", "source": "solar", **wrong})


def test_a_charger_holds_what_can_be_entered() -> None:
    held = Charger(
        name="one",
        source="mains",
        charge_voltage=("48 V", "62 V", "0.1 V"),
        current_setting="none",
        float_setting=NOT_FITTED,
        accuracy="0.5 %",
        current="60 A",
        power="3.2 kW",
    )
    assert held.charge_voltage == VoltageRange("48 V", "62 V", "0.1 V")
    assert held.current_setting is NOT_FITTED
    assert held.float_setting is NOT_FITTED
    assert (held.accuracy.m, held.current.m, held.power.m) == (0.005, 60.0, 3200.0)


def test_a_lead_acid_profile_is_for_the_whole_battery() -> None:
    held = LeadAcidProfile(
        name="flooded",
        absorption="57.6 V",
        float_voltage="54 V",
        equalise="62 V",
        compensation="120 mV/K",
        reference="25 degC",
        low_cut_off="42 V",
    )
    assert (held.absorption.m, held.compensation.m, held.reference.m) == (57.6, 0.12, 25.0)
    assert held.basis.of("absorption") is Basis.ASSUMED


# Inverters.


def test_an_inverter_of_which_nothing_is_known() -> None:
    held = Inverter(name="some")
    assert held.count == 1
    for field in attrs.fields(Inverter):
        if field.name not in {"name", "count", "leg", "where", "basis"}:
            assert getattr(held, field.name) is None, "what nobody said is unknown"


def test_an_inverter_holds_its_units() -> None:
    held = Inverter(
        name="some",
        continuous="5 kVA",
        surge="5 kVA",
        efficiency="100 %",
        window_low="42 V",
        window_high="60 V",
        survives="60 V",
        restart="none",
        meter_accuracy="0.5 %",
        input_capacitance="20 mF",
        surge_time="5 s",
    )
    assert (held.continuous.m, held.efficiency.m, held.meter_accuracy.m) == (5000.0, 1.0, 0.005)
    assert held.input_capacitance.m == 0.02
    assert held.restart is NOT_FITTED
    assert Inverter(name="some", restart="48 V").restart.m == 48.0


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        (
            {"window_low": "60 V", "window_high": "42 V"},
            r"some: window_low \(60 V\) must lie below window_high \(42 V\)",
        ),
        ({"window_low": "60 V", "window_high": "60 V"}, "must lie below window_high"),
        (
            {"window_high": "60 V", "survives": "59 V"},
            r"some: survives \(59 V\) must not lie below window_high \(60 V\)",
        ),
        ({"efficiency": "0 %"}, "efficiency must lie above 0 and up to 100 %"),
        ({"efficiency": "101 %"}, "efficiency must lie above 0 and up to 100 %"),
        ({"meter_accuracy": "20 %"}, "meter_accuracy must lie between 0 and 20 %, got 20 %$"),
        ({"meter_accuracy": "0 %"}, "got 0 %; nothing measures perfectly, so leave it out"),
        ({"leg": "3"}, r"some: leg '3' is not known"),
        ({"leg": 1}, "leg: a text in quotes is needed; got 1"),
        (
            {"continuous": "5 kW", "surge": "4.9 kW"},
            r"some: surge \(4900 W\) must not lie below continuous \(5000 W\)",
        ),
        ({"count": 1001}, "count must lie between 1 and 1000, got 1001"),
    ],
)
def test_an_inverter_that_cannot_exist_is_refused(wrong: dict[str, object], said: str) -> None:
    with pytest.raises(DescriptionError, match=said):
        Inverter(**{"name": "some", **wrong})


@pytest.mark.parametrize(
    "half",
    [
        {"window_low": "60 V"},
        {"window_high": "42 V"},
        {"survives": "42 V"},
        {"surge": "1 W"},
        {"continuous": "5 kW"},
    ],
)
def test_half_of_a_pair_is_no_contradiction(half: dict[str, str]) -> None:
    ((field, text),) = half.items()
    assert f"{getattr(Inverter(name='some', **half), field).m:g}" in {text.split()[0], "5000"}


# Cables.


def test_a_run_has_two_wires(conductor: Maker) -> None:
    run = Run(name="main", conductor=conductor(), length="2 m")
    assert run.resistance.m == pytest.approx(0.00128, rel=1e-15)  # 2 · 2 m · 0.32 mΩ/m
    assert run.ampacity.m == 175.0


def test_parallel_conductors_share(conductor: Maker) -> None:
    run = Run(name="main", conductor=conductor(), length="2 m", parallel=2)
    assert run.resistance.m == pytest.approx(0.00064, rel=1e-15)
    assert run.ampacity.m == 350.0


@pytest.mark.parametrize(
    ("wrong", "error", "said"),
    [
        ({"length": "0 m"}, DescriptionError, "main: length must be above 0 m"),
        ({"length": 2}, UnitError, "2 has no unit; write it as '2 m'"),
        ({"parallel": 0}, DescriptionError, "parallel must lie between 1 and 20, got 0"),
    ],
)
def test_a_run_that_cannot_exist_is_refused(
    conductor: Maker, wrong: dict[str, object], error: type[Exception], said: str
) -> None:
    with pytest.raises(error, match=said):
        Run(**{"name": "main", "conductor": conductor(), "length": "2 m", **wrong})


@pytest.mark.parametrize("field", ["area", "ohm_per_metre", "ampacity"])
@pytest.mark.parametrize("wrong", [0.0, -1.0, float("nan"), float("inf")])
def test_a_conductor_of_nothing_is_refused(conductor: Maker, field: str, wrong: float) -> None:
    with pytest.raises(DescriptionError, match=f"2/0 AWG: {field} must be above 0"):
        conductor(**{field: wrong})


def test_a_run_not_yet_decided_is_unknown() -> None:
    assert Cabling().module_lead is None
    assert Cabling().main is None


# Fuses.


def family(**other: object) -> FuseFamily:
    usual = {
        "key": "f",
        "name": "Family",
        "standard": "",
        "dc_voltage": "125 V",
        "interrupting": "20 kA",
        "largest": "400 A",
        "note": "",
        "source": "fuse-makers-typical",
        "basis": Basis.ASSUMED,
    }
    return FuseFamily(**{**usual, **other})


def test_a_family_holds_its_ratings() -> None:
    assert (family().dc_voltage.m, family().interrupting.m) == (125.0, 20_000.0)
    with pytest.raises(UnitError, match="has no unit"):
        family(dc_voltage=125)


def test_sizes_rise() -> None:
    held = FuseCatalogue(families=(family(),), sizes=(15.0, 20.0, 30.0), sizes_source="nec-240.6a")
    assert held.sizes == (15.0, 20.0, 30.0)


@pytest.mark.parametrize(
    "sizes", [(20.0, 15.0), (15.0, 15.0), (0.0, 15.0), (-5.0,), (float("nan"), 15.0), (0.0,)]
)
def test_sizes_out_of_order_are_refused(sizes: tuple[float, ...]) -> None:
    with pytest.raises(DescriptionError, match="fuse sizes must rise"):
        FuseCatalogue(families=(), sizes=sizes, sizes_source="nec-240.6a")


@pytest.mark.parametrize("kept_off", ["", "not wired", "turned off"])
def test_a_charger_is_kept_off_in_two_ways(kept_off: str) -> None:
    assert Charger(name="one", source="mains", kept_off=kept_off).kept_off == kept_off


def test_another_way_of_keeping_a_charger_off_is_refused_with_the_nearest() -> None:
    with pytest.raises(DescriptionError, match=r"'of' is not known.*not wired, turned off|mean"):
        Charger(name="one", source="mains", kept_off="of")
