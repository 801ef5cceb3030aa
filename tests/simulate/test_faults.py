"""Faults in time: by hand where a hand can, and every rule in every severity it can have."""

from __future__ import annotations

from collections.abc import Callable

import attrs
import numpy as np
import pytest
from house.test_formulas import check, every
from strategies import (
    good_bar,
    good_build,
    good_cabling,
    good_module,
    good_pack,
    with_inverter,
    with_module,
    with_pack,
)

from evpack.base.errors import DescriptionError
from evpack.base.finding import Rule, Severity
from evpack.base.wording import say_up
from evpack.describe.build import Build
from evpack.describe.cabling import Cabling
from evpack.describe.ocv import ResistanceCurve
from evpack.design import design
from evpack.load.tables import sources
from evpack.outcome.design import Design
from evpack.outcome.runs import FaultRun
from evpack.simulate import fault_rules
from evpack.simulate.faults import simulate_fault

OK, NOTE, CAUTION, UNKNOWN, STOP = Severity
GOOD = design(good_build())


def number(run: FaultRun, words: str) -> float:
    return next(w.value for w in run.numbers if words in w.name)


def worst(run: FaultRun, rule: str) -> Severity:
    return max(found.severity for found in run.findings if found.rule.key == rule)


# --- Numbers ----------------------------------------------------------------------------------


def test_a_short_across_one_string_by_hand() -> None:
    """58.8 V, half of 20 mΩ a string, 2.005 mΩ of lead, 0.1 mΩ across the last; bars left out.

    The other two stand at 12.005/2 = 6.0025 mΩ, and the last lead makes 8.0075 mΩ; its own cells
    10 mΩ. Together 4.4469 mΩ before 0.1 mΩ: 58.8/4.5469 = 12.93 kA, of which 10/18.0075 through
    the last fuse: 7181 A. The bars take some of it.
    """
    run = simulate_fault(GOOD, "short")
    through = number(run, "through the fuse of the shorted string")
    assert through == pytest.approx(7181, rel=0.01)
    assert number(run, "its own cells") == pytest.approx(58.8 / 0.0101)
    # Two feed one: twice the current and four times the I²t in its fuse.
    assert number(run, "I²t of the shorted string's fuse") == pytest.approx(4.0, rel=0.01)
    assert not any(w.unit == "A²s" for w in run.numbers)
    assert run.current[:50] == pytest.approx(0.0, abs=1e-6)
    assert run.current[100, 2] == pytest.approx(-through, rel=0.01)
    assert run.current[160:] == pytest.approx(0.0, abs=0.1)  # the others are free of it
    assert [words for _, words in run.events][1].endswith("opens")


def test_the_time_of_the_fuse_is_taken_as_given() -> None:
    run = simulate_fault(GOOD, "short", opens_after="0.1 s", soc=0.5)
    assert run.events[1][0] - run.events[0][0] == pytest.approx(0.1)
    assert any("100 ms" in words or "0.1 s" in words for words in run.assumed)
    assert number(run, "its own cells") == pytest.approx(14 * 3.717 / 0.0101)


@pytest.mark.parametrize("seconds", ["1 ms", "10 ms", "100 ms"])
def test_the_time_that_is_assumed_decides_nothing(seconds: str) -> None:
    run = simulate_fault(GOOD, "short", opens_after=seconds)
    assert number(run, "I²t of the shorted") == pytest.approx(4.0, rel=0.01)
    assert "taken, not worked out" in run.says


def test_a_short_names_what_the_design_reckons_with() -> None:
    """The greatest that the protection reckons with for a string fuse, above what the run gives."""
    schedule = GOOD.protection
    assert schedule is not None
    (asked,) = (c.interrupting for c in schedule.circuits if c.kind == "string")
    assert asked is not None
    run = simulate_fault(GOOD, "short")
    through = number(run, "through the fuse of the shorted string")
    assert asked.value > through
    assert asked in run.numbers
    # Rounded up, as the schedule has it: a fuse that breaks less than it must is none.
    assert f"Buy string fuses by {say_up(asked.value, 'A')}" in run.says
    (found,) = (f for f in run.findings if f.rule.key == "fault-run.backfeed")
    assert found.value == asked.value


def test_where_the_run_gives_more_than_the_design_buy_by_the_run() -> None:
    schedule = GOOD.protection
    assert schedule is not None
    circuits = tuple(
        attrs.evolve(
            c,
            interrupting=None
            if c.interrupting is None
            else attrs.evolve(c.interrupting, value=5e3),
        )
        for c in schedule.circuits
    )
    low = attrs.evolve(GOOD, protection=attrs.evolve(schedule, circuits=circuits))
    run = simulate_fault(low, "short")
    through = number(run, "through the fuse of the shorted string")
    (found,) = (f for f in run.findings if f.rule.key == "fault-run.backfeed")
    assert found.value == through
    assert "Buy string fuses by 5 kA" not in run.says
    none = simulate_fault(attrs.evolve(GOOD, protection=None), "short")
    assert "Settle it first" in none.says


def test_a_fuse_that_opens_under_load() -> None:
    run = simulate_fault(GOOD, "fuse opens")
    before, after = number(run, "before"), number(run, "with one out")
    assert after / before == pytest.approx(1.5, rel=0.02)
    assert run.current[299, 2] == pytest.approx(run.load[299] / 3, rel=0.01)
    assert run.current[300, 2] == pytest.approx(0.0, abs=1e-3)
    assert run.current.sum(axis=1) == pytest.approx(run.load, abs=1e-6)
    assert number(run, "falls by") > 0


def test_a_collapse_by_hand() -> None:
    """A pack gives the most at half of its voltage, E²/4R.

    Full, 58.8 V; three strings of 22.005 mΩ are 7.335 mΩ, and the cable to the inverter. The power
    grows for half a minute before, and takes its part of the charge and of the slow resistance.
    """
    run = simulate_fault(GOOD, "collapse", soc=1.0)
    main = GOOD.build.cabling.main
    assert main is not None
    ohms = 0.022005 / 3 + float(main.resistance.m)
    assert number(run, "the most that the pack gives") == pytest.approx(
        58.8**2 / (4 * ohms), rel=0.10
    )
    assert number(run, "the most that the pack gives") < 58.8**2 / (4 * ohms)
    assert number(run, "voltage there") == pytest.approx(29.4, rel=0.15)
    assert "passes the cut-off" in run.events[0][1]
    assert run.events[0][0] < run.events[1][0]


def test_a_collapse_without_a_cut_off() -> None:
    run = simulate_fault(attrs.evolve(GOOD, settings=None, usable=None), "collapse")
    assert len(run.events) == 1


def test_joining_by_hand() -> None:
    """Two at 50 %, one at 45 %, 10 mΩ and 2.005 mΩ of lead each.

    14 · (3.717 - 3.6955) = 0.301 V over 12.005 · 1.5 mΩ = 16.7 A at once into the last, half of it
    from each other. 3.6955 V lies on the curve between 20 % (3.588) and 50 % (3.717).
    """
    run = simulate_fault(GOOD, "join")
    assert number(run, "of joining") == pytest.approx(0.301 / 0.0180075, rel=0.005)
    assert run.current[0, 2] < 0 < run.current[0, 0]
    assert run.current.sum(axis=1) == pytest.approx(0.0, abs=1e-9)
    assert np.ptp(run.soc[-1]) < 1e-3
    assert len(run.events) == 2


def no_bar(strings: int) -> Design:
    """Return a design whose bars have no resistance, so that a hand can work it."""
    cabling = attrs.evolve(good_cabling(), bar=None)
    return design(good_build(pack=good_pack(strings=strings), cabling=cabling))


def test_the_first_current_near_empty_is_that_of_the_moment_and_not_of_a_step_later() -> None:
    """Two strings at 4 % and 1 %, where a cell falls 0.3 V over 2 % of its charge.

    0 % is 3.000 V and 5 % 3.313 V: 4 % 3.2504 V, 1 % 3.0626 V; 14 · 0.1878 V = 2.6292 V. Half of
    2 · 10 mΩ, twice, and twice 2.005 mΩ of lead: 24.01 mΩ in all, and so 109.5 A.
    """
    made = no_bar(2)
    curve = made.build.pack.module.curve
    high, low = (float(np.interp(at, curve.soc, curve.volts)) for at in (0.04, 0.01))
    run = simulate_fault(made, "join", socs=[0.04, 0.01])
    by_hand = 14 * (high - low) / 0.02401
    first = number(run, "of joining")
    assert first == pytest.approx(by_hand, rel=1e-9)
    # The first step of 2 s has lost some of it by its end; what is judged has not.
    assert np.abs(run.current[1]).max() < 0.96 * first
    (found,) = (f for f in run.findings if f.rule.key == "fault-run.joining")
    assert found.value == first
    assert run.time[0] == 0
    assert run.current[0] == pytest.approx([first, -first], rel=1e-6)
    # Both at one voltage then: the higher string less its own drop over 12.005 mΩ.
    assert run.volts[0] == pytest.approx(14 * high - first * 0.012005, rel=1e-6)


@pytest.mark.parametrize(("socs", "worst_of"), [((0.5, 0.5, 0.45), 2), ((0.55, 0.5, 0.5), 0)])
def test_the_first_current_of_three_is_that_of_millman(
    socs: tuple[float, ...], worst_of: int
) -> None:
    """With bars of no resistance the one that lies apart has all others against it: 1.5 R."""
    made = no_bar(3)
    curve = made.build.pack.module.curve
    cells = np.interp(socs, curve.soc, curve.volts)
    run = simulate_fault(made, "join", socs=list(socs))
    apart = 14 * abs(float(cells[worst_of] - cells[1]))
    assert number(run, "of joining") == pytest.approx(apart / (1.5 * 0.012005), rel=1e-6)
    assert int(np.abs(run.current[0]).argmax()) == worst_of
    for worked in every(run):
        check(worked)


def test_cells_that_resist_most_when_empty_take_more_a_little_later() -> None:
    """From 300 mΩ at nothing to 10 mΩ at 2 %: the greatest current comes once some has flowed."""
    bends = ResistanceCurve(soc=[0.0, 0.02, 1.0], ohms=[0.3, 0.01, 0.01])
    made = design(with_module(resistance_curve=bends))
    run = simulate_fault(made, "join", socs=[0.5, 0.5, 0.0])
    most = number(run, "after joining")
    assert most == np.abs(run.current).max()
    assert most > np.abs(run.current[0]).max()


def test_strings_that_rest_alike_join_without_a_word() -> None:
    run = simulate_fault(GOOD, "join", socs=[0.5, 0.5, 0.5])
    assert number(run, "of joining") == pytest.approx(0.0, abs=1e-9)
    assert worst(run, "fault-run.joining") is OK


def test_what_makes_no_fault_is_refused() -> None:
    with pytest.raises(DescriptionError, match=r"fault 'shrt' is not known.*short"):
        simulate_fault(GOOD, "shrt")
    with pytest.raises(DescriptionError, match="3 states of charge from 0 to 1"):
        simulate_fault(GOOD, "join", socs=[0.5, 0.6])
    with pytest.raises(DescriptionError, match="states of charge from 0 to 1"):
        simulate_fault(GOOD, "short", soc=1.2)
    with pytest.raises(DescriptionError, match="two strings or more"):
        simulate_fault(design(with_pack(strings=1)), "short")
    with pytest.raises(DescriptionError, match="resistance is not known"):
        simulate_fault(design(with_module(resistance=None)), "short")
    with pytest.raises(DescriptionError, match="most that the inverters draw"):
        simulate_fault(design(with_inverter(continuous=None)), "fuse opens")
    with pytest.raises(DescriptionError, match="a Design is needed"):
        simulate_fault(good_build(), "short")  # type: ignore[arg-type]


def test_a_pack_that_cannot_go_on_with_one_out_says_so() -> None:
    """Modules of 200 mΩ: 133 mΩ with three strings, 200 mΩ with two; 52²/0.8 W is 3.4 kW."""
    weak = design(good_build(pack=good_pack(module=good_module(resistance="200 mOhm"))))
    run = simulate_fault(weak, "fuse opens")
    assert run.events[-1][1] == "the pack cannot give the power any more"


@pytest.mark.parametrize("kind", ["short", "fuse opens", "collapse", "join"])
def test_every_number_is_what_its_formula_says(kind: str) -> None:
    run = simulate_fault(GOOD, kind)
    found = list(every(run))
    assert found
    for worked in found:
        check(worked)
    assert str(run).startswith(f"good build: {kind}")


# --- Every rule, in every severity that it can have -------------------------------------------

CAN_COME_TO: dict[str, set[Severity]] = {
    "fault-run.backfeed": {OK, CAUTION, UNKNOWN, STOP},
    "fault-run.own": {CAUTION},
    "fault-run.remaining": {OK, CAUTION},
    "fault-run.collapse": {OK, CAUTION, UNKNOWN, STOP},
    "fault-run.joining": {OK, CAUTION, STOP},
}


def bare() -> Build:
    """No cabling, so that no fuse is named."""
    return good_build(cabling=Cabling(bar=good_bar()))


def assumed() -> Build:
    return with_module(basis="assumed")


def weak() -> Build:
    return with_module(resistance="600 mOhm")


CASES: list[tuple[str, Severity, str, Callable[[], Build]]] = [
    ("fault-run.backfeed", OK, "short", good_build),
    ("fault-run.backfeed", CAUTION, "short", assumed),
    ("fault-run.backfeed", UNKNOWN, "short", bare),
    ("fault-run.own", CAUTION, "short", good_build),
    ("fault-run.remaining", OK, "fuse opens", good_build),
    ("fault-run.remaining", CAUTION, "fuse opens", lambda: with_module(discharge_limit="30 A")),
    ("fault-run.remaining", CAUTION, "fuse opens", lambda: with_module(discharge_limit=None)),
    ("fault-run.collapse", OK, "collapse", good_build),
    ("fault-run.collapse", CAUTION, "collapse", assumed),
    ("fault-run.collapse", STOP, "collapse", weak),
    ("fault-run.collapse", UNKNOWN, "collapse", lambda: with_inverter(continuous=None)),
    ("fault-run.joining", STOP, "join", good_build),
    ("fault-run.joining", CAUTION, "join", assumed),
]


@pytest.mark.parametrize(("rule", "severity", "kind", "change"), CASES)
def test_a_rule_comes_to_what_it_should(
    rule: str, severity: Severity, kind: str, change: Callable[[], Build]
) -> None:
    alike = {"socs": [0.5, 0.5, 0.5]} if change is assumed and kind == "join" else {}
    run = simulate_fault(design(change()), kind, **alike)
    assert worst(run, rule) is severity
    assert all(f.remedy for f in run.findings if f.severity >= CAUTION)


def test_a_fuse_that_breaks_too_little_is_a_stop() -> None:
    """The family that was chosen, made to break no more than 5 kA."""
    schedule = GOOD.protection
    assert schedule is not None
    fuses = tuple(
        attrs.evolve(
            f, family=None if f.family is None else attrs.evolve(f.family, interrupting="5 kA")
        )
        for f in schedule.fuses
    )
    weaker = attrs.evolve(GOOD, protection=attrs.evolve(schedule, fuses=fuses))
    assert worst(simulate_fault(weaker, "short"), "fault-run.backfeed") is STOP
    gone = attrs.evolve(GOOD, protection=None)
    assert worst(simulate_fault(gone, "short"), "fault-run.backfeed") is UNKNOWN
    assert worst(simulate_fault(gone, "join"), "fault-run.joining") is STOP


def test_without_a_charge_limit_the_others_still_hold() -> None:
    run = simulate_fault(design(with_module(charge_limit=None)), "join")
    assert worst(run, "fault-run.joining") is STOP


def test_rules_are_weighed_and_have_sources() -> None:
    rules = [value for value in vars(fault_rules).values() if isinstance(value, Rule)]
    assert {rule.key for rule in rules} == set(CAN_COME_TO)
    assert {rule.source for rule in rules} <= set(sources())
