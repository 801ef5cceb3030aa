"""Published: tables of the NEC (NFPA 70, editions 2020 and 2023), seen in reprints only.

Every table is held against cells typed anew, its first and its last row among them. 110.14(C) is
from memory.
"""

import math

import pytest

from evpack.load.conductors import conductor
from evpack.load.tables import cold_factors, fuse_catalogue, table

HALF_A_DIGIT = 0.005


def cell(name: str, key_column: str, key: str, column: str) -> float:
    held = table(name)
    return held.numbers(column)[held.texts(key_column).index(key)]


# --- 310.16: ampacities of copper, 30 °C ------------------------------------------------------


@pytest.mark.parametrize(
    ("size", "at_60", "at_75", "at_90"),
    [
        ("14 AWG", 15, 20, 25),
        ("12 AWG", 20, 25, 30),
        ("10 AWG", 30, 35, 40),
        ("8 AWG", 40, 50, 55),
        ("6 AWG", 55, 65, 75),
        ("4 AWG", 70, 85, 95),
        ("2 AWG", 95, 115, 130),
        ("1 AWG", 110, 130, 145),
        ("1/0 AWG", 125, 150, 170),
        ("2/0 AWG", 145, 175, 195),
        ("4/0 AWG", 195, 230, 260),
        ("250 kcmil", 215, 255, 290),
        ("500 kcmil", 320, 380, 430),
        ("1000 kcmil", 455, 545, 615),
        ("2000 kcmil", 555, 665, 750),
    ],
)
def test_310_16_copper(size: str, at_60: float, at_75: float, at_90: float) -> None:
    for column, printed in ((60, at_60), (75, at_75), (90, at_90)):
        assert cell("nec_310_16_copper", "size", size, f"at {column} degC [A]") == printed


def test_310_16_holds_nothing_else() -> None:
    names = table("nec_310_16_copper").texts("size")
    assert (names[0], names[-1], len(names)) == ("14 AWG", "2000 kcmil", 28)


# --- 310.15(B)(1): ambient --------------------------------------------------------------------

# Ambient up to [°C], factors of the columns of 60, 75 and 90 °C; None: not to be used there.
AMBIENT = [
    (10, 1.29, 1.20, 1.15),
    (15, 1.22, 1.15, 1.12),
    (25, 1.08, 1.05, 1.04),
    (30, 1.00, 1.00, 1.00),
    (35, 0.91, 0.94, 0.96),
    (40, 0.82, 0.88, 0.91),
    (45, 0.71, 0.82, 0.87),
    (50, 0.58, 0.75, 0.82),
    (55, 0.41, 0.67, 0.76),
    (60, None, 0.58, 0.71),
    (70, None, 0.33, 0.58),
    (75, None, None, 0.50),
    (85, None, None, 0.29),
]


@pytest.mark.parametrize(("upto", "at_60", "at_75", "at_90"), AMBIENT)
def test_310_15_b1(
    upto: int, at_60: float | None, at_75: float | None, at_90: float | None
) -> None:
    for column, printed in ((60, at_60), (75, at_75), (90, at_90)):
        held = cell(
            "nec_310_15_b1_ambient", "ambient up to [degC]", str(upto), f"at {column} degC [1]"
        )
        if printed is None:
            assert math.isnan(held)
        else:
            assert held == printed


def test_310_15_b1_follows_its_equation_at_the_end_of_every_row() -> None:
    """The equation behind the table: √((T − ambient) / (T − 30)), half a printed digit."""
    held = table("nec_310_15_b1_ambient")
    for column in (60, 75, 90):
        for upto, factor in zip(
            held.numbers("ambient up to [degC]"),
            held.numbers(f"at {column} degC [1]"),
            strict=True,
        ):
            if not math.isnan(factor):
                by_equation = math.sqrt((column - upto) / (column - 30))
                assert factor == pytest.approx(by_equation, abs=HALF_A_DIGIT)


def test_am2_the_equation_at_55_degrees() -> None:
    """A published example (NEC equation): √((90 − 55) / (90 − 30)), printed 0.76."""
    held = cell("nec_310_15_b1_ambient", "ambient up to [degC]", "55", "at 90 degC [1]")
    assert held == pytest.approx(0.76376, abs=HALF_A_DIGIT)


def test_am1_a_90_degree_conductor_at_55_degrees() -> None:
    """A published example: 12 AWG, 30 A in the 90 °C column, times 0.76, is 22.8 A."""
    at_90 = cell("nec_310_16_copper", "size", "12 AWG", "at 90 degC [A]")
    factor = cell("nec_310_15_b1_ambient", "ambient up to [degC]", "55", "at 90 degC [1]")
    assert at_90 * factor == pytest.approx(22.8)
    # Of that, 240.4(D) lets a fuse guard no more than 20 A.
    cable = conductor("12 AWG", column=90, terminals=75, ambient="55 degC")
    assert cable.ampacity == 20


# --- 310.15(C)(1): more than three current-carrying conductors --------------------------------


@pytest.mark.parametrize(
    ("least", "most", "factor"),
    [
        ("4", "6", 0.80),
        ("7", "9", 0.70),
        ("10", "20", 0.50),
        ("21", "30", 0.45),
        ("31", "40", 0.40),
        ("41", "", 0.35),
    ],
)
def test_310_15_c1(least: str, most: str, factor: float) -> None:
    name = "nec_310_15_c1_adjustment"
    assert cell(name, "conductors from [1]", least, "factor [1]") == factor
    held = table(name)
    assert held.texts("conductors to [1]")[held.texts("conductors from [1]").index(least)] == most


@pytest.mark.parametrize(
    ("circuits", "printed"),
    [(1, 1), (2, 0.8), (3, 0.8), (4, 0.7), (5, 0.5), (10, 0.5), (11, 0.45), (15, 0.45), (16, 0.4)],
)
def test_310_15_c1_counts_both_conductors_of_a_circuit(circuits: int, printed: float) -> None:
    cable = conductor("4/0 AWG", column=75, ambient="30 degC", circuits=circuits)
    assert cable.ampacity == pytest.approx(230 * printed)


# --- Chapter 9 Table 8: resistance at 75 °C ---------------------------------------------------


@pytest.mark.parametrize(
    ("size", "area", "ohm_per_kft"),
    [
        ("18 AWG", 0.82, 7.95),
        ("14 AWG", 2.08, 3.14),
        ("8 AWG", 8.37, 0.778),
        ("6 AWG", 13.30, 0.491),
        ("2 AWG", 33.63, 0.194),
        ("1/0 AWG", 53.51, 0.122),
        ("2/0 AWG", 67.44, 0.0967),
        ("4/0 AWG", 107.22, 0.0608),
        ("250 kcmil", 126.68, 0.0515),
        ("500 kcmil", 253.35, 0.0258),
        ("2000 kcmil", 1013.41, 0.00643),
    ],
)
def test_chapter_9_table_8(size: str, area: float, ohm_per_kft: float) -> None:
    held = table("nec_ch9_t8")
    row = [
        i
        for i, (name, strands) in enumerate(
            zip(held.texts("size"), held.numbers("strands [1]"), strict=True)
        )
        if name == size and strands > 1
    ]
    assert [held.numbers("area [mm2]")[i] for i in row] == [area]
    assert [held.numbers("uncoated at 75 degC [Ohm/kft]")[i] for i in row] == [ohm_per_kft]


@pytest.mark.parametrize(("size", "printed"), [("2 AWG", 0.194), ("4/0 AWG", 0.0608)])
def test_a_conductor_takes_its_resistance_from_table_8(size: str, printed: float) -> None:
    assert conductor(size).ohm_per_metre == pytest.approx(printed / 304.8, rel=1e-12)


def test_vd1_the_drop_of_a_two_wire_run() -> None:
    """Electrician training text: 16 AWG stranded, 100 ft one way, 4 A: printed 4.0 V of 24 V."""
    held = table("nec_ch9_t8")
    row = list(zip(held.texts("size"), held.texts("strands [1]"), strict=True)).index(
        ("16 AWG", "7")
    )
    ohm_per_kft = held.numbers("uncoated at 75 degC [Ohm/kft]")[row]
    drop = 2 * 0.1 * ohm_per_kft * 4
    assert drop == pytest.approx(3.992, abs=0.0005)
    assert drop == pytest.approx(4.0, abs=0.05)


# --- 240.6(A), 240.4, 110.14(C) ---------------------------------------------------------------


def test_240_6a_is_whole() -> None:
    """Table 240.6(A) and the fuse sizes of its text, all of them typed anew."""
    printed = "15 20 25 30 35 40 45 50 60 70 80 90 100 110 125 150 175 200 225 250 300 350 400 450"
    printed += " 500 600 700 800 1000 1200 1600 2000 2500 3000 4000 5000 6000"
    for_fuses_only = "1 3 6 10 601"
    sizes = sorted(float(size) for size in f"{printed} {for_fuses_only}".split())
    assert list(fuse_catalogue("nec").sizes) == sizes
    held = table("nec_240_6a")
    kinds = dict(zip(held.texts("rating [A]"), held.texts("kind"), strict=True))
    assert {size for size, kind in kinds.items() if kind == "fuse only"} == set(
        for_fuses_only.split()
    )


def test_oc1_the_next_size_up_for_2_awg() -> None:
    """240.4(B), a published example: 2 AWG at 75 °C carries 115 A, the next standard is 125 A."""
    ampacity = conductor("2 AWG", column=75).ampacity
    assert ampacity == 115
    assert min(s for s in fuse_catalogue("nec").sizes if s >= ampacity) == 125


@pytest.mark.parametrize(("size", "most"), [("14 AWG", 15), ("12 AWG", 20), ("10 AWG", 30)])
def test_240_4d_small_conductors(size: str, most: float) -> None:
    cable = conductor(size, column=90, terminals=75, ambient="30 degC")
    assert cable.ampacity == most
    assert cable.conditions.endswith(f"guarded at no more than {most} A as a small conductor")


@pytest.mark.parametrize(("size", "column"), [("8 AWG", 60), ("1 AWG", 60), ("1/0 AWG", 75)])
def test_110_14c_terminals_that_nobody_read(size: str, column: int) -> None:
    """From memory: up to 100 A, which is up to 1 AWG, the 60 °C column; above it that of 75 °C."""
    printed = cell("nec_310_16_copper", "size", size, f"at {column} degC [A]")
    assert conductor(size).ampacity == printed
    assert conductor(size, column=90).ampacity == printed


@pytest.mark.parametrize(
    ("how", "allowed"),
    [
        # 4/0 AWG: 260 A at 90 °C, 230 A at 75 °C. Worked by hand [A]:
        ({"ambient": "35 degC"}, 230.0),  # 260 · 0.96 = 249.6, held to the bare 230
        ({"ambient": "40 degC"}, 230.0),  # 260 · 0.91 = 236.6, held to 230, not to 230 · 0.88
        ({"ambient": "45 degC"}, 226.2),  # 260 · 0.87 = 226.2: now the place counts for more
        ({"ambient": "35 degC", "circuits": 2}, 199.68),  # 260 · 0.96 · 0.80
    ],
)
def test_110_14c_holds_to_a_column_without_correction(
    how: dict[str, object], allowed: float
) -> None:
    """From memory: insulation of 90 °C pays for heat and company, the terminals for the load."""
    cable = conductor("4/0 AWG", column=90, terminals=75, **how)
    assert cable.ampacity == pytest.approx(allowed)
    assert ("held to the 75 degC column" in cable.conditions) == (allowed == 230)


# --- 690.7(A): cold panels --------------------------------------------------------------------


@pytest.mark.parametrize(
    ("air", "factor"),
    [
        (20, 1.02),
        (15, 1.04),
        (10, 1.06),
        (5, 1.08),
        (0, 1.10),
        (-5, 1.12),
        (-10, 1.14),
        (-15, 1.16),
        (-20, 1.18),
        (-25, 1.20),
        (-30, 1.21),
        (-35, 1.23),
        (-40, 1.25),
    ],
)
def test_690_7a(air: float, factor: float) -> None:
    assert dict(cold_factors())[air] == factor
    assert len(cold_factors()) == 13


def test_pv3_the_factor_at_minus_10_fahrenheit() -> None:
    """A course on voltage design (seen second hand): −23.3 °C is in the row to −25 °C, 1.20."""
    air = (-10 - 32) / 1.8
    assert next(factor for coldest, factor in cold_factors() if air >= coldest) == 1.20
