"""The protection schedule. Worked by hand, and a second opinion on every fuse named.

The good build at the bottom of its window, 42 V: 3290.870 W are 78.354 A, over three strings or
through the main fuse. With our margin a string has 120 % of its share, and a fuse 1.25 for hours,
1.1 for ripple and 85 % in a warm box: 1.617647 in all.
"""

from __future__ import annotations

import attrs
import pytest
from hypothesis import given
from strategies import (
    SIZES,
    builds,
    good_build,
    good_cabling,
    good_catalogue,
    good_conductor,
    good_family,
    good_module,
    good_pack,
    good_safeguards,
    good_site,
    groundwork,
    sound_builds,
    with_inverter,
    with_module,
    with_pack,
    with_policy,
    with_safeguards,
)

from evpack.base.finding import Finding, Severity
from evpack.base.worked import Worked
from evpack.check.sharing import sharing
from evpack.describe.build import Build
from evpack.describe.cabling import Run
from evpack.describe.safeguards import FuseFamily
from evpack.design import design
from evpack.outcome.protection import Circuit, FuseChoice
from evpack.protect.bounds import inverter_current
from evpack.protect.schedule import protection

# The bars of the good build, both, warm [Ω]; see test_fault.py.
BARS = 0.000041935


def fuses(build: Build) -> tuple[FuseChoice, ...]:
    schedule = design(build).protection
    assert schedule is not None
    return schedule.fuses


def findings(build: Build, rule: str) -> list[Finding]:
    return [f for f in design(build).findings if f.rule.key == rule]


def known(bound: Worked | None) -> float:
    assert bound is not None
    return bound.value


def test_every_string_has_its_fuse_at_its_positive_terminal() -> None:
    for strings in (1, 2, 5):
        string_fuse, *others = fuses(with_pack(strings=strings))
        assert (string_fuse.place, string_fuse.count) == (
            "each string, at its positive terminal",
            strings,
        )
        assert [fuse.place for fuse in others] == [
            "main, at the bus, to inverter",
            "charger, at the bus, from charger",
        ]


def test_the_string_fuse_of_the_good_build() -> None:
    fuse, *_ = fuses(good_build())
    # 78.354 / 3 = 26.118 A, 125 % of it by NEC.
    assert known(fuse.lower) == pytest.approx(32.648, abs=0.0005)
    # With our margin 26.118 · 1.2 = 31.342 A, times 1.617647: 50.700 A.
    assert known(fuse.lower_guard) == pytest.approx(50.700, abs=0.0005)
    # The lead carries 115 A, the links 90 A.
    assert (known(fuse.upper), known(fuse.upper_guard)) == (90.0, 90.0)
    # With one string out 47.012 A ask for 76.050 A, which the upper bound allows: 80 A.
    assert fuse.size == 80.0
    # What two others feed into one string, see test_fault.py.
    assert known(fuse.interrupting) == pytest.approx(58.8 / 0.0055248)
    assert known(fuse.voltage) == pytest.approx(58.8)


def test_the_string_fuse_where_one_string_out_would_ask_too_much() -> None:
    # Links of 70 A: 76.050 A do not fit, 50.700 A do: 60 A.
    build = with_module(link_limit="70 A")
    fuse, *_ = fuses(build)
    assert fuse.size == 60.0
    # 60 A carry 60 / 1.617647 = 37.091 A for good, and 47.012 A would flow: of 3290.870 W a string
    # out leaves 37.091 / 47.012, 2596.4 W; (2596.4 − 30) · 0.92 = 2361.1 W on the AC side.
    (found,) = findings(build, "protection.one-out")
    assert (found.value, found.limit) == (
        pytest.approx(47.012, abs=0.0005),
        pytest.approx(37.091, abs=0.0005),
    )
    assert "keep the AC load under 2361 W" in found.remedy


def test_links_that_nobody_knows_are_taken_at_the_modules_limit() -> None:
    # Less than the 60 A that the modules give for hours is drawn, but 78.354 A with both other
    # strings out: then a fuse for 60 A guards them, 125 % of it and the next size, 80 A.
    fuse, *_ = fuses(with_module(link_limit=None))
    assert (known(fuse.upper), known(fuse.upper_guard), fuse.size) == (80.0, 60.0, 60.0)
    # Modules of 79 A are never asked for more: their limit is no bound, and 79 A our margin. The
    # bound is the lead's, the next size above 115 A.
    fuse, *_ = fuses(with_module(link_limit=None, discharge_limit="79 A"))
    assert (known(fuse.upper), known(fuse.upper_guard)) == (125.0, 79.0)
    assert findings(with_module(link_limit=None), "protection.fits")[0].severity is Severity.OK
    # Modules of 30 A: 26.118 A are drawn and 32.648 A are asked for: 35 A, above our margin.
    build = with_module(link_limit=None, discharge_limit="30 A")
    assert fuses(build)[0].size == 35.0
    told = findings(build, "protection.fits")[0]
    assert (told.severity, told.guarded) == (Severity.CAUTION, 30.0)
    assert "links are only known for 30 A" in told.detail
    assert "Say link_limit under [module]" in told.remedy
    # 125 % of 30 A is 37.5 A, the next size 40 A: 60 A that are there already guard no such link.
    strong = attrs.evolve(build, safeguards=good_safeguards(string_fuse=good_family(rating="60 A")))
    told = findings(strong, "protection.fits")[0]
    assert (known(fuses(strong)[0].upper), told.severity) == (40.0, Severity.UNKNOWN)
    # By IEC the current itself: 32 A is the next size.
    iec = attrs.evolve(build, site=good_site(rules="iec"))
    assert known(fuses(iec)[0].upper) == 32.0
    # Modules of 26 A are asked for more than that: now it bounds.
    fuse, *_ = fuses(with_module(link_limit=None, discharge_limit="26 A"))
    assert (known(fuse.upper), fuse.size) == (26.0, None)
    nothing, *_ = fuses(with_module(link_limit=None, discharge_limit=None))
    assert (nothing.upper, nothing.size) == (None, None)


def test_links_of_a_string_alone_are_told_of_no_other_string() -> None:
    # One string of modules of 80 A: 78.354 A flow, 97.9 A are asked for: 100 A, above their 80 A.
    alone = with_module(link_limit=None, discharge_limit="80 A")
    alone = attrs.evolve(alone, pack=attrs.evolve(alone.pack, strings=1))
    told = findings(alone, "protection.fits")[0]
    assert told.severity is Severity.CAUTION
    assert "only known for 80 A" in told.detail
    assert "string" not in told.detail.split("That is allowed")[1]


def test_unlike_leads_give_the_last_string_no_more_than_there_is() -> None:
    # All that flows goes through the last string, however the leads share it among several.
    for shortest in (None, "0.5 m"):
        run = attrs.evolve(good_cabling().module_lead, length="4 m", shortest=shortest)
        build = with_module(link_limit=None, discharge_limit="79 A")
        build = attrs.evolve(build, cabling=good_cabling(module_lead=run))
        assert known(fuses(build)[0].upper) == 125.0


def test_links_that_nobody_knows_are_asked_about_where_they_decide() -> None:
    # The modules give 26 A, and a fuse of 32.648 A and more is asked for: their links may stand it.
    silent = with_module(link_limit=None, discharge_limit="26 A")
    told = findings(silent, "protection.fits")[0]
    assert told.severity is Severity.UNKNOWN
    assert told.remedy.startswith("Say link_limit under [module]")
    # Where they were read, and stand no more, there is nothing to ask.
    told = findings(with_module(link_limit="26 A"), "protection.fits")[0]
    assert (told.severity, "Say link_limit" in told.remedy) == (Severity.STOP, False)
    # Nor where another part stands less than a fuse is asked for: the lead of 25 A.
    lead = Run(name="lead", conductor=good_conductor(25.0, 0.64), length="1 m", protected=True)
    thin = attrs.evolve(silent, cabling=good_cabling(module_lead=lead))
    assert findings(thin, "protection.fits")[0].severity is Severity.STOP
    # Nor where the fuse that is there is too small to carry the current, whatever the links.
    small = attrs.evolve(silent, safeguards=good_safeguards(string_fuse=good_family(rating="20 A")))
    assert findings(small, "protection.fits")[0].severity is Severity.STOP
    # A larger one that is there may do, if the links stand it.
    there = attrs.evolve(silent, safeguards=good_safeguards(string_fuse=good_family(rating="40 A")))
    assert findings(there, "protection.fits")[0].severity is Severity.UNKNOWN


def test_the_main_fuse_of_the_good_build() -> None:
    _, fuse, _ = fuses(good_build())
    # 3290.870 / 42 = 78.354 A, times 1.25 by NEC: 97.943 A; with our margin times 1.617647:
    # 126.749 A. 2/0 AWG carries 175 A: 150 A.
    assert known(fuse.lower) == pytest.approx(97.943, abs=0.0005)
    assert known(fuse.lower_guard) == pytest.approx(126.749, abs=0.0005)
    assert (known(fuse.upper), known(fuse.upper_guard)) == (175.0, 175.0)
    assert fuse.size == 150.0
    assert known(fuse.interrupting) == pytest.approx(3 * 58.8 / 0.0110496)


@pytest.mark.parametrize(
    ("rating", "severity", "words"),
    [
        # 32.648 A by NEC, 50.7 A with our margin; the links stand 90 A.
        ("60 A", Severity.OK, "60 A lies between 32.7 A and 90 A"),
        ("40 A", Severity.CAUTION, "we would take 50.7 A"),
        ("30 A", Severity.STOP, "30 A, does not fit: it is less than 32.7 A, what it must carry"),
        ("100 A", Severity.STOP, "100 A, does not fit: it is more than 90 A, what it has to guard"),
    ],
)
def test_a_string_fuse_that_is_there_is_judged_as_it_is(
    rating: str, severity: Severity, words: str
) -> None:
    build = with_safeguards(string_fuse=good_family(rating=rating))
    told = findings(build, "protection.fits")[0]
    assert told.severity is severity
    assert words in told.detail
    if severity is Severity.STOP:
        assert told.remedy.startswith("35 A or 40 A or 45 A would do.")
    else:
        assert fuses(build)[0].size == float(rating.removesuffix(" A"))


def test_a_main_fuse_that_the_rule_allows_and_our_margin_does_not() -> None:
    # Mains of 120 A: 126.749 A are wished for, and 110 A is the most that is made under 120 A.
    run = Run(name="main", conductor=good_conductor(120.0), length="1.5 m")
    build = good_build(cabling=good_cabling(main=run))
    _, fuse, _ = fuses(build)
    assert (known(fuse.upper), known(fuse.upper_guard)) == (125.0, 120.0)
    assert fuse.size == 110.0  # of 100 A and 110 A the one that opens less early
    told = findings(build, "protection.fits")[1]
    assert told.severity is Severity.CAUTION
    assert told.guarded == pytest.approx(126.749, abs=0.0005)
    assert "127 A" in told.detail
    assert "ambient under [protection]" in told.remedy
    # In air of 25 °C nothing is lost: 107.737 A are wished for, and 110 A keep all margins.
    site = good_site(warmest="25 degC")
    cool = attrs.evolve(build, safeguards=good_safeguards(ambient="25 degC"), site=site)
    assert fuses(cool)[1].size == 110.0
    assert findings(cool, "protection.fits")[1].severity is Severity.OK


def test_by_iec_a_gg_link_stays_under_what_its_conductor_carries() -> None:
    # 433.1: 1.6 In ≤ 1.45 Iz, so 175 A guard with 158.59 A and 115 A with 104.22 A.
    gg = good_family(characteristic="gG")
    build = good_build(
        site=good_site(rules="iec"),
        pack=good_pack(module=good_module(link_limit="300 A")),
        safeguards=good_safeguards(string_fuse=gg, main_fuse=gg),
    )
    string_fuse, main, _ = fuses(build)
    assert known(main.upper) == pytest.approx(158.59375)
    assert known(string_fuse.upper) == pytest.approx(104.21875)
    # 433.1 asks for the currents themselves: 78.354 A and 26.118 A.
    assert known(main.lower) == pytest.approx(78.354, abs=0.0005)
    assert known(string_fuse.lower) == pytest.approx(26.118, abs=0.0005)


@pytest.mark.parametrize("field", ["continuous", "efficiency", "idle", "window_low"])
def test_no_main_fuse_for_a_current_that_nobody_knows(field: str) -> None:
    build = with_inverter(**{field: None})
    assert inverter_current(build.inverters[0]) is None
    ground = groundwork(build)
    schedule, _ = protection(ground, sharing(ground), good_catalogue())
    assert schedule.fuses[1].size is None


# --- How slow the faults are ------------------------------------------------------------------


def test_each_fuse_is_held_against_the_slowest_of_its_own_faults() -> None:
    # 1 µH a metre. A string fed by two: 1 + 1 / 2 m of 58.8 V / 10 642.9 A = 5.5248 mΩ: 0.27150 ms.
    # The end of the main, 1.5 + 1 / 3 m, of 58.8 V / 15 964.4 A = 3.6832 mΩ: 0.49776 ms; that of
    # the charger's cable, 2 + 1 / 3 m: 0.63350 ms. UL 248 tests in 10 ms.
    string, main, charger = findings(good_build(), "protection.time-constant")
    assert [f.value for f in (string, main, charger)] == [
        pytest.approx(0.27150e-3, rel=1e-4),
        pytest.approx(0.49776e-3, rel=1e-4),
        pytest.approx(0.63350e-3, rel=1e-4),
    ]
    assert {f.limit for f in (string, main, charger)} == {0.010}
    assert {f.severity for f in (string, main, charger)} == {Severity.OK}


def test_a_long_cable_slows_the_faults_of_its_own_fuse_alone() -> None:
    # (40 + 1 / 3) µH / 3.6832 mΩ = 10.951 ms.
    run = Run(name="main", conductor=good_conductor(), length="40 m")
    build = good_build(cabling=good_cabling(main=run))
    string, main, charger = findings(build, "protection.time-constant")
    assert main.value == pytest.approx(10.951e-3, rel=1e-4)
    assert [f.severity for f in (string, main, charger)] == [
        Severity.OK,
        Severity.CAUTION,
        Severity.OK,
    ]
    # A breaker is tested in 5 ms: (20 + 1 / 3) µH / 3.6832 mΩ = 5.5206 ms.
    run = Run(name="main", conductor=good_conductor(), length="20 m")
    for family, severity in (
        (good_family(), Severity.OK),
        (good_family(kind="breaker"), Severity.CAUTION),
    ):
        build = good_build(
            cabling=good_cabling(main=run), safeguards=good_safeguards(main_fuse=family)
        )
        _, main, _ = findings(build, "protection.time-constant")
        assert (main.severity, main.value) == (severity, pytest.approx(5.5206e-3, rel=1e-4))


def test_the_current_of_an_inverter_is_that_at_the_bottom_of_its_window() -> None:
    current = inverter_current(good_build().inverters[0])
    assert known(current) == pytest.approx(78.354, abs=0.0005)


def test_what_clears_slowly_is_judged_by_the_worst_place() -> None:
    # A fault on the bus drives through each fuse what its own string gives, 42 / 0.06128 =
    # 685.4 A; one string fed by two others 1315.8 A. A quick link of 80 A clears at five times it.
    strings, main, charger = findings(good_build(), "protection.clears")
    assert strings.value == pytest.approx(42 / 0.06128)
    assert strings.limit == 400.0
    # The main fuse at the inverter's terminals, 1960.0 A, of five times 150 A.
    assert main.value == pytest.approx(42 / (0.06128 / 3 + 0.00096 + BARS), rel=1e-6)
    assert main.limit == 750.0
    # And the charger's, 60 A, at the end of its cable.
    assert charger.value == pytest.approx(42 / (0.06128 / 3 + 0.004 + BARS), rel=1e-6)
    assert charger.limit == 300.0


def test_of_two_strings_one_feeds_the_other() -> None:
    # 42 / (0.06128 + 0.00128) = 671.4 A, less than 685.4 A from its own to the bus.
    strings, *_ = findings(with_pack(strings=2), "protection.clears")
    assert strings.value == pytest.approx(42 / 0.06256)


def test_a_single_string_is_judged_at_its_terminals() -> None:
    # Its fuse guards the lead to the bus: 42 / (0.060 + 0.00064) = 692.6 A.
    build = good_build(
        pack=good_pack(module=good_module(link_limit="200 A"), strings=1),
        cabling=good_cabling(module_lead=Run(name="l", conductor=good_conductor(), length="1 m")),
    )
    strings, *_ = findings(build, "protection.clears")
    assert strings.value == pytest.approx(42 / 0.06064)


def test_a_fault_through_cables_that_nobody_described_is_a_caution() -> None:
    """The guard alone asks nothing; the cable that nobody described does (cable.known)."""
    build = good_build(cabling=good_cabling(module_lead=None))
    assert [(f.about, f.severity) for f in findings(build, "protection.clears")] == [
        ("main, at the bus, to inverter", Severity.CAUTION),
        ("charger, at the bus, from charger", Severity.CAUTION),
    ]
    assert [f.severity for f in findings(build, "cable.known")] == [Severity.UNKNOWN]


# A family of which no gates are known, and its size, which a weaker fault would make smaller.
QUICK = good_safeguards(string_fuse=good_family(characteristic="quick", rating="80 A"))


@pytest.mark.parametrize(
    ("weak", "severity"),
    # An 80 A string fuse: three times are 240 A, five times 400 A. A string gives, through its own
    # lead to a fault on the bus, 42 V / (k · 20 mΩ + 1.28 mΩ).
    [
        ("500 %", Severity.OK),  # 42 / 0.10128 = 414.7 A
        ("550 %", Severity.CAUTION),  # 42 / 0.11128 = 377.4 A
        ("800 %", Severity.CAUTION),  # 42 / 0.16128 = 260.4 A
        ("900 %", Severity.CAUTION),  # a guard: 42 / 0.18128 = 231.7 A
    ],
)
def test_a_fault_that_hardly_melts_a_fuse_is_a_caution(weak: str, severity: Severity) -> None:
    build = attrs.evolve(with_policy(weak_part=weak), safeguards=QUICK)
    strings, *_ = findings(build, "protection.clears")
    assert strings.severity is severity


def test_no_policy_makes_a_slow_fuse_a_quick_one() -> None:
    # Asked for no more than the rating itself, given 2.9 times that: 231.7 A of 80 A; five are due.
    build = attrs.evolve(with_policy(weak_part="900 %", clearing="100 %"), safeguards=QUICK)
    strings, *_ = findings(build, "protection.clears")
    assert (strings.severity, strings.limit) == (Severity.CAUTION, 400.0)


@pytest.mark.parametrize(
    ("build", "place", "section"),
    [
        (
            with_safeguards(string_fuse=good_family(dc_voltage="58 V")),
            0,
            "[protection.string_fuse]",
        ),
        (with_safeguards(main_fuse=good_family(interrupting="5 kA")), 1, "[protection.main_fuse]"),
    ],
    ids=["string", "main"],
)
def test_a_fuse_that_does_not_fit_says_where_to_describe_another(
    build: Build, place: int, section: str
) -> None:
    fuse = fuses(build)[place]
    assert (
        f"describe it under {section} (name, dc_voltage, interrupting, largest, characteristic)"
        in fuse.change
    )
    assert "SECTION" not in fuse.change
    told = next(f for f in findings(build, "protection.fits") if f.about == fuse.place)
    assert (told.severity, told.remedy) == (Severity.STOP, fuse.change)


@pytest.mark.parametrize("basis", ["assumed", "chosen", "datasheet"])
def test_a_typical_family_is_a_limit_to_confirm(basis: str) -> None:
    family = good_family(basis=basis)
    build = with_safeguards(string_fuse=family, main_fuse=family, charger_fuse=family)
    found = findings(build, "protection.fits")
    limited = basis != "datasheet"
    assert [f.severity for f in found] == [Severity.CAUTION if limited else Severity.OK] * 3
    assert [f.assumed for f in found] == [("DC ratings of the fuse",) if limited else ()] * 3


@pytest.mark.parametrize(
    ("build", "place", "lines"),
    [
        (
            good_build(cabling=good_cabling(module_lead=None)),
            0,
            "[cabling.module_lead], and link_limit or discharge_limit under [module]",
        ),
        (good_build(cabling=good_cabling(main=None)), 1, "[cabling.main]"),
    ],
    ids=["string", "main"],
)
def test_what_a_fuse_has_to_guard_is_asked_for(build: Build, place: int, lines: str) -> None:
    assert fuses(build)[place].change == f"Say in the build sheet: {lines}."


def test_the_iec_factor_is_only_remembered() -> None:
    safeguards = good_safeguards(main_fuse=good_family(characteristic="gG"))
    upper = fuses(good_build(site=good_site(rules="iec"), safeguards=safeguards))[1].upper
    assert upper is not None
    assert len(upper.assumed) == 1
    assert upper.assumed[0].startswith("1.45 / 1.6")


def test_with_one_string_out_the_modules_still_stand_the_load() -> None:
    # 2203.913 W at 42 V are 52.474 A; half of it, times 1.2: 31.484 A.
    (found,) = findings(good_build(), "protection.one-out-modules")
    assert found.value == pytest.approx(31.484, abs=0.0005)
    assert found.limit == 60.0


def test_one_string_has_none_to_lose() -> None:
    build = with_pack(strings=1)
    assert findings(build, "protection.one-out") == []
    assert findings(build, "protection.one-out-modules") == []
    assert findings(build, "selective.two-strings") == []


def test_without_a_string_fuse_only_the_modules_are_judged_with_one_out() -> None:
    build = with_module(link_limit="20 A")
    assert findings(build, "protection.one-out") == []
    assert len(findings(build, "protection.one-out-modules")) == 1


def test_without_any_sharing_no_string_fuse_is_named() -> None:
    schedule, found = protection(groundwork(good_build()), None, good_catalogue())
    assert schedule.fuses[0].size is None
    assert {f.severity for f in found if f.rule.key == "protection.fits"} >= {Severity.UNKNOWN}


def test_a_load_that_nobody_knows_leaves_one_string_out_open() -> None:
    shared = design(good_build()).sharing
    ground = groundwork(with_inverter(efficiency=None))
    _, found = protection(ground, shared, good_catalogue())
    told = {f.rule.key: f.severity for f in found}
    # No answer would make it more than a caution, so it is not asked for.
    assert told["protection.one-out-modules"] is Severity.CAUTION


# A second opinion: what would flow, worked out anew from the build.


@given(build=sound_builds() | builds())
def test_no_fuse_is_named_that_would_not_do(build: Build) -> None:
    schedule = design(build).protection
    assert schedule is not None
    # NEC asks for 125 % of a continuous current, IEC for the current itself.
    factor = 1.25 if build.site.rules == "nec" else 1.0
    volts = build.pack.cells_in_series * float(build.pack.module.chemistry.limits.highest.m)
    for circuit in schedule.circuits:
        fuse = schedule.fuse_of(circuit)
        if fuse is None or fuse.size is None or circuit.kind == "array":
            continue
        assert fuse.family is not None
        assert fuse.family.dc_voltage.m >= volts * (1 - 1e-12)
        assert fuse.family.largest.m >= fuse.size
        most, carried, alike = second_opinion(build, circuit, fuse.family)
        assert fuse.size <= most * (1 + 1e-9)
        assert fuse.size >= carried * factor * (1 - 1e-9)
        both = build.safeguards.both_poles
        assert fuse.count == alike * (2 if both else 1)
        assert fuse.family.interrupting.m >= fault_through(build, circuit, volts) * (1 - 1e-9)


def second_opinion(build: Build, circuit: Circuit, family: FuseFamily) -> tuple[float, float, int]:
    """Return what a fuse guards [A], what it carries [A], and how many are alike."""
    pack, cabling = build.pack, build.cabling
    if circuit.kind == "string":
        module, link, lead = pack.module, cabling.link, cabling.module_lead
        stands = module.discharge_limit if module.link_limit is None else module.link_limit
        assert stands is not None
        assert lead is not None
        guards = [float(stands.m), _guarded(build, lead, family)]
        guards += [] if link is None else [_guarded(build, link, family)]
        return min(guards), _string_current(build), pack.strings
    if circuit.kind == "main":
        inverter = next(i for i in build.inverters if i.name == circuit.device)
        assert inverter.continuous is not None
        assert inverter.efficiency is not None
        assert inverter.idle is not None
        assert inverter.window_low is not None
        assert cabling.main is not None
        watts = inverter.continuous.m / inverter.efficiency.m + inverter.idle.m
        carried = float(watts / inverter.window_low.m)
        return _guarded(build, cabling.main, family), carried, inverter.count
    charger = next(c for c in build.chargers if c.name == circuit.device)
    assert charger.current is not None
    assert cabling.charger is not None
    return _guarded(build, cabling.charger, family), float(charger.current.m), charger.count


def fault_through(build: Build, circuit: Circuit, volts: float) -> float:
    """Return the most that a fuse must break [A]."""
    pack, module = build.pack, build.pack.module
    link, lead = build.cabling.link, build.cabling.module_lead
    if module.resistance is None:
        each = 0.010 * module.cells_in_series / float(module.capacity.m)
    else:
        each = float(module.resistance.m)
    links = 0.0 if link is None else float(link.resistance.m) / 2 * (pack.modules_in_series - 1)
    own = each * pack.modules_in_series * float(build.policy.ohmic_part.m) + 0.82 * links
    cold = own + (0.0 if lead is None else 0.82 * float(lead.resistance.m))
    if circuit.kind == "string":
        return max(volts / own, volts * (pack.strings - 1) / cold)
    return volts * pack.strings / cold


# The ratings of NEC 240.6(A) up to 800 A, from memory.
_STANDARD = (1, 3, 6, 10, *SIZES, 450, 500, 600, 601, 700, 800)


def _guarded(build: Build, run: Run, family: FuseFamily) -> float:
    """Return the largest fuse that guards a run [A].

    By IEC a gG or gR link stays under it (433.1), and one of which nobody said how it melts; by NEC
    the next standard size above it may stand (240.4(B)).
    """
    carries = float(run.ampacity.m)
    if build.site.rules == "iec":
        slow = family.kind == "fuse" and family.characteristic in {"", "gG", "gR"}
        return carries * (1.45 / 1.6 if slow else 1.0)
    return min((float(size) for size in _STANDARD if size >= carries), default=carries)


def _string_current(build: Build) -> float:
    """Return an even share of a string with every inverter at full output [A].

    At the lowest window of all: an entry that stops one earlier can be changed.
    """
    watts = sum(
        float(i.continuous.m) * i.count / min(float(j.efficiency.m) for j in build.inverters)
        + float(i.idle.m) * i.count
        for i in build.inverters
    )
    volts = min(float(i.window_low.m) for i in build.inverters)
    return watts / volts / build.pack.strings


@given(build=sound_builds())
def test_a_fuse_named_is_a_fuse_that_fits(build: Build) -> None:
    done = design(build)
    assert done.protection is not None
    told = {f.about: f.severity for f in done.findings if f.rule.key == "protection.fits"}
    for fuse in done.protection.fuses:
        assert (told[fuse.place] < Severity.UNKNOWN) == (fuse.size is not None)


def test_guards_of_ones_own_move_our_margins_and_no_bound() -> None:
    fuse, *_ = fuses(with_policy(ripple="100 %", fuse_ambient="100 %"))
    # 31.342 · 1.25 A; 26.118 · 1.25 A by NEC whatever the policy says.
    assert known(fuse.lower_guard) == pytest.approx(39.177, abs=0.0005)
    assert known(fuse.lower) == pytest.approx(32.648, abs=0.0005)
    loose, *_ = fuses(with_policy(continuous_factor="100 %", sharing_imbalance="100 %"))
    assert known(loose.lower) == pytest.approx(32.648, abs=0.0005)
