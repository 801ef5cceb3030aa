"""Cells: limits and thresholds in order, curves that tell a state, chemistries that say why not."""

from collections.abc import Callable
from itertools import pairwise
from typing import Any

import numpy as np
import pytest

from evpack.base.basis import Basis
from evpack.base.errors import DescriptionError, UnitError
from evpack.describe.ocv import ResistanceCurve

Maker = Callable[..., Any]


def test_limits_are_held_in_their_units(limits: Maker) -> None:
    held = limits()
    assert (held.highest.m, held.least.m, held.discharge_coldest.m) == (4.2, 2.7, -20.0)


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"least": "3.8 V"}, r"least \(3\.8 V\) must not lie above nominal \(3\.75 V\)"),
        ({"nominal": "4.3 V"}, r"nominal \(4\.3 V\) must not lie above highest \(4\.2 V\)"),
        ({"reject_below": "2.8 V"}, r"reject_below \(2\.8 V\) must not lie above least \(2\.7 V\)"),
        ({"charge_coldest": "46 degC"}, r"charge_coldest \(46 °C\) must not lie above charge_hott"),
        ({"discharge_hottest": "-21 degC"}, r"discharge_coldest \(-20 °C\) must not lie above dis"),
    ],
)
def test_limits_out_of_order_are_refused(limits: Maker, wrong: dict[str, str], said: str) -> None:
    with pytest.raises(DescriptionError, match=said):
        limits(**wrong)


@pytest.mark.parametrize("field", ["highest", "least", "charge_coldest"])
def test_limits_without_a_unit_are_refused(limits: Maker, field: str) -> None:
    with pytest.raises(UnitError, match="has no unit"):
        limits(**{field: 3})


ORDER = ("cut_low", "warn_low", "low_at_rest", "charge", "warn_high", "cut_high")


@pytest.mark.parametrize(("lower", "upper"), list(pairwise(ORDER)))
def test_thresholds_out_of_order_are_refused(targets: Maker, lower: str, upper: str) -> None:
    usual = targets()
    too_high = getattr(usual, upper).m + 0.01
    with pytest.raises(DescriptionError, match=rf"cell targets: {lower} .* must not lie above"):
        targets(**{lower: f"{too_high} V"})


def test_thresholds_may_coincide(targets: Maker) -> None:
    assert targets(warn_high="4.18 V").warn_high == targets().cut_high


# Curves.


def test_a_curve_is_held_as_it_is_and_cannot_be_changed(curve: Maker) -> None:
    held = curve()
    np.testing.assert_array_equal(held.volts, [3.0, 3.7, 4.2])
    with pytest.raises(ValueError, match="read-only"):
        held.volts[0] = 5.0


def test_a_curve_does_not_follow_the_list_it_was_made_of(curve: Maker) -> None:
    volts = np.array([3.0, 3.7, 4.2])
    held = curve(volts=volts)
    volts[0] = 0.0
    assert held.volts[0] == 3.0


CURVE_REFUSALS = [
    ({"soc": [0, 1], "volts": [3.0, 3.7, 4.2]}, "two columns of equal length, two rows or more"),
    ({"soc": [0], "volts": [3.0]}, "two columns of equal length, two rows or more"),
    ({"soc": [], "volts": []}, "two columns of equal length, two rows or more"),
    ({"soc": [[0, 1]], "volts": [[3.0, 4.2]]}, "two columns of equal length"),
    ({"volts": [3.0, float("nan"), 4.2]}, "holds a value that is not a finite number"),
    ({"soc": [0, float("inf"), 1]}, "holds a value that is not a finite number"),
    ({"soc": [0, 0, 1]}, "state of charge must rise from row to row within 0 to 1"),
    ({"soc": [1, 0.5, 0]}, "state of charge must rise from row to row within 0 to 1"),
    ({"soc": [-0.1, 0.5, 1]}, "state of charge must rise from row to row within 0 to 1"),
    ({"soc": [0, 0.5, 1.1]}, "state of charge must rise from row to row within 0 to 1"),
    ({"soc": [0, 50, 100]}, "state of charge must rise from row to row within 0 to 1"),
    ({"volts": [3.0, 3.0, 4.2]}, "voltage must rise from row to row"),
    ({"volts": [4.2, 3.7, 3.0]}, "voltage must rise from row to row"),
    ({"soc": [0.1, 0.5, 1]}, "must run from 0 to 1"),
    ({"soc": [0, 0.5, 0.9]}, "must run from 0 to 1"),
]


@pytest.mark.parametrize(("wrong", "said"), CURVE_REFUSALS)
def test_a_curve_that_tells_no_state_is_refused(
    curve: Maker, wrong: dict[str, object], said: str
) -> None:
    with pytest.raises(DescriptionError, match=f"open-circuit voltage curve: .*{said}"):
        curve(**wrong)


def test_a_resistance_curve_may_cover_only_what_was_tested() -> None:
    held = ResistanceCurve(soc=[0.1, 0.9], ohms=[0.012, 0.009])
    np.testing.assert_array_equal(held.ohms, [0.012, 0.009])


@pytest.mark.parametrize(
    ("soc", "ohms", "said"),
    [
        ([0.1, 0.9], [0.012, 0.0], "every resistance must be above 0"),
        ([0.1, 0.9], [0.012, -0.009], "every resistance must be above 0"),
        ([0.1, 0.9], [0.012], "two columns of equal length"),
        ([0.9, 0.1], [0.012, 0.009], "must rise from row to row"),
        ([0.1, 0.9], [0.012, float("nan")], "not a finite number"),
    ],
)
def test_a_resistance_curve_of_no_cell_is_refused(
    soc: list[float], ohms: list[float], said: str
) -> None:
    with pytest.raises(DescriptionError, match=f"resistance curve: .*{said}"):
        ResistanceCurve(soc=soc, ohms=ohms)


# Chemistries.


def test_a_chemistry_is_assumed_unless_told(chemistry: Maker) -> None:
    assert chemistry().basis.of("charge") is Basis.ASSUMED
    assert chemistry(basis="datasheet").basis.of("charge") is Basis.DATASHEET
    assert not chemistry().flat


def test_a_chemistry_that_is_not_charged_to_a_voltage_says_why(chemistry: Maker) -> None:
    refused = chemistry(targets=None, ocv=None, why_refused="It ends by a falling voltage.")
    assert refused.targets is None
    assert refused.ocv is None


def test_neither_usable_nor_explained_is_refused(chemistry: Maker) -> None:
    with pytest.raises(DescriptionError, match="give either targets, or why_refused"):
        chemistry(targets=None)
    with pytest.raises(DescriptionError, match="give either targets, or why_refused"):
        chemistry(why_refused="Somehow.")


def test_targets_without_a_curve_are_refused(chemistry: Maker) -> None:
    with pytest.raises(DescriptionError, match="made-up: needs an open-circuit voltage curve"):
        chemistry(ocv=None)


def test_cuts_outside_what_a_cell_stands_are_refused(chemistry: Maker, targets: Maker) -> None:
    with pytest.raises(DescriptionError, match="cut_high lies above the cell's highest voltage"):
        chemistry(targets=targets(cut_high="4.21 V"))
    with pytest.raises(DescriptionError, match="cut_low lies below the cell's least voltage"):
        chemistry(targets=targets(cut_low="2.69 V"))


def test_cuts_at_the_very_limits_are_held(chemistry: Maker, targets: Maker) -> None:
    edge = chemistry(targets=targets(cut_high="4200 mV", cut_low="2700 mV"))
    assert (edge.targets.cut_high.m, edge.targets.cut_low.m) == (4.2, 2.7)
