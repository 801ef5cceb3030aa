"""The choices of the protection panel, without a widget."""

import tomllib

import attrs
import pytest
from turned import with_choices

from evpack.base.basis import Basis
from evpack.base.errors import DescriptionError, EvpackError
from evpack.base.units import LENGTH
from evpack.describe.build import Build
from evpack.describe.cabling import Cabling
from evpack.edit import edited
from evpack.load.sheet import example, read_sheet
from evpack.search.sheet_out import edited_sheet
from evpack.workbook.controls import cable_choices_of, entries_of


@pytest.fixture
def build() -> Build:
    return read_sheet(example("wether-barn"))


def test_a_build_that_nothing_changes_is_the_same_one(build: Build) -> None:
    same = {choice.key: choice.typed(choice.value) for choice in cable_choices_of(build)}
    assert with_choices(build) is build
    assert with_choices(build, **same) is build


def test_every_cable_that_is_described_has_its_controls(build: Build) -> None:
    keys = [choice.key for choice in cable_choices_of(build)]
    parts = [
        f"{run}_{part}"
        for run in ("main", "module_lead", "charger")
        for part in ("size", "length", "parallel")
    ]
    assert keys == ["strings", *parts]
    bare = attrs.evolve(build, cabling=Cabling())
    assert [choice.key for choice in cable_choices_of(bare)] == ["strings"]
    assert with_choices(bare, strings=3).pack.strings == 3


def test_controls_start_at_the_build_and_carry_their_units(build: Build) -> None:
    rows = {choice.key: choice for choice in cable_choices_of(build)}
    assert rows["main_size"].value in rows["main_size"].options
    assert rows["main_size"].options[0] == "smallest"
    assert rows["main_length"].unit == "m"
    assert rows["main_length"].low <= rows["main_length"].value < rows["main_length"].high
    assert rows["main_parallel"].whole
    assert not rows["main_size"].whole


def test_a_size_is_taken_from_the_tables_under_the_same_conditions(build: Build) -> None:
    other = with_choices(build, main_size="4/0 AWG")
    run = other.cabling.main
    assert run.conductor in build.cabling.main.alternatives
    assert run.conductor.size == "4/0 AWG"
    assert not run.left_open
    # How well its conditions are known stays what it was.
    assert run.basis.of("conductor") is build.cabling.main.basis.of("conductor")
    assert other.cabling.module_lead is build.cabling.module_lead
    assert other.sheet == ""


def test_a_size_can_be_left_to_evpack_and_taken_back(build: Build) -> None:
    left = with_choices(build, main_size="smallest")
    assert left.cabling.main.left_open
    rows = {choice.key: choice for choice in cable_choices_of(left)}
    assert rows["main_size"].value == "smallest"
    back = with_choices(left, main_size=build.cabling.main.conductor.size)
    assert not back.cabling.main.left_open


def test_a_size_of_no_table_stays_among_the_options(build: Build) -> None:
    main = build.cabling.main
    own = attrs.evolve(main, conductor=attrs.evolve(main.conductor, size="own bar"))
    changed = attrs.evolve(build, cabling=attrs.evolve(build.cabling, main=own))
    rows = {choice.key: choice for choice in cable_choices_of(changed)}
    assert "own bar" in rows["main_size"].options
    bare = attrs.evolve(own, alternatives=())
    changed = attrs.evolve(build, cabling=attrs.evolve(build.cabling, main=bare))
    assert "main_size" not in {choice.key for choice in cable_choices_of(changed)}


def test_a_length_that_is_changed_is_chosen_and_no_shorter_than_the_shortest(
    build: Build,
) -> None:
    lead = attrs.evolve(build.cabling.module_lead, shortest=LENGTH.of(1.0))
    assumed = attrs.evolve(lead, basis=lead.basis.but(length=Basis.ASSUMED))
    start = attrs.evolve(build, cabling=attrs.evolve(build.cabling, module_lead=assumed))
    run = with_choices(start, module_lead_length="0.6 m").cabling.module_lead
    assert run.length.m == run.shortest.m == 0.6
    assert run.basis.of("length") is Basis.CHOSEN
    longer = with_choices(start, module_lead_length="3 m").cabling.module_lead
    assert longer.shortest.m == 1.0


@pytest.mark.parametrize(
    "choice",
    [{"main_length": "0 m"}, {"main_parallel": 0}, {"main_length": 3}, {"strings": 0}],
)
def test_a_choice_that_cannot_exist_is_refused(build: Build, choice: dict) -> None:
    with pytest.raises(EvpackError):
        with_choices(build, **choice)


def test_a_size_of_no_table_is_refused_with_the_nearest(build: Build) -> None:
    with pytest.raises(DescriptionError, match="did you mean '2/0 AWG'"):
        with_choices(build, main_size="2/0AWG")


def test_entries_say_what_changed_and_are_read_back(build: Build) -> None:
    edits = (
        ("pack.strings", 3),
        ("cabling.main.size", "4/0 AWG"),
        ("cabling.main.length", "2.5 m"),
        ("cabling.main.parallel", 1),
    )
    other = edited(build, *edits)
    entries = entries_of(edits, build, other)
    assert entries == {
        "pack": {"strings": 3},
        "cabling.main": {"size": "4/0 AWG", "length": "2.5 m", "parallel": 1},
    }
    assert entries_of((), build, build) == {}
    # Written into the text of the sheet, they stand in their sections.
    text = tomllib.loads(edited_sheet(build, entries, other))
    assert text["pack"]["strings"] == 3
    assert text["cabling"]["main"] == {
        **tomllib.loads(build.sheet)["cabling"]["main"],
        **entries["cabling.main"],
    }
