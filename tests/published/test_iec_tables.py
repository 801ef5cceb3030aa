"""Published: tables of IEC 60228, IEC 60364-5-52 and DIN 43671, seen in reprints only.

Every table is held against cells typed anew, its first and its last row among them.
"""

import math
from itertools import pairwise

import pytest

from evpack.load.conductors import busbar, conductor
from evpack.load.tables import table

HALF_A_DIGIT = 0.005


def cell(name: str, key_column: str, key: str, column: str) -> float:
    held = table(name)
    return held.numbers(column)[held.texts(key_column).index(key)]


# --- IEC 60228:2004, Tables 2 and 3: resistance at 20 °C --------------------------------------


@pytest.mark.parametrize(
    ("area", "class_2", "class_5"),
    [
        ("0.5", 36.0, 39.0),
        ("1.5", 12.1, 13.3),
        ("6", 3.08, 3.30),
        ("16", 1.15, 1.21),
        ("35", 0.524, 0.554),
        ("50", 0.387, 0.386),
        ("70", 0.268, 0.272),
        ("120", 0.153, 0.161),
        ("240", 0.0754, 0.0801),
        ("630", 0.0283, 0.0287),
    ],
)
def test_iec_60228(area: str, class_2: float, class_5: float) -> None:
    for name, printed in (("class 2", class_2), ("class 5", class_5)):
        assert cell("iec_60228", "area [mm2]", area, f"{name} plain at 20 degC [Ohm/km]") == printed


@pytest.mark.parametrize(("area", "tinned"), [("0.5", 40.1), ("70", 0.277), ("630", 0.0292)])
def test_iec_60228_tinned(area: str, tinned: float) -> None:
    assert cell("iec_60228", "area [mm2]", area, "class 5 tinned at 20 degC [Ohm/km]") == tinned


# --- IEC 60364-5-52:2009, two loaded copper conductors, 30 °C ---------------------------------

# Area [mm²]; PVC at 70 °C by methods B1, C, F; XLPE at 90 °C by the same [A]. None: no value.
AMPACITY = [
    ("1.5", 17.5, 19.5, None, 23, 24, None),
    ("4", 32, 36, None, 42, 45, None),
    ("10", 57, 63, None, 75, 80, None),
    ("16", 76, 85, None, 100, 107, None),
    ("25", 101, 112, 131, 133, 138, 161),
    ("35", 125, 138, 162, 164, 171, 200),
    ("50", 151, 168, 196, 198, 209, 242),
    ("70", 192, 213, 251, 253, 269, 310),
    ("95", 232, 258, 304, 306, 328, 377),
    ("120", 269, 299, 352, 354, 382, 437),
    ("300", 458, 530, 629, 603, 693, 783),
]


@pytest.mark.parametrize("row", AMPACITY, ids=lambda row: f"{row[0]} mm2")
def test_iec_60364_5_52_ampacity(row: tuple[str, *tuple[float | None, ...]]) -> None:
    area, *values = row
    headings = [
        f"{insulation} {method} at {column} degC [A]"
        for insulation, column in (("PVC", 70), ("XLPE", 90))
        for method in ("B1", "C", "F")
    ]
    for heading, printed in zip(headings, values, strict=True):
        held = cell("iec_60364_5_52_copper", "area [mm2]", area, heading)
        if printed is None:
            assert math.isnan(held)
        else:
            assert held == printed


def test_in_conduit_carries_least_and_in_free_air_most() -> None:
    held = table("iec_60364_5_52_copper")
    for insulation in ("PVC", "XLPE"):
        column = {"PVC": 70, "XLPE": 90}[insulation]
        b1, c, f = (
            held.numbers(f"{insulation} {method} at {column} degC [A]")
            for method in ("B1", "C", "F")
        )
        for conduit, clipped, free in zip(b1, c, f, strict=True):
            assert conduit < clipped
            assert math.isnan(free) or clipped < free


# --- Table B.52.14: ambient -------------------------------------------------------------------


@pytest.mark.parametrize(
    ("upto", "pvc", "xlpe"),
    [
        ("10", 1.22, 1.15),
        ("20", 1.12, 1.08),
        ("25", 1.06, 1.04),
        ("30", 1.00, 1.00),
        ("35", 0.94, 0.96),
        ("40", 0.87, 0.91),
        ("50", 0.71, 0.82),
        ("60", 0.50, 0.71),
        ("65", None, 0.65),
        ("80", None, 0.41),
    ],
)
def test_iec_b_52_14(upto: str, pvc: float | None, xlpe: float) -> None:
    name = "iec_60364_5_52_ambient"
    held = cell(name, "ambient up to [degC]", upto, "at 70 degC [1]")
    assert math.isnan(held) if pvc is None else held == pvc
    assert cell(name, "ambient up to [degC]", upto, "at 90 degC [1]") == xlpe


def test_iec_b_52_14_follows_the_physics_in_every_row() -> None:
    """What is left to warm by: √((T − ambient) / (T − 30)), half a printed digit."""
    held = table("iec_60364_5_52_ambient")
    for column in (70, 90):
        for upto, factor in zip(
            held.numbers("ambient up to [degC]"),
            held.numbers(f"at {column} degC [1]"),
            strict=True,
        ):
            if not math.isnan(factor):
                by_physics = math.sqrt((column - upto) / (column - 30))
                assert factor == pytest.approx(by_physics, abs=HALF_A_DIGIT)


# --- Table B.52.17, item 1: circuits bunched --------------------------------------------------


@pytest.mark.parametrize(
    ("circuits", "factor"),
    [
        (1, 1.00),
        (2, 0.80),
        (3, 0.70),
        (4, 0.65),
        (5, 0.60),
        (6, 0.57),
        (7, 0.54),
        (8, 0.52),
        (9, 0.50),
        (12, 0.45),
        (16, 0.41),
        (20, 0.38),
    ],
)
def test_iec_b_52_17(circuits: int, factor: float) -> None:
    assert cell("iec_60364_5_52_grouping", "circuits [1]", str(circuits), "factor [1]") == factor
    cable = conductor("50 mm2", rules="iec", method="C", ambient="30 degC", circuits=circuits)
    assert cable.ampacity == pytest.approx(168 * factor)


def test_am3_both_factors_on_one_cable() -> None:
    """A text on cable sizing (seen second hand): 32 A at 0.87 and 0.80 needs 46 A in the table."""
    plain = conductor("10 mm2", rules="iec", method="C")
    laid = conductor("10 mm2", rules="iec", method="C", ambient="40 degC", circuits=2)
    assert 32 / (laid.ampacity / plain.ampacity) == pytest.approx(45.977, abs=0.0005)


# --- 523.1 (from memory): 90 °C insulation on terminals of 70 °C -------------------------------


@pytest.mark.parametrize(
    ("size", "how", "allowed"),
    [
        # Table value of PVC at 70 °C, times its own factor of B.52.14, worked by hand [A].
        ("16 mm2", {"method": "B1", "ambient": "40 degC"}, 66.12),  # 76 · 0.87
        ("16 mm2", {"method": "B1", "ambient": "50 degC"}, 53.96),  # 76 · 0.71
        ("35 mm2", {"method": "C", "ambient": "35 degC"}, 129.72),  # 138 · 0.94
        ("70 mm2", {"method": "F", "ambient": "45 degC"}, 198.29),  # 251 · 0.79
        ("120 mm2", {"method": "C", "ambient": "30 degC"}, 299.0),  # nothing to correct
        ("50 mm2", {"ambient": "40 degC", "circuits": 2}, 105.096),  # B1: 151 · 0.87 · 0.8
        ("95 mm2", {"method": "B1", "ambient": "60 degC"}, 116.0),  # 232 · 0.50
    ],
)
def test_terminals_of_70_degrees_take_the_table_of_70_degrees(
    size: str, how: dict[str, object], allowed: float
) -> None:
    """Read or not, and marked for 75 °C, which no column of IEC is: all are held to 70 °C."""
    for terminals in (None, 70, 75):
        cable = conductor(size, rules="iec", column=90, terminals=terminals, **how)
        assert cable.ampacity == pytest.approx(allowed)
        assert "held to the 70 degC column" in cable.conditions
    # So a better insulation earns nothing there: the cable of PVC carries as much.
    plain = conductor(size, rules="iec", column=70, **how)
    assert plain.ampacity == pytest.approx(allowed)


def test_terminals_of_90_degrees_let_the_insulation_earn_its_own_table() -> None:
    """Worked by hand: 16 mm², XLPE, B1 at 40 °C: 100 A · 0.91 = 91 A."""
    cable = conductor(
        "16 mm2", rules="iec", column=90, terminals=90, method="B1", ambient="40 degC"
    )
    assert cable.ampacity == pytest.approx(91.0)
    assert "held to" not in cable.conditions


def test_at_that_current_the_metal_is_at_70_degrees() -> None:
    """By physics: the rise of 90 °C insulation at the current allowed ends at 70 °C or so.

    16 mm² of XLPE by B1 rises by 60 K at 100 A. At 66.12 A it rises by 60 · (66.12 / 100)² =
    26.2 K, so at 40 °C the metal is at 66 °C; at the 76 A of the bare table it would be at 74.7 °C.
    """
    allowed = conductor("16 mm2", rules="iec", column=90, method="B1", ambient="40 degC").ampacity
    assert 60 < 40 + 60 * (allowed / 100) ** 2 < 70
    assert 40 + 60 * (76 / 100) ** 2 > 70


# --- DIN 43671: bare copper bars, air at 35 °C, bar at 65 °C ----------------------------------


@pytest.mark.parametrize(
    ("width", "thickness", "printed"),
    [
        (15, 3, 162),
        (20, 3, 204),
        (20, 5, 274),
        (25, 5, 327),
        (30, 5, 379),
        (40, 5, 482),
        (30, 10, 573),
        (50, 5, 583),
        (40, 10, 715),
        (60, 10, 985),
        (80, 10, 1240),
        (100, 10, 1490),
    ],
)
def test_din_43671(width: int, thickness: int, printed: float) -> None:
    bar = busbar(f"{width} mm", f"{thickness} mm", length="1 m", enclosed=False)
    assert bar.carries is not None
    assert bar.carries.m == printed


def test_din_43671_a_thicker_bar_is_worse_for_its_copper() -> None:
    """More copper carries more, and less for each mm²: its skin grows more slowly."""
    held = table("din_43671_copper")
    rows = sorted(
        zip(
            held.numbers("thickness [mm]"),
            held.numbers("width [mm]"),
            held.numbers("carries [A]"),
            strict=True,
        )
    )
    for (t1, w1, a1), (t2, w2, a2) in pairwise(rows):
        if t1 == t2:
            assert a1 < a2
            assert a1 / (t1 * w1) > a2 / (t2 * w2)
