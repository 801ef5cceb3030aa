"""Published: cells of the conductor and fuse tables, and the physics that they must agree with.

All of these documents were seen in reprints only (``seen = "copy"`` in data/sources.toml), the
preferred sizes of IEC 60269 not at all.
"""

import math

import pytest

from evpack.load.tables import conductor, fuse_catalogue, table

# IEC 60028: annealed copper at 20 degC [Ω mm²/m], and its temperature coefficient [1/K].
RESISTIVITY = 0.017241
COEFFICIENT = 0.00393
WARM = 1 + COEFFICIENT * (75 - 20)


def lookup(name: str, key_column: str, key: str, column: str) -> float:
    held = table(name)
    return held.numbers(column)[held.texts(key_column).index(key)]


@pytest.mark.parametrize(
    ("size", "at_60", "at_75", "at_90"),
    [
        ("14 AWG", 15, 20, 25),
        ("4 AWG", 70, 85, 95),
        ("2 AWG", 95, 115, 130),
        ("2/0 AWG", 145, 175, 195),
        ("4/0 AWG", 195, 230, 260),
        ("500 kcmil", 320, 380, 430),
    ],
)
def test_nec_310_16_copper(size: str, at_60: float, at_75: float, at_90: float) -> None:
    for column, printed in ((60, at_60), (75, at_75), (90, at_90)):
        held = lookup("nec_310_16_copper", "size", size, f"at {column} degC [A]")
        assert held == printed


@pytest.mark.parametrize(
    ("upto", "at_60", "at_75", "at_90"),
    [("25", 1.08, 1.05, 1.04), ("40", 0.82, 0.88, 0.91), ("55", 0.41, 0.67, 0.76)],
)
def test_nec_310_15_b1(upto: str, at_60: float, at_75: float, at_90: float) -> None:
    """The equation behind the table, sqrt((T - ambient) / (T - 30)), agrees at each row's end."""
    for column, printed in ((60, at_60), (75, at_75), (90, at_90)):
        held = lookup(
            "nec_310_15_b1_ambient", "ambient up to [degC]", upto, f"at {column} degC [1]"
        )
        assert held == printed
        assert held == pytest.approx(math.sqrt((column - float(upto)) / (column - 30)), abs=0.005)


@pytest.mark.parametrize(
    ("size", "ohm_per_kft"),
    [("2 AWG", 0.194), ("2/0 AWG", 0.0967), ("4/0 AWG", 0.0608), ("250 kcmil", 0.0515)],
)
def test_nec_chapter_9_table_8(size: str, ohm_per_kft: float) -> None:
    assert conductor(size).ohm_per_metre == pytest.approx(ohm_per_kft / 304.8, rel=1e-12)


def awg_area(number: int) -> float:
    """ASTM B258: d = 0.127 mm · 92^((36 − n) / 39)."""
    return math.pi / 4 * (0.127 * 92 ** ((36 - number) / 39)) ** 2


@pytest.mark.parametrize(
    ("size", "number"),
    [
        ("8 AWG", 8),
        ("6 AWG", 6),
        ("4 AWG", 4),
        ("2 AWG", 2),
        ("1 AWG", 1),
        ("1/0 AWG", 0),
        ("2/0 AWG", -1),
        ("3/0 AWG", -2),
        ("4/0 AWG", -3),
    ],
)
def test_table_8_is_copper_of_astm_b258_size(size: str, number: int) -> None:
    cable = conductor(size)
    assert cable.area == pytest.approx(awg_area(number), rel=2e-3)
    ideal = RESISTIVITY * WARM / awg_area(number)
    # Stranding lengthens the wire: up to 2 % above a solid one, and never below it.
    assert 1.0 <= cable.ohm_per_metre / ideal <= 1.03
    assert cable.ohm_per_metre == pytest.approx(ideal * 1.015, rel=0.02)


@pytest.mark.parametrize(
    ("area", "class_2", "class_5"),
    [("16", 1.15, 1.21), ("35", 0.524, 0.554), ("70", 0.268, 0.272), ("120", 0.153, 0.161)],
)
def test_iec_60228(area: str, class_2: float, class_5: float) -> None:
    for name, printed in (("class 2", class_2), ("class 5", class_5)):
        held = lookup("iec_60228", "area [mm2]", area, f"{name} plain at 20 degC [Ohm/km]")
        assert held == printed


def test_iec_60228_against_ideal_copper() -> None:
    """A largest resistance must lie above ideal copper of that area, and not far above."""
    held = table("iec_60228")
    for area, ohms in zip(
        held.numbers("area [mm2]"),
        held.numbers("class 5 plain at 20 degC [Ohm/km]"),
        strict=True,
    ):
        assert 1.04 < ohms / (1000 * RESISTIVITY / area) < 1.18


def test_warming_up_iec_60228() -> None:
    """IEC 60228 prints 0.820 as the factor from 75 degC back to 20 degC; half a digit."""
    cold = lookup("iec_60228", "area [mm2]", "50", "class 5 plain at 20 degC [Ohm/km]") / 1000
    warm = conductor("50 mm2", rules="iec").ohm_per_metre
    assert cold / warm == pytest.approx(0.820, abs=0.0025)
    assert warm / cold == pytest.approx(WARM, rel=1e-3)


@pytest.mark.parametrize(
    ("area", "pvc", "xlpe"),
    [("16", 85, 107), ("35", 138, 171), ("70", 213, 269), ("120", 299, 382)],
)
def test_iec_60364_5_52_method_c_two_loaded(area: str, pvc: float, xlpe: float) -> None:
    assert lookup("iec_60364_5_52_copper", "area [mm2]", area, "at 70 degC [A]") == pvc
    assert lookup("iec_60364_5_52_copper", "area [mm2]", area, "at 90 degC [A]") == xlpe


def test_iec_b_52_14() -> None:
    for upto, pvc, xlpe in (("25", 1.06, 1.04), ("40", 0.87, 0.91), ("60", 0.50, 0.71)):
        name = "iec_60364_5_52_ambient"
        assert lookup(name, "ambient up to [degC]", upto, "at 70 degC [1]") == pvc
        assert lookup(name, "ambient up to [degC]", upto, "at 90 degC [1]") == xlpe


def test_nec_240_6a() -> None:
    sizes = fuse_catalogue("nec").sizes
    for printed in (15, 60, 70, 110, 125, 150, 175, 225, 450, 601, 6000):
        assert printed in sizes
    for absent in (55, 120, 160, 325):
        assert absent not in sizes


def test_next_size_up_for_2_awg() -> None:
    """A published worked example: 2 AWG at 75 degC carries 115 A, the next standard is 125 A."""
    ampacity = conductor("2 AWG", column=75).ampacity
    assert ampacity == 115
    assert min(s for s in fuse_catalogue("nec").sizes if s >= ampacity) == 125


def test_a_90_degree_conductor_at_55_degrees() -> None:
    """A published worked example: 12 AWG, 30 A in the 90 degC column, times 0.76, is 22.8 A."""
    at_90 = lookup("nec_310_16_copper", "size", "12 AWG", "at 90 degC [A]")
    factor = lookup("nec_310_15_b1_ambient", "ambient up to [degC]", "55", "at 90 degC [1]")
    assert at_90 * factor == pytest.approx(22.8)
    # Of that, 240.4(D) lets a fuse guard no more than 20 A.
    assert conductor("12 AWG", column=90, ambient="55 degC").ampacity == 20


@pytest.mark.parametrize(("size", "most"), [("14 AWG", 15), ("12 AWG", 20), ("10 AWG", 30)])
def test_nec_240_4d_small_conductors(size: str, most: float) -> None:
    cable = conductor(size, column=90, ambient="30 degC")
    assert cable.ampacity == most
    assert cable.conditions.endswith(f"guarded at no more than {most} A as a small conductor")


@pytest.mark.parametrize(("size", "column"), [("8 AWG", 60), ("1 AWG", 60), ("1/0 AWG", 75)])
def test_nec_110_14c_terminals_that_nobody_read(size: str, column: int) -> None:
    """Up to 100 A, which is up to 1 AWG, the 60 degC column; above it that of 75 degC."""
    printed = lookup("nec_310_16_copper", "size", size, f"at {column} degC [A]")
    assert conductor(size).ampacity == printed
