"""The circuits of an installation, and the bounds of their fuses. Worked by hand."""

from __future__ import annotations

from typing import Any

import attrs
import pytest
from hypothesis import given
from hypothesis import strategies as st
from strategies import (
    good_build,
    good_cabling,
    good_charger,
    good_conductor,
    good_family,
    good_inverter,
    good_pack,
    good_safeguards,
    good_site,
    groundwork,
    with_inverter,
)

from evpack.base.basis import Basis
from evpack.base.finding import Finding, Severity
from evpack.base.fitted import NOT_FITTED
from evpack.base.worked import Worked
from evpack.check.sharing import sharing
from evpack.describe.array import Array
from evpack.describe.build import Build
from evpack.describe.cabling import Run
from evpack.design import design
from evpack.load.tables import fuse_catalogue
from evpack.outcome.protection import Circuit, FuseChoice
from evpack.protect.bounds import guards, inverter_surge, next_size_up, warmth
from evpack.protect.circuits import circuits as every_circuit
from evpack.protect.fault import fault_bands


def circuits(build: Build) -> dict[str, Circuit]:
    schedule = design(build).protection
    assert schedule is not None
    return {c.kind if c.kind == "string" else c.device: c for c in schedule.circuits}


def fuse(build: Build, device: str) -> FuseChoice | None:
    schedule = design(build).protection
    assert schedule is not None
    return schedule.fuse_of(circuits(build)[device])


def known(number: Worked | None) -> float:
    assert number is not None
    return number.value


def solar(**changes: Any) -> Build:
    """Return a build with three strings of three panels each on a solar charger."""
    fields: dict[str, Any] = {
        "name": "roof",
        "feeds": "sun",
        "in_series": 3,
        "in_parallel": 3,
        "open_circuit": "40 V",
        "maximum_power_voltage": "33 V",
        "short_circuit": "10 A",
        "maximum_power_current": "9.5 A",
        "power": "313 W",
        "coefficient": "-0.28 %/K",
        "largest_fuse": "20 A",
        "basis": "datasheet",
    }
    return good_build(
        chargers=(good_charger(name="sun", source="solar", pv_highest="150 V"),),
        arrays=(Array(**{**fields, **changes}),),
        site=good_site(coldest_outside="-10 degC", warmest_outside="30 degC"),
        cabling=good_cabling(
            array=Run(name="array cable", conductor=good_conductor(40.0, 3.3, 5.3), length="12 m")
        ),
        safeguards=good_safeguards(array_fuse=good_family(dc_voltage="1000 V")),
    )


def test_every_circuit_is_there_once() -> None:
    assert set(circuits(solar())) == {"string", "inverter", "sun", "roof"}


@pytest.mark.parametrize(
    ("rules", "least", "wished"),
    [
        # NEC 690.9(B): 1.25 · 1.25 · 10 A = 15.625 A; 18.382 A with our 85 % for warm places.
        ("nec", 15.625, 18.382),
        # IEC 62548: 1.5 · 10 A = 15 A; 17.647 A with our 85 %.
        ("iec", 15.0, 17.647),
    ],
)
def test_the_fuse_of_a_solar_string(rules: str, least: float, wished: float) -> None:
    # The panel allows 20 A, the cable 40 A: 20 A. The two others give 2 · 10 · 1.25 = 25 A. Cold:
    # 3 · 40 · (1 + 0.0028 · 35) = 131.76 V.
    found = fuse(by(rules, solar()), "roof")
    assert found is not None
    assert known(found.lower) == pytest.approx(least)
    assert known(found.lower_guard) == pytest.approx(wished, abs=0.0005)
    assert known(found.upper) == 20.0
    assert known(found.interrupting) == pytest.approx(25.0)
    assert known(found.voltage) == pytest.approx(131.76)
    assert (found.size, found.count) == (20.0, 3)


def by(rules: str, build: Build) -> Build:
    return attrs.evolve(build, site=attrs.evolve(build.site, rules=rules))


def test_links_for_solar_strings_are_made_in_sizes_of_their_own() -> None:
    # IEC: 1.5 · 8 A = 12 A, and panels that allow 12 A: gPV links are made in 12 A, gG links not.
    # For warm places we would take 12 / 0.85 = 14.12 A, which the panels do not allow: a caution.
    build = solar(short_circuit="8 A", maximum_power_current="7.5 A", largest_fuse="12 A")
    build = attrs.evolve(
        by("iec", build), safeguards=attrs.evolve(build.safeguards, array_fuse="gpv")
    )
    found = fuse(build, "roof")
    assert found is not None
    assert known(found.lower) == pytest.approx(12.0)
    assert found.size == 12.0
    assert 12.0 not in fuse_catalogue("iec").sizes
    (told,) = fits(build, "roof")
    assert told.severity is Severity.CAUTION
    assert told.guarded == pytest.approx(14.118, abs=0.0005)
    # 15 A: 1.5625 · 9.5 A = 14.84 A by NEC.
    build = solar(short_circuit="9.5 A", maximum_power_current="9 A", largest_fuse="15 A")
    build = attrs.evolve(build, safeguards=attrs.evolve(build.safeguards, array_fuse="gpv"))
    found = fuse(build, "roof")
    assert found is not None
    assert found.size == 15.0


def fits(build: Build, about: str) -> list[Finding]:
    found = [f for f in design(build).findings if f.rule.key == "protection.fits"]
    return [f for f in found if about in f.about]


def test_the_cable_of_an_array_may_be_the_weaker_part() -> None:
    build = solar(largest_fuse="50 A")
    assert known(circuits(build)["roof"].upper) == 40.0


def test_two_like_solar_strings_of_panels_that_nobody_read_hold_nothing_up() -> None:
    # A faulted string gets no more than one like its own gives, which every panel stands.
    (told,) = fits(solar(in_parallel=2, largest_fuse=None), "roof")
    assert told.severity is Severity.CAUTION
    assert "largest_fuse of roof under [[pv]]" in told.remedy
    # One alone is fed by no other, and two that were read need no fuse and no question.
    assert fits(solar(in_parallel=1, largest_fuse=None), "roof") == []
    assert fits(solar(in_parallel=2), "roof") == []
    # Three need fuses, for which the panels' limit is asked for anyway: once.
    (told,) = fits(solar(in_parallel=3, largest_fuse=None), "roof")
    assert told.severity is Severity.UNKNOWN


@pytest.mark.parametrize("strings", [1, 2])
def test_up_to_two_solar_strings_need_no_fuse(strings: int) -> None:
    build = solar(in_parallel=strings)
    circuit = circuits(build)["roof"]
    assert not circuit.needs_fuse
    assert str(strings) in circuit.no_fuse
    assert fuse(build, "roof") is None


@pytest.mark.parametrize(
    ("changes", "asked"),
    [
        ({"short_circuit": None, "maximum_power_current": None}, "short_circuit of the panels"),
        ({"largest_fuse": None}, "largest_fuse of roof under [[pv]]"),
        ({"open_circuit": None, "maximum_power_voltage": None}, "open_circuit"),
    ],
)
def test_what_a_solar_fuse_needs_is_asked_for(changes: dict[str, Any], asked: str) -> None:
    found = fuse(solar(**changes), "roof")
    assert found is not None
    assert found.size is None
    assert asked in found.change


def test_a_solar_cable_that_nobody_described_has_no_bound() -> None:
    build = attrs.evolve(solar(), cabling=good_cabling())
    assert circuits(build)["roof"].upper is None


def test_a_strong_built_in_charger_asks_for_the_larger_main_fuse() -> None:
    # The inverter draws 78.354 A, its charger gives 100 A: 100 · 1.25 = 125 A by NEC. With our
    # margin 100 · 1.25 / 0.85 = 147.06 A: charging, no ripple flows.
    charger = good_charger(name="built in", current="100 A")
    build = with_inverter(charger=charger)
    main = circuits(build)["inverter"]
    assert known(main.carries) == 100.0
    assert known(main.lower) == pytest.approx(125.0)
    assert known(main.lower_guard) == pytest.approx(147.059, abs=0.0005)
    assert known(circuits(by("iec", build))["inverter"].lower) == pytest.approx(100.0)
    weak = circuits(with_inverter(charger=good_charger(name="built in", current="50 A")))
    assert known(weak["inverter"].carries) == pytest.approx(78.354, abs=0.0005)


def test_a_charger_without_ripple() -> None:
    # 40 · 1.25 = 50 A by NEC, / 0.85 = 58.824 A with our margin; its cable carries 115 A, above
    # which the next standard size is 125 A: 60 A.
    found = fuse(good_build(), "charger")
    assert found is not None
    assert known(found.lower) == pytest.approx(50.0)
    assert known(found.lower_guard) == pytest.approx(58.824, abs=0.0005)
    assert (known(found.upper), known(found.upper_guard), found.size) == (125.0, 115.0, 60.0)


def test_a_charger_that_does_not_say_what_it_gives() -> None:
    build = good_build(chargers=(good_charger(current=None, current_setting=None),))
    found = fuse(build, "charger")
    assert found is not None
    assert found.size is None
    assert "current of the charger" in found.change


def test_current_flows_both_ways_where_a_charger_sits_in_the_inverter() -> None:
    charger = good_charger(name="built in")
    assert circuits(with_inverter(charger=charger))["inverter"].both_ways
    assert circuits(with_inverter(charger=None))["inverter"].both_ways
    assert not circuits(with_inverter(charger=NOT_FITTED))["inverter"].both_ways
    assert circuits(good_build())["charger"].both_ways


def test_a_device_may_have_a_run_of_its_own() -> None:
    own = Run(name="long one", conductor=good_conductor(200.0), length="4 m")
    two = (good_inverter(), good_inverter(name="other"))
    build = good_build(inverters=two, cabling=good_cabling(own={"other": own}))
    found = circuits(build)
    assert known(found["other"].upper) == 200.0
    assert found["other"].run_key == '[cabling.own."other"]'
    assert found["inverter"].run_key == "[cabling.main]"


def test_surge_flows_through_strings_and_main() -> None:
    # 6000 W / 0.92 + 30 W = 6551.74 W at 42 V: 155.99 A; a third of it, times 1.2: 62.397 A.
    found = circuits(good_build())
    assert known(found["inverter"].surge) == pytest.approx(155.994, abs=0.001)
    assert known(found["string"].surge) == pytest.approx(62.398, abs=0.001)
    for field in ("surge", "efficiency", "idle", "window_low"):
        build = with_inverter(**{field: None})
        assert inverter_surge(build.inverters[0]) is None
        ground = groundwork(build)
        bands = {band.place: band for band in fault_bands(ground)}
        string, main, _ = every_circuit(ground, sharing(ground), bands, (), fuse_catalogue())
        assert (string.surge, main.surge) == (None, None)


def test_both_poles_take_twice_the_fuses() -> None:
    build = good_build(safeguards=good_safeguards(both_poles=True))
    schedule = design(build).protection
    assert schedule is not None
    assert [f.count for f in schedule.fuses] == [6, 2, 2]


# --- Arrays that join at one input ------------------------------------------------------------


def two_arrays(*strings: int, on_input: tuple[str, str] = ("", ""), **changes: Any) -> Build:
    """Return two arrays of so many strings of 10 A on one charger."""
    (first,) = solar(**changes).solar_arrays
    second = attrs.evolve(first, name="shed", in_parallel=strings[1], on_input=on_input[1])
    first = attrs.evolve(first, in_parallel=strings[0], on_input=on_input[0])
    return attrs.evolve(solar(), arrays=(first, second))


def test_strings_are_counted_at_the_input_and_not_in_the_sheet() -> None:
    # Two and two: into a faulted one flow 3 · 10 · 1.25 = 37.5 A, and its panels allow 20 A.
    found = circuits(two_arrays(2, 2))
    for name in ("roof", "shed"):
        assert found[name].needs_fuse
        assert known(found[name].interrupting) == pytest.approx(37.5)
    apart = circuits(two_arrays(2, 2, on_input=("1", "2")))
    assert not apart["roof"].needs_fuse
    assert apart["roof"].backfed is None


def test_two_strings_need_fuses_where_a_panel_stands_less_than_one_gives() -> None:
    # One string gives 12.5 A in strong sun.
    assert circuits(solar(in_parallel=2, largest_fuse="12 A"))["roof"].needs_fuse
    assert not circuits(solar(in_parallel=2, largest_fuse="12.5 A"))["roof"].needs_fuse
    assert not circuits(solar(in_parallel=1, largest_fuse="10 A"))["roof"].needs_fuse


def test_what_the_others_give_may_be_unknown() -> None:
    build = two_arrays(1, 1)
    roof, shed = build.solar_arrays
    vague = attrs.evolve(shed, short_circuit=None, maximum_power_current=None)
    found = circuits(attrs.evolve(build, arrays=(roof, vague)))
    assert found["roof"].needs_fuse
    assert found["roof"].backfed is None
    told = [f for f in design(attrs.evolve(build, arrays=(roof, vague))).findings if f.holds]
    assert told


def test_a_thin_cable_is_fed_back_by_the_other_array() -> None:
    # One string of its own gives 12.5 A; the two others feed back 25 A into a cable of 20 A.
    thin = Run(name="thin", conductor=good_conductor(20.0, 8.0, 2.5), length="8 m")
    build = two_arrays(1, 2)
    build = attrs.evolve(build, cabling=attrs.evolve(build.cabling, own={"roof": thin}))
    (told,) = [
        f for f in design(build).findings if f.rule.key == "cable.guarded" and "roof" in f.about
    ]
    assert (told.severity, told.value, told.limit) == (Severity.STOP, pytest.approx(25.0), 20.0)


def test_units_of_a_charger_have_an_array_each() -> None:
    build = solar()
    build = attrs.evolve(build, chargers=(attrs.evolve(build.chargers[0], count=2),))
    found = circuits(build)["roof"]
    assert (found.count, found.units) == (6, 2)


def test_every_unit_of_a_built_in_charger_flows_through_the_main_cable() -> None:
    # Three of 40 A: 120 A, more than the 78.354 A that the inverter draws.
    charger = good_charger(name="built in", count=3, current="40 A")
    main = circuits(with_inverter(charger=charger))["inverter"]
    assert known(main.carries) == 120.0
    assert known(main.lower) == pytest.approx(150.0)
    assert known(main.lower_guard) == pytest.approx(176.471, abs=0.0005)  # / 0.85


def test_fuses_stand_in_the_pole_that_is_not_earthed() -> None:
    for earthed, end in (("minus", "positive"), ("plus", "negative"), ("none", "positive")):
        string = next(iter(circuits(good_build(pack=good_pack(earthed=earthed))).values()))
        assert string.place == f"each string, at its {end} terminal"


def test_a_solar_string_is_fused_by_the_family_made_for_it() -> None:
    build = solar()
    bare = attrs.evolve(build, safeguards=attrs.evolve(build.safeguards, array_fuse=""))
    schedule = design(bare).protection
    assert schedule is not None
    (fuse,) = (f for f in schedule.fuses if "roof" in f.place)
    assert (fuse.family.key if fuse.family else None) == "gpv"


@pytest.mark.parametrize(
    ("ampacity", "highest"),
    [
        # From 16 A on a link carries 1.6 times its rating for hours, below 1.9 times: a wire that
        # stands those up to 16 A has 16 · 1.9 / 1.45 = 20.97 A.
        (20.97, 20.97 * 1.45 / 1.6),
        (20.96, 20.96 * 1.45 / 1.9),
        (5.80, 5.80 * 1.45 / 1.9),
        # Up to 4 A 2.1 times: 1.45 · 5.79 / 2.1 = 3.998 A.
        (5.79, 3.998),
    ],
)
def test_small_gg_links_carry_more_of_their_rating(ampacity: float, highest: float) -> None:
    assert guards(ampacity, as_gg=True) == pytest.approx(highest, abs=5e-4)
    assert guards(ampacity, as_gg=False) == ampacity


@given(ampacity=st.floats(1.5, 500.0))
def test_no_gg_link_carries_for_hours_more_than_its_wire_stands(ampacity: float) -> None:
    # 433.1: I2 ≤ 1.45 Iz for every standard size up to the bound, by its own I2.
    for size in fuse_catalogue("iec").sizes:
        if size <= guards(ampacity, as_gg=True):
            times = 1.6 if size >= 16 else 1.9 if size > 4 else 2.1
            assert times * size <= 1.45 * ampacity * (1 + 1e-12)


def main_of(ampacity: float, **fuse_of_it: Any) -> Build:
    """Return the good build with mains of an ampacity, behind a fuse of one's own."""
    run = Run(name="main", conductor=good_conductor(ampacity), length="1.5 m")
    family = good_family(**fuse_of_it)
    return good_build(cabling=good_cabling(main=run), safeguards=good_safeguards(main_fuse=family))


def highest(rules: str, build: Build) -> tuple[float, float]:
    """Return the highest main fuse that the rule set allows, and with our margin [A]."""
    main = circuits(by(rules, build))["inverter"]
    return known(main.upper), known(main.upper_guard)


def test_a_gg_link_guards_by_what_it_carries_for_hours() -> None:
    # 150 A of cable: 150 · 1.45 / 1.6 = 135.94 A of gG link. By IEC 433.1 that is the bound; by NEC
    # it is our margin, and the bound its ampacity, a standard size. A quick link, which carries
    # 1.35 times its rating for hours, guards with all 150 A under either.
    gg = pytest.approx(135.94, abs=0.005)
    assert highest("iec", main_of(150.0, characteristic="gG")) == (gg, gg)
    assert highest("iec", main_of(150.0)) == (150.0, 150.0)
    assert highest("nec", main_of(150.0)) == (150.0, 150.0)
    # So do gR links, and by IEC one of which nobody said how it melts.
    assert highest("iec", main_of(150.0, characteristic="gR"))[0] == gg
    assert highest("iec", main_of(150.0, characteristic=""))[0] == gg
    # Those for solar strings, and breakers, do not.
    assert highest("iec", main_of(150.0, characteristic="gPV")) == (150.0, 150.0)
    assert highest("iec", main_of(150.0, kind="breaker")) == (150.0, 150.0)


def test_by_nec_a_gg_link_stands_no_higher_than_the_standard_sizes_allow() -> None:
    # 150 A is a standard size of 240.6(A), so 240.4(B) lets none above it stand; that gG links are
    # made in 125 and 160 A changes no clause.
    gg = pytest.approx(135.94, abs=0.005)
    assert highest("nec", main_of(150.0, characteristic="gG")) == (150.0, gg)


def test_unasked_by_iec_a_gg_link_is_reckoned_with() -> None:
    # The first family that is tried by IEC is gG.
    run = Run(name="main", conductor=good_conductor(150.0), length="1.5 m")
    build = good_build(cabling=good_cabling(main=run), safeguards=good_safeguards(main_fuse=""))
    assert highest("iec", build)[0] == pytest.approx(135.94, abs=0.005)
    assert highest("nec", build) == (150.0, 150.0)


# The ratings of NEC 240.6(A), from memory.
STANDARD = fuse_catalogue("nec").sizes


@pytest.mark.parametrize(
    ("ampacity", "allowed"),
    [
        (115.0, 125.0),  # the next above 110 A
        (150.0, 150.0),  # a standard size itself
        (150.1, 175.0),
        (14.0, 15.0),
        (705.0, 800.0),
        (800.0, 800.0),
        (801.0, 801.0),  # 240.4(B) ends at 800 A
        (950.0, 950.0),
        (9000.0, 9000.0),  # beyond the list
    ],
)
def test_nec_lets_the_next_standard_size_up_stand(ampacity: float, allowed: float) -> None:
    assert next_size_up(ampacity, STANDARD) == allowed


def test_a_next_size_up_is_allowed_and_said() -> None:
    # 100 A carried, 125 A asked for, and a cable of 115 A: the next standard size above is 125 A.
    build = main_of(115.0)
    build = attrs.evolve(
        build, inverters=(good_inverter(charger=good_charger(name="own", current="100 A")),)
    )
    found = fuse(build, "inverter")
    assert found is not None
    assert (found.size, known(found.upper), known(found.upper_guard)) == (125.0, 125.0, 115.0)
    (told,) = fits(build, "main")
    assert (told.severity, told.guarded) == (Severity.CAUTION, 115.0)
    assert "carries 115 A" in told.detail
    # By IEC the current itself, 100 A, is asked for, and 115 A is the most: 100 A is made.
    found = fuse(by("iec", build), "inverter")
    assert found is not None
    assert found.size == 100.0


# --- How warm it is around the fuses ------------------------------------------------------------


@pytest.mark.parametrize(
    ("ambient", "part"),
    [
        (None, 0.85),  # the policy's guard, for a warm box
        ("10 degC", 1.0),
        ("25 degC", 1.0),
        ("42.5 degC", 0.925),  # half way
        ("60 degC", 0.85),
        ("70 degC", 0.807143),  # on along the line: 1 − 0.15 · 45 / 35
    ],
)
def test_a_stated_ambient_goes_before_the_guard_for_a_warm_box(
    ambient: str | None, part: float
) -> None:
    cool = good_site(coldest="0 degC", warmest="10 degC")
    build = good_build(safeguards=good_safeguards(ambient=ambient), site=cool)
    found = circuits(build)
    # The bound stays that of the clause; only our margin moves.
    assert known(found["charger"].lower) == pytest.approx(50.0)
    assert known(found["charger"].lower_guard) == pytest.approx(50.0 / part, rel=1e-6)
    assert known(found["inverter"].lower_guard) == pytest.approx(107.737 / part, abs=0.001)
    told = warmth(groundwork(build))
    assert told.value == pytest.approx(part, abs=1e-6)
    assert told.basis is Basis.CHOSEN


def test_fuses_are_no_cooler_than_the_warmest_of_the_site() -> None:
    # The site gets 40 °C: 1 − 0.15 · 15 / 35 = 0.935714, whatever was said of the fuses below it.
    site = good_site(warmest="40 degC")
    build = good_build(safeguards=good_safeguards(ambient="25 degC"), site=site)
    assert warmth(groundwork(build)).value == pytest.approx(0.935714, abs=1e-6)
    (told,) = [f for f in design(build).findings if f.rule.key == "protection.warm-air"]
    assert told.severity is Severity.NOTE
    assert "25 °C" in told.detail
    assert "40 °C" in told.detail
    alike = attrs.evolve(build, safeguards=good_safeguards(ambient="40 degC"))
    assert not [f for f in design(alike).findings if f.rule.key == "protection.warm-air"]


@pytest.mark.parametrize(("ambient", "told"), [("80 degC", False), ("80.1 degC", True)])
def test_beyond_what_makers_print_warm_air_is_cautioned(ambient: str, *, told: bool) -> None:
    build = good_build(safeguards=good_safeguards(ambient=ambient))
    found = [f for f in design(build).findings if f.rule.key == "protection.warm-air"]
    assert [f.severity for f in found] == [Severity.CAUTION] * told


def test_the_shortest_lead_carries_more_by_the_bound_too() -> None:
    # Leads of 4 and 1 m: the string on the short one takes 120.38 % of an even share; see
    # test_cables.py. 26.118 · 1.2038 · 1.25 = 39.302 A by NEC; 26.118 · 1.2038 = 31.441 A by IEC.
    lead = Run(name="lead", conductor=good_conductor(115.0, 0.64), length="4 m", shortest="1 m")
    build = good_build(cabling=good_cabling(module_lead=lead))
    assert known(circuits(build)["string"].lower) == pytest.approx(39.302, abs=0.002)
    assert known(circuits(by("iec", build))["string"].lower) == pytest.approx(31.441, abs=0.002)
    # With our margin what else is uneven comes on top: 31.441 · 1.2 · 1.25 · 1.1 / 0.85 = 61.033 A.
    guard = circuits(build)["string"].lower_guard
    assert known(guard) == pytest.approx(61.033, abs=0.004)


GG_LINK = good_family(characteristic="gG")


def test_breakers_are_made_in_other_sizes() -> None:
    held = fuse_catalogue("nec")
    assert 10.0 not in held.sizes_of(good_family(kind="breaker"))
    assert 10.0 in held.sizes_of(good_family())
    assert 160.0 in held.sizes_of(GG_LINK)
    assert held.sizes_of("nh-gg") == held.sizes_of(GG_LINK)


@pytest.mark.parametrize(
    ("first", "second", "fused"),
    [
        # Two alike, and nobody said what the panel allows: 1.25 · 5 A, which every panel stands.
        ("5 A", "5 A", False),
        # 18 · 1.25 = 22.5 A into a panel of 5 A.
        ("5 A", "18 A", True),
    ],
)
def test_two_strings_unlike_may_feed_more_than_a_panel_stands(
    first: str, second: str, *, fused: bool
) -> None:
    def panel(name: str, amps: str) -> Array:
        return attrs.evolve(
            solar().solar_arrays[0],
            name=name,
            in_parallel=1,
            largest_fuse=None,
            short_circuit=amps,
            maximum_power_current=None,
        )

    build = attrs.evolve(solar(), arrays=(panel("roof", first), panel("wall", second)))
    assert circuits(build)["roof"].needs_fuse is fused


def test_a_guessed_limit_of_the_panel_drops_no_fuse() -> None:
    # 13 · 1.25 = 16.25 A into a panel of 10 A: under a guessed 20 A, over the 12.5 A it stands.
    def panel(name: str, amps: str, basis: str) -> Array:
        return attrs.evolve(
            solar().solar_arrays[0],
            name=name,
            in_parallel=1,
            largest_fuse="20 A",
            short_circuit=amps,
            maximum_power_current=None,
            basis={"default": "datasheet", "largest_fuse": basis},
        )

    for basis, fused in (("datasheet", False), ("assumed", True)):
        arrays = (panel("roof", "10 A", basis), panel("wall", "13 A", basis))
        assert circuits(attrs.evolve(solar(), arrays=arrays))["roof"].needs_fuse is fused


def test_fuses_in_both_poles_stand_at_no_one_pole() -> None:
    build = good_build(pack=good_pack(earthed="plus"), safeguards=good_safeguards(both_poles=True))
    places = [circuit.place for circuit in circuits(build).values()]
    assert not any("negative" in place or "positive" in place for place in places)
