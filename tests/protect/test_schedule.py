"""The protection schedule. Worked by hand, and a second opinion on every fuse named.

The good build at the bottom of its window, 42 V: 3290.870 W are 78.354 A, over three strings or
through the main fuse.
"""

from __future__ import annotations

import pytest
from hypothesis import given
from strategies import (
    builds,
    good_build,
    good_cabling,
    good_catalogue,
    good_conductor,
    good_family,
    good_module,
    good_pack,
    good_site,
    groundwork,
    sound_builds,
    with_inverter,
    with_module,
    with_pack,
    with_policy,
)

from evpack.base.finding import Finding, Severity
from evpack.base.worked import Worked
from evpack.describe.build import Build
from evpack.describe.cabling import Cabling, Run
from evpack.design import design
from evpack.outcome.protection import FuseChoice
from evpack.protect.bounds import inverter_current
from evpack.protect.schedule import protection


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
        string_fuse, *mains = fuses(with_pack(strings=strings))
        assert (string_fuse.place, string_fuse.count) == (
            "each string, at its positive terminal",
            strings,
        )
        assert [fuse.place for fuse in mains] == ["main, at the bus, to inverter"]


def test_the_string_fuse_of_the_good_build() -> None:
    fuse, _ = fuses(good_build())
    # 78.354 / 3 · 1.2 = 31.342 A, times 1.25 · 1.1 / 0.85 = 1.617647: 50.700 A.
    assert known(fuse.lower) == pytest.approx(50.700, abs=0.0005)
    # The lead carries 115 A, the links 90 A.
    assert known(fuse.upper) == 90.0
    # With one string out 47.012 A ask for 76.050 A, which the upper bound allows: 80 A.
    assert fuse.size == 80.0
    # What two others feed into one string, see test_fault.py.
    assert known(fuse.interrupting) == pytest.approx(58.8 / 0.0055248)
    assert fuse.voltage.value == pytest.approx(58.8)


def test_the_string_fuse_where_one_string_out_would_ask_too_much() -> None:
    # Links of 70 A: 76.050 A do not fit, 50.700 A do: 60 A.
    build = with_module(link_limit="70 A")
    fuse, _ = fuses(build)
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
    fuse, _ = fuses(with_module(link_limit=None))
    assert known(fuse.upper) == 60.0
    nothing, _ = fuses(with_module(link_limit=None, discharge_limit=None))
    assert (nothing.upper, nothing.size) == (None, None)


def test_the_main_fuse_of_the_good_build() -> None:
    _, fuse = fuses(good_build())
    # 3290.870 / 42 = 78.354 A, times 1.617647: 126.749 A; 2/0 AWG carries 175 A: 150 A.
    assert known(fuse.lower) == pytest.approx(126.749, abs=0.0005)
    assert known(fuse.upper) == 175.0
    assert fuse.size == 150.0
    assert known(fuse.interrupting) == pytest.approx(3 * 58.8 / 0.0110496)


def test_by_iec_a_fuse_stays_under_what_its_conductor_carries() -> None:
    # 433.1: 1.6 In ≤ 1.45 Iz, so 175 A guard with 158.59 A and 115 A with 104.22 A.
    build = good_build(
        site=good_site(rules="iec"), pack=good_pack(module=good_module(link_limit="300 A"))
    )
    string_fuse, main = fuses(build)
    assert known(main.upper) == pytest.approx(158.59375)
    assert known(string_fuse.upper) == pytest.approx(104.21875)


@pytest.mark.parametrize("field", ["continuous", "efficiency", "idle", "window_low"])
def test_no_main_fuse_for_a_current_that_nobody_knows(field: str) -> None:
    build = with_inverter(**{field: None})
    assert inverter_current(build.inverters[0]) is None
    assert fuses(build)[1].size is None


def test_the_current_of_an_inverter_is_that_at_the_bottom_of_its_window() -> None:
    current = inverter_current(good_build().inverters[0])
    assert known(current) == pytest.approx(78.354, abs=0.0005)


def test_what_clears_slowly_is_judged_by_the_worst_place() -> None:
    # A fault on the bus drives through each fuse what its own string gives, 42 / 0.06128 =
    # 685.4 A; one string fed by two others 1315.8 A. Five times 80 A are 400 A.
    strings, main = findings(good_build(), "protection.clears")
    assert strings.value == pytest.approx(42 / 0.06128)
    assert strings.limit == 400.0
    # The main fuse at the inverter's terminals, 1963.9 A, of five times 150 A.
    assert main.value == pytest.approx(42 / (0.06128 / 3 + 0.00096))
    assert main.limit == 750.0


def test_of_two_strings_one_feeds_the_other() -> None:
    # 42 / (0.06128 + 0.00128) = 671.4 A, less than 685.4 A from its own to the bus.
    strings, _ = findings(with_pack(strings=2), "protection.clears")
    assert strings.value == pytest.approx(42 / 0.06256)


def test_a_single_string_is_judged_at_its_terminals() -> None:
    # 42 / 0.060 = 700 A. 72.486 A for one string ask for 117 A; links and leads of 200 A.
    build = good_build(
        pack=good_pack(module=good_module(link_limit="200 A"), strings=1),
        cabling=good_cabling(module_lead=Run(name="l", conductor=good_conductor(), length="1 m")),
    )
    strings, _ = findings(build, "protection.clears")
    assert strings.value == pytest.approx(700.0)


def test_a_fault_through_cables_that_nobody_described_is_unknown() -> None:
    build = good_build(cabling=good_cabling(module_lead=None))
    assert [f.about for f in findings(build, "protection.clears")] == [
        "main, at the bus, to inverter"
    ]
    # A schedule with the resistance unknown names no fuse, and so none to clear.
    assert findings(with_module(resistance=None), "protection.clears") == []


@pytest.mark.parametrize(
    ("weak", "severity"),
    # An 80 A string fuse: three times are 240 A, five times 400 A. A string gives, through its own
    # lead to a fault on the bus, 42 V / (k · 20 mΩ + 1.28 mΩ).
    [
        ("500 %", Severity.OK),  # 42 / 0.10128 = 414.7 A
        ("550 %", Severity.CAUTION),  # 42 / 0.11128 = 377.4 A
        ("800 %", Severity.CAUTION),  # 42 / 0.16128 = 260.4 A
        ("900 %", Severity.STOP),  # 42 / 0.18128 = 231.7 A
    ],
)
def test_a_fault_that_hardly_melts_a_fuse_is_a_stop(weak: str, severity: Severity) -> None:
    strings, _ = findings(with_policy(weak_part=weak), "protection.clears")
    assert strings.severity is severity


def test_no_policy_makes_a_slow_fuse_a_quick_one() -> None:
    # Asked for no more than the rating itself, and given 2.9 times that: 231.7 A of 80 A.
    strings, _ = findings(with_policy(weak_part="900 %", clearing="100 %"), "protection.clears")
    assert (strings.severity, strings.limit) == (Severity.STOP, 240.0)


def parallel(area: float) -> Build:
    wire = good_conductor(area=area)
    return good_build(
        cabling=good_cabling(main=Run(name="main", conductor=wire, length="1.5 m", parallel=2))
    )


@pytest.mark.parametrize(
    ("area", "severity"),
    # 1/0 AWG has 53.5 mm²; 1 AWG 42.4 mm² and 50 mm² are less.
    [(53.5, Severity.NOTE), (50.0, Severity.STOP), (42.4, Severity.STOP)],
)
def test_small_conductors_are_not_laid_in_parallel(area: float, severity: Severity) -> None:
    (found,) = findings(parallel(area), "protection.parallel-conductors")
    assert (found.severity, found.about) == (severity, "main")


def test_a_lone_conductor_is_never_in_parallel() -> None:
    assert findings(good_build(), "protection.parallel-conductors") == []
    assert findings(good_build(cabling=Cabling()), "protection.parallel-conductors") == []


@pytest.mark.parametrize(
    ("build", "place", "section"),
    [
        (good_build(string_fuse=good_family(dc_voltage="58 V")), 0, "[protection.string_fuse]"),
        (good_build(main_fuse=good_family(interrupting="5 kA")), 1, "[protection.main_fuse]"),
    ],
    ids=["string", "main"],
)
def test_a_fuse_that_does_not_fit_says_where_to_describe_another(
    build: Build, place: int, section: str
) -> None:
    fuse = fuses(build)[place]
    assert f"describe it under {section} (name, dc_voltage, interrupting, largest)" in fuse.change
    assert "SECTION" not in fuse.change
    told = next(f for f in findings(build, "protection.fits") if f.about == fuse.place)
    assert (told.severity, told.remedy) == (Severity.STOP, fuse.change)


@pytest.mark.parametrize("basis", ["assumed", "datasheet"])
def test_a_typical_family_is_a_limit_to_confirm(basis: str) -> None:
    family = good_family(basis=basis)
    found = findings(good_build(string_fuse=family, main_fuse=family), "protection.fits")
    limited = basis == "assumed"
    assert [f.severity for f in found] == [Severity.CAUTION if limited else Severity.OK] * 2
    assert [f.assumed for f in found] == [("DC ratings of the fuse",) if limited else ()] * 2


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
    upper = fuses(good_build(site=good_site(rules="iec")))[1].upper
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
    assert findings(build, "protection.two-strings") == []


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
    assert told["protection.one-out-modules"] is Severity.UNKNOWN


# A second opinion: what would flow, worked out anew from the build.


@given(build=sound_builds() | builds())
def test_no_fuse_is_named_that_would_not_do(build: Build) -> None:
    schedule = design(build).protection
    assert schedule is not None
    policy, pack, module = build.policy, build.pack, build.pack.module
    factor = float(policy.continuous_factor.m * policy.ripple.m / policy.fuse_ambient.m)
    lead, main = build.cabling.module_lead, build.cabling.main
    guards = 1.45 / 1.6 if build.site.rules == "iec" else 1.0
    for fuse in schedule.fuses:
        if fuse.size is None:
            assert fuse.family is None
            continue
        assert fuse.family is not None
        assert lead is not None or main is not None
        assert module.resistance is not None
        assert fuse.family.dc_voltage.m >= pack.cells_in_series * module.highest.m * (1 - 1e-12)
        own = float(module.resistance.m) * pack.modules_in_series * float(policy.ohmic_part.m)
        cold = 0.0 if lead is None else 0.82 * float(lead.resistance.m)
        volts = pack.cells_in_series * float(module.highest.m)
        bus = volts * pack.strings / (own + cold)
        if fuse.place.startswith("each string"):
            assert lead is not None
            through = max(volts / own, volts * (pack.strings - 1) / (own + cold))
            assert fuse.size <= lead.ampacity.m * guards
            link = module.discharge_limit if module.link_limit is None else module.link_limit
            assert link is not None
            assert fuse.size <= link.m
            assert fuse.count == pack.strings
            carried = _string_current(build)
        else:
            assert main is not None
            through = bus
            assert fuse.size <= main.ampacity.m * guards
            inverter = next(i for i in build.inverters if fuse.place.endswith(f"to {i.name}"))
            assert fuse.count == inverter.count
            assert inverter.continuous is not None
            assert inverter.efficiency is not None
            assert inverter.idle is not None
            assert inverter.window_low is not None
            watts = inverter.continuous.m / inverter.efficiency.m + inverter.idle.m
            carried = float(watts / inverter.window_low.m)
        assert fuse.family.interrupting.m >= through * (1 - 1e-9)
        assert fuse.size >= carried * factor * (1 - 1e-9)
        assert fuse.family.largest.m >= fuse.size


def _string_current(build: Build) -> float:
    """Return the most that a string carries with every inverter at full output [A].

    At the lowest window of all: an entry that stops one earlier can be changed.
    """
    watts = sum(
        float(i.continuous.m) * i.count / min(float(j.efficiency.m) for j in build.inverters)
        + float(i.idle.m) * i.count
        for i in build.inverters
    )
    volts = min(float(i.window_low.m) for i in build.inverters)
    strings = build.pack.strings
    uneven = 1.0 if strings == 1 else float(build.policy.sharing_imbalance.m)
    return watts / volts / strings * uneven


@given(build=sound_builds())
def test_a_fuse_named_is_a_fuse_that_fits(build: Build) -> None:
    done = design(build)
    assert done.protection is not None
    told = {f.about: f.severity for f in done.findings if f.rule.key == "protection.fits"}
    for fuse in done.protection.fuses:
        assert (told[fuse.place] < Severity.UNKNOWN) == (fuse.size is not None)


def test_guards_of_ones_own_move_the_bounds() -> None:
    fuse, _ = fuses(with_policy(ripple="100 %", fuse_ambient="100 %"))
    # 31.342 · 1.25 A.
    assert known(fuse.lower) == pytest.approx(39.177, abs=0.0005)
