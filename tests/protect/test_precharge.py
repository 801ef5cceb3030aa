"""Precharge of an inverter's input: worked by hand, and what must hold of any.

The good build: 58.8 V, 10 mF, 50 Ω; a time constant of 0.5 s, 17.2872 J for a filling, and
58.8² / 50 · 10 s = 691.488 J for a short-circuited inverter till the time-out.
"""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from strategies import (
    builds,
    good_build,
    good_cabling,
    good_catalogue,
    good_family,
    good_inverter,
    good_pack,
    good_precharge,
    good_safeguards,
    with_inverter,
    with_safeguards,
)

from evpack.base.finding import Finding, Severity
from evpack.base.fitted import NOT_FITTED
from evpack.base.worked import Worked
from evpack.commission.closing import closing
from evpack.describe.build import Build
from evpack.describe.safeguards import FuseCatalogue, FuseGate, Precharge
from evpack.design import design
from evpack.outcome.protection import PrechargePlan
from evpack.show.draw.one_line import one_line_svg

OK, NOTE, CAUTION, UNKNOWN, STOP = Severity


def findings(build: Build, rule: str, catalogue: FuseCatalogue | None = None) -> list[Finding]:
    done = design(build, catalogue=catalogue)
    return [f for f in done.findings if f.rule.key == f"precharge.{rule}"]


def finding(build: Build, rule: str) -> Finding:
    (found,) = findings(build, rule)
    return found


def plans(build: Build) -> tuple[PrechargePlan, ...]:
    schedule = design(build).protection
    assert schedule is not None
    return schedule.precharge


def numbers(plan: PrechargePlan) -> dict[str, Worked]:
    return {w.name: w for w in (*plan.with_it, *plan.without)}


def fitted(**changes: object) -> Build:
    return with_safeguards(precharge=good_precharge(**changes))


def two(**changes: object) -> Build:
    """Return two inverters that share the one precharge described."""
    pair = (good_inverter(), good_inverter(name="other", continuous="1 kW", surge="2 kW"))
    return good_build(
        inverters=pair, safeguards=good_safeguards(precharge=good_precharge(**changes))
    )


# --- The plan ---------------------------------------------------------------------------------


def test_the_plan_worked_by_hand() -> None:
    (plan,) = plans(fitted(wait="1 s"))
    assert plan.stated
    told = numbers(plan)
    assert told["precharge resistor"].value == 50.0
    assert told["first current"].value == pytest.approx(58.8 / 50)
    assert told["heat in the resistor"].value == pytest.approx(17.2872)
    assert told["time to fill"].value == pytest.approx(2.5)
    assert told["time-out"].value == pytest.approx(5.0)
    # e^−2 = 0.1353353 of 58.8 V.
    left = told["step left when the main contact closes"]
    assert left.value == pytest.approx(7.957715, abs=5e-7)


def test_what_happens_without_worked_by_hand() -> None:
    """Half of 20 mΩ and a lead of 1.28 mΩ · 0.82 over three strings; 0.96 mΩ · 0.82 of cable."""
    ohms = (0.5 * 0.020 + 0.82 * 0.00128) / 3 + 0.82 * 0.00096
    told = numbers(plans(good_build())[0])
    assert told["first current without precharge"].value == pytest.approx(58.8 / ohms)
    melts = 0.010 * 58.8**2 / (2 * ohms)
    assert told["I²t through its main fuse without precharge"].value == pytest.approx(melts)
    # Of three strings the busiest carries 1.2 / 3 of the current, and so 0.16 of the I²t.
    each = told["I²t through each string fuse without precharge"].value
    assert each == pytest.approx(0.16 * melts)


def test_one_string_takes_the_whole_rush() -> None:
    told = numbers(plans(good_build(pack=good_pack(strings=1)))[0])
    assert told["I²t through each string fuse without precharge"].value == pytest.approx(
        told["I²t through its main fuse without precharge"].value
    )


def test_units_behind_one_contact_are_filled_together() -> None:
    (one,), (three,) = plans(good_build()), plans(with_inverter(count=3))
    first, then = numbers(one), numbers(three)
    for name in ("heat in the resistor", "time to fill", "time-out"):
        assert then[name].value == pytest.approx(3 * first[name].value)
    main, string = (
        f"I²t through {fuse} fuse without precharge" for fuse in ("its main", "each string")
    )
    assert then[main].value == pytest.approx(first[main].value)  # a unit that starts alone
    assert then[string].value == pytest.approx(3 * first[string].value)
    assert "the 3 units" in three.reason


@pytest.mark.parametrize(
    ("millifarads", "ohms"),
    [
        (10, 33.0),  # 2 s / (5 · 10 mF) = 40 Ω, down to 33 Ω: 1.8 A
        (1, 330.0),  # 400 Ω, down to 330 Ω
        (90, 6.8),  # 4.4 Ω would begin with 13 A; 58.8 V / 10 A = 5.88 Ω, up to 6.8 Ω
    ],
)
def test_a_resistor_is_proposed_where_none_is_stated(millifarads: int, ohms: float) -> None:
    for stated in (None, NOT_FITTED, good_precharge(resistance=None)):
        build = good_build(
            inverters=(good_inverter(input_capacitance=f"{millifarads} mF"),),
            safeguards=good_safeguards(precharge=stated),
        )
        (plan,) = plans(build)
        assert not plan.stated
        assert numbers(plan)["precharge resistor"].value == ohms


def test_a_plan_that_is_to_be_bought_is_said() -> None:
    """33 Ω: 58.8 / 33 = 1.782 A, up to 1.79; 5 τ = 1.65 s; 58.8² / 33 · 3.3 s = 345.7 J, to 346."""
    for changes, severity in (
        ({"precharge": None}, UNKNOWN),  # leaving it out clears nothing
        ({"precharge": None, "to_buy": ("precharge",)}, CAUTION),
        ({"precharge": None, "to_buy": ("disconnect",)}, UNKNOWN),
        ({"precharge": good_precharge(resistance=None)}, CAUTION),
    ):
        found = finding(with_safeguards(**changes), "fitted")
        assert found.severity is severity
        for part in ("33 Ω", "1.79 A", "1.65 s", "3.3 s", "346 J", "17.3 J"):
            assert part in found.detail


# --- What is stated ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("pulse", "severity"), [("17.29 J", OK), ("17.28 J", STOP), (None, UNKNOWN)]
)
def test_a_resistor_must_stand_a_filling(pulse: str | None, severity: Severity) -> None:
    assert finding(fitted(pulse=pulse), "heat").severity is severity


@pytest.mark.parametrize(
    ("pulse", "time_out", "severity"),
    [
        ("691.5 J", "10 s", OK),
        ("691.4 J", "10 s", CAUTION),
        ("800 J", None, CAUTION),  # a guard asks and does not hold
        (None, "10 s", CAUTION),
    ],
)
def test_a_resistor_should_stand_a_short_till_the_time_out(
    pulse: str | None, time_out: str | None, severity: Severity
) -> None:
    assert finding(fitted(pulse=pulse, time_out=time_out), "shorted").severity is severity


@pytest.mark.parametrize(
    ("wait", "severity"),
    [("2.5 s", OK), ("2.49 s", CAUTION), ("1.5 s", CAUTION), ("1.49 s", STOP), (None, UNKNOWN)],
)
def test_by_the_clock_alone_the_wait_is_five_time_constants(
    wait: str | None, severity: Severity
) -> None:
    for checks in (False, None):
        build = fitted(wait=wait, checks_voltage=checks)
        assert finding(build, "wait").severity is severity
        assert finding(build, "checked").severity is CAUTION
    assert finding(fitted(wait=wait), "wait").severity is OK  # the voltage decides


@pytest.mark.parametrize(
    ("time_out", "severity"), [("2.5 s", OK), ("2.49 s", CAUTION), (None, CAUTION)]
)
def test_it_must_not_give_up_too_soon(time_out: str | None, severity: Severity) -> None:
    assert finding(fitted(wait="2 s", time_out=time_out), "time-out").severity is severity


def test_what_is_only_assumed_is_at_best_a_limit() -> None:
    for checks in (True, False):
        build = fitted(basis="assumed", checks_voltage=checks)
        for rule in ("fitted", "heat", "wait", "time-out", "shorted", "checked"):
            assert finding(build, rule).severity is CAUTION, rule
    guessed = {"default": "datasheet", "input_capacitance": "assumed"}
    by_clock = good_build(
        inverters=(good_inverter(basis=guessed),),
        safeguards=good_safeguards(precharge=good_precharge(checks_voltage=False)),
    )
    for rule in ("heat", "wait"):
        found = finding(by_clock, rule)
        assert found.severity is CAUTION
        assert "input capacitance of one unit" in found.assumed


# --- Capacitance unknown ----------------------------------------------------------------------


@pytest.mark.parametrize("capacitance", [None, "0 F"])
@pytest.mark.parametrize(
    ("precharge", "severity"),
    [
        (good_precharge(), CAUTION),
        (good_precharge(resistance=None), CAUTION),
        (None, UNKNOWN),
        (good_precharge(checks_voltage=False), UNKNOWN),
        (good_precharge(checks_voltage=None), UNKNOWN),
        (NOT_FITTED, UNKNOWN),
    ],
)
def test_an_unknown_capacitance_passes_only_where_the_voltage_decides(
    capacitance: str | None, precharge: object, severity: Severity
) -> None:
    build = good_build(
        inverters=(good_inverter(input_capacitance=capacitance),),
        safeguards=good_safeguards(precharge=precharge),
    )
    told = findings(build, "known")
    if capacitance is None and not isinstance(precharge, Precharge):
        # Both ends of what is credible come to the same: the precharge itself is asked about.
        assert [f.severity for f in told] == [OK]
        assert {f.severity for f in findings(build, "fitted")} == {severity}
        return
    assert [f.severity for f in told] == [severity]
    # It is bought and drawn all the same; what it must be is to be settled.
    assert all(plan.with_it == plan.without == () for plan in plans(build))
    assert len(plans(build)) == (0 if precharge is NOT_FITTED else 1)


def test_a_precharge_to_buy_for_who_knows_what_waits_for_the_voltage() -> None:
    build = good_build(
        inverters=(good_inverter(input_capacitance="0 F"),),
        safeguards=good_safeguards(precharge=None, to_buy=("precharge",)),
    )
    found = finding(build, "known")
    assert found.severity is CAUTION
    assert "only when the voltage has risen" in found.detail


def test_a_short_is_judged_without_any_capacitance() -> None:
    for pulse, severity in (("691.5 J", OK), ("691.4 J", CAUTION)):
        build = good_build(
            inverters=(good_inverter(input_capacitance=None),),
            safeguards=good_safeguards(precharge=good_precharge(pulse=pulse)),
        )
        assert finding(build, "shorted").severity is severity


# --- Without a precharge ----------------------------------------------------------------------


def without(*, main: object, string: object) -> Build:
    fuses = {
        "main_fuse": good_family(characteristic="", melting=main),
        "string_fuse": good_family(characteristic="", melting=string),
    }
    return with_safeguards(precharge=NOT_FITTED, **fuses)


# 3.87 kA²s through the main fuse, 0.16 of it, 619 A²s, through each string fuse.
@pytest.mark.parametrize(
    ("main", "string", "severities"),
    [
        ("4 kA2s", "650 A2s", [CAUTION, CAUTION]),  # both hold; the contact may weld all the same
        ("3.8 kA2s", "650 A2s", [STOP, CAUTION]),
        ("4 kA2s", "600 A2s", [CAUTION, STOP]),
        (None, "650 A2s", [UNKNOWN, CAUTION]),
        ("4 kA2s", None, [CAUTION, UNKNOWN]),
    ],
)
def test_the_rush_is_held_against_what_melts_each_fuse(
    main: object, string: object, severities: list[Severity]
) -> None:
    found = findings(without(main=main, string=string), "fitted")
    assert [f.severity for f in found] == severities
    assert all("33 Ω" in f.remedy for f in found)


def test_a_gate_of_the_fuse_tells_what_melts_it() -> None:
    """An invented gate: 150 A, at least 5 kA²s."""
    gate = FuseGate(
        rating=150.0,
        holds_10s=200.0,
        melts_5s=800.0,
        holds_100ms=400.0,
        melts_100ms=2000.0,
        melting=5000.0,
        clearing=20000.0,
    )
    held = good_catalogue(good_family())
    catalogue = FuseCatalogue(
        families=held.families, sizes=held.sizes, sizes_source=held.sizes_source, gates=(gate,)
    )
    fuse = good_family(characteristic="gG", melting=None)
    build = with_safeguards(precharge=NOT_FITTED, main_fuse=fuse, string_fuse=fuse)
    main, string = findings(build, "fitted", catalogue)
    assert (main.severity, main.limit) == (CAUTION, 5000.0)
    assert string.severity is UNKNOWN  # no gate of 80 A is held


def test_a_fuse_that_nobody_could_name_melts_at_nobody_knows_what() -> None:
    build = good_build(
        cabling=good_cabling(main=None), safeguards=good_safeguards(precharge=NOT_FITTED)
    )
    main = findings(build, "fitted")[0]
    assert main.severity is UNKNOWN


# --- Several inverters ------------------------------------------------------------------------


# Two of 10 mF behind one contact: a time constant of 1 s, 34.5744 J for a filling. The wait of 3 s
# is three time constants and the time-out of 10 s ten of them; each alone has 0.5 s.


@pytest.mark.parametrize(
    ("changes", "severity", "says"),
    [
        ({}, NOTE, "fills them in about 5 s"),  # the same: it waits for the voltage
        ({"wait": "2.9 s"}, NOTE, "about 5 s"),
        # By the clock alone 2.9 s are 94.5 % of the voltage, as good as no precharge; 3 s 95 %.
        ({"checks_voltage": False, "wait": "2.9 s"}, UNKNOWN, "20 mF to fill"),
        ({"checks_voltage": False}, CAUTION, "20 mF to fill"),
        ({"checks_voltage": None}, CAUTION, "five time constants"),
        ({"time_out": "4 s"}, CAUTION, "The time-out, 4 s"),  # 2.5 s would do for each
        ({"pulse": "30 J", "time_out": None}, UNKNOWN, "30 J"),  # each leaves 17.2872 J
        ({"pulse": None}, NOTE, "comes to the same"),  # unknown of each as well
        ({"each_inverter": True, "pulse": "30 J"}, OK, "as stated"),
    ],
)
def test_whether_each_inverter_has_its_own_is_asked_where_it_matters(
    changes: dict[str, object], severity: Severity, says: str
) -> None:
    found = finding(two(**changes), "each")
    assert found.severity is severity
    assert says in found.detail
    if severity in {CAUTION, UNKNOWN}:
        assert "each_inverter = true" in found.remedy
    assert not findings(fitted(**changes), "each")


def test_one_for_all_is_judged_with_the_sum() -> None:
    """50 Ω and twice 10 mF: 1 s, so 5 s to fill, and 58.8² · 20 mF / 2 = 34.5744 J."""
    build = two(each_inverter=False)
    (plan,) = plans(build)
    assert (plan.inverter, plan.count, plan.without) == ("all inverters", 1, ())
    told = numbers(plan)
    assert told["time to fill"].value == pytest.approx(5.0)
    assert told["heat in the resistor"].value == pytest.approx(34.5744)
    assert finding(build, "each").severity is OK
    assert {f.about for f in findings(build, "heat")} == {"all inverters"}
    assert finding(two(each_inverter=False, pulse="30 J"), "heat").severity is STOP
    assert finding(two(each_inverter=False, time_out="4 s"), "time-out").severity is CAUTION
    early = two(each_inverter=False, checks_voltage=False, wait="2.9 s")
    assert finding(early, "wait").severity is STOP
    assert plans(two(each_inverter=False, resistance=None))[0].stated is False


def one_unknown(**changes: object) -> Build:
    pair = (good_inverter(), good_inverter(name="other", input_capacitance=None))
    return good_build(
        inverters=pair, safeguards=good_safeguards(precharge=good_precharge(**changes))
    )


def test_where_one_holds_nobody_knows_what_the_sum_is_not_known_either() -> None:
    found = finding(one_unknown(), "each")
    assert found.severity is CAUTION
    assert "is not known" in found.detail
    (plan,) = plans(one_unknown(each_inverter=False))
    assert plan.with_it == ()
    assert [f.severity for f in findings(one_unknown(each_inverter=False), "known")] == [
        OK,
        CAUTION,
    ]
    assert not findings(one_unknown(each_inverter=False), "heat")


def test_a_guess_of_one_is_a_guess_of_all() -> None:
    guess = good_inverter(
        name="other", basis={"default": "datasheet", "input_capacitance": "assumed"}
    )
    build = good_build(
        inverters=(good_inverter(), guess),
        safeguards=good_safeguards(precharge=good_precharge(each_inverter=False)),
    )
    assert finding(build, "heat").severity is CAUTION


@pytest.mark.parametrize(("each", "many"), [(True, 2), (None, 2), (False, 1)])
def test_parts_diagram_and_commissioning_count_the_same(each: bool | None, many: int) -> None:  # noqa: FBT001
    for build in (two(each_inverter=each), one_unknown(each_inverter=each)):
        made = design(build)
        assert made.protection is not None
        assert len(made.protection.precharge) == many
        bought = [p for p in made.protection.parts if p.function.startswith("precharge resistor")]
        assert sum(part.count for part in bought) == many
        picture = one_line_svg(made)
        assert ("2 × precharge" in picture) == (many == 2)
        assert ("one for each inverter" in picture) == (many == 2)
        assert ("one for all inverters" in picture) == (many == 1)
        steps = [s for s in closing(made) if "precharge_before" in s.key]
        assert len(steps) == many


def test_a_precharge_that_is_not_fitted_is_not_proven() -> None:
    made = design(with_safeguards(precharge=NOT_FITTED))
    assert not [s for s in closing(made) if "precharge" in s.key]


def test_every_inverter_has_its_own_plan() -> None:
    assert [plan.inverter for plan in plans(two())] == ["inverter", "other"]


# --- Whatever the build -----------------------------------------------------------------------


@given(ohms=st.floats(1.0, 1000.0), other=st.floats(1.0, 1000.0))
def test_the_heat_does_not_hang_on_the_resistor(ohms: float, other: float) -> None:
    heats = [
        numbers(plans(fitted(resistance=f"{r} Ohm"))[0])["heat in the resistor"].value
        for r in (ohms, other)
    ]
    assert heats[0] == heats[1]


@given(first=st.floats(0.0, 10.0), more=st.floats(0.0, 10.0))
def test_a_longer_wait_never_leaves_a_larger_step(first: float, more: float) -> None:
    def step(wait: float) -> float:
        plan = plans(fitted(wait=f"{wait} s", time_out=f"{wait + 1} s"))[0]
        return numbers(plan)["step left when the main contact closes"].value

    assert step(first + more) <= step(first) <= 58.8 * (1 + 1e-12)


@given(build=builds())
def test_a_precharge_passes_only_by_numbers_that_hold(build: Build) -> None:
    """A second opinion: half of C V², e to the power of −t / (R · C), V² / R · t."""
    volts = build.pack.cells_in_series * build.pack.module.chemistry.limits.highest.m
    device = build.safeguards.precharge
    found = [f for f in design(build).findings if f.rule.key.startswith("precharge.")]
    for inverter in build.inverters:
        told = {f.rule.key[10:]: f.severity for f in found if f.about == inverter.name}
        known = inverter.input_capacitance is not None and inverter.input_capacitance.m > 0
        # Of an unsaid one both ends of what is credible, by its output, may come to the same.
        unsaid = inverter.input_capacitance is None and inverter.continuous is not None
        assert (told["known"] is OK) == known or (unsaid and told["known"] is OK)
        if not isinstance(device, Precharge):
            assert max(told.values()) >= CAUTION
            continue
        if known:
            assert (told["checked"] < CAUTION) == (device.checks_voltage is True)
            farads = inverter.input_capacitance.m * inverter.count
            if told["heat"] < UNKNOWN:
                assert device.pulse.m >= farads * volts**2 / 2 * (1 - 1e-9)
            if told["wait"] is OK and not device.checks_voltage:
                left = math.exp(-device.wait.m / (device.resistance.m * farads))
                assert left <= math.exp(-5) * (1 + 1e-6)
        if told.get("shorted") is OK and device.resistance is not None:
            heat = volts**2 / device.resistance.m * device.time_out.m
            assert device.pulse.m >= heat * (1 - 1e-9)
