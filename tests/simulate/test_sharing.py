"""How strings share in a run: cases, numbers, and every rule in every severity it can have."""

from __future__ import annotations

from collections.abc import Callable

import attrs
import numpy as np
import pytest
from house.test_formulas import check, every
from hypothesis import given, settings
from strategies import (
    builds,
    good_bar,
    good_build,
    good_cabling,
    good_charger,
    good_conductor,
    good_inverter,
    good_load,
    good_module,
    good_pack,
    with_inverter,
    with_module,
    with_pack,
    with_policy,
)

from evpack.base.errors import DescriptionError
from evpack.base.finding import Rule, Severity
from evpack.describe.build import Build
from evpack.describe.cabling import Cabling, Run
from evpack.design import design
from evpack.load.tables import sources
from evpack.outcome.runs import COLLAPSED, SharingRun
from evpack.simulate import sharing_rules
from evpack.simulate.sharing import (
    ALIKE,
    COLD_ONE,
    LOW,
    NEW_ONE,
    ONE_OUT,
    OPPOSITE,
    WEAK_ONE,
    reckon_with,
    simulate_sharing,
)
from evpack.simulate.sharing_rules import judged, reckoned
from evpack.simulate.strings import StringScale

OK, NOTE, CAUTION, UNKNOWN, STOP = Severity
GOOD = simulate_sharing(design(good_build()))
LONG_BAR = good_bar(length="4 m", width="20 mm", thickness="3 mm")


def ran(build: Build) -> SharingRun:
    return simulate_sharing(design(build))


def worst(run: SharingRun, rule: str) -> Severity:
    return max(found.severity for found in run.findings if found.rule.key == rule)


# --- Numbers ----------------------------------------------------------------------------------


def test_the_cases_of_a_pack_of_strings() -> None:
    names = [case.name for case in GOOD.cases]
    assert names == [ALIKE, OPPOSITE, LOW, ONE_OUT, WEAK_ONE, COLD_ONE, NEW_ONE]
    assert [case.strings for case in GOOD.cases] == [3, 3, 3, 2, 3, 3, 3]
    assert GOOD.case(ALIKE) is GOOD.cases[0]
    assert GOOD.case("none such") is None


def test_the_power_and_the_charge_current_asked() -> None:
    """3000 W / 92 % + 30 W = 3290.9 W; 180 Ah · 30 % = 54 A, 90 A of modules, 40 A of chargers."""
    assert GOOD.power is not None
    assert GOOD.power.value == pytest.approx(3000 / 0.92 + 30)
    assert GOOD.charge_current is not None
    assert GOOD.charge_current.value == 40.0
    # Two chargers of 20 A and one of 12 A: 52 A, less than 54 A; each unit counts.
    several = (good_charger(name="two", current="20 A", count=2), good_charger(current="12 A"))
    charge = ran(good_build(chargers=several)).charge_current
    assert charge is not None
    assert charge.value == 52.0


def test_like_strings_share_evenly_and_the_last_current_is_that_of_the_cut_off() -> None:
    case = GOOD.case(ALIKE)
    assert case is not None
    run = case.discharge
    assert run.uneven.value == pytest.approx(1.0, abs=0.01)
    assert run.worst.value == pytest.approx(run.load.max() / 3, rel=0.01)
    # At the inverter, behind its cable: power over voltage.
    assert run.load[-1] * run.volts[-1] == pytest.approx(3000 / 0.92 + 30, rel=1e-6)
    assert run.ended_by.startswith("cut off")
    assert case.charge.ended_by.startswith("held at")
    assert case.charge.load.min() == pytest.approx(-40.0)


def test_one_out_leaves_half_each() -> None:
    case = GOOD.case(ONE_OUT)
    assert case is not None
    for run in case.runs:
        assert run.current[:, 2] == pytest.approx(0.0, abs=1e-6)
        assert run.current[:, 0] == pytest.approx(run.load / 2, rel=0.01)
    assert case.discharge.apart < 1e-3  # the string that is off does not count


def test_an_end_of_the_bars_each_is_more_even() -> None:
    run = ran(good_build(cabling=good_cabling(bar=LONG_BAR)))
    same, cross = run.case(ALIKE), run.case(OPPOSITE)
    assert same is not None
    assert cross is not None
    assert cross.discharge.uneven.value < same.discharge.uneven.value
    assert same.discharge.early[0] > same.discharge.early[2]


def test_a_weak_module_sheds_load_early_and_a_new_one_draws_it() -> None:
    weak, new, cold = GOOD.case(WEAK_ONE), GOOD.case(NEW_ONE), GOOD.case(COLD_ONE)
    assert weak is not None
    assert new is not None
    assert cold is not None
    assert weak.discharge.early[2] < weak.discharge.early[0]
    assert new.discharge.early[0] > new.discharge.early[1]
    # 20 mΩ and 20 mΩ of slow part each, doubled in the cold; 2 mΩ of lead: early about 22/42.
    assert cold.discharge.early[2] / cold.discharge.early[0] == pytest.approx(22 / 42, rel=0.02)


def test_the_early_share_by_hand() -> None:
    """A second string of three times the resistance: 62 mΩ against 22 mΩ, leads included.

    Strings that stood at one voltage: early currents as conductances, 1/22.005 : 1/62.005.
    """
    scales = (StringScale(), StringScale(resistance=3.0), StringScale(is_open=True))
    run = simulate_sharing(design(good_build()), more={"mine": scales})
    mine = run.case("mine")
    assert mine is not None
    assert not mine.usual
    ratio = mine.discharge.early[0] / mine.discharge.early[1]
    assert ratio == pytest.approx(62.005 / 22.005, rel=0.03)  # the first step is some seconds long


def test_a_case_that_is_none_is_refused() -> None:
    made = design(good_build())
    with pytest.raises(DescriptionError, match="'mine': 3 strings need 3 scales"):
        simulate_sharing(made, more={"mine": [StringScale()]})
    with pytest.raises(DescriptionError, match="not all open"):
        simulate_sharing(made, more={"mine": [StringScale(is_open=True)] * 3})
    with pytest.raises(DescriptionError, match="a Design is needed"):
        simulate_sharing(good_build())  # type: ignore[arg-type]


def test_one_string_shares_with_nobody() -> None:
    run = ran(with_pack(strings=1))
    assert [case.name for case in run.cases] == [ALIKE]
    assert run.cases[0].discharge.uneven.value == pytest.approx(1.0)
    assert not [f for f in run.findings if f.rule.key in {"sharing-run.even", "sharing-run.apart"}]


def test_without_settings_the_modules_limits_end_it() -> None:
    made = attrs.evolve(design(good_build()), settings=None, usable=None)
    run = simulate_sharing(made)
    assert run.cases[0].discharge.ended_by == "cut off at 42 V"  # the bottom of the window
    weak = run.case(WEAK_ONE)
    assert weak is not None
    assert weak.discharge.ended_by == "a string is empty"
    assert (weak.discharge.soc >= 0).all()
    assert run.cases[0].charge.volts.max() <= 58.8 + 1e-9


def test_every_number_is_what_its_formula_says() -> None:
    found = list(every(GOOD))
    assert len(found) > 20
    for worked in found:
        check(worked)


def test_the_books_close() -> None:
    for case in GOOD.cases:
        for run in case.runs:
            assert run.charge_lost < 1e-9
            assert run.energy_lost < 1e-3


# --- Every rule, in every severity that it can have -------------------------------------------

CAN_COME_TO: dict[str, set[Severity]] = {
    "sharing-run.even": {OK, CAUTION},
    "sharing-run.module": {OK, CAUTION, UNKNOWN, STOP},
    "sharing-run.fuse": {OK, CAUTION, UNKNOWN, STOP},
    "sharing-run.apart": {OK, NOTE, CAUTION},
    "sharing-run.power": {OK, CAUTION, STOP},
    "sharing-run.known": {UNKNOWN},
}


def like_modules(**changes: object) -> Build:
    """Return the good build with a policy that reckons with any imbalance."""
    return good_build(policy=with_policy(sharing_imbalance="300 %").policy, **changes)


def uneven_leads() -> Build:
    lead = Run(name="lead", conductor=good_conductor(115.0, 0.64), length="1 m")
    return good_build(cabling=good_cabling(module_lead=lead, bar=LONG_BAR))


def weak_pack() -> Build:
    """Modules of 60 mΩ: 120 mΩ a string, 40 mΩ the pack; 3.3 kW are more than it can give."""
    return good_build(
        pack=good_pack(module=good_module(resistance="300 mOhm")), load=good_load(continuous="1 kW")
    )


CASES: list[tuple[str, Severity, Callable[[], Build]]] = [
    ("sharing-run.even", OK, like_modules),
    ("sharing-run.even", CAUTION, good_build),
    ("sharing-run.module", OK, like_modules),
    ("sharing-run.module", CAUTION, lambda: with_module(charge_limit="18 A")),
    ("sharing-run.module", UNKNOWN, lambda: with_module(charge_limit=None)),
    ("sharing-run.module", STOP, lambda: with_module(discharge_limit="20 A")),
    ("sharing-run.fuse", OK, good_build),
    ("sharing-run.fuse", CAUTION, lambda: with_module(basis="assumed")),
    ("sharing-run.fuse", UNKNOWN, lambda: good_build(cabling=Cabling(bar=good_bar()))),
    ("sharing-run.power", OK, good_build),
    ("sharing-run.power", STOP, weak_pack),
    ("sharing-run.apart", NOTE, good_build),
    ("sharing-run.known", UNKNOWN, lambda: with_module(resistance=None)),
    ("sharing-run.known", UNKNOWN, lambda: with_inverter(continuous=None)),
]


@pytest.mark.parametrize(("rule", "severity", "change"), CASES)
def test_a_rule_comes_to_what_it_should(
    rule: str, severity: Severity, change: Callable[[], Build]
) -> None:
    assert worst(ran(change()), rule) is severity


def test_a_pack_that_tires_before_its_cut_off() -> None:
    """320 mΩ a string, 107 mΩ the pack: at 45 V it gives 45²/0.43 = 4.7 kW at once, less for long.

    The window goes down to 15 V and no cut-off is settled: the voltage gives way before.
    """
    build = good_build(
        pack=good_pack(module=good_module(resistance="160 mOhm")),
        inverters=(good_inverter(window_low="15 V"),),
    )
    run = simulate_sharing(attrs.evolve(design(build), settings=None, usable=None))
    assert worst(run, "sharing-run.power") is CAUTION
    assert run.cases[0].discharge.ended_by == COLLAPSED


def test_like_strings_stay_together_and_unlike_ones_drift() -> None:
    found = [f.severity for f in GOOD.findings if f.rule.key == "sharing-run.apart"]
    assert found == [OK, NOTE]  # what is usual, then what may befall


def test_unlike_strings_as_usual_are_a_caution() -> None:
    """Only the first case is counted as usual here, made with strings of unlike capacity."""
    scales = (StringScale(capacity=0.3), StringScale(), StringScale())
    run = simulate_sharing(design(good_build()), more={"mine": scales})
    mine = attrs.evolve(run.cases[-1], usual=True)
    found = judged(design(good_build()), (mine,))
    assert max(f.severity for f in found if f.rule.key == "sharing-run.apart") is CAUTION


def test_no_bound_without_a_design_that_has_one() -> None:
    made = design(good_build())
    assert reckoned(made, 3) == pytest.approx(1.2)
    assert reckoned(made, 2) == pytest.approx(1.2)
    assert reckoned(made, 1) == 1.0
    assert reckoned(attrs.evolve(made, sharing=None), 3) == 1.0


def test_a_pack_above_its_charge_setting_takes_nothing() -> None:
    """One step is run all the same, so that there is something to show."""
    made = design(good_build())
    assert made.usable is not None
    full = attrs.evolve(made, usable=attrs.evolve(made.usable, soc_bottom=0.999))
    charge = simulate_sharing(full).cases[0].charge
    assert charge.ended_by.endswith("at once")
    assert charge.time.size == 1


def test_it_says_itself_in_a_line() -> None:
    assert str(GOOD).startswith("good build: 7 cases")


def test_rules_are_weighed_and_have_sources() -> None:
    rules = [value for value in vars(sharing_rules).values() if isinstance(value, Rule)]
    assert {rule.key for rule in rules} == set(CAN_COME_TO)
    assert {rule.source for rule in rules} <= set(sources())


def test_an_unknown_is_never_run_past() -> None:
    run = ran(with_module(resistance=None))
    assert run.cases == ()
    assert all(found.holds and found.remedy for found in run.findings)


def test_what_only_is_assumed_is_at_best_a_caution() -> None:
    run = ran(with_module(basis="assumed"))
    softened = [f for f in run.findings if f.assumed]
    assert softened
    assert all(f.severity >= CAUTION for f in softened)
    assert all(f.remedy for f in softened)


@settings(max_examples=30)
@given(build=builds())
def test_any_build_runs_or_says_why_not(build: Build) -> None:
    made = design(build)
    if made.settings is None:
        return
    run = simulate_sharing(made)
    assert run.cases or any(f.severity is UNKNOWN for f in run.findings)
    for found in run.findings:
        assert found.severity in CAN_COME_TO[found.rule.key], found
        assert not found.holds or found.remedy
    for case in run.cases:
        for one in case.runs:
            total = one.current.sum(axis=1)
            assert total == pytest.approx(one.load, abs=1e-6 * (1 + np.abs(one.load).max()))
            assert one.uneven.value >= 1.0 - 1e-6
            assert np.isfinite(one.worst.value)


def test_a_charger_that_gives_nothing_is_no_reason_to_stop() -> None:
    nothing = good_charger(current="0 A", current_setting=("0 A", "0.01 A", "0.01 A"))
    run = simulate_sharing(design(good_build(chargers=(nothing,))))
    # The rate of 30 % of 180 Ah, and 3 · 30 A that the modules stand: 54 A.
    assert run.charge_current is not None
    assert run.charge_current.value == pytest.approx(54.0)


def test_fuses_are_sized_for_what_the_run_showed() -> None:
    made = design(good_build())
    run = simulate_sharing(made)
    worst = max(one.uneven.value for case in run.cases for one in case.runs)
    assert worst > 1.2  # a new module among worn ones, against what the design reckons with
    again = reckon_with(made, run)
    imbalance = float(again.policy.sharing_imbalance.m)
    assert worst <= imbalance < worst + 0.011
    assert made.protection is not None
    after = design(again)
    assert after.protection is not None
    before, larger = (d.protection.fuses[0].lower_guard for d in (made, after) if d.protection)
    assert before is not None
    assert larger is not None
    # The least string fuse with our margin follows in proportion; the rules ask about even shares.
    assert larger.value == pytest.approx(before.value * imbalance / 1.2)
    # And then the run finds nothing that the design does not reckon with.
    even = [f for f in simulate_sharing(after).findings if f.rule.key == "sharing-run.even"]
    assert all(f.margin is not None and f.margin >= 0 for f in even)


def test_a_design_that_reckons_with_more_stays_as_it_is() -> None:
    made = design(with_policy(sharing_imbalance="250 %"))
    assert reckon_with(made, simulate_sharing(made)) is made.build


def test_a_run_of_nothing_says_nothing() -> None:
    made = design(with_module(resistance=None))
    with pytest.raises(DescriptionError, match="no cases"):
        reckon_with(made, simulate_sharing(made))


def test_more_than_any_design_may_reckon_with_is_refused() -> None:
    made = design(good_build())
    run = simulate_sharing(made)
    case = run.cases[0]
    wild = attrs.evolve(case.discharge, uneven=attrs.evolve(case.discharge.uneven, value=9.0))
    odd = attrs.evolve(run, cases=(attrs.evolve(case, discharge=wild),))
    with pytest.raises(DescriptionError, match="must lie between"):
        reckon_with(made, odd)
