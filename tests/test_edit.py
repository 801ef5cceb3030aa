"""The one way in which a build changes: panel, search and the sheet read again cannot differ."""

from __future__ import annotations

from typing import Any

import attrs
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from strategies import builds, good_build, good_load

from evpack.base.basis import Basis
from evpack.base.errors import DescriptionError, EvpackError
from evpack.base.units import Quantity
from evpack.describe.build import Build
from evpack.describe.cabling import RUNS
from evpack.edit import edited, places
from evpack.load.sheet import example, parse_sheet, read_sheet
from evpack.outcome.search import Change
from evpack.search.changes import changed
from evpack.search.sheet_out import sheet_for, with_entries
from evpack.workbook.controls import cable_choices_of, choices_of, entries_of
from evpack.workbook.panel import Panel

EXAMPLES = ("wether-barn", "twelve", "split-house")
STARTS = {name: read_sheet(example(name)) for name in EXAMPLES}
EDITS = st.one_of(
    st.tuples(st.just("pack.strings"), st.integers(1, 6)),
    st.tuples(st.just("pack.modules_in_series"), st.integers(1, 4)),
    st.tuples(st.just("policy.reserve"), st.integers(0, 60).map("{} %".format)),
    st.tuples(st.just("policy.charge_target"), st.integers(380, 420).map("{}0 mV".format)),
    st.tuples(st.just("load.continuous"), st.integers(1, 60).map("{}00 W".format)),
)
IN_PANEL = {choice.place: choice for choice in choices_of(STARTS["wether-barn"])}


def alike(one: Any, other: Any) -> bool:
    """Return whether two nouns say the same, however it is known."""
    if isinstance(one, Quantity):
        return float(one.m) == pytest.approx(float(other.m), rel=1e-9)
    if attrs.has(type(one)) and type(one) is type(other):
        return all(
            alike(getattr(one, f.name), getattr(other, f.name))
            for f in attrs.fields(type(one))
            if f.name not in {"basis", "sheet", "invented"} and f.eq
        )
    return bool(np.array_equal(one, other)) if isinstance(one, np.ndarray) else bool(one == other)


def same_build(one: Build, other: Build) -> bool:
    return all(
        alike(getattr(one, name), getattr(other, name)) for name in ("pack", "load", "policy")
    )


@settings(max_examples=25)
@given(name=st.sampled_from(EXAMPLES), edits=st.lists(EDITS, min_size=1, max_size=3))
def test_panel_search_and_the_sheet_read_again_are_one(
    name: str, edits: list[tuple[str, Any]]
) -> None:
    start = STARTS[name]
    try:
        after = edited(start, *edits)
    except EvpackError:
        return  # such as a target that no cell of this kind stands at
    # The search.
    as_changes = tuple(Change(place=place, value=value, says="") for place, value in edits)
    assert same_build(changed(start, as_changes), after)
    # The panel, turned to the last value of each control.
    panel = Panel(start)
    for place, value in dict(edits).items():
        choice = IN_PANEL[place]
        number = value if isinstance(value, int) else float(value.split()[0])
        scale = {"kW": 1e-3, "V": 1e-3}.get(choice.unit, 1)
        panel.set(**{choice.key: number if isinstance(value, int) else number * scale})
    in_order = edited(start, *dict(edits).items())
    assert same_build(panel.build, in_order)
    # The sheet, written and read again.
    text = with_entries(start, entries_of(edits, start, after))
    assert same_build(parse_sheet(text, folder=example(name).parent), after)
    by_search = sheet_for(start, as_changes, folder=example(name).parent)
    assert same_build(parse_sheet(by_search, folder=example(name).parent), after)


@pytest.mark.parametrize(
    ("edits", "load"),
    [
        # 2 kW for long, 500 W usually, 4 kW at the peak. An edit changes what it names ...
        ((("load.continuous", "1 kW"),), (1000.0, 500.0, 4000.0)),
        ((("load.continuous", "3 kW"),), (3000.0, 500.0, 4000.0)),
        ((("load.peak", "3 kW"),), (2000.0, 500.0, 3000.0)),
        # ... and what else could not be.
        ((("load.continuous", "400 W"),), (400.0, 400.0, 4000.0)),
        ((("load.continuous", "5 kW"),), (5000.0, 500.0, 5000.0)),
    ],
)
def test_a_load_takes_along_only_what_could_not_be(
    edits: tuple[tuple[str, str], ...], load: tuple[float, ...]
) -> None:
    start = good_build(load=good_load(continuous="2 kW", typical="500 W", peak="4 kW"))
    found = edited(start, *edits).load
    assert found.typical is not None
    assert found.peak is not None
    assert tuple(float(w.m) for w in (found.continuous, found.typical, found.peak)) == load


@given(build=builds(), edit=EDITS)
def test_an_edit_is_chosen_and_nothing_else_moves(build: Build, edit: tuple[str, Any]) -> None:
    place, value = edit
    table, _, key = place.partition(".")
    try:
        after = edited(build, edit)
    except EvpackError:
        return
    if after is build:
        return  # it stood there already
    assert after.sheet == ""
    assert getattr(after, table).basis.of(key) is Basis.CHOSEN
    assert edited(after, (place, value)) is after
    for name in {"pack", "load", "policy", "site", "inverters", "chargers", "cabling"} - {table}:
        assert getattr(after, name) is getattr(build, name)


@pytest.mark.parametrize("run", RUNS)
def test_a_run_is_edited_in_its_size_its_length_and_how_many_lie_side_by_side(run: str) -> None:
    build = STARTS["wether-barn"]
    old = getattr(build.cabling, run)
    if old is None:
        with pytest.raises(DescriptionError, match=f"cabling.{run} is not described"):
            edited(build, (f"cabling.{run}.length", "2 m"))
        return
    size = old.alternatives[0].size
    places_ = [f"cabling.{run}.{key}" for key in ("size", "length", "parallel")]
    together = (old.conditions or {}).get("circuits", 3)
    after = edited(build, *zip(places_, (size, "2.5 m", together), strict=True))
    new = getattr(after.cabling, run)
    assert (new.conductor.size, float(new.length.m), new.parallel) == (size, 2.5, together)
    if run in {"main", "module_lead", "charger"}:  # those that the panel turns
        edits = zip(places_, (size, "2.5 m", together), strict=True)
        text = with_entries(build, entries_of(edits, build, after))
        again = getattr(parse_sheet(text, folder=example("wether-barn").parent).cabling, run)
        assert alike(again, new)
        assert known(again) == known(new)
    with pytest.raises(DescriptionError, match="is not held"):
        edited(build, (f"cabling.{run}.size", "no such size"))


def whole_cases() -> list[Any]:
    """Return edits of every control at some values, and those of a sheet of another basis."""
    found = []
    for name, build in STARTS.items():
        for choice in (*choices_of(build), *cable_choices_of(build)):
            values: tuple[Any, ...] = choice.options or (choice.low, choice.high)
            if choice.whole:
                values = (1, 2, 3, 4)
            found += [
                pytest.param(
                    build, choice.place, choice.typed(value), id=f"{name} {choice.key} {value}"
                )
                for value in values
            ]
    return found


@pytest.mark.parametrize(("build", "place", "value"), whole_cases())
def test_an_edit_is_all_that_a_sheet_which_says_so_would_be_read_as(
    build: Build, place: str, value: Any
) -> None:
    """Numbers, how each is known, profiles of that voltage, what a cable carries beside others."""
    table, _, key = place.rpartition(".")
    after = edited_or_not(build, (place, value))
    entries: dict[str, dict[str, Any]] = {table: {key: value}}
    if table == "load" and isinstance(after, Build):
        entries = dict(entries_of([(place, value)], build, after))  # and what followed
    again = read_or_not(with_entries(build, entries))
    if isinstance(after, str) or isinstance(again, str):
        assert after == again  # refused in the same words
        return
    if after is build:
        return
    assert [p.name for p in after.profiles] == [p.name for p in again.profiles]
    for noun in ("pack", "load", "policy"):
        assert alike(getattr(after, noun), getattr(again, noun))
        assert known(getattr(after, noun)) == known(getattr(again, noun))
    for run in RUNS:
        one, other = getattr(after.cabling, run), getattr(again.cabling, run)
        assert alike(one, other)
        assert one is None or known(one) == known(other)


def edited_or_not(build: Build, edit: tuple[str, Any]) -> Build | str:
    try:
        return edited(build, edit)
    except EvpackError as problem:
        return str(problem).rpartition(": ")[2]


def read_or_not(text: str) -> Build | str:
    try:
        return parse_sheet(text, folder=example("wether-barn").parent)
    except EvpackError as problem:
        return str(problem).rpartition(": ")[2]


def known(noun: Any) -> dict[str, Basis]:
    return {f.name: noun.basis.of(f.name) for f in attrs.fields(type(noun)) if f.name != "basis"}


def test_what_is_written_is_chosen_whatever_else_of_its_section_is_known() -> None:
    build = STARTS["wether-barn"]
    text = build.sheet.replace("[load]", '[load]\nbasis = "assumed"', 1)
    start = parse_sheet(text, folder=example("wether-barn").parent)
    assert start.load.basis.of("continuous") is Basis.ASSUMED
    edit = ("load.continuous", "2 kW")
    after = edited(start, edit)
    again = parse_sheet(with_entries(start, entries_of([edit], start, after)))
    assert known(again.load) == known(after.load)
    assert again.load.basis.of("continuous") is Basis.CHOSEN


def test_conductors_side_by_side_warm_each_other_unless_circuits_are_stated() -> None:
    """Two pairs carry 80 % of twice one: NEC table 310.15(C)(1), from memory."""
    build = STARTS["twelve"]
    run = attrs.evolve(build.cabling.main, parallel=1)
    assert run.conditions is not None
    alone = {key: value for key, value in run.conditions.items() if key != "circuits"}
    start = attrs.evolve(
        build, cabling=attrs.evolve(build.cabling, main=attrs.evolve(run, conditions=alone))
    )
    one = edited(start, ("cabling.main.parallel", 2), ("cabling.main.parallel", 1)).cabling.main
    two = edited(start, ("cabling.main.parallel", 2)).cabling.main
    assert two.conductor.ampacity == pytest.approx(0.8 * one.conductor.ampacity)


def test_what_no_edit_knows_is_refused_with_the_nearest() -> None:
    with pytest.raises(DescriptionError, match=r"'pack\.string'.*did you mean 'pack\.strings'"):
        edited(good_build(), ("pack.string", 3))
    assert {c.place for c in (*choices_of(good_build()), *cable_choices_of(good_build()))} <= set(
        places()
    )


def test_nothing_edited_is_the_build_itself() -> None:
    build = STARTS["wether-barn"]
    assert edited(build) is build
    same = ("pack.strings", build.pack.strings)
    assert edited(build, same, ("load.continuous", build.load.continuous)) is build


@pytest.mark.parametrize(
    ("place", "value"),
    [
        ("pack.strings", "2"),
        ("pack.strings", 2.0),
        ("pack.modules_in_series", None),
        ("module.available", True),
        ("cabling.main.parallel", "2"),
        ("load.continuous", 3),
        ("policy.reserve", 0.3),
    ],
)
def test_a_value_that_is_none_is_refused_in_words(place: str, value: Any) -> None:
    with pytest.raises(EvpackError):
        edited(good_build(), (place, value))


def test_what_is_not_there_cannot_be_edited() -> None:
    bare = good_build(inverters=())
    for place in ("inverter.count", "inverter.leg"):
        with pytest.raises(DescriptionError, match="no inverter"):
            edited(bare, (place, 2))
    with pytest.raises(DescriptionError, match="is not held"):
        edited(good_build(), ("cabling.main.size", "smallest"))
