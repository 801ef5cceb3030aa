"""Conductors and fuses from the tables."""

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evpack.base.errors import DataError, OutsideTableError, UnitError
from evpack.load.tables import (
    conductor,
    conductor_sizes,
    fuse_catalogue,
    read_columns,
    table,
)


def test_awg_under_nec() -> None:
    cable = conductor("2/0 AWG", column=75, ambient="30 degC")
    assert cable.ampacity == 175
    assert cable.area == pytest.approx(67.44)
    assert cable.ohm_per_metre == pytest.approx(0.0967 / 304.8)
    assert cable.resistance_source == "nec-ch9-t8"
    assert cable.ampacity_source == "nec-310.16"
    assert cable.conditions == "75 degC column, 30 degC around it"


def test_what_nobody_stated_is_guessed_to_the_safe_side_and_said() -> None:
    """Worked by hand: 95 A in the 60 degC column for 2 AWG, times 0.82 at 40 degC, is 77.9 A."""
    plain = conductor("2 AWG")
    assert plain.ampacity == 95
    assert plain.conditions == "60 degC column (not stated), 30 degC around it (not stated)"
    warm = conductor("2 AWG", warmest="40 degC")
    assert warm.ampacity == pytest.approx(77.9)
    assert warm.conditions == "60 degC column (not stated), 40 degC around it (not stated)"
    assert conductor("2 AWG", warmest="12 degC").ampacity == 95
    stated = conductor("2 AWG", column=75, ambient="30 degC", warmest="40 degC")
    assert stated.ampacity == 115
    assert "stated" not in stated.conditions
    iec = conductor("35 mm2", rules="iec")
    assert iec.conditions.startswith("70 degC column (not stated)")


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


def test_square_millimetres_with_a_sign() -> None:
    assert conductor("70 mm²", rules="iec").size == "70 mm2"


def test_mm2_under_iec_is_warmed_up() -> None:
    """Worked by hand: 0.272 Ω/km at 20 degC × (234.5 + 75) / (234.5 + 20) = 0.33078 Ω/km."""
    cable = conductor("70 mm2", rules="iec")
    assert cable.ohm_per_metre == pytest.approx(0.33078e-3, rel=1e-4)
    assert cable.ampacity == 213
    assert conductor("70 mm2", rules="iec", column=90).ampacity == 269


def test_the_other_rule_set_takes_the_next_smaller_size() -> None:
    metric = conductor("70 mm2")
    assert metric.ampacity == 175
    assert "2/0 AWG, the next smaller size" in metric.conditions
    inches = conductor("2/0 AWG", rules="iec")
    assert inches.ampacity == 168
    assert "50 mm2, the next smaller size" in inches.conditions


def test_a_warm_ambient_costs() -> None:
    assert conductor("2/0 AWG", ambient="40 degC").ampacity == pytest.approx(175 * 0.88)
    assert conductor("2/0 AWG", ambient="104 degF").ampacity == pytest.approx(175 * 0.88)
    assert conductor("70 mm2", rules="iec", ambient="41 degC").ampacity == pytest.approx(213 * 0.79)


def test_a_cool_ambient_earns_nothing() -> None:
    assert conductor("2/0 AWG", ambient="-10 degC").ampacity == 175


def test_the_90_degree_column_is_for_correction_only() -> None:
    assert conductor("2/0 AWG", column=90).ampacity == 175
    assert conductor("2/0 AWG", column=90, ambient="50 degC").ampacity == pytest.approx(195 * 0.82)


def test_column_75_by_iec_reads_the_cooler_one() -> None:
    cable = conductor("70 mm2", rules="iec", column=75)
    assert cable.ampacity == 213
    assert cable.conditions.startswith("70 degC column")


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
        ("2/0 AWG", {"column": 70}, "60 or 75 or 90"),
        ("70 mm2", {"rules": "iec", "column": 60}, "70 or 75 or 90"),
        ("2/0 AWG", {"rules": "ansi"}, "known here"),
        ("2/0 AWG", {"ambient": "80 degC"}, "above what the 75 degC column"),
        ("2/0 AWG", {"column": 60, "ambient": "56 degC"}, "above what the 60 degC column"),
        ("70 mm2", {"rules": "iec", "ambient": "61 degC"}, "above what the 70 degC column"),
    ],
)
def test_outside_the_tables(size: str, how: dict[str, object], says: str) -> None:
    with pytest.raises(OutsideTableError, match=says):
        conductor(size, **how)  # type: ignore[arg-type]


def test_an_ambient_without_a_unit() -> None:
    with pytest.raises(UnitError, match="no unit"):
        conductor("2/0 AWG", ambient="40")


@pytest.mark.parametrize("rules", ["nec", "iec"])
def test_thicker_carries_more_and_resists_less(rules: str) -> None:
    for unit in ("AWG", "kcmil", "mm2"):
        cables = []
        for size in (s for s in conductor_sizes() if s.endswith(unit)):
            try:
                cables.append(conductor(size, rules=rules))
            except OutsideTableError:
                continue
        assert len(cables) > 5
        cables.sort(key=lambda c: c.area)
        for thin, thick in pairwise(cables):
            assert thick.ampacity >= thin.ampacity
            assert thick.ohm_per_metre < thin.ohm_per_metre


@given(
    warm=st.floats(-40, 55),
    more=st.floats(0, 10),
    column=st.sampled_from([60, 75, 90]),
    size=st.sampled_from(["2 AWG", "4/0 AWG", "35 mm2"]),
)
def test_warmer_never_carries_more(warm: float, more: float, column: int, size: str) -> None:
    cool = conductor(size, column=column, ambient=f"{warm:.3f} degC")
    try:
        hot = conductor(size, column=column, ambient=f"{warm + more:.3f} degC")
    except OutsideTableError:
        return
    assert hot.ampacity <= cool.ampacity


def test_fuse_catalogue_of_nec() -> None:
    held = fuse_catalogue("nec")
    assert held.sizes[:6] == (1, 3, 6, 10, 15, 20)
    assert 601 in held.sizes
    assert list(held.sizes) == sorted(held.sizes)
    assert held.sizes_source == "nec-240.6a"
    first = held.families[0]
    assert first.key == "class-t"
    assert (first.dc_voltage.m, first.interrupting.m) == (125, 20_000)
    assert "Confidence" in first.note


def test_fuse_catalogue_of_iec() -> None:
    held = fuse_catalogue("iec")
    assert held.families[0].key == "nh-gg"
    assert held.sizes[-1] == 1250
    assert {f.key for f in held.families} == {f.key for f in fuse_catalogue("nec").families}


def test_the_58_volt_families_are_below_a_full_14_cell_pack() -> None:
    by_key = {f.key: f for f in fuse_catalogue().families}
    for key in ("bolt-down-58", "cube-58"):
        assert by_key[key].dc_voltage.m < 58.8
        assert "58 V is less" in by_key[key].note


def test_unknown_tables_rules_and_columns() -> None:
    with pytest.raises(OutsideTableError, match="known here"):
        fuse_catalogue("ansi")
    with pytest.raises(DataError, match="nec_240_6a"):
        table("nec_240_6")
    with pytest.raises(DataError, match="rating"):
        table("nec_240_6a").numbers("rating")


def test_a_ragged_table_is_refused() -> None:
    with pytest.raises(DataError, match="line 3"):
        read_columns("a,b\n1,2\n3\n", "t.csv")
    with pytest.raises(DataError, match="at least one row"):
        read_columns("a,b\n", "t.csv")
