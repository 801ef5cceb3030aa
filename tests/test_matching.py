"""The thread from a heap to matched strings: every rule in every severity, and the examples."""

from __future__ import annotations

import importlib
import importlib.util
import pkgutil
import re
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import attrs
import numpy as np
import pytest
from heaps import LAST, MEASURES, NAMES, a_module, heap, iron_heap, rest, rests
from hypothesis import given
from hypothesis import strategies as st
from strategies import BLEND, HYDRIDE, OXIDE, TITANATE

import evpack
from evpack.base.finding import Finding, Rule, Severity
from evpack.describe.batch import Batch
from evpack.load.batch import read_batch
from evpack.load.places import data_dir
from evpack.match.after import compare
from evpack.matching import match_heap
from evpack.outcome.matching import Grade, Matching
from evpack.outcome.pack_log import PackLog

OK, NOTE, CAUTION, UNKNOWN, STOP = Severity
EXAMPLES = sorted((data_dir() / "batches").glob("*.toml"))
Change = Callable[[], Any]
ROOT = Path(__file__).resolve().parents[1]


def matched(batch: Batch) -> Matching:
    return match_heap(batch, seconds=1.0, proven=False)


def every_finding(made: Matching) -> tuple[Finding, ...]:
    return (*made.findings, *(f for one in made.graded for f in one.findings))


# --- Every rule, in every severity that it can have -------------------------------------------


def every_rule() -> Iterator[Rule]:
    folder = Path(importlib.import_module("evpack.match.grade").__file__).parent
    for found in pkgutil.iter_modules([str(folder)], "evpack.match."):
        module = importlib.import_module(found.name)
        yield from (value for value in vars(module).values() if isinstance(value, Rule))


# What each rule can come to. Written by hand, as in `test_design.py`.
CAN_COME_TO: dict[str, set[Severity]] = {
    "after.capacity": {OK, CAUTION, UNKNOWN},
    "after.limits": {OK, UNKNOWN, STOP},
    "after.sharing": {OK, CAUTION, UNKNOWN},
    "after.resistance": {OK, CAUTION, UNKNOWN},
    "after.spread": {OK, CAUTION, UNKNOWN},
    "grade.believable": {OK, CAUTION},
    "grade.capacity": {OK, CAUTION, UNKNOWN, STOP},
    "grade.ceiling": {OK, CAUTION, UNKNOWN, STOP},
    "grade.drift": {OK, NOTE, CAUTION, UNKNOWN, STOP},
    "grade.floor": {OK, CAUTION, UNKNOWN, STOP},
    "grade.inspection": {OK, UNKNOWN, STOP},
    "grade.outlier": {OK, CAUTION},
    "grade.resistance": {OK, CAUTION, UNKNOWN, STOP},
    "grade.imbalance": {OK, NOTE, CAUTION, UNKNOWN, STOP},
    "grade.rise": {OK, NOTE, CAUTION, UNKNOWN, STOP},
    "grade.spread": {OK, CAUTION, UNKNOWN, STOP},
    "group.capacity": {OK, NOTE, CAUTION, STOP},
    "group.enough": {OK, UNKNOWN, STOP},
    "group.gain": {OK},
    "group.proven": {OK, NOTE},
    "group.resistance": {OK, NOTE, CAUTION, STOP},
    "group.wanted": {OK, NOTE},
    "group.wishes": {OK, STOP},
    "heap.chemistry": {OK, STOP},
    "heap.complete": {OK, CAUTION, UNKNOWN},
    "heap.method": {OK, CAUTION, UNKNOWN},
    "heap.new": {OK, CAUTION, UNKNOWN},
    "join.blind": {OK, STOP},
    "join.chemistry": {OK, STOP},
    "join.fuse": {NOTE},
    "join.surge": {OK, STOP},
    "join.voltage": {OK, CAUTION, UNKNOWN},
    "limits.stated": {OK, UNKNOWN},
    "limits.usual": {OK, CAUTION},
}


def test_every_rule_is_weighed() -> None:
    assert {rule.key for rule in every_rule()} == set(CAN_COME_TO)


def one(**changes: Any) -> Change:
    return lambda: heap(a_module(**changes))


def pack(*amp_hours: float, ohms: tuple[float, ...] = (), **changes: Any) -> Change:
    def made() -> Batch:
        modules = [
            a_module(f"M{i}", capacity=f"{ah} Ah", resistance=f"{r} mOhm")
            for i, (ah, r) in enumerate(
                zip(amp_hours, ohms or [9.6] * len(amp_hours), strict=True), start=1
            )
        ]
        return heap(modules=modules, **({"modules_in_series": 2, "strings": 2} | changes))

    return made


def whole(**changes: Any) -> Change:
    return lambda: heap(**changes)


def all_of(**changes: Any) -> Change:
    return lambda: heap(modules=[a_module(name, **changes) for name in NAMES])


def cells(*volts: float) -> dict[str, Any]:
    return {"rests": rests(volts, volts)}  # type: ignore[arg-type]


def strings(*volts: float, **changes: Any) -> Change:
    def made() -> Batch:
        modules = [
            a_module(name, rests=(rest(LAST, (v,) * 4, **changes),))
            for name, v in zip(NAMES, volts, strict=False)
        ]
        return heap(modules=modules, modules_in_series=1, strings=len(volts))

    return made


def without(key: str) -> tuple[Any, ...]:
    return tuple(measure for measure in MEASURES if measure.key != key)


CASES: list[tuple[str, Severity, Change]] = [
    ("grade.believable", CAUTION, one(capacity="70 Ah")),
    ("grade.capacity", CAUTION, one(capacity="45 Ah")),
    ("grade.capacity", UNKNOWN, one(capacity=None)),
    ("grade.capacity", STOP, one(capacity="30 Ah")),
    ("grade.ceiling", CAUTION, one(**cells(4.22, 4.2, 4.2, 4.2))),
    ("grade.ceiling", UNKNOWN, one(rests=())),
    ("grade.ceiling", STOP, one(**cells(4.3, 4.2, 4.2, 4.2))),
    ("grade.drift", NOTE, one(rests=(rest(),))),
    ("grade.drift", CAUTION, one(rests=rests((4.09, 4.1, 4.1, 4.1)))),
    ("grade.drift", UNKNOWN, whole(measures=without("drift"))),
    ("grade.drift", STOP, one(rests=rests((4.07, 4.1, 4.1, 4.1)))),
    ("grade.floor", CAUTION, one(lowest_ever="2.0001 V")),
    ("grade.floor", UNKNOWN, one(rests=(), lowest_ever=None)),
    ("grade.floor", STOP, one(lowest_ever="1.5 V")),
    ("grade.inspection", UNKNOWN, one(seen=None)),
    ("grade.inspection", STOP, one(seen="leak")),
    ("grade.outlier", CAUTION, one(capacity="50 Ah")),
    ("grade.resistance", CAUTION, one(resistance="14 mOhm")),
    ("grade.resistance", UNKNOWN, one(resistance_temperature="5 degC")),
    ("grade.resistance", STOP, one(resistance="20 mOhm")),
    ("grade.imbalance", NOTE, one(imbalance_empty=None)),
    ("grade.imbalance", CAUTION, one(imbalance_empty="0.16 V")),
    ("grade.imbalance", UNKNOWN, whole(measures=without("imbalance"))),
    ("grade.imbalance", STOP, one(imbalance_empty="0.6 V")),
    ("grade.rise", NOTE, one(rise=None)),
    ("grade.rise", CAUTION, one(rise="4 K")),
    ("grade.rise", UNKNOWN, whole(measures=without("rise"))),
    ("grade.rise", STOP, one(rise="9 K")),
    ("grade.spread", CAUTION, one(**cells(4.0, 4.1, 4.1, 4.1))),
    ("grade.spread", UNKNOWN, one(rests=())),
    ("grade.spread", STOP, one(**cells(3.7, 4.1, 4.1, 4.1))),
    ("group.capacity", NOTE, pack(58, 56, strings=1)),
    ("group.capacity", CAUTION, pack(58, 54, strings=1)),
    ("group.capacity", STOP, pack(58, 51, strings=1)),
    ("group.enough", UNKNOWN, pack(54, 54, 54, 46)),
    ("group.enough", STOP, pack(54, 54, 54)),
    ("group.proven", NOTE, pack(60, 59, 50, 49, apart=[["M1", "M2"]])),
    ("group.resistance", NOTE, pack(54, 54, ohms=(8, 9), modules_in_series=1)),
    ("group.resistance", CAUTION, pack(54, 54, ohms=(8, 10), modules_in_series=1)),
    ("group.resistance", STOP, pack(54, 54, ohms=(8, 12.5), modules_in_series=1)),
    ("group.wanted", NOTE, whole()),
    ("group.wishes", STOP, pack(54, 54, 54, 54, together=[["M1", "M2", "M3"]])),
    ("heap.chemistry", STOP, whole(chemistry=HYDRIDE)),
    ("heap.complete", CAUTION, one(rise=None)),
    ("heap.complete", CAUTION, whole(voltage_accuracy=None)),
    ("heap.complete", UNKNOWN, whole(modules=())),
    ("heap.method", CAUTION, whole(new_resistance_soc=None)),
    ("heap.method", CAUTION, one(resistance_method="1 kHz meter")),
    ("heap.method", UNKNOWN, whole(new_resistance=None)),
    ("heap.method", UNKNOWN, whole(new_resistance_method="two-step")),
    ("heap.method", UNKNOWN, all_of(resistance_method="not stated")),
    ("heap.new", CAUTION, whole(basis={"default": "datasheet", "new_capacity": "assumed"})),
    ("heap.new", UNKNOWN, whole(new_capacity=None)),
    ("join.blind", STOP, lambda: iron_heap(full=False, modules_in_series=2, strings=2)),
    ("join.chemistry", STOP, strings(2.9, 4.0)),
    ("join.fuse", NOTE, strings(4.0, 4.0)),
    ("join.surge", STOP, strings(4.0, 3.8)),
    ("join.voltage", CAUTION, pack(54, 54, 54, 54, voltage_accuracy=None)),
    ("join.voltage", UNKNOWN, strings(4.0, 4.0, rested="5 min")),
    ("limits.stated", UNKNOWN, whole(measures=without("spread"))),
    (
        "limits.usual",
        CAUTION,
        whole(measures=(attrs.evolve(MEASURES[0], retest=50.0), *MEASURES[1:])),
    ),
]


@pytest.mark.parametrize(
    ("key", "severity", "made"), CASES, ids=[f"{key}-{severity}" for key, severity, _ in CASES]
)
def test_a_rule_comes_to(key: str, severity: Severity, made: Change) -> None:
    found = [f for f in every_finding(matched(made())) if f.rule.key == key]
    assert severity in {f.severity for f in found}
    assert {f.severity for f in found} <= CAN_COME_TO[key]
    for finding in found:
        assert not finding.holds or finding.remedy


def test_every_severity_of_every_rule_has_a_case() -> None:
    """The good pack shows what passes; `tests/match/test_after.py` has those of the log."""
    shown = {(key, severity) for key, severity, _ in CASES}
    good = every_finding(matched(pack(54, 54, 54, 54)()))
    shown |= {(f.rule.key, f.severity) for f in good}
    shown |= {
        (f.rule.key, f.severity)
        for f in every_finding(matched(iron_heap(modules_in_series=3, strings=2)))
    }
    wanted = {
        (key, severity)
        for key, severities in CAN_COME_TO.items()
        for severity in severities
        if not key.startswith("after.")
    }
    assert wanted == shown


def test_the_good_heap_passes_everything() -> None:
    made = matched(pack(54, 54, 54, 54)())
    assert {f.severity for f in every_finding(made)} == {OK, NOTE}
    assert [f.rule.key for f in every_finding(made) if f.severity is NOTE] == ["join.fuse"]
    assert len(made.of(Grade.ACCEPT)) == 4
    assert made.join is not None


# --- The whole -------------------------------------------------------------------------------


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_an_example_is_matched(path: Path) -> None:
    made = matched(read_batch(path))
    assert len(made.graded) == len(made.batch.modules)
    for finding in every_finding(made):
        assert re.fullmatch(r".{10,}[.?]", finding.detail), finding.detail
        assert not re.search(r"\{|\bnan\b|\binf\b|None", finding.detail), finding.detail
        assert finding.about
        assert not finding.holds or finding.remedy
    for graded in made.graded:
        assert bool(graded.reasons) == (graded.grade is not Grade.ACCEPT)


def test_there_are_examples_of_a_pack_and_of_a_heap_too_little_known() -> None:
    packs = [matched(read_batch(path)).grouping for path in EXAMPLES]
    assert any(packs)
    assert not all(packs)


def test_without_measures_those_of_the_library_are_taken() -> None:
    made = matched(heap(measures=()))
    assert {m.key for m in made.batch.measures} == {m.key for m in MEASURES}
    assert made.of(Grade.ACCEPT)


def test_what_is_no_batch_is_refused() -> None:
    with pytest.raises(evpack.DescriptionError, match="a Batch is needed"):
        match_heap("heap.toml")  # type: ignore[arg-type]


def test_a_proven_answer_is_never_worse_than_the_quick_one() -> None:
    batch = pack(60, 59, 55, 52, 51, 50, apart=[["M1", "M2"]])()
    quick, proven = match_heap(batch, proven=False), match_heap(batch, seconds=2.0)
    assert quick.grouping is not None
    assert proven.grouping is not None
    assert proven.grouping.capacity >= quick.grouping.capacity * 0.99
    assert proven.grouping.gap <= quick.grouping.gap + 0.01


# --- Every explained number is what its formula gives -----------------------------------------


def formulas() -> Any:
    """Return the house test of formulas, whose reading of them stands apart from the library."""
    path = ROOT / "tests" / "house" / "test_formulas.py"
    spec = importlib.util.spec_from_file_location("formulas_of_the_house", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


HOUSE = formulas()


def checked(made: object) -> int:
    found = list(HOUSE.every(made))
    for worked in found:
        HOUSE.check(worked)
    return len(found)


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_the_numbers_of_an_example_are_their_formulas(path: Path) -> None:
    checked(matched(read_batch(path)))


@pytest.mark.parametrize(
    "made",
    [
        pack(60, 59, 51, 50, 49, strings=2),
        strings(4.1, 4.0, 3.9),
        strings(4.12, 4.11),
        lambda: iron_heap(modules_in_series=2, strings=3),
        one(capacity_error="1 Ah", resistance_error="0.1 mOhm"),
        one(rests=(rest(cells=(), voltage="16.4 V"), rest(LAST, (), voltage="16.3 V"))),
        whole(voltage_accuracy=None, modules_in_series=1, strings=4),
    ],
)
def test_every_number_is_what_its_formula_gives(made: Change) -> None:
    assert checked(matched(made())) > 10


def test_the_numbers_of_a_log_are_their_formulas() -> None:
    time = np.arange(0.0, 9 * 86400.0, 5.0)
    amps = np.where((time > 7200) & (time < 14400) & (time % 1800 > 60), 20.0, 0.0)
    amps -= np.where((time > 30000) & (time < 32000), 5.0, 0.0)
    cell = 4.0 - 0.4 * np.concatenate([[0.0], np.cumsum(amps[1:] * 5.0 / 3600)]) / 60
    held = PackLog(
        seconds=time,
        volts=14 * cell - 0.02 * amps,
        amps=amps,
        highest=cell + 0.01,
        lowest=cell - 0.01,
    )
    assert checked(compare(held, OXIDE, 14, resistance=0.02, capacity=60.0)) >= 1


@given(
    batch=st.builds(
        lambda kind, rows, n, m, meter: heap(
            chemistry=kind,
            modules=[
                a_module(
                    f"M{i}",
                    capacity=f"{ah:.3f} Ah",
                    resistance=f"{r:.4f} mOhm",
                    rests=rests(tuple(v - d * k for k in range(4)), (v,) * 4),
                )
                for i, (ah, r, v, d) in enumerate(rows)
            ],
            modules_in_series=m,
            strings=n,
            voltage_accuracy=meter,
        ),
        st.sampled_from((OXIDE, BLEND, TITANATE)),
        st.lists(
            st.tuples(
                st.floats(40, 62), st.floats(7, 17), st.floats(2.2, 4.2), st.floats(0, 0.006)
            ),
            min_size=1,
            max_size=8,
        ),
        st.integers(1, 3),
        st.integers(1, 3),
        st.sampled_from((None, "1 mV", "20 mV")),
    )
)
def test_any_heap_is_answered_and_explained(batch: Batch) -> None:
    made = matched(batch)
    checked(made)
    rejected = {one.module.name for one in made.of(Grade.REJECT)}
    if made.grouping is not None:
        assert not rejected & {name for string in made.grouping.strings for name in string}
    assert sum(len(made.of(grade)) for grade in Grade) == len(batch.modules)
