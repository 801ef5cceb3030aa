"""Published: the physics of copper that all conductor tables must agree with.

ASTM B258 (sizes of AWG), IEC 60028 (resistance of copper) and IEC 60228, Annex (temperature),
seen in reprints; ICEA P-32-382 and IEC 60364-4-43 from memory.
"""

import math

import pytest

from evpack.load.conductors import conductor
from evpack.load.tables import table

# IEC 60028: annealed copper at 20 °C [Ω mm²/m], and its temperature coefficient [1/K].
RESISTIVITY = 0.017241
COEFFICIENT = 0.00393
WARM = 1 + COEFFICIENT * (75 - 20)


def awg_area(size: str) -> float:
    """ASTM B258: d = 0.127 mm · 92^((36 − n) / 39), and 2/0 is n = −1 [mm²]."""
    name = size.removesuffix(" AWG")
    number = 1 - int(name.removesuffix("/0")) if name.endswith("/0") else int(name)
    return math.pi / 4 * (0.127 * 92 ** ((36 - number) / 39)) ** 2


def table_8() -> list[tuple[str, float, float, float]]:
    """Return size, strands, area [mm²] and resistance at 75 °C [Ω/m] of every AWG row."""
    held = table("nec_ch9_t8")
    rows = zip(
        held.texts("size"),
        held.numbers("strands [1]"),
        held.numbers("area [mm2]"),
        held.numbers("uncoated at 75 degC [Ohm/kft]"),
        strict=True,
    )
    return [(size, n, area, ohms / 304.8) for size, n, area, ohms in rows if size.endswith("AWG")]


def test_aw1_the_step_from_one_size_to_the_next() -> None:
    """ASTM B258 (a cable handbook): the 39th root of 92, printed 1.122932."""
    assert math.sqrt(awg_area("4 AWG") / awg_area("5 AWG")) == pytest.approx(1.122932, abs=5e-7)


@pytest.mark.parametrize(
    ("size", "millimetres"),
    [("18 AWG", 1.0237), ("10 AWG", 2.5882), ("1/0 AWG", 8.2515), ("4/0 AWG", 11.684)],
)
def test_astm_b258_diameters(size: str, millimetres: float) -> None:
    assert math.sqrt(4 / math.pi * awg_area(size)) == pytest.approx(millimetres, abs=5e-5)


ROWS = table_8()
STRANDED = [row for row in ROWS if row[1] > 1]
SOLID = [row for row in ROWS if row[1] == 1]


def test_there_is_a_stranded_row_from_18_awg_to_4_0() -> None:
    names = [size for size, *_ in STRANDED]
    assert (names[0], names[-1], len(names)) == ("18 AWG", "4/0 AWG", 15)


@pytest.mark.parametrize("row", STRANDED, ids=lambda row: row[0])
def test_table_8_is_stranded_copper_of_astm_b258_size(row: tuple[str, float, float, float]) -> None:
    size, _, area, ohm_per_metre = row
    assert area == pytest.approx(awg_area(size), rel=5e-3)
    ideal = RESISTIVITY * WARM / awg_area(size)
    # The lay makes the wires 2 % longer than the conductor (ASTM B8, from memory).
    assert ohm_per_metre == pytest.approx(1.02 * ideal, rel=0.01)
    assert ohm_per_metre > ideal


@pytest.mark.parametrize("row", SOLID, ids=lambda row: row[0])
def test_table_8_is_solid_copper_of_astm_b258_size(row: tuple[str, float, float, float]) -> None:
    size, _, _, ohm_per_metre = row
    assert ohm_per_metre == pytest.approx(RESISTIVITY * WARM / awg_area(size), rel=5e-3)


def test_iec_60228_against_ideal_copper() -> None:
    """A largest resistance must lie above ideal copper of that area, and not far above."""
    held = table("iec_60228")
    for area, ohms in zip(
        held.numbers("area [mm2]"),
        held.numbers("class 5 plain at 20 degC [Ohm/km]"),
        strict=True,
    ):
        assert 1.04 < ohms / (1000 * RESISTIVITY / area) < 1.18


def test_cu1_warming_up_iec_60228() -> None:
    """IEC 60228 prints 0.820 as the factor from 75 °C back to 20 °C; 254.5 / 309.5 is 0.82229."""
    cold = table("iec_60228")
    row = cold.texts("area [mm2]").index("50")
    at_20 = cold.numbers("class 5 plain at 20 degC [Ohm/km]")[row] / 1000
    at_75 = conductor("50 mm2", rules="iec").ohm_per_metre
    assert at_20 / at_75 == pytest.approx(0.82229, abs=5e-6)
    assert at_20 / at_75 == pytest.approx(0.820, abs=0.0025)
    assert at_75 / at_20 == pytest.approx(WARM, rel=1e-3)


@pytest.mark.parametrize(
    ("rules", "column", "ends_at"),
    [("iec", 70, 160), ("iec", 90, 250), ("nec", 60, 150), ("nec", 75, 150), ("nec", 90, 150)],
)
def test_what_a_conductor_withstands(rules: str, column: int, ends_at: int) -> None:
    """IEC 60364-4-43 (from memory): k = 226 √(ln(1 + (θf − θi) / (234.5 + θi))) of copper.

    PVC from 70 to 160 °C, XLPE from 90 to 250 °C; thermoplastic to 150 °C by ICEA P-32-382 (from
    memory). Ours is what is printed, or rounded down.
    """
    k = 226 * math.sqrt(math.log(1 + (ends_at - column) / (234.5 + column)))
    held = conductor("4/0 AWG", rules=rules, column=column).withstand
    assert k - 2 < held <= k + 0.5


@pytest.mark.parametrize(("column", "printed"), [(75, 104.5), (90, 92.4)])
def test_what_thermoplastic_withstands(column: int, printed: float) -> None:
    """ICEA P-32-382 (from memory): I²t / A² = 0.0297 log10((T2 + 234) / (T1 + 234)), circular mils.

    Worked by hand for 75 to 150 °C: 0.0297 · log10(384 / 309) = 0.0028028; its root over
    5.067e-4 mm² a circular mil is 104.5 A √s/mm²; for 90 to 150 °C 92.4.
    """
    k = math.sqrt(0.0297 * math.log10((150 + 234) / (column + 234))) / 5.067e-4
    assert k == pytest.approx(printed, abs=0.05)
    assert conductor("4/0 AWG", column=column).withstand == math.floor(k)
