"""The reader of quantities: one finite number and one unit, or the fix.

Conversions are worked by hand beside each; they follow from the definitions of the units.
"""

import math
import re
from collections.abc import Callable

import numpy as np
import pint
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from evpack.base import units
from evpack.base.errors import EvpackError, UnitError
from evpack.base.units import (
    ANGLE,
    CAPACITANCE,
    CHARGE,
    COEFFICIENT,
    COMPENSATION,
    CURRENT,
    ENERGY,
    HEAT,
    INDUCTANCE,
    KINDS,
    LENGTH,
    LET_THROUGH,
    MONEY,
    POWER,
    RESISTANCE,
    RISE,
    SHARE,
    TEMPERATURE,
    TIME,
    VOLTAGE,
    Kind,
    Quantity,
    kind_of,
    registry,
)

CONVERTERS = {
    units.volts: VOLTAGE,
    units.amps: CURRENT,
    units.watts: POWER,
    units.watt_hours: ENERGY,
    units.amp_hours: CHARGE,
    units.ohms: RESISTANCE,
    units.farads: CAPACITANCE,
    units.seconds: TIME,
    units.metres: LENGTH,
    units.celsius: TEMPERATURE,
    units.volts_per_kelvin: COMPENSATION,
    units.kelvins: RISE,
    units.per_kelvin: COEFFICIENT,
    units.henries_per_metre: INDUCTANCE,
    units.ampere_squared_seconds: LET_THROUGH,
    units.joules: HEAT,
    units.degrees: ANGLE,
    units.money: MONEY,
    units.share: SHARE,
}
SPELLINGS = [(kind, spelling) for kind in KINDS for spelling in kind.spellings]
any_kind = st.sampled_from(KINDS)

WORKED = [
    # text, kind, value in the canonical unit
    ("48.5 V", VOLTAGE, 48.5),
    ("48.5V", VOLTAGE, 48.5),
    ("  48.5   V  ", VOLTAGE, 48.5),
    ("48.5\u00a0V", VOLTAGE, 48.5),  # no-break space, as pasted from a page
    ("48. V", VOLTAGE, 48.0),
    (".5 V", VOLTAGE, 0.5),
    ("+5 V", VOLTAGE, 5.0),
    ("5e1 V", VOLTAGE, 50.0),
    ("5E-1V", VOLTAGE, 0.5),
    ("20 mV", VOLTAGE, 0.02),
    ("0.4 kV", VOLTAGE, 400.0),
    ("48 V DC", VOLTAGE, 48.0),
    ("250 mA", CURRENT, 0.25),
    ("20 kA", CURRENT, 20_000.0),
    ("5 kVA", POWER, 5000.0),  # unity power factor
    ("3.2 kW", POWER, 3200.0),
    ("1.5 kWh", ENERGY, 1500.0),
    ("66 Ah", CHARGE, 66.0),
    ("2600 mAh", CHARGE, 2.6),
    ("9.1 mOhm", RESISTANCE, 0.0091),
    ("9.1 mΩ", RESISTANCE, 0.0091),
    ("500 uOhm", RESISTANCE, 0.0005),
    ("20000 uF", CAPACITANCE, 0.02),
    ("10 mF", CAPACITANCE, 0.01),
    ("2 h", TIME, 7200.0),
    ("10 min", TIME, 600.0),
    ("1 days", TIME, 86_400.0),
    ("6 ft", LENGTH, 1.8288),  # 6 × 0.3048
    ("10 in", LENGTH, 0.254),
    ("150 cm", LENGTH, 1.5),
    ("2 inches", LENGTH, 0.0508),
    ("0.25 in", LENGTH, 0.00635),
    ("1/4 in", LENGTH, 0.00635),  # 25.4 mm / 4
    ("3/16in", LENGTH, 0.0047625),  # 3 · 25.4 mm / 16
    ("1 1/2 in", LENGTH, 0.0381),  # 1.5 · 25.4 mm
    ("1-1/2 inch", LENGTH, 0.0381),
    ("25 degC", TEMPERATURE, 25.0),
    ("25 °C", TEMPERATURE, 25.0),
    ("25 C", TEMPERATURE, 25.0),
    ("-5 degC", TEMPERATURE, -5.0),
    ("\u22125 degC", TEMPERATURE, -5.0),  # the minus sign of a typeset page
    ("14 degF", TEMPERATURE, -10.0),  # (14 − 32) · 5/9
    ("212 °F", TEMPERATURE, 100.0),
    ("-40 degF", TEMPERATURE, -40.0),  # the same in both
    ("5 mV/K", COMPENSATION, 0.005),
    ("-5 mV/°C", COMPENSATION, -0.005),
    ("3.5 K", RISE, 3.5),
    ("-0.28 %/K", COEFFICIENT, -0.0028),
    ("1 uH/m", INDUCTANCE, 1e-6),
    ("27 kA2s", LET_THROUGH, 27_000.0),
    ("1.5 kJ", HEAT, 1500.0),
    ("20 %", SHARE, 0.2),
    ("0.5%", SHARE, 0.005),
]


@pytest.mark.parametrize(("text", "kind", "value"), WORKED, ids=[w[0] for w in WORKED])
def test_text_is_read_into_the_canonical_unit(text: str, kind: Kind, value: float) -> None:
    got = kind.read(text)
    assert got.m == pytest.approx(value, rel=1e-14, abs=0)
    assert kind_of(got) is kind


@pytest.mark.parametrize("convert", CONVERTERS, ids=lambda c: c.__name__)
def test_every_converter_holds_its_own_kind(convert: Callable[[object], Quantity]) -> None:
    kind = CONVERTERS[convert]
    one = convert(f"1 {kind.example_unit}")
    assert kind_of(one) is kind
    assert convert(one) == one


def test_every_kind_has_a_converter() -> None:
    assert set(CONVERTERS.values()) == set(KINDS)


def test_no_spelling_belongs_to_two_kinds() -> None:
    spellings = [spelling for _, spelling in SPELLINGS]
    assert len(spellings) == len(set(spellings))


def test_a_panels_coefficient_may_come_in_volts() -> None:
    assert kind_of(units.per_kelvin("-0.11 V/K")) is COMPENSATION
    assert kind_of(units.per_kelvin(COMPENSATION.of(-0.11))) is COMPENSATION
    assert kind_of(units.per_kelvin(COEFFICIENT.of(-0.003))) is COEFFICIENT


# Refusals: what is wrong and what to write instead.

REFUSED = [
    (VOLTAGE, 21, "21 has no unit; write it as '21 V'"),
    (VOLTAGE, 21.5, "21.5 has no unit; write it as '21.5 V'"),
    (VOLTAGE, "21", "'21' has no unit; write it as '21 V'"),
    (CHARGE, 66, "66 has no unit; write it as '66 Ah'"),
    (VOLTAGE, True, "True is not a voltage; write a number and its unit, such as '1 V'"),
    (VOLTAGE, None, "None is not a voltage; write a number and its unit, such as '1 V'"),
    (VOLTAGE, ["48 V"], "['48 V'] is not a voltage; write a number and its unit, such as '1 V'"),
    (VOLTAGE, b"48 V", "b'48 V' is not a voltage"),
    (VOLTAGE, "1,5 V", "write decimals with a point and thousands without a comma"),
    (VOLTAGE, "1,000.5 V", "write decimals with a point and thousands without a comma"),
    (VOLTAGE, "nan V", "'nan V' is not a finite number"),
    (VOLTAGE, "inf V", "'inf V' is not a finite number"),
    (VOLTAGE, "-Infinity V", "'-Infinity V' is not a finite number"),
    (VOLTAGE, "1e400 V", "'1e400 V' is not a finite number"),
    (VOLTAGE, math.nan, "nan has no unit"),
    (VOLTAGE, "informed V", "is not a number with a unit; write such as '48.5 V'"),
    (VOLTAGE, "", "'' is not a number with a unit; write such as '48.5 V'"),
    (VOLTAGE, "V", "'V' is not a number with a unit"),
    (VOLTAGE, "about 48 V", "is not a number with a unit"),
    (VOLTAGE, "48..5 V", "is not a number with a unit"),
    (VOLTAGE, "4_8 V", "is not a number with a unit"),
    (VOLTAGE, "48*2 V", "is not a number with a unit"),
    (VOLTAGE, "48 V\n49 V", "is not a number with a unit"),
    (VOLTAGE, "48-50 V", "'48-50 V': write one number, not a range, such as '48.5 V'"),
    (VOLTAGE, "48 000 V", "'48 000 V': write thousands without spaces or signs"),
    (VOLTAGE, "48'000 V", "'48'000 V': write thousands without spaces or signs"),
    (POWER, "2-3 kW", "'2-3 kW': write one number, not a range, such as '48.5 W'"),
    (POWER, "2 \u2013 3 kW", "write one number, not a range"),
    (POWER, "2 kW to 3 kW", "write one number, not a range"),
    (VOLTAGE, "?", "'?': leave the line out; what you do not know stays unknown"),
    (VOLTAGE, " Unknown ", "leave the line out; what you do not know stays unknown"),
    (CHARGE, "tbd", "leave the line out; what you do not know stays unknown"),
    (TEMPERATURE, "36 F", "'36 F': write degrees Fahrenheit as '36 degF'"),
    (CAPACITANCE, "36 degC", "'36 degC' is a temperature"),
    (CHARGE, "1e300 Ah", "between 0 and 1000000 Ah is needed"),
    (POWER, "1e300 W", "between 0 and 10 MW is needed"),
    (CURRENT, "1e300 A", "between 0 and 1000 kA is needed"),
    (VOLTAGE, "48 Vols", "unit 'Vols' is not known (did you mean 'volts'?)"),
    (POWER, "5 KW", "unit 'KW' is not known (did you mean 'kW'?)"),
    (VOLTAGE, "48 v", "unit 'v' is not known (did you mean 'V'?)"),
    (VOLTAGE, "48 x", "unit 'x' is not known (known here: V, V DC, VDC, Vdc, kV, mV, volt, volts)"),
    (VOLTAGE, "66 Ah", "'66 Ah' is a charge; a voltage is needed here, such as '66 V'"),
    (CHARGE, "66 A", "'66 A' is a current; a charge is needed here, such as '66 Ah'"),
    (POWER, "5 kWh", "'5 kWh' is an energy; a power is needed here, such as '5 W'"),
    (VOLTAGE, "5 C", "'5 C' is a temperature; a voltage is needed here, such as '5 V'"),
    (TEMPERATURE, "20 K", "'20 K' is a temperature difference; a temperature is needed here"),
    (VOLTAGE, "-1 V", "'-1 V' is not a believable voltage here; between 0 and 2000 V is needed"),
    (VOLTAGE, "\u22121 V", "is not a believable voltage here"),
    (VOLTAGE, "2.001 kV", "is not a believable voltage here; between 0 and 2000 V is needed"),
    (TEMPERATURE, "300 degC", "between -100 and 200 °C is needed"),
    (TEMPERATURE, "-101 degC", "between -100 and 200 °C is needed"),
    (TEMPERATURE, "400 degF", "between -100 and 200 °C is needed"),  # 204.4 °C
    (LENGTH, "1/3 in", "'1/3 in': write a decimal, such as '48.5 m'; only halves to sixty-fourths"),
    (LENGTH, "5/4 in", "'5/4 in': write a decimal"),
    (LENGTH, "1/0 in", "'1/0 in': write a decimal"),
    (LENGTH, "0/4 in", "'0/4 in': write a decimal"),
    (LENGTH, "1/4 ft", "'1/4 ft': write a decimal"),
    (LENGTH, "250 mil", "unit 'mil' is not known"),
    (VOLTAGE, "1/4 V", "unit '/4 V' is not known"),
    (SHARE, "-1 %", "between 0 and 1000 (1 = 100 %) is needed"),
]


@pytest.mark.parametrize(("kind", "given_", "fix"), REFUSED, ids=[repr(r[1]) for r in REFUSED])
def test_a_refusal_says_the_fix(kind: Kind, given_: object, fix: str) -> None:
    with pytest.raises(UnitError, match=re.escape(fix)):
        kind.read(given_)


# A bare number that may be meant in two ways must not be told only one of them: 0.2 for 20 %
# would become 0.2 %, and 0.0091 Ω would become 9.1 µΩ.
TWO_WAYS = [
    (SHARE, 0.2, "write it as '0.2 %', or as '20 %' if it is a part of 1"),
    (SHARE, "0.005", "write it as '0.005 %', or as '0.5 %' if it is a part of 1"),
    (RESISTANCE, 0.0091, "write it as '0.0091 mOhm' or '0.0091 Ohm', whichever it is"),
    (RESISTANCE, "9.1", "write it as '9.1 mOhm' or '9.1 Ohm', whichever it is"),
    (CAPACITANCE, 0.02, "write it as '0.02 uF' or '0.02 F', whichever it is"),
    (COMPENSATION, "\u22125", "write it as '\u22125 mV/K' or '\u22125 V/K', whichever it is"),
]


@pytest.mark.parametrize(("kind", "given_", "fix"), TWO_WAYS, ids=[repr(t[1]) for t in TWO_WAYS])
def test_a_bare_number_that_may_mean_two_things_is_told_both(
    kind: Kind, given_: object, fix: str
) -> None:
    with pytest.raises(UnitError, match=re.escape(fix)):
        kind.read(given_)


def test_a_bare_percentage_above_one_is_told_one_way() -> None:
    with pytest.raises(UnitError, match=r"write it as '20 %'$"):
        SHARE.read(20)


@pytest.mark.parametrize(
    ("kind", "quantity", "value"),
    [
        (VOLTAGE, registry.Quantity(48_500, "mV"), 48.5),
        (POWER, registry.Quantity(5, "kVA"), 5000.0),
        (CHARGE, registry.Quantity(3600, "coulomb"), 1.0),
        (ENERGY, registry.Quantity(3.6, "MJ"), 1000.0),
        (TEMPERATURE, registry.Quantity(273.15, "kelvin"), 0.0),
        (TEMPERATURE, registry.Quantity(212, "degF"), 100.0),
        (COMPENSATION, registry.Quantity(5, "mV/kelvin"), 0.005),
        (SHARE, registry.Quantity(20, "percent"), 0.2),
    ],
    ids=str,
)
def test_a_quantity_in_another_unit_is_converted(
    kind: Kind, quantity: Quantity, value: float
) -> None:
    got = kind.read(quantity)
    assert got.m == pytest.approx(value, rel=1e-12, abs=1e-9)
    assert kind_of(got) is kind


@pytest.mark.parametrize(
    ("kind", "quantity", "fix"),
    [
        (
            VOLTAGE,
            registry.Quantity(3, "A"),
            "3 ampere is not a voltage; it needs a unit such as V",
        ),
        (CHARGE, registry.Quantity(3, "Wh"), "is not a charge; it needs a unit such as Ah"),
        (TEMPERATURE, registry.Quantity(20, "delta_degC"), "is not a temperature"),
        (VOLTAGE, registry.Quantity(math.nan, "V"), "'nan volt' is not a finite number"),
        (VOLTAGE, registry.Quantity(math.inf, "V"), "'inf volt' is not a finite number"),
        (VOLTAGE, registry.Quantity(-1, "V"), "is not a believable voltage here"),
        (VOLTAGE, registry.Quantity(np.array([1.0, 2.0]), "V"), "is not one plain number"),
        (VOLTAGE, registry.Quantity(1 + 2j, "V"), "is not one plain number"),
    ],
    ids=str,
)
def test_a_quantity_of_the_wrong_sort_is_refused(kind: Kind, quantity: Quantity, fix: str) -> None:
    with pytest.raises(UnitError, match=re.escape(fix)):
        kind.read(quantity)


def test_a_quantity_of_another_registry_is_read() -> None:
    foreign = pint.UnitRegistry().Quantity(48_500, "mV")
    assert VOLTAGE.read(foreign).m == pytest.approx(48.5, rel=1e-15)


def test_a_quantity_of_no_kind_has_none() -> None:
    with pytest.raises(TypeError, match="canonical"):
        kind_of(registry.Quantity(5, "mV"))


def test_a_refusal_is_one_of_evpacks_and_a_value_error() -> None:
    assert issubclass(UnitError, EvpackError)
    assert issubclass(UnitError, ValueError)


# Binary dust: a limit written in millivolts is the limit written in volts.


@given(st.integers(1, 1_999_999))
@example(2800)  # 2800 × 0.001 is 2.8000000000000003
def test_millivolts_are_volts_without_dust(number: int) -> None:
    assert VOLTAGE.read(f"{number} mV").m == float(f"{number}e-3")


@given(st.integers(0, 1000))
@example(95)  # 95 × 0.01 is 0.9500000000000001
def test_percent_are_shares_without_dust(number: int) -> None:
    assert SHARE.read(f"{number} %").m == float(f"{number}e-2")


@given(
    st.sampled_from(SPELLINGS),
    st.floats(allow_nan=False, allow_infinity=False),
    st.sampled_from(["", " ", "\t", "  "]),
)
def test_any_number_in_any_spelling_reads_back_or_is_not_believable(
    of: tuple[Kind, str], number: float, gap: str
) -> None:
    kind, spelling = of
    if not gap and spelling[0].isdigit():  # "0.01" and "1/K" are two words: "0.011/K" is another
        gap = " "
    text = f"{number!r}{gap}{spelling}"
    expected = (number + kind.offsets.get(spelling, 0.0)) * kind.spellings[spelling]
    if kind.least * (1 + 1e-12) <= expected <= kind.most * (1 - 1e-12):
        assert kind.read(text).m == pytest.approx(expected, rel=1e-15, abs=0)
    elif not kind.least * (1 - 1e-12) <= expected <= kind.most * (1 + 1e-12):
        with pytest.raises(UnitError, match=r"believable|finite"):
            kind.read(text)


@given(any_kind, st.data())
def test_a_believable_number_in_the_canonical_unit_is_kept_as_it_is(
    kind: Kind, data: st.DataObject
) -> None:
    value = data.draw(st.floats(kind.least, kind.most))
    plain = next((s for s, factor in kind.spellings.items() if factor == 1), None)
    assert kind.read(kind.of(value)).m == value
    if plain is not None:
        assert kind.read(f"{value!r} {plain}").m == value


def refused_or_read(kind: Kind, given_: object) -> None:
    """Read, and see that what comes out is believable and what goes wrong is a UnitError."""
    try:
        got = kind.read(given_)
    except UnitError as refusal:
        assert str(refusal)  # noqa: PT017  either outcome is lawful here
    else:
        assert kind.least <= got.m <= kind.most


@given(any_kind, st.text())
def test_nothing_but_a_refusal_leaves_the_reader_for_any_text(kind: Kind, text: str) -> None:
    refused_or_read(kind, text)


@given(any_kind, st.text(alphabet="0123456789.,eE+-\u2212_ */%°µΩVAWhKCmknaifty\n", max_size=12))
def test_nothing_but_a_refusal_leaves_the_reader_for_text_like_quantities(
    kind: Kind, text: str
) -> None:
    refused_or_read(kind, text)


@given(
    any_kind,
    st.one_of(
        st.none(),
        st.booleans(),
        st.integers(-(10**30), 10**30),
        st.floats(),
        st.binary(),
        st.complex_numbers(),
        st.lists(st.integers()),
        st.dictionaries(st.text(), st.text()),
    ),
)
def test_what_is_no_text_and_no_quantity_is_refused(kind: Kind, thing: object) -> None:
    with pytest.raises(UnitError):
        kind.read(thing)


@given(st.text(alphabet="0123456789,", min_size=3, max_size=9).filter(lambda t: "," in t))
def test_no_comma_is_ever_read_as_a_number(text: str) -> None:
    with pytest.raises(UnitError):
        VOLTAGE.read(f"{text} V")
