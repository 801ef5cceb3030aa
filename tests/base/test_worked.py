"""Numbers that explain themselves: one text gives the symbols and the numbers."""

import pytest

from evpack.base.basis import Basis
from evpack.base.units import CHARGE, ENERGY, RESISTANCE, VOLTAGE
from evpack.base.worked import Input, Worked, count, from_worked, known, resting_on

CELL = known("V_max", "highest voltage of a cell", VOLTAGE.of(4.2), Basis.DATASHEET)
FULL = Worked(
    name="highest voltage",
    value=58.8,
    kind=VOLTAGE,
    formula="{n} · {V_max}",
    inputs=(count("n", "cells in series", 14), CELL),
    source="arithmetic",
)


def test_an_input_says_value_meaning_and_basis() -> None:
    assert str(CELL) == "V_max = 4.2 V (highest voltage of a cell; datasheet)"
    assert str(count("n", "cells in series", 14)) == "n = 14 (cells in series; chosen)"


def test_a_count_has_no_unit_and_was_chosen() -> None:
    strings = count("N", "strings in parallel", 4)
    assert (strings.value, strings.basis) == (4.0, Basis.CHOSEN)


def test_a_known_input_takes_value_and_unit_from_the_quantity() -> None:
    ohms = known("R", "resistance of a module", RESISTANCE.read("9.1 mOhm"), Basis.MEASURED)
    assert (ohms.value, ohms.unit) == (pytest.approx(0.0091, rel=1e-15), "Ω")


def test_the_formula_is_told_in_symbols_and_in_numbers() -> None:
    assert FULL.symbols == "n · V_max"
    assert FULL.numbers == "14 · 4.2 V = 58.8 V"
    assert str(FULL) == "58.8 V"


def test_a_worked_number_has_its_unit_and_quantity() -> None:
    assert FULL.unit == "V"
    assert FULL.quantity == VOLTAGE.of(58.8)


def test_a_worked_number_goes_into_another_as_computed() -> None:
    again = from_worked("V", FULL)
    assert again == Input("V", "highest voltage", 58.8, "V", Basis.COMPUTED)


def test_what_a_worked_number_rests_on_is_named_at_any_depth_and_once() -> None:
    guess = Input("R", "resistance of a module", 0.01, "Ω", Basis.ASSUMED)
    one = Worked(
        name="string", value=0.02, kind=RESISTANCE, formula="{R} · 2", inputs=(guess,), source="x"
    )
    two = Worked(
        name="pack",
        value=0.03,
        kind=RESISTANCE,
        formula="{R_1} + {R}",
        inputs=(from_worked("R_1", one), guess),
        source="x",
    )
    last = Worked(
        name="all",
        value=0.03,
        kind=RESISTANCE,
        formula="{R_2}",
        inputs=(from_worked("R_2", two),),
        source="x",
    )
    assert last.inputs[0].basis is Basis.COMPUTED
    assert last.assumed == two.assumed == ("resistance of a module",)
    assert resting_on(None, last, one) == ("resistance of a module",)
    assert resting_on(None) == ()


def test_only_what_nobody_looked_up_is_named_as_assumed() -> None:
    guess = Input("Q", "capacity of a module", 66.0, "Ah", Basis.ASSUMED)
    others = tuple(
        Input(f"x_{basis}", f"known as {basis}", 1.0, "Ah", basis)
        for basis in Basis
        if basis is not Basis.ASSUMED
    )
    worked = Worked(
        name="sum",
        value=70.0,
        kind=CHARGE,
        formula="",
        inputs=(guess, *others),
        source="arithmetic",
    )
    assert worked.assumed == ("capacity of a module",)
    assert FULL.assumed == ()


def test_a_symbol_without_an_input_cannot_be_told_in_numbers() -> None:
    broken = Worked(
        name="x", value=1.0, kind=VOLTAGE, formula="{lost}", inputs=(), source="arithmetic"
    )
    with pytest.raises(KeyError):
        _ = broken.numbers


def test_a_number_that_is_only_about_right_is_told_so() -> None:
    """5.4 to 8.4 kWh are 3 kWh wide: whole kWh."""
    rough = Worked(
        name="energy",
        value=8400.0,
        kind=ENERGY,
        formula="",
        inputs=(),
        source="arithmetic",
        between=(5400.0, 8400.0),
    )
    assert str(rough) == "about 5 to 8 kWh"
    assert "about 5 to 8 kWh" in repr(rough)
