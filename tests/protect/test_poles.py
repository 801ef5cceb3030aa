"""Poles and polarity: which must be protected, and which way a breaker may stand.

The limits of 60 and 120 V DC (IEC) and of 100 V DC (NEC) are from memory, and so are the clauses.
14, 28, 29 oxide cells reach 58.8, 117.6 and 121.8 V.
"""

from __future__ import annotations

import itertools

import attrs
import pytest
from hypothesis import given
from strategies import (
    builds,
    good_array,
    good_build,
    good_charger,
    good_family,
    good_inverter,
    good_module,
    good_pack,
    good_safeguards,
    good_site,
    solar_build,
)

from evpack.base.finding import Finding, Severity
from evpack.base.fitted import NOT_FITTED
from evpack.describe.build import Build
from evpack.describe.safeguards import FuseFamily
from evpack.design import design

OK, NOTE, CAUTION, UNKNOWN, STOP = Severity
LOW, MIDDLE, HIGH = 14, 28, 29


def findings(build: Build, rule: str) -> list[Finding]:
    return [f for f in design(build).findings if f.rule.key == rule]


def finding(build: Build, rule: str) -> Finding:
    (found,) = findings(build, rule)
    return found


POLE = {True: "minus", False: "none", None: None}


def pack_of(cells: int, *, earthed: bool | None, rules: str = "nec", **safeguards: object) -> Build:
    return good_build(
        pack=good_pack(
            module=good_module(cells_in_series=cells),
            modules_in_series=1,
            earthed=POLE[earthed],
        ),
        safeguards=good_safeguards(**safeguards),
        site=good_site(rules=rules),
    )


# (cells, a pole earthed, both protected) -> what it comes to under NEC, by hand. 240.15(A) asks
# for a fuse in every pole that is not earthed, 240.22 for none in an earthed one; up to a dry
# touch, 60 V, a breach is a caution.
BOTH = {
    (LOW, False, True): OK,
    (LOW, False, False): CAUTION,
    (LOW, False, None): CAUTION,
    (LOW, True, True): CAUTION,  # a fuse in the earthed pole may open alone
    (LOW, True, False): OK,
    (LOW, True, None): OK,
    (LOW, None, True): CAUTION,  # right where neither is earthed, else one fuse too many
    (LOW, None, False): CAUTION,
    (LOW, None, None): CAUTION,
    (MIDDLE, False, True): OK,
    (MIDDLE, False, False): STOP,
    (MIDDLE, False, None): UNKNOWN,
    (MIDDLE, True, True): STOP,
    (MIDDLE, True, False): OK,
    (MIDDLE, True, None): OK,
    (MIDDLE, None, True): UNKNOWN,  # floating it passes, earthed it stops
    (MIDDLE, None, False): UNKNOWN,
    (MIDDLE, None, None): UNKNOWN,
}
BOTH |= {(HIGH, e, b): BOTH[MIDDLE, e, b] for c, e, b in BOTH if c == MIDDLE}
# What differs under IEC: it says nothing against a fuse in an earthed pole.
BOTH_BY_IEC = {
    **BOTH,
    **{(c, True, True): CAUTION for c in (MIDDLE, HIGH)},
    **{(c, None, True): CAUTION for c in (MIDDLE, HIGH)},  # no answer would hold it up
}
# 58.8 V; 117.6 V, above the 100 V of NEC 706.30(D); 121.8 V.
INSULATION = {
    **{(LOW, e, w): OK for e in (True, False, None) for w in (True, False, None)},
    **{(c, e, True): OK for c in (MIDDLE, HIGH) for e in (True, False, None)},
    **{(c, False, False): STOP for c in (MIDDLE, HIGH)},
    **{(c, False, None): UNKNOWN for c in (MIDDLE, HIGH)},
    **{(c, True, w): CAUTION for c in (MIDDLE, HIGH) for w in (False, None)},
    **{(c, None, w): UNKNOWN for c in (MIDDLE, HIGH) for w in (False, None)},
}
# By IEC extra-low voltage goes on to 120 V.
INSULATION_BY_IEC = {
    **INSULATION,
    **{(MIDDLE, e, w): NOTE for e in (True, False, None) for w in (False, None)},
}


def test_the_tables_are_whole() -> None:
    every = set(itertools.product((LOW, MIDDLE, HIGH), (True, False, None), (True, False, None)))
    assert set(BOTH) == set(INSULATION) == every
    assert set(BOTH_BY_IEC) == set(INSULATION_BY_IEC) == every


@pytest.mark.parametrize("rules", ["nec", "iec"])
@pytest.mark.parametrize(("cells", "earthed", "both"), BOTH)
def test_which_poles_must_be_protected(
    cells: int, rules: str, *, earthed: bool | None, both: bool | None
) -> None:
    build = pack_of(cells, earthed=earthed, rules=rules, both_poles=both)
    found = finding(build, "poles.both")
    expected = BOTH if rules == "nec" else BOTH_BY_IEC
    assert found.severity is expected[cells, earthed, both]
    assert found.remedy or found.severity is OK


@pytest.mark.parametrize(("cells", "severity"), [(LOW, OK), (MIDDLE, OK), (HIGH, OK)])
def test_breakers_that_open_both_poles_at_once_may_stand_in_an_earthed_pack(
    cells: int, severity: Severity
) -> None:
    """NEC 240.22 (from memory) allows what opens all conductors of the circuit at once."""
    places = ("string_fuse", "main_fuse", "charger_fuse")
    strong = {"dc_voltage": "250 V", "interrupting": "200 kA", "largest": "400 A"}
    both = {name: breaker(**strong) for name in places}
    build = pack_of(cells, earthed=True, both_poles=True, **both)
    assert finding(build, "poles.both").severity is severity
    assert "at once" in finding(build, "poles.both").detail
    # Floating or not, it is right: nothing is left to ask.
    unsaid = pack_of(cells, earthed=None, both_poles=True, **both)
    assert finding(unsaid, "poles.both").severity is CAUTION
    # One of a single pole, or one fuse among them, and it is not.
    for other in (breaker(**strong, poles=1), good_family(**strong)):
        mixed = pack_of(cells, earthed=True, both_poles=True, **{**both, "main_fuse": other})
        assert finding(mixed, "poles.both").severity is BOTH[cells, True, True]


def test_every_word_on_fuses_in_poles_agrees() -> None:
    """What a caution asks for must not earn the next one: a floating pack, an earthed one."""
    for earthed, both in ((False, True), (True, False)):
        build = pack_of(LOW + 1, earthed=earthed, both_poles=both)  # 63 V
        assert finding(build, "poles.both").severity is OK
        touch = finding(build, "window.touch")
        assert touch.severity is CAUTION
        assert "fuse every pole that is not earthed" in touch.remedy


@pytest.mark.parametrize("rules", ["nec", "iec"])
@pytest.mark.parametrize(("cells", "earthed", "watched"), INSULATION)
def test_a_first_fault_to_earth_must_be_noticed(
    cells: int, rules: str, *, earthed: bool | None, watched: bool | None
) -> None:
    build = pack_of(cells, earthed=earthed, rules=rules, insulation_monitoring=watched)
    found = finding(build, "poles.insulation")
    expected = INSULATION if rules == "nec" else INSULATION_BY_IEC
    assert found.severity is expected[cells, earthed, watched]
    assert found.remedy or found.severity is OK


@pytest.mark.parametrize(("cells", "severity"), [(MIDDLE, OK), (HIGH, CAUTION)])
def test_above_120_volts_it_is_work_for_a_licensed_person(cells: int, severity: Severity) -> None:
    build = pack_of(cells, earthed=False, both_poles=True)
    assert finding(build, "poles.high-voltage").severity is severity


def test_a_tighter_limit_of_the_module_does_not_lower_the_voltage() -> None:
    """29 · 4.1 V are 118.9 V, but settings keep that, and 29 · 4.2 V are 121.8 V."""
    module = good_module(cells_in_series=HIGH, cell_highest="4.1 V")
    build = good_build(
        pack=good_pack(module=module, modules_in_series=1, earthed="none"),
        safeguards=good_safeguards(insulation_monitoring=False),
        site=good_site(rules="iec"),
    )
    assert finding(build, "poles.insulation").severity is STOP


# --- Breakers ---------------------------------------------------------------------------------


def breaker(**changes: object) -> FuseFamily:
    return good_family(**{"kind": "breaker", "poles": 2, "polarised": False, **changes})


def with_main(family: FuseFamily, *, charges: bool) -> Build:
    built_in = good_charger(name="built in", current="10 A", current_setting=NOT_FITTED)
    return good_build(
        inverters=(good_inverter(charger=built_in if charges else NOT_FITTED),),
        safeguards=good_safeguards(main_fuse=family),
    )


@pytest.mark.parametrize(
    ("polarised", "charges", "severity"),
    [
        (False, True, OK),
        (True, True, STOP),
        (None, True, UNKNOWN),
        (False, False, OK),
        (True, False, NOTE),
        (None, False, NOTE),
    ],
)
def test_a_polarised_breaker_stands_only_where_current_flows_one_way(
    *, polarised: bool | None, charges: bool, severity: Severity
) -> None:
    build = with_main(breaker(polarised=polarised), charges=charges)
    assert finding(build, "poles.polarity").severity is severity


def test_a_polarised_breaker_stands_in_no_string_and_no_charger() -> None:
    for place in ("string_fuse", "charger_fuse"):
        build = good_build(safeguards=good_safeguards(**{place: breaker(polarised=True)}))
        assert finding(build, "poles.polarity").severity is STOP


def test_a_polarised_breaker_stands_in_no_string_of_panels() -> None:
    """Its fault is fed by the other strings, against the working current."""
    family = breaker(polarised=True, dc_voltage="300 V", largest="60 A")
    build = solar_build(
        arrays=(good_array(in_parallel=3),),
        safeguards=good_safeguards(array_fuse=family),
    )
    (found,) = [f for f in findings(build, "poles.polarity") if f.severity is not OK]
    assert found.severity is STOP


@pytest.mark.parametrize(
    ("volts", "poles", "severity"),
    [
        ("125 V", 1, OK),
        ("250 V", 1, OK),
        ("251 V", 1, CAUTION),
        ("500 V", 2, OK),
        ("501 V", 2, CAUTION),
        ("1000 V", 4, OK),
    ],
)
def test_a_pole_of_a_breaker_breaks_only_so_much(
    volts: str, poles: int, severity: Severity
) -> None:
    build = with_main(breaker(dc_voltage=volts, poles=poles), charges=False)
    found = finding(build, "poles.breaker")
    assert found.severity is severity
    assert ("in series" in found.detail) == (poles > 1)


def test_typical_ratings_of_a_breaker_are_said_to_be_assumed() -> None:
    build = with_main(breaker(basis="assumed"), charges=True)
    assert finding(build, "poles.breaker").assumed
    assert finding(build, "poles.polarity").severity is CAUTION


def test_a_circuit_without_a_fuse_that_fits_has_no_breaker_to_judge() -> None:
    build = with_main(breaker(dc_voltage="24 V", polarised=True), charges=True)
    assert finding(build, "poles.polarity").about == "breakers"


# --- Whatever the build -----------------------------------------------------------------------


@given(build=builds())
def test_no_floating_pack_above_60_volts_passes_with_one_pole(build: Build) -> None:
    volts = build.pack.cells_in_series * build.pack.module.chemistry.limits.highest.m
    found = {f.rule.key: f.severity for f in design(build).findings}
    safeguards, earthed = build.safeguards, build.pack.earthed
    assert (found["poles.high-voltage"] is CAUTION) == (volts > 120)
    if earthed == "none":
        assert (found["poles.both"] is OK) == (safeguards.both_poles is True)
        assert found["poles.both"] in ({OK, UNKNOWN, STOP} if volts > 60 else {OK, CAUTION})
    elif earthed is None:
        assert found["poles.both"] in ({CAUTION, UNKNOWN} if volts > 60 else {CAUTION})
        assert found["poles.both"] is UNKNOWN or volts <= 60 or safeguards.both_poles
    elif not safeguards.both_poles:
        assert found["poles.both"] is (CAUTION if earthed == "plus" else OK)
    watched_from = {"nec": 100, "iec": 120}[build.site.rules]
    if volts > watched_from and earthed in {"none", None}:
        watched = safeguards.insulation_monitoring
        assert (found["poles.insulation"] >= UNKNOWN) == (not watched)


@given(build=builds())
def test_a_polarised_breaker_in_a_string_never_passes(build: Build) -> None:
    strong = breaker(polarised=True, dc_voltage="2000 V", interrupting="500 kA", largest="6000 A")
    changed = attrs.evolve(build, safeguards=attrs.evolve(build.safeguards, string_fuse=strong))
    done = design(changed)
    assert done.protection is not None
    named = done.protection.fuses[0].size is not None
    stops = [f for f in findings(changed, "poles.polarity") if f.severity is STOP]
    assert bool(stops) == named
