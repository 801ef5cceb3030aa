"""Tables of numbers: how a file is read, and what is refused."""

from __future__ import annotations

import math
from collections import Counter

import pytest

from evpack.base.errors import DataError, OutsideTableError
from evpack.describe.site import JUDGES, LISTING, PLACES, RULE_SETS, SCOPE, SiteLimit
from evpack.load.tables import (
    cold_factors,
    fuse_catalogue,
    read_columns,
    site_limits,
    source,
    table,
)

HOME = {"living space", "dwelling", "attached garage"}
# NEC 706.20(B) and its exception [V]; IRC R328.5 and NFPA 855 chapter 15 [kWh]; IEC 62485-2, end
# of extra-low voltage [V]; UN R100, end of voltage class A [V]: from memory.
PRINTED = {
    **{("nec", kind, "voltage"): 100 for kind in (*HOME, "outbuilding", "outdoors")},
    **{("nec", kind, "voltage covered"): 600 for kind in (*HOME, "outbuilding", "outdoors")},
    **{("nec", kind, "energy of a unit"): 20e3 for kind in (*HOME, "outbuilding", "outdoors")},
    ("nec", "living space", "energy"): 0,
    ("nec", "dwelling", "energy"): 40e3,
    **{("nec", kind, "energy"): 80e3 for kind in ("attached garage", "outbuilding", "outdoors")},
    **{("iec", kind, "voltage"): 120 for kind in HOME},
    **{(rules, "vehicle", "voltage"): 60 for rules in RULE_SETS},
}


def test_unknown_tables_and_columns() -> None:
    with pytest.raises(DataError, match="nec_240_6a"):
        table("nec_240_6")
    with pytest.raises(DataError, match="rating"):
        table("nec_240_6a").numbers("rating")


def test_an_empty_cell_is_no_number() -> None:
    first, *_ = table("iec_60364_5_52_copper").numbers("PVC F at 70 degC [A]")
    assert math.isnan(first)


def test_a_ragged_table_is_refused() -> None:
    with pytest.raises(DataError, match="line 3"):
        read_columns("a,b\n1,2\n3\n", "t.csv")
    with pytest.raises(DataError, match="at least one row"):
        read_columns("a,b\n", "t.csv")


def test_cold_factors_begin_with_the_warmest_row_and_rise_towards_the_cold() -> None:
    rows = cold_factors()
    air, factors = zip(*rows, strict=True)
    assert list(air) == sorted(air, reverse=True)
    assert list(factors) == sorted(factors)
    assert min(factors) > 1


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


def test_unknown_rules() -> None:
    with pytest.raises(OutsideTableError, match="known here"):
        fuse_catalogue("ansi")


@pytest.mark.parametrize("rules", ["nec", "iec"])
def test_only_links_of_gg_have_gates(rules: str) -> None:
    held = fuse_catalogue(rules)
    assert [f.key for f in held.families if held.gate(f, 100.0)] == ["nh-gg"]
    by_key = {f.key: f for f in held.families}
    gate = held.gate(by_key["nh-gg"], 100.0)
    assert gate is not None
    assert (gate.holds_10s, gate.melts_5s, gate.holds_100ms, gate.melts_100ms) == (
        290,
        580,
        820,
        1450,
    )
    assert (gate.melting, gate.clearing) == (27_000, 86_000)
    assert held.gate(by_key["class-t"], 100.0) is None
    assert held.gates_source == "iec-60269"


@pytest.mark.parametrize("size", [10.0, 35.0, 224.0, 355.0])
def test_a_size_between_the_gates_has_none(size: float) -> None:
    held = fuse_catalogue("iec")
    assert size in held.sizes
    assert held.gate(held.families[0], size) is None


def key(row: SiteLimit) -> tuple[str, str, str]:
    return row.rules, row.kind, row.judges


def test_the_numbers_are_those_recalled() -> None:
    held = {key(row): float(row.limit.m) for row in site_limits() if row.limit is not None}
    assert held == PRINTED


def test_what_is_no_number_is_a_listing_or_a_scope() -> None:
    assert {row.judges for row in site_limits() if row.limit is None} == {LISTING, SCOPE}


@pytest.mark.parametrize("row", site_limits(), ids=lambda row: " ".join(key(row)))
def test_a_row_is_whole(row: SiteLimit) -> None:
    assert row.rules in RULE_SETS
    assert row.kind in PLACES
    assert row.judges in JUDGES
    assert row.clause
    assert row.says.endswith(".")
    assert source(row.source).title


def test_no_row_stands_twice() -> None:
    assert max(Counter(map(key, site_limits())).values()) == 1


def test_a_bound_is_a_clause_of_the_rule_set_that_surely_reaches_the_place() -> None:
    """Fire codes and the law of vehicles were not picked by the site; IEC forbids no voltage."""
    bound = {key(row) for row in site_limits() if row.bound}
    judged = ("voltage", "voltage covered", "listing")
    assert bound == {("nec", kind, what) for kind in HOME for what in judged}
    assert all(row.clause.startswith("NEC ") for row in site_limits() if row.bound)


def test_each_row_was_seen_as_its_source_was() -> None:
    held = table("site_limits")
    for seen, key_of_source in zip(held.texts("seen"), held.texts("source"), strict=True):
        assert source(key_of_source).seen == seen
