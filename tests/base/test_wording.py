"""How numbers are written: enough digits, the unit, never more. Expected texts by hand."""

import math
import re

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from evpack.base.units import KINDS
from evpack.base.wording import COUNT, about, number, say, say_down, say_up

SAID = [
    (56.8, "V", "56.8 V"),
    (56.836, "V", "56.84 V"),
    (48.0, "V", "48 V"),
    (0.0, "V", "0 V"),
    (-0.001, "V", "-1 mV"),
    (0.005, "V", "5 mV"),
    (0.0175, "V", "17.5 mV"),
    (0.0999, "V", "99.9 mV"),
    (0.1, "V", "0.1 V"),
    (0.3 - 0.2, "V", "0.1 V"),  # 0.09999999999999998
    (0.00005, "V", "0.05 mV"),
    (0.00004, "V", "0 V"),
    (4.1 - 4.1 + 1e-15, "V", "0 V"),
    (-1.5, "V", "-1.5 V"),
    (400.0, "V", "400 V"),
    (4.0571, "V/cell", "4.057 V/cell"),
    (4.1, "V/cell", "4.1 V/cell"),
    (3.0, "V/cell", "3 V/cell"),
    (-12.34, "°C", "-12.3 °C"),
    (20.0, "°C", "20 °C"),
    (5.0, "K", "5 K"),
    (0.005, "V/K", "0.005 V/K"),
    (0.0234, "Ω", "23.4 mΩ"),
    (0.000504, "Ω", "0.504 mΩ"),
    (10_000.0, "Ω", "10000 Ω"),
    (33_000.0, "Ω", "33 kΩ"),
    (500_000.0, "Ω", "500 kΩ"),
    (1e6, "Ω", "1 MΩ"),
    (2.5, "Ω", "2.5 Ω"),
    (1.0, "Ω", "1 Ω"),
    (2.0, "F", "2 F"),
    (0.02, "F", "20 mF"),
    (0.00022, "F", "220 µF"),
    (9_999.0, "W", "9999 W"),
    (12_400.0, "W", "12.4 kW"),
    (45.0, "W", "45 W"),
    (999.0, "Wh", "999 Wh"),
    (14_800.0, "Wh", "14.8 kWh"),
    (60.0, "A", "60 A"),
    (24_300.0, "A", "24.3 kA"),
    (-20_000.0, "A", "-20 kA"),
    (66.25, "Ah", "66.25 Ah"),
    (0.2, "", "20 %"),
    (0.005, "", "0.5 %"),
    (1.25, "", "125 %"),
    (5.0, "s", "5 s"),
    (600.0, "s", "10 min"),
    (7200.0, "s", "2 h"),
    (1.2, "m", "1.2 m"),
    (14.0, COUNT, "14"),
    (math.nan, "V", "nan V"),
    (math.inf, "A", "inf A"),
    (math.nan, "", "nan"),
]


@pytest.mark.parametrize(("value", "unit", "said"), SAID, ids=[s[2] for s in SAID])
def test_say(value: float, unit: str, said: str) -> None:
    assert say(value, unit) == said


ABOUT = [
    # Between, unit, and how it is said; the step is 1 or 5 times a power of ten, no wider than
    # the band, and no finer than two digits of the higher end.
    (5_400.0, 8_400.0, "Wh", "about 5 to 8 kWh"),  # 3 kWh wide: whole kWh
    (6_400.0, 7_100.0, "Wh", "about 6.5 to 7 kWh"),  # 0.7 kWh wide: halves
    (6_420.0, 6_710.0, "Wh", "about 6.4 to 6.7 kWh"),  # 0.29 kWh wide: tenths
    (11_510.0, 11_570.0, "Wh", "about 12 kWh"),  # tenths would be three digits
    (8_670.0, 8_670.0, "Wh", "about 8.7 kWh"),
    (490.0, 2_850.0, "Wh", "up to about 3 kWh"),
    (0.0, 2_850.0, "Wh", "up to about 3 kWh"),
    (612.0, 655.0, "Wh", "about 610 to 660 Wh"),
    (0.62, 0.78, "", "about 60 to 80 %"),
    (40.0, 62.0, "V", "about 40 to 60 V"),
    (0.0, 0.0, "Wh", "0 Wh"),
    (1.0, math.nan, "Wh", "nan Wh"),
    (math.nan, 1.0, "Wh", "1 Wh"),
]


@pytest.mark.parametrize(("low", "high", "unit", "said"), ABOUT)
def test_a_band_has_no_more_digits_than_its_width_leaves(
    low: float, high: float, unit: str, said: str
) -> None:
    assert about(low, high, unit) == said


@pytest.mark.parametrize(
    ("value", "digits", "written"),
    [
        (56.8, 4, "56.8"),
        (0.002341, 3, "0.00234"),
        (24_300.0, 3, "24300"),  # whole figures are never cut off
        (1250.0, 3, "1250"),
        (9.9996, 4, "10"),
        (1e-12, 4, "0"),
        (-1e-12, 4, "0"),
        (0.0, 4, "0"),
        (-0.0, 4, "0"),
        (-3.25, 3, "-3.25"),
        (math.inf, 4, "inf"),
    ],
)
def test_number(value: float, digits: int, written: str) -> None:
    assert number(value, digits) == written


UNITS = sorted({kind.unit for kind in KINDS} | {"V/cell", "K", COUNT})
PER_WRITTEN = {"mΩ": 1e3, "mF": 1e3, "µF": 1e6, "kW": 1e-3, "kWh": 1e-3, "kA": 1e-3, "%": 1e2}
PER_WRITTEN |= {"mV": 1e3, "%/K": 1e2, "kA²s": 1e-3, "kJ": 1e-3, "µH/m": 1e6, "mm": 1e3, "ms": 1e3}
PER_WRITTEN |= {"h": 1 / 3600, "min": 1 / 60, "kΩ": 1e-3, "MΩ": 1e-6}
HALF_OF_THE_LAST_DIGIT = {"V": 0.005, "V/cell": 0.0005, "°C": 0.05, "K": 0.05, "V/K": 0.0005}


@given(st.floats(-1e6, 1e6), st.sampled_from(UNITS))
def test_what_is_written_is_the_value_to_its_digits(value: float, unit: str) -> None:
    assume(abs(value) >= 1e-4 or unit in HALF_OF_THE_LAST_DIGIT)
    found = re.fullmatch(r"(-?\d+(?:\.\d+)?)(?: (\S+))?", say(value, unit))
    assert found, "no exponent, no bare point"
    assert not re.search(r"\.\d*0$", found[1]), "no trailing zeros"
    back = float(found[1]) / PER_WRITTEN.get(found[2] or "", 1.0)
    half = HALF_OF_THE_LAST_DIGIT.get(unit)
    if half is not None:
        assert back == pytest.approx(value, abs=half * 1.001, rel=1e-12)
    else:
        assert back == pytest.approx(value, rel=0.005001)  # three digits


@pytest.mark.parametrize(
    ("value", "unit", "up", "down"),
    [
        (11432.0, "A", "11.5 kA", "11.4 kA"),
        (119.96, "A", "120 A", "119 A"),
        (120.0, "A", "120 A", "120 A"),
        (58.800000000000004, "V", "58.8 V", "58.8 V"),  # 14 · 4.2 V: binary dust
        (58.81, "V", "58.9 V", "58.8 V"),
        (0.0, "A", "0 A", "0 A"),
        (1e-310, "A", "0 A", "0 A"),
        (0.01751, "V", "17.6 mV", "17.5 mV"),
        (math.inf, "A", "inf A", "inf A"),
    ],
)
def test_a_bound_is_written_to_its_safe_side(value: float, unit: str, up: str, down: str) -> None:
    assert (say_up(value, unit), say_down(value, unit)) == (up, down)


_FACTOR = {"kA": 1e3, "mV": 1e-3, "ms": 1e-3, "min": 60.0, "h": 3600.0, "mm": 1e-3, "mΩ": 1e-3}
_FACTOR |= {"kA²s": 1e3, "%": 1e-2, "kΩ": 1e3, "MΩ": 1e6}


@given(
    value=st.floats(1e-3, 1e6),
    unit=st.sampled_from(("V", "A", "s", "m", "Ω", "A²s", "", "mm²", COUNT)),
)
def test_a_bound_read_back_lies_on_its_safe_side(value: float, unit: str) -> None:
    def read_back(text: str) -> float:
        amount, _, written = text.partition(" ")
        return float(amount) * _FACTOR.get(written, 1.0)

    dust = 1 + 1e-5
    assert read_back(say_up(value, unit)) * dust >= value
    assert read_back(say_down(value, unit)) <= value * dust
