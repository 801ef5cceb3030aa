"""How numbers are written: enough digits, the unit, never more. Expected texts by hand."""

import math
import re

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from evpack.base.units import KINDS
from evpack.base.wording import COUNT, number, say

SAID = [
    (56.8, "V", "56.8 V"),
    (56.836, "V", "56.84 V"),
    (48.0, "V", "48 V"),
    (0.0, "V", "0 V"),
    (-0.001, "V", "0 V"),
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
PER_WRITTEN |= {"h": 1 / 3600, "min": 1 / 60}
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
