"""The grade of a module: each limit from both sides, the reasons in order, and what never helps."""

from __future__ import annotations

import datetime as dt
from typing import Any

import attrs
import pytest
from heaps import LAST, LEVEL, MEASURES, NAMES, a_module, first_of, grade_of, heap, rest, rests
from hypothesis import given
from hypothesis import strategies as st
from strategies import HYDRIDE

from evpack.base.finding import Severity
from evpack.describe.batch import FAULTS, Measure
from evpack.match.grade import graded
from evpack.match.limits import judged, limits
from evpack.outcome.matching import Grade, GradedModule

ACCEPT, RETEST, REJECT = Grade
OK, NOTE, CAUTION, UNKNOWN, STOP = Severity
BETTER = {ACCEPT: 2, RETEST: 1, REJECT: 0}


def severity(found: GradedModule, key: str) -> Severity:
    return next(f.severity for f in found.findings if f.rule.key == key)


def apart(high: float) -> Any:
    """Return rests whose last has one cell group so far above the others [V]."""
    return rests((4.1 + high, 4.1, 4.1, 4.1), (4.1 + high, 4.1, 4.1, 4.1))


def lost(volts: float) -> Any:
    """Return rests between which one cell group lost so much [V]."""
    return rests((4.1 - volts, 4.1, 4.1, 4.1))


def test_the_good_module_is_accepted_without_a_reason() -> None:
    found = grade_of()
    assert (found.grade, found.reasons, found.odd) == (ACCEPT, (), ())
    assert {f.severity for f in found.findings} == {OK}


# --- Each limit, from both sides --------------------------------------------------------------


@pytest.mark.parametrize(
    ("key", "changes", "grade"),
    [
        ("grade.capacity", {"capacity": "48 Ah"}, ACCEPT),  # 80 % of 60 Ah
        ("grade.capacity", {"capacity": "47.9 Ah"}, RETEST),
        ("grade.capacity", {"capacity": "42 Ah"}, RETEST),  # 70 %
        ("grade.capacity", {"capacity": "41.9 Ah"}, REJECT),
        ("grade.resistance", {"resistance": "12.8 mOhm"}, ACCEPT),  # 1.6 times 8 mΩ
        ("grade.resistance", {"resistance": "12.9 mOhm"}, RETEST),
        ("grade.resistance", {"resistance": "16 mOhm"}, RETEST),
        ("grade.resistance", {"resistance": "16.1 mOhm"}, REJECT),
        ("grade.spread", {"rests": apart(0.048)}, ACCEPT),  # and 2 mV for the meter
        ("grade.spread", {"rests": apart(0.049)}, RETEST),
        ("grade.spread", {"rests": apart(-0.3)}, RETEST),
        ("grade.spread", {"rests": apart(-0.301)}, REJECT),
        ("grade.drift", {"rests": lost(0.005)}, ACCEPT),
        ("grade.drift", {"rests": lost(0.006)}, RETEST),
        ("grade.drift", {"rests": lost(0.015)}, RETEST),
        ("grade.drift", {"rests": lost(0.016)}, REJECT),
        ("grade.rise", {"rise": "3 K"}, ACCEPT),
        ("grade.rise", {"rise": "3.1 K"}, RETEST),
        ("grade.rise", {"rise": "5 K"}, RETEST),
        ("grade.rise", {"rise": "5.1 K"}, REJECT),
        ("grade.floor", {"lowest_ever": "2.001 V"}, ACCEPT),  # 2 V, and 1 mV for the meter
        ("grade.floor", {"lowest_ever": "2.0005 V"}, RETEST),
        ("grade.floor", {"lowest_ever": "1.999 V"}, REJECT),
        ("grade.ceiling", {"rests": rests((4.2, 4.2, 4.2, 4.2))}, ACCEPT),
        ("grade.ceiling", {"rests": rests((4.201, 4.2, 4.2, 4.2))}, RETEST),
        ("grade.ceiling", {"rests": rests((4.251, 4.251, 4.251, 4.251))}, REJECT),
    ],
)
def test_a_limit_is_inclusive(key: str, changes: dict[str, Any], grade: Grade) -> None:
    """In two modules nothing is called odd, so that the limit alone speaks."""
    batch = heap(modules=[a_module(**changes), a_module("A2"), a_module("A3")])
    found = first_of(batch)
    assert found.grade is grade
    assert severity(found, key) is {ACCEPT: OK, RETEST: CAUTION, REJECT: STOP}[grade]


@pytest.mark.parametrize("fault", FAULTS)
def test_any_fault_seen_refuses_at_once(fault: str) -> None:
    found = grade_of(seen=fault)
    assert found.grade is REJECT
    assert found.reasons[0].startswith(f"Seen on it: {fault}.")
    assert "recycler" in found.reasons[0]


@pytest.mark.parametrize(
    ("key", "changes"),
    [
        ("grade.inspection", {"seen": None}),
        ("grade.capacity", {"capacity": None}),
        ("grade.resistance", {"resistance": None}),
        ("grade.resistance", {"resistance_method": "1 kHz meter"}),
        ("grade.spread", {"rests": (rest(cells=(), voltage="16.4 V"),)}),
        ("grade.floor", {"rests": (), "lowest_ever": None}),
        ("grade.ceiling", {"rests": ()}),
    ],
)
def test_what_is_needed_and_not_known_asks_for_a_test(key: str, changes: dict[str, Any]) -> None:
    found = grade_of(**changes)
    assert found.grade is RETEST
    assert severity(found, key) is UNKNOWN
    assert all(f.remedy for f in found.findings if f.severity is UNKNOWN)


@pytest.mark.parametrize(
    ("key", "changes"), [("grade.drift", {"rests": (rest(),)}), ("grade.rise", {"rise": None})]
)
def test_what_is_not_needed_and_not_known_is_noted(key: str, changes: dict[str, Any]) -> None:
    found = grade_of(**changes)
    assert found.grade is ACCEPT
    assert severity(found, key) is NOTE


@pytest.mark.parametrize("changes", [{"new_capacity": None}, {"new_resistance": None}])
def test_without_what_was_new_nothing_is_accepted(changes: dict[str, Any]) -> None:
    assert {found.grade for found in graded(heap(**changes))} == {RETEST}


def test_without_a_limit_nothing_is_accepted() -> None:
    batch = heap(measures=tuple(m for m in MEASURES if m.key != "drift"))
    assert {found.grade for found in graded(batch)} == {RETEST}
    assert "No limits are given for its loss at rest" in first_of(batch).reasons[0]


def test_a_chemistry_that_is_refused_refuses_every_module() -> None:
    """1.3 V is no bad voltage of a hydride cell; without targets no rest is long enough."""
    level = (1.3,) * 4
    modules = [a_module(name, rests=rests(level, level), lowest_ever="1.1 V") for name in NAMES]
    found = graded(heap(chemistry=HYDRIDE, modules=modules))
    assert {one.grade for one in found} == {REJECT}
    assert found[0].reasons[0] == HYDRIDE.why_refused


def test_the_mean_of_a_whole_module_tells_of_the_floor_too() -> None:
    """7.9 V over four cell groups is 1.975 V: at least one lies below 2 V."""
    found = grade_of(rests=(rest(cells=(), voltage="7.9 V"),), lowest_ever=None)
    assert found.grade is REJECT


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"capacity": "67 Ah"}, "its capacity is 112 % of that when new"),
        ({"resistance": "5.5 mOhm"}, "its resistance is 68.8 % of that when new"),
        (
            {"rests": (rest(voltage="16.2 V"),)},
            "its cells add up to 16.4 V, and the whole read 16.2 V",
        ),
    ],
)
def test_what_cannot_be_believed_is_read_again(changes: dict[str, Any], words: str) -> None:
    found = first_of(heap(modules=[a_module(**changes), a_module("A2")]))
    assert found.grade is RETEST
    assert severity(found, "grade.believable") is CAUTION
    assert words in found.reasons[0]


def test_a_whole_that_its_cells_nearly_add_up_to_is_believed() -> None:
    assert grade_of(rests=(rest(voltage="16.5 V"), rest(LAST, voltage="16.5 V"))).grade is ACCEPT


def test_an_uncertainty_across_a_limit_asks_for_a_retest() -> None:
    """48.3 Ah are 80.5 %; off by 0.6 Ah they may be 79.5 %."""
    few = [a_module("A2"), a_module("A3")]
    sure = first_of(heap(modules=[a_module(capacity="48.3 Ah"), *few]))
    assert sure.grade is ACCEPT
    open_ = a_module(capacity="48.3 Ah", capacity_error="0.6 Ah")
    doubtful = first_of(heap(modules=[open_, *few]))
    assert doubtful.grade is RETEST
    assert "may be off by 1 %" in doubtful.reasons[0]
    assert [worked.name for worked in doubtful.uncertainty] == [
        "uncertainty of the capacity against new",
        "uncertainty of the cell spread",
    ]
    wide = grade_of(resistance="12.7 mOhm", resistance_error="0.2 mOhm")
    assert severity(wide, "grade.resistance") is CAUTION


def test_the_reasons_come_worst_first() -> None:
    found = grade_of(capacity="47 Ah", seen=None)
    assert found.grade is RETEST
    assert "Nobody noted" in found.reasons[0]
    assert "78.3 %" in found.reasons[1]  # 47 Ah / 60 Ah
    held = [f.severity for f in found.findings if f.severity >= CAUTION]
    assert len(found.reasons) == len(held)


def test_of_a_module_that_is_refused_no_more_is_asked() -> None:
    """Nobody is to charge it for the sake of a reading that is missing."""
    found = grade_of(capacity=None, seen=None, lowest_ever="1.2 V")
    assert found.grade is REJECT
    assert len(found.reasons) == 1
    assert "1.2 V" in found.reasons[0]


# --- The odd ones out -------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("key", "changes"),
    [
        ("capacity", {"capacity": "50 Ah"}),  # within the limits, far from five of 54 Ah
        ("capacity", {"capacity": "58 Ah"}),  # and far above
        ("resistance", {"resistance": "12 mOhm"}),
        ("spread", {"rests": apart(0.02)}),
        ("drift", {"rests": lost(0.004)}),
        ("rise", {"rise": "3.1 K"}),
    ],
)
def test_a_module_far_from_the_middle_is_read_again(key: str, changes: dict[str, Any]) -> None:
    found = grade_of(**changes)
    assert found.odd == (key,)
    assert found.grade is RETEST
    assert severity(found, "grade.outlier") is CAUTION


@pytest.mark.parametrize(
    "changes",
    [
        {"capacity": "53 Ah"},  # 1.9 % less: two tests may differ by that
        {"resistance": "10.5 mOhm"},  # 9.4 % more
        {"rests": apart(0.009)},
        {"rests": lost(0.003)},
        {"rise": "3 K"},
    ],
)
def test_a_small_difference_makes_nobody_odd(changes: dict[str, Any]) -> None:
    assert grade_of(**changes).odd == ()


def test_less_spread_or_warming_than_the_others_is_no_wonder() -> None:
    others = [a_module(name, rests=apart(0.04), rise="2.9 K") for name in NAMES[1:]]
    found = first_of(heap(modules=(a_module(rise="0.5 K"), *others)))
    assert (found.odd, found.grade) == ((), ACCEPT)


def test_among_four_nobody_is_odd() -> None:
    batch = heap(modules=[a_module(capacity="49 Ah"), *(a_module(n) for n in NAMES[1:4])])
    assert first_of(batch).odd == ()


def test_a_reading_made_otherwise_is_no_outlier() -> None:
    assert "resistance" not in grade_of(resistance="2 mOhm", resistance_method="1 kHz meter").odd


# --- What must hold of any module -------------------------------------------------------------

WORSE = {
    "capacity": lambda part: {"capacity": f"{54 - 20 * part} Ah"},
    "resistance": lambda part: {"resistance": f"{9.6 + 9 * part} mOhm"},
    "spread": lambda part: {"rests": apart(-0.4 * part)},
    "drift": lambda part: {"rests": lost(0.03 * part)},
    "rise": lambda part: {"rise": f"{2 + 5 * part} K"},
    "floor": lambda part: {"lowest_ever": f"{3.2 - 2 * part} V"},
}


@given(
    key=st.sampled_from(sorted(WORSE)),
    parts=st.tuples(st.floats(0, 1), st.floats(0, 1)),
    others=st.lists(st.integers(44, 54), min_size=1, max_size=7),
    seen=st.sampled_from([(), None, ("dent",)]),
)
def test_a_worse_reading_never_improves_the_grade(
    key: str, parts: tuple[float, float], others: list[int], seen: Any
) -> None:
    """From the middle of the batch on. A reading far better than the others is odd in itself."""
    rest_of = [a_module(f"B{i}", capacity=f"{ah} Ah") for i, ah in enumerate(others)]
    fixed = {"seen": seen}
    if key == "capacity":  # from the least of the others down
        parts = tuple(0.5 + part / 2 for part in parts)  # type: ignore[assignment]
    mild, bad = (
        first_of(heap(modules=[a_module(**fixed, **WORSE[key](part)), *rest_of]))
        for part in sorted(parts)
    )
    assert BETTER[bad.grade] <= BETTER[mild.grade]


@given(
    forget=st.sets(st.sampled_from(["seen", "capacity", "resistance", "rests"]), min_size=1),
    bad=st.booleans(),
)
def test_a_needed_reading_left_out_never_gives_an_accepted_module(
    forget: set[str], *, bad: bool
) -> None:
    changes: dict[str, Any] = dict.fromkeys(forget)
    if "rests" in forget:
        changes["rests"] = ()
    if bad:
        changes["lowest_ever"] = "1 V"
    assert grade_of(**changes).grade is (REJECT if bad else RETEST)


# --- The limits themselves --------------------------------------------------------------------


def measure(**changes: Any) -> Measure:
    fields = attrs.asdict(MEASURES[2]) | changes
    return Measure(**fields)


def test_limits_come_in_canonical_units() -> None:
    held = limits(MEASURES)
    assert (held["capacity"].accept, held["capacity"].retest) == pytest.approx((0.8, 0.7))
    assert held["spread"].accept == pytest.approx(0.05)
    assert held["rise"].retest == 5.0
    assert limits([measure(unit="V", accept=0.05, retest=0.3)])["spread"].retest == 0.3


@pytest.mark.parametrize(
    ("measures", "words"),
    [
        ([measure(key="spraed")], "did you mean 'spread'"),
        ([measure(), measure()], "given twice"),
        ([measure(unit="K")], "unit 'K' is not known"),
        ([measure(accept=400.0)], "must be no looser"),
        ([measure(accept=float("nan"))], "must be no looser"),
    ],
)
def test_limits_that_cannot_be_are_refused(measures: list[Measure], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        limits(measures)


@pytest.mark.parametrize(
    ("key", "accept", "retest", "severity_"),
    [
        ("spread", 50.0, 300.0, OK),
        ("spread", 20.0, 100.0, OK),
        ("spread", 60.0, 300.0, CAUTION),
        ("spread", 50.0, 400.0, CAUTION),
        ("capacity", 85.0, 70.0, OK),
        ("capacity", 75.0, 70.0, CAUTION),
    ],
)
def test_limits_looser_than_usual_are_said(
    key: str, accept: float, retest: float, severity_: Severity
) -> None:
    own = [attrs.evolve(m, accept=accept, retest=retest) if m.key == key else m for m in MEASURES]
    stated, usual = judged(own, MEASURES)
    assert stated.severity is OK
    assert usual.severity is severity_
    assert (key in usual.detail) == (severity_ is CAUTION)


def test_a_measure_without_limits_is_said() -> None:
    stated, usual = judged(MEASURES[:-1], MEASURES)
    assert (stated.severity, usual.severity) == (UNKNOWN, OK)
    assert "rise" in stated.detail


def test_rests_of_one_day_are_enough_for_a_grade() -> None:
    found = grade_of(rests=(rest(dt.date(2024, 3, 1), LEVEL),))
    assert found.grade is ACCEPT
    assert severity(found, "grade.drift") is NOTE
