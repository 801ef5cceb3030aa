"""May the pack stand where it is to stand? Clauses and limits are from memory.

Of oxide cells, 4.2 V at most and charged to 4.05 V: 14 reach 58.8 V; 15 reach 63 V; 24 reach
100.8 V, charged to 97.2 V; 25 reach 105 V, charged to 101.25 V; 148 are charged to 599.4 V, 149 to
603.45 V.
"""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from strategies import builds, good_build, good_module, good_pack, good_site

from evpack.base.errors import DataError, DescriptionError
from evpack.base.finding import Finding, Severity, Standing
from evpack.base.fitted import NOT_FITTED
from evpack.decide import decide
from evpack.describe.build import Build
from evpack.describe.policy import Policy
from evpack.describe.site import PLACES, Site
from evpack.design import design
from evpack.load.places import data_dir
from evpack.load.sheet import parse_sheet, read_sheet

OK, NOTE, CAUTION, UNKNOWN, STOP = Severity
HOME = ("living space", "dwelling", "attached garage")
BESIDE = ("outbuilding", "outdoors")


def at(kind: str | None, cells: int = 14, *, capacity: str = "60 Ah", **site: Any) -> Build:
    each = 7 if cells == 14 else cells  # 14 are the good build itself
    module = good_module(cells_in_series=each, capacity=capacity)
    return good_build(
        pack=good_pack(module=module, modules_in_series=cells // each),
        site=good_site(kind=kind, **site),
    )


def finding(build: Build, rule: str) -> Finding:
    (found,) = [f for f in design(build).findings if f.rule.key == f"place.{rule}"]
    return found


def all_of(build: Build) -> dict[str, Severity]:
    return {f.rule.key: f.severity for f in design(build).findings if f.rule.key[:6] == "place."}


# --- The kind of place ------------------------------------------------------------------------


@pytest.mark.parametrize("rules", ["nec", "iec"])
def test_a_place_nobody_named_holds_a_pack_only_above_a_dry_touch(rules: str) -> None:
    assert all_of(at(None, 14, rules=rules)) == {"place.kind": NOTE}
    assert all_of(at(None, 15, rules=rules)) == {"place.kind": UNKNOWN}
    for cells in (14, 15):
        found = finding(at(None, cells, rules=rules), "kind")
        for kind in PLACES:
            assert f'"{kind}"' in found.remedy
    assert "not judged" in finding(at(None), "kind").detail
    assert "63 V" in finding(at(None, 15), "kind").detail


@pytest.mark.parametrize("kind", PLACES)
@pytest.mark.parametrize("rules", ["nec", "iec"])
def test_an_answer_lets_a_low_pack_go(kind: str, rules: str) -> None:
    """Whatever the place, no rule held here stops 48 V that somebody accepts."""
    assert max(all_of(at(kind, rules=rules)).values()) <= CAUTION
    assert rules == "iec" or decide(design(at(kind))).go


def test_what_the_rule_set_is_not_made_for_is_said() -> None:
    boat = finding(at("boat"), "kind")
    assert boat.severity is NOTE
    assert "90.2(B)" in boat.detail
    assert "60364" in finding(at("vehicle", rules="iec"), "kind").detail
    assert finding(at("dwelling"), "kind").severity is OK


# --- Voltage ----------------------------------------------------------------------------------

# (cells, live parts out of reach) -> what it comes to in a home under NEC, by hand.
IN_A_HOME = {
    (14, None): OK,
    (15, False): OK,
    (24, False): CAUTION,  # 97.2 V are allowed; a runaway charger makes 100.8 V of them
    (24, None): CAUTION,
    (24, True): OK,
    (25, False): STOP,  # 101.25 V
    (25, None): UNKNOWN,
    (25, True): OK,
    (142, True): OK,  # 575.1 V, and 596.4 V full
    (148, True): CAUTION,  # 599.4 V, and 621.6 V full
    (149, True): STOP,  # 603.45 V
    (149, None): STOP,  # no answer would let it pass
    (149, False): STOP,
}


@pytest.mark.parametrize("kind", HOME)
@pytest.mark.parametrize(("cells", "guarded"), IN_A_HOME)
def test_in_a_home_by_nec(kind: str, cells: int, *, guarded: bool | None) -> None:
    found = finding(at(kind, cells, live_parts_guarded=guarded), "voltage")
    assert found.severity is IN_A_HOME[cells, guarded]
    assert found.remedy or found.severity is OK
    assert "706.20(B)" in found.detail


@pytest.mark.parametrize("kind", BESIDE)
def test_beside_a_home_the_clause_may_not_reach_and_cautions_only(kind: str) -> None:
    assert finding(at(kind, 24, live_parts_guarded=False), "voltage").severity is CAUTION
    for guarded in (False, None):
        assert finding(at(kind, 25, live_parts_guarded=guarded), "voltage").severity is CAUTION
    assert finding(at(kind, 25, live_parts_guarded=True), "voltage").severity is OK
    assert finding(at(kind, 149, live_parts_guarded=True), "voltage").severity is CAUTION


def test_a_guard_gives_both_figures_and_is_no_bound() -> None:
    found = finding(at("dwelling", 24), "voltage")
    assert (found.value, found.limit, found.guarded) == pytest.approx((97.2, 100.0, 100.8))
    assert "97.2 V" in found.detail
    assert "100.8 V" in found.detail
    assert found.standing is Standing.GUARD
    assert finding(at("dwelling", 25, live_parts_guarded=False), "voltage").standing is (
        Standing.BOUND
    )


def test_there_is_a_lawful_way_out_and_the_finding_names_it() -> None:
    for guarded in (None, False):
        found = finding(at("dwelling", 25, live_parts_guarded=guarded), "voltage")
        assert "live_parts_guarded = true" in found.remedy
        assert "600 V" in str(found)
    lower = finding(at("dwelling", 149, live_parts_guarded=True), "voltage")
    assert "Fewer cells in series" in lower.remedy


def test_a_lower_charge_target_counts() -> None:
    """25 cells charged to 3.95 V are 98.75 V; full they would still be 105 V."""
    module = good_module(cells_in_series=25)
    build = good_build(
        pack=good_pack(module=module, modules_in_series=1),
        site=good_site(kind="dwelling"),
        policy=Policy(charge_target="3.95 V", basis="chosen"),
    )
    found = finding(build, "voltage")
    assert found.severity is CAUTION
    assert (found.value, found.guarded) == pytest.approx((98.75, 105.0))


@pytest.mark.parametrize(
    ("kind", "cells", "severity"),
    [
        ("dwelling", 28, OK),  # charged to 113.4 V, 117.6 V full
        ("dwelling", 29, CAUTION),  # 117.45 V and 121.8 V
        ("dwelling", 30, CAUTION),  # 121.5 V
        ("outbuilding", 30, OK),  # no row: the pack's own rules judge it
        ("vehicle", 14, OK),
        ("vehicle", 15, CAUTION),  # 60.75 V
    ],
)
def test_by_iec_no_place_forbids_a_voltage(kind: str, cells: int, severity: Severity) -> None:
    for guarded in (True, False, None):
        build = at(kind, cells, rules="iec", live_parts_guarded=guarded)
        assert finding(build, "voltage").severity is severity


# --- Energy -----------------------------------------------------------------------------------

# 14 · 3.65 V = 51.1 V, three strings: 60 Ah are 9.2 kWh; 130 Ah 19.9 kWh; 131 Ah 20.1 kWh;
# 260 Ah 39.9 kWh; 261 Ah 40.01 kWh; 521 Ah 79.9 kWh; 522 Ah 80.02 kWh.
ENERGY = {
    ("dwelling", "260 Ah"): OK,
    ("dwelling", "261 Ah"): CAUTION,
    ("attached garage", "521 Ah"): OK,
    ("attached garage", "522 Ah"): CAUTION,
    ("outbuilding", "521 Ah"): OK,
    ("outbuilding", "522 Ah"): CAUTION,
    ("outdoors", "522 Ah"): CAUTION,
    ("living space", "1 Ah"): CAUTION,  # none may stand there
    ("field", "522 Ah"): OK,
    ("commercial", "522 Ah"): OK,
    ("boat", "522 Ah"): OK,
}


@pytest.mark.parametrize(("kind", "capacity"), ENERGY)
def test_energy_in_one_place(kind: str, capacity: str) -> None:
    found = finding(at(kind, capacity=capacity), "energy")
    assert found.severity is ENERGY[kind, capacity]
    assert found.remedy or found.severity is OK
    # By IEC no such rule is held, and nothing is made of it.
    assert finding(at(kind, capacity=capacity, rules="iec"), "energy").severity is OK


@pytest.mark.parametrize(("capacity", "severity"), [("130 Ah", OK), ("131 Ah", CAUTION)])
@pytest.mark.parametrize("kind", ["dwelling", "attached garage", *BESIDE])
def test_energy_of_one_unit(kind: str, capacity: str, severity: Severity) -> None:
    assert finding(at(kind, capacity=capacity), "unit").severity is severity


# --- Listing ----------------------------------------------------------------------------------


@pytest.mark.parametrize("cells", [14, 15])
@pytest.mark.parametrize("kind", PLACES)
@pytest.mark.parametrize("rules", ["nec", "iec"])
def test_who_accepts_it(kind: str, rules: str, cells: int) -> None:
    """The clause binds in a home under NEC; elsewhere, and up to 60 V, it is a caution at most."""
    home, asked = kind in HOME, kind not in {"vehicle", "boat"} and rules == "nec"
    for approval in ("an inspector, 2 May", None, NOT_FITTED):
        expected = OK if isinstance(approval, str) or not asked else CAUTION
        if asked and home and cells == 15 and approval in {None, NOT_FITTED}:  # 63 V
            expected = UNKNOWN if approval is None else STOP
        found = finding(at(kind, cells, rules=rules, approval=approval), "listing")
        assert found.severity is expected
        assert found.remedy or found.severity is OK


def test_no_outbuilding_is_stopped_for_want_of_a_listing() -> None:
    for approval in (None, NOT_FITTED):
        decision = decide(design(at("outbuilding", approval=approval)))
        assert decision.go
        assert finding(at("outbuilding", approval=approval), "listing").severity is CAUTION


def test_whoever_accepted_it_is_named() -> None:
    said = finding(at("dwelling", approval="the town's inspector, 3 May."), "listing")
    assert said.detail.endswith("accepts the pack as it is built: the town's inspector, 3 May.")


# --- The noun and the sheet -------------------------------------------------------------------


@pytest.mark.parametrize("word", ["yes", "no", "", " ? ", "True", "not yet", "pending."])
def test_a_word_that_names_nobody_is_no_approval(word: str) -> None:
    with pytest.raises(DescriptionError, match="who accepted it"):
        Site(approval=word)


def test_a_place_not_held_is_refused_with_the_nearest() -> None:
    with pytest.raises(DescriptionError, match=r"'out building'.*did you mean 'outbuilding'"):
        Site(kind="out building")


BARN = (data_dir() / "examples" / "wether-barn.toml").read_text(encoding="utf-8")


def test_the_sheet_says_it_all() -> None:
    lines = 'kind = "attached garage"\nlive_parts_guarded = true\napproval = "none"\n'
    site = parse_sheet(BARN.replace('kind = "outbuilding"\n', lines)).site
    assert (site.kind, site.live_parts_guarded) == ("attached garage", True)
    assert site.approval is NOT_FITTED
    with pytest.raises(DataError, match=r"site\.kind.*'barn'"):
        parse_sheet(BARN.replace('"outbuilding"', '"barn"'))
    with pytest.raises(DataError, match="true or false is needed"):
        parse_sheet(BARN.replace('kind = "outbuilding"', 'live_parts_guarded = "yes"'))


@pytest.mark.parametrize("path", sorted((data_dir() / "examples").glob("*.toml")))
def test_every_example_says_where_it_stands(path: Any) -> None:
    assert read_sheet(path).site.kind in PLACES


# --- Whatever the build -----------------------------------------------------------------------


@given(build=builds())
def test_only_a_home_under_nec_stops_and_no_low_pack_for_its_voltage(build: Build) -> None:
    site = build.site
    full = build.pack.cells_in_series * build.pack.module.chemistry.limits.highest.m
    found = {f.rule.key: f.severity for f in design(build).findings}
    if "place.kind" not in found:  # a chemistry that is refused is judged no further
        return
    assert (found["place.kind"] is UNKNOWN) == (site.kind is None and full > 60)
    held = {key for key, s in found.items() if key[:6] == "place." and s >= UNKNOWN}
    if site.rules == "iec" or site.kind not in HOME:
        assert held <= {"place.kind"}
    if full <= 100:
        assert "place.voltage" not in held
    if site.kind is not None:
        assert found["place.energy"] <= CAUTION
