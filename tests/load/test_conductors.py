"""Conductors from the tables: what they carry where and as they lie."""

import math
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evpack.base.basis import Basis
from evpack.base.errors import DescriptionError, OutsideTableError, UnitError
from evpack.describe.cabling import Conductor
from evpack.load.conductors import busbar, conductor, conductor_ladder, conductor_sizes
from evpack.load.tables import table

SIZES = list(
    zip(
        table("din_43671_copper").numbers("width [mm]"),
        table("din_43671_copper").numbers("thickness [mm]"),
        strict=True,
    )
)


def test_awg_under_nec() -> None:
    cable = conductor("2/0 AWG", column=75, ambient="30 degC")
    assert cable.ampacity == 175
    assert cable.area == pytest.approx(67.44)
    assert cable.ohm_per_metre == pytest.approx(0.0967 / 304.8)
    assert cable.resistance_source == "nec-ch9-t8"
    assert cable.ampacity_source == "nec-310.16"
    assert cable.conditions == "75 degC column, 30 degC around it, no other circuit beside it"


def test_what_nobody_stated_is_guessed_to_the_safe_side_and_said() -> None:
    """Worked by hand: 95 A in the 60 degC column for 2 AWG, times 0.82 at 40 degC, is 77.9 A."""
    plain = conductor("2 AWG")
    assert plain.ampacity == 95
    assert plain.conditions.startswith(
        "60 degC column (not stated), 30 degC around it (not stated), "
    )
    warm = conductor("2 AWG", warmest="40 degC")
    assert warm.ampacity == pytest.approx(77.9)
    assert "40 degC around it (not stated)" in warm.conditions
    assert conductor("2 AWG", warmest="12 degC").ampacity == 95
    iec = conductor("35 mm2", rules="iec")
    assert iec.conditions.startswith("70 degC column (not stated)")
    assert "method B1, in conduit (not stated)" in iec.conditions


def test_a_place_warmer_than_stated_has_the_last_word() -> None:
    """Worked by hand: 115 A in the 75 degC column for 2 AWG, times 0.88 at 40 degC, is 101.2 A."""
    cable = conductor("2 AWG", column=75, ambient="30 degC", warmest="40 degC")
    assert cable.ampacity == pytest.approx(101.2)
    assert cable.ambient == 40
    assert "40 degC around it, the warmest of the site" in cable.conditions
    assert "not stated" not in cable.conditions
    warmer = conductor("2 AWG", column=75, ambient="50 degC", warmest="40 degC")
    assert warmer.ampacity == pytest.approx(115 * 0.75)
    assert "warmest" not in warmer.conditions


def test_a_small_conductor_is_told_by_its_row() -> None:
    """4 mm² has the ampacity of 12 AWG, and its guard."""
    cable = conductor("4 mm2", column=75, ambient="30 degC")
    assert cable.ampacity == 20
    assert "guarded at no more than 20 A" in cable.conditions
    assert conductor("4 mm2", rules="iec", column=70).ampacity > 30
    # Correction alone may come below the guard: 25 A · 0.58 at 60 degC.
    hot = conductor("12 AWG", column=75, ambient="60 degC")
    assert hot.ampacity == pytest.approx(14.5)
    assert "guarded" not in hot.conditions


@pytest.mark.parametrize("spelling", ["2/0AWG", " 2/0 awg ", "2/0 AWG"])
def test_spellings(spelling: str) -> None:
    assert conductor(spelling).size == "2/0 AWG"


@pytest.mark.parametrize(
    ("noughts", "size"),
    [("0 AWG", "1/0 AWG"), ("00AWG", "2/0 AWG"), ("000 awg", "3/0 AWG"), ("0000 AWG", "4/0 AWG")],
)
def test_noughts_are_counted(noughts: str, size: str) -> None:
    """By the definition of the gauge each further nought is one size thicker (ASTM B258)."""
    assert conductor(noughts).size == size
    assert conductor(noughts).area == conductor(size).area


@pytest.mark.parametrize("size", ["00000 AWG", "0 kcmil", "00 mm2", "02 AWG"])
def test_noughts_of_no_gauge_are_refused(size: str) -> None:
    with pytest.raises(OutsideTableError, match="not in the tables"):
        conductor(size)


def test_square_millimetres_with_a_sign() -> None:
    assert conductor("70 mm²", rules="iec").size == "70 mm2"


def test_mm2_under_iec_is_warmed_up() -> None:
    """Worked by hand: 0.272 Ω/km at 20 degC × (234.5 + 75) / (234.5 + 20) = 0.33078 Ω/km."""
    cable = conductor("70 mm2", rules="iec")
    assert cable.ohm_per_metre == pytest.approx(0.33078e-3, rel=1e-4)
    assert cable.ampacity_source == "iec-60364-5-52"


@pytest.mark.parametrize(
    ("method", "pvc", "xlpe"),
    [(None, 192, 253), ("B1", 192, 253), ("C", 213, 269), ("F", 251, 310)],
)
def test_how_a_cable_is_laid_by_iec(method: str | None, pvc: float, xlpe: float) -> None:
    assert conductor("70 mm2", rules="iec", column=70, method=method).ampacity == pvc
    held = conductor("70 mm2", rules="iec", column=90, terminals=90, method=method)
    assert held.ampacity == xlpe
    assert ("(not stated)" in held.conditions.split("method")[1]) == (method is None)


def test_the_other_rule_set_takes_the_next_smaller_size() -> None:
    metric = conductor("70 mm2")
    assert metric.ampacity == 175
    assert "2/0 AWG, the next smaller size" in metric.conditions
    inches = conductor("2/0 AWG", rules="iec", method="C")
    assert inches.ampacity == 168
    assert "50 mm2, the next smaller size" in inches.conditions


def test_a_warm_ambient_costs() -> None:
    assert conductor("2/0 AWG", ambient="40 degC").ampacity == pytest.approx(175 * 0.88)
    assert conductor("2/0 AWG", ambient="104 degF").ampacity == pytest.approx(175 * 0.88)
    warm = conductor("70 mm2", rules="iec", ambient="41 degC", method="C")
    assert warm.ampacity == pytest.approx(213 * 0.79)
    assert warm.ambient == 41


def test_a_cool_ambient_earns_nothing() -> None:
    cool = conductor("2/0 AWG", ambient="-10 degC")
    assert cool.ampacity == 175
    assert cool.ambient == 30  # what its ampacity is for
    assert "-10 degC around it" in cool.conditions


# --- Circuits together ------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("circuits", "factor"),
    [(1, 1.0), (2, 0.8), (3, 0.8), (4, 0.7), (5, 0.5), (10, 0.5), (21, 0.35)],
)
def test_circuits_together_by_nec(circuits: int, factor: float) -> None:
    """Two current-carrying conductors each: 2, 4, 6, 8, 10, 20 and 42 of them."""
    cable = conductor("4/0 AWG", column=75, circuits=circuits)
    assert cable.ampacity == pytest.approx(230 * factor)
    told = f"{circuits} circuits together" if circuits > 1 else "no other circuit beside it"
    assert told in cable.conditions


@pytest.mark.parametrize(("circuits", "factor"), [(1, 1.0), (2, 0.8), (9, 0.5), (10, 0.45)])
def test_circuits_together_by_iec(circuits: int, factor: float) -> None:
    """Between 9 and 12 circuits the table has no row: 10 take the factor of 12."""
    cable = conductor("50 mm2", rules="iec", method="C", circuits=circuits)
    assert cable.ampacity == pytest.approx(168 * factor)


def test_circuits_and_ambient_multiply() -> None:
    """Worked by hand: 230 A · 0.88 · 0.8 = 161.92 A."""
    cable = conductor("4/0 AWG", column=75, ambient="40 degC", circuits=2)
    assert cable.ampacity == pytest.approx(161.92)


# --- Terminals --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("size", "terminals", "ampacity"),
    [
        ("1 AWG", None, 110),  # up to 1 AWG the 60 degC column
        ("2/0 AWG", None, 175),  # above it that of 75 degC
        ("1 AWG", 75, 130),
        ("2/0 AWG", 60, 145),
        ("2/0 AWG", 90, 175),  # the 90 degC column serves for correction only
    ],
)
def test_terminals_hold_the_90_degree_column_by_nec(
    size: str, terminals: int | None, ampacity: float
) -> None:
    cable = conductor(size, column=90, terminals=terminals)
    assert cable.ampacity == ampacity
    assert ("degC (not stated), held" in cable.conditions) == (terminals is None)
    assert "held to the" in cable.conditions


def test_correction_may_come_below_the_terminals() -> None:
    """Worked by hand: 195 A · 0.82 at 50 degC = 159.9 A, below the 175 A of the terminals."""
    cable = conductor("2/0 AWG", column=90, ambient="50 degC")
    assert cable.ampacity == pytest.approx(159.9)
    assert "terminals of 75 degC (not stated)" in cable.conditions
    assert "held to the" not in cable.conditions


def test_cool_terminals_hold_a_warmer_column() -> None:
    assert conductor("2 AWG", column=75, terminals=60).ampacity == 95
    assert conductor("2 AWG", column=60, terminals=75).ampacity == 95
    assert conductor("4/0 AWG", terminals=60).ampacity == 195


def test_terminals_hold_the_90_degree_column_by_iec() -> None:
    """A terminal that nobody read is taken for 70 degC."""
    held = conductor("70 mm2", rules="iec", column=90, method="C")
    assert held.ampacity == 213
    assert "terminals of 70 degC (not stated), held to the 70 degC column" in held.conditions
    # Worked by hand: 213 A at 70 degC, times 0.61 at 55 degC, is 129.93 A; not 269 · 0.76 = 204.4.
    hot = conductor("70 mm2", rules="iec", column=90, method="C", ambient="55 degC")
    assert hot.ampacity == pytest.approx(129.93)


def test_column_75_by_iec_reads_the_cooler_one() -> None:
    cable = conductor("70 mm2", rules="iec", column=75)
    assert cable.ampacity == 192
    assert cable.conditions.startswith("70 degC column")


@pytest.mark.parametrize(
    ("rules", "column", "withstand"),
    [("nec", 60, 115), ("nec", 75, 104), ("nec", 90, 92), ("iec", 70, 115), ("iec", 90, 143)],
)
def test_how_hot_it_gets_and_what_a_fault_may_do(rules: str, column: int, withstand: float) -> None:
    cable = conductor("4/0 AWG", rules=rules, column=column)
    assert cable.hottest == column
    assert cable.withstand == withstand
    assert cable.ambient == 30


# --- Refusals ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("size", "how", "says"),
    [
        ("60 mm2", {}, "'50 mm2' and '70 mm2'"),
        ("5 AWG", {}, "'4 AWG' and '6 AWG'"),
        ("5/0 AWG", {}, "4/0 AWG"),
        ("1000 mm2", {}, "'630 mm2'"),
        ("thick", {}, "write it as '2/0 AWG'"),
        ("70", {}, "write it as '2/0 AWG'"),
        ("0.5 mm2", {}, "thinner than any"),
        ("2/0 AWG", {"column": 70}, "column 70 degC .* 60 or 75 or 90"),
        ("70 mm2", {"rules": "iec", "column": 60}, "70 or 75 or 90"),
        ("2/0 AWG", {"terminals": 70}, "terminals 70 degC .* 60 or 75 or 90"),
        ("2/0 AWG", {"rules": "ansi"}, "known here"),
        ("2/0 AWG", {"ambient": "80 degC"}, "above what the 75 degC column"),
        ("2/0 AWG", {"ambient": "30 degC", "warmest": "80 degC"}, "ambient 80 degC is above"),
        ("2/0 AWG", {"column": 60, "ambient": "56 degC"}, "above what the 60 degC column"),
        ("70 mm2", {"rules": "iec", "ambient": "61 degC"}, "above what the 70 degC column"),
        (
            "70 mm2",
            {"rules": "iec", "column": 90, "ambient": "61 degC"},
            "above what terminals of 70 degC allow",
        ),
        ("70 mm2", {"rules": "nec", "method": "C"}, "raceway, cable or earth"),
        ("70 mm2", {"rules": "iec", "method": "E"}, "known here: B1, C, F"),
        ("16 mm2", {"rules": "iec", "method": "F"}, "16 mm2 has no ampacity by method F"),
        ("70 mm2", {"rules": "iec", "circuits": 21}, "more than the 20"),
        ("70 mm2", {"circuits": 0}, "whole number from 1"),
        ("70 mm2", {"circuits": 1.5}, "whole number from 1"),
    ],
)
def test_outside_the_tables(size: str, how: dict[str, Any], says: str) -> None:
    with pytest.raises(OutsideTableError, match=says):
        conductor(size, **how)


def test_a_yes_is_no_count() -> None:
    conductor.cache_clear()  # it remembers 1, which equals True
    with pytest.raises(OutsideTableError, match="whole number"):
        conductor("70 mm2", circuits=True)


def test_an_ambient_without_a_unit() -> None:
    with pytest.raises(UnitError, match="no unit"):
        conductor("2/0 AWG", ambient="40")


# --- The ladder -------------------------------------------------------------------------------


def test_the_ladder_follows_the_rules_or_a_named_size() -> None:
    inches = conductor_ladder()
    assert (inches[0].size, inches[-1].size) == ("14 AWG", "2000 kcmil")
    assert conductor_ladder(like="250 kcmil") == inches
    metric = conductor_ladder(rules="iec")
    assert (metric[0].size, metric[-1].size) == ("1.5 mm2", "630 mm2")
    assert conductor_ladder(rules="iec", like="mm²") == metric
    assert all(c.size.endswith("mm2") for c in conductor_ladder(like="70 mm2"))
    assert all(not c.size.endswith("mm2") for c in conductor_ladder(rules="iec", like="AWG"))


def test_the_ladder_stands_under_the_same_conditions() -> None:
    how: dict[str, Any] = {
        "column": 90,
        "terminals": 75,
        "ambient": "35 degC",
        "warmest": "41 degC",
        "circuits": 3,
    }
    ladder = conductor_ladder(**how)
    assert conductor("2/0 AWG", **how) in ladder
    free = conductor_ladder(rules="iec", method="F")
    assert free[0].size == "25 mm2"  # method F has no thinner ones
    assert conductor("95 mm2", rules="iec", method="F") in free


def test_the_ladder_is_looked_up_once() -> None:
    assert conductor_ladder(circuits=4) is conductor_ladder(circuits=4)


@pytest.mark.parametrize(
    ("how", "says"),
    [
        ({"rules": "ansi"}, "known here"),
        ({"ambient": "99 degC"}, "ambient 99 degC is above"),
        ({"column": 61}, "61 degC is not held"),
    ],
)
def test_a_ladder_without_a_rung_says_why(how: dict[str, Any], says: str) -> None:
    with pytest.raises(OutsideTableError, match=says):
        conductor_ladder(**how)


# --- What must hold of any conductor ----------------------------------------------------------

conditions = st.one_of(
    st.fixed_dictionaries(
        {
            "rules": st.just("nec"),
            "column": st.sampled_from([None, 60, 75, 90]),
            "terminals": st.sampled_from([None, 60, 75, 90]),
            "circuits": st.integers(1, 25),
            "ambient": st.integers(-20, 54).map("{} degC".format),
            "warmest": st.none() | st.integers(-20, 54).map("{} degC".format),
        }
    ),
    st.fixed_dictionaries(
        {
            "rules": st.just("iec"),
            "column": st.sampled_from([None, 70, 75, 90]),
            "terminals": st.sampled_from([None, 70, 75, 90]),
            "circuits": st.integers(1, 20),
            "method": st.sampled_from([None, "B1", "C", "F"]),
            "ambient": st.integers(-20, 60).map("{} degC".format),
            "warmest": st.none() | st.integers(-20, 60).map("{} degC".format),
        }
    ),
)
sizes = st.sampled_from(["14 AWG", "6 AWG", "1 AWG", "1/0 AWG", "500 kcmil", "25 mm2", "120 mm2"])


def looked_up(size: str, how: dict[str, Any]) -> Conductor | None:
    try:
        return conductor(size, **how)
    except OutsideTableError:
        return None


@given(how=conditions, like=st.sampled_from(["AWG", "mm2"]))
def test_thicker_carries_no_less_and_resists_less(how: dict[str, Any], like: str) -> None:
    ladder = conductor_ladder(**how, like=like)
    assert len(ladder) > 5
    for thin, thick in pairwise(ladder):
        assert thin.area < thick.area
        assert thin.ampacity <= thick.ampacity
        assert thin.ohm_per_metre > thick.ohm_per_metre


@given(how=conditions, size=sizes, warm=st.integers(-20, 60))
def test_warmer_never_carries_more(how: dict[str, Any], size: str, warm: int) -> None:
    cool = looked_up(size, how)
    for what in ("ambient", "warmest"):
        hot = looked_up(size, {**how, what: f"{warm} degC"})
        if cool is not None and hot is not None and hot.ambient >= cool.ambient:
            assert hot.ampacity <= cool.ampacity


@given(how=conditions, size=sizes)
def test_company_never_carries_more(how: dict[str, Any], size: str) -> None:
    fewer = looked_up(size, how)
    more = looked_up(size, {**how, "circuits": how["circuits"] + 1})
    if fewer is not None and more is not None:
        assert more.ampacity <= fewer.ampacity


@given(how=conditions, size=sizes)
def test_a_conductor_is_finite_and_stays_within_its_terminals(
    how: dict[str, Any], size: str
) -> None:
    cable = looked_up(size, how)
    if cable is None:
        return
    assert all(
        math.isfinite(value) and value > 0
        for value in (cable.area, cable.ohm_per_metre, cable.ampacity, cable.withstand)
    )
    assert cable.ambient < cable.hottest
    # The column of the terminals alone, at 30 degC and with nothing beside it. 90 serves by NEC
    # for correction only, and what nobody read is never taken for 90.
    rules, warmest_column = how["rules"], {"nec": 75, "iec": 70}[how["rules"]]
    marked = how["terminals"] or min(how["column"] or warmest_column, warmest_column)
    if rules == "nec":
        marked = min(marked, 75)
    plain = {"rules": rules, "column": marked, "terminals": marked, "method": how.get("method")}
    assert cable.ampacity <= conductor(size, **plain).ampacity


@given(how=conditions, size=sizes)
def test_what_is_left_unsaid_never_earns_anything(how: dict[str, Any], size: str) -> None:
    """A stated method or terminals may carry more than silence about them, never less than B1."""
    said = looked_up(size, how)
    unsaid = looked_up(size, {k: v for k, v in how.items() if k != "method"})
    if said is not None and unsaid is not None:
        assert unsaid.ampacity <= said.ampacity


def test_every_size_is_understood_by_its_own_name() -> None:
    for size in conductor_sizes():
        cable = looked_up(size, {})
        assert cable is None or cable.size == size


def test_thick_thermoplastic_stands_less_in_a_fault() -> None:
    # IEC 60364-4-43 table 43A (from memory): PVC on copper 115, of more than 300 mm² 103; XLPE 143.
    stands = [conductor(size, rules="iec", column=70).withstand for size in ("300 mm2", "400 mm2")]
    assert stands == [115.0, 103.0]
    assert conductor("400 mm2", rules="iec", column=90).withstand == 143.0


def test_a_bar_in_free_air_carries_what_the_table_says() -> None:
    bar = busbar("40 mm", "5 mm", length="60 cm", enclosed=False)
    assert bar.carries is not None
    assert bar.carries.m == 482
    assert bar.conditions == "air at 35 degC, bar at 65 degC, in free air"
    assert bar.source == "din-43671"
    assert bar.basis.of("carries") is Basis.CHOSEN
    assert bar.area == pytest.approx(200)


@pytest.mark.parametrize(
    ("enclosed", "known", "says"),
    [(True, Basis.CHOSEN, "in a box, held"), (None, Basis.ASSUMED, "in a box (not stated), held")],
)
def test_a_box_takes_its_toll_also_where_nobody_spoke_of_one(
    *, enclosed: bool | None, known: Basis, says: str
) -> None:
    """Worked by hand: 40 mm · 5 mm · 1.6 A/mm² = 320 A, below the 482 A of the table."""
    bar = busbar("40 mm", "5 mm", length="60 cm", enclosed=enclosed)
    assert bar.carries is not None
    assert bar.carries.m == pytest.approx(320)
    assert says in bar.conditions
    assert bar.basis.of("carries") is known


def test_a_thick_bar_is_held_by_the_table_itself() -> None:
    """Worked by hand: 100 mm · 10 mm · 1.6 A/mm² = 1600 A, above the 1490 A of the table."""
    bar = busbar("100 mm", "10 mm", length="1 m", enclosed=True)
    assert bar.carries is not None
    assert bar.carries.m == 1490
    assert "held" not in bar.conditions


@pytest.mark.parametrize(
    ("width", "thickness", "count", "says"),
    [
        ("45 mm", "5 mm", 1, "the table does not hold"),
        ("1.5 in", "0.25 in", 1, "the table does not hold"),
        ("1 1/2 in", "1/4 in", 1, "the table does not hold"),
        ("40 mm", "5 mm", 2, "single bars"),
    ],
)
def test_what_the_table_does_not_hold_stays_unknown(
    width: str, thickness: str, count: int, says: str
) -> None:
    bar = busbar(width, thickness, length="60 cm", count=count, enclosed=False)
    assert bar.carries is None
    assert says in bar.conditions
    stated = busbar(width, thickness, length="60 cm", count=count, carries="300 A")
    assert stated.carries is not None
    assert stated.carries.m == 300
    assert stated.source == "equipment-manual"
    assert stated.basis.of("carries") is Basis.CHOSEN


def test_other_units_name_the_same_bar() -> None:
    bar = busbar("4 cm", "0.005 m", length="2 ft", enclosed=False, name="the bar")
    assert bar.carries is not None
    assert bar.carries.m == 482
    assert bar.name == "the bar"


def test_impossible_bars_are_refused() -> None:
    with pytest.raises(UnitError, match="no unit"):
        busbar("40", "5 mm", length="60 cm")
    with pytest.raises(DescriptionError, match="thickness"):
        busbar("5 mm", "40 mm", length="60 cm")


@given(size=st.sampled_from(SIZES), enclosed=st.sampled_from([True, None, False]))
def test_a_box_never_earns_anything(size: tuple[float, float], *, enclosed: bool | None) -> None:
    wide, thick = (f"{side:g} mm" for side in size)
    free = busbar(wide, thick, length="1 m", enclosed=False)
    bar = busbar(wide, thick, length="1 m", enclosed=enclosed)
    assert free.carries is not None
    assert bar.carries is not None
    assert 0 < bar.carries.m <= free.carries.m
