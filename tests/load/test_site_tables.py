"""What public rules let stand in each kind of place: the table, typed anew. All from memory."""

from __future__ import annotations

from collections import Counter

import pytest

from evpack.describe.site import PLACES, RULE_SETS
from evpack.describe.site_limits import JUDGES, LISTING, SCOPE, SiteLimit
from evpack.load.site_tables import site_limits
from evpack.load.sources import source
from evpack.load.tables import table

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
