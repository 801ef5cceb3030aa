"""Numbers told together: the formula once, and nothing of any number lost."""

import attrs
import made_up
import pytest
from test_html import read

from evpack.base.basis import Basis
from evpack.base.units import VOLTAGE
from evpack.base.worked import Input, Worked
from evpack.design import design
from evpack.load.places import data_dir
from evpack.load.sheet import read_sheet
from evpack.show.findings import pass_table
from evpack.show.gather import formula_words, protection_lines
from evpack.show.html import as_html
from evpack.show.html_explained import explained_together
from evpack.show.protection import schedule_tables
from evpack.show.to_html import to_html
from evpack.show.words import BASIS, shown

SHEETS = sorted((data_dir() / "examples").glob("*.toml"))


def drop(amps: float, means: str = "its current", basis: Basis = Basis.MEASURED) -> Worked:
    """Return what a cable of 10 mΩ loses: 5 A lose 50 mV, 8 A lose 80 mV."""
    return Worked(
        name="voltage lost",
        value=amps * 0.01,
        kind=VOLTAGE,
        formula="{I} · {R}",
        inputs=(
            Input("I", means, amps, "A", basis),
            Input("R", "its resistance", 0.01, "Ω", Basis.ASSUMED),
        ),
        source="ohms-law",
    )


def told(*numbers: tuple[str, Worked | None]) -> str:
    return read(explained_together(numbers)).text


def test_a_formula_of_several_places_is_told_once() -> None:
    text = told(("main", drop(5)), ("charger", drop(8)))
    assert text.count("voltage lost: I · R") == 1
    assert text.count("R = 10 mΩ: its resistance assumed") == 1
    # The currents differ and stand in the numbers of each place.
    assert "I: its current measured" in text
    assert "main: 5 A · 10 mΩ = 50 mV" in text
    assert "charger: 8 A · 10 mΩ = 80 mV" in text


def test_an_input_that_is_another_thing_elsewhere_stands_with_its_own_number() -> None:
    text = told(("main", drop(5, "full output")), ("charger", drop(8, basis=Basis.ASSUMED)))
    assert "main: 5 A · 10 mΩ = 50 mV, I: full output measured" in text
    assert "charger: 8 A · 10 mΩ = 80 mV, I: its current assumed" in text
    # As much of an input as its basis alone makes it another.
    text = told(("main", drop(5)), ("charger", drop(5, basis=Basis.ASSUMED)))
    assert "main: 5 A · 10 mΩ = 50 mV, I: its current measured" in text
    assert "charger: 5 A · 10 mΩ = 50 mV, I: its current assumed" in text


def test_one_number_of_several_places_is_told_once_for_all() -> None:
    text = told(("main", drop(5)), ("charger", drop(5)), ("main", drop(5)))
    assert text.count("5 A · 10 mΩ") == 1
    assert "main; charger" in text
    three = told(("main", drop(5)), ("charger", drop(5)), ("roof", drop(8)))
    assert "main; charger: 5 A" in three


def test_the_place_is_not_told_twice() -> None:
    named = [
        (place, attrs.evolve(drop(amps), name=f"voltage lost: {place}"))
        for place, amps in (("main", 5), ("charger", 8))
    ]
    text = told(*named)
    assert text.count("main") == text.count("charger") == 1


def test_another_source_or_note_is_told_apart() -> None:
    for other in (
        attrs.evolve(drop(8), note="Only while it is warm."),
        attrs.evolve(drop(8), source="common-practice"),
    ):
        assert told(("main", drop(5)), ("charger", other)).count("I · R") == 2
    noted = [attrs.evolve(drop(amps), note="Only while it is warm.") for amps in (5, 8)]
    assert told(("main", noted[0]), ("charger", noted[1])).count("Only while it is warm.") == 1


def test_nothing_is_told_of_nothing() -> None:
    assert explained_together([("main", None)]) == ""
    assert "first" in explained_together([], "<p>first</p>")


@pytest.mark.parametrize("sheet", SHEETS, ids=[sheet.stem for sheet in SHEETS])
def test_no_number_of_a_schedule_and_no_input_of_one_is_lost(sheet: object) -> None:
    schedule = design(read_sheet(sheet)).protection
    text = read(to_html(schedule_tables(schedule))).text.replace(" ", "")
    bounds = [
        bound
        for fuse in schedule.fuses
        for bound in (fuse.lower, fuse.upper, fuse.voltage, fuse.interrupting)
    ]
    kept = {
        number
        for number in protection_lines(schedule)
        if number in bounds
        or any(number in (band.low, band.high, band.time_constant) for band in schedule.faults)
        or any(number in (t.value, t.limit) for cable in schedule.cables for t in cable.tests)
    }
    assert kept
    for number in kept:
        _, numbers = formula_words(number)
        assert (
            read(f"<p>{numbers or shown(number.value, number.unit)}</p>").text.replace(" ", "")
            in text
        )
        for given in number.inputs:
            means = given.means.replace(" degC", "°C").replace("mm2", "mm²").replace(" ", "")
            assert f"{means}{BASIS[given.basis].replace(' ', '')}" in text


def test_fault_levels_are_rounded_to_the_safe_side_as_in_the_schedule() -> None:
    band = made_up.decision().design.protection.faults[0]
    # Not 1240 A, which a fuse may need and not get; not 56.8 kA, which it may break and yet burst.
    wide = attrs.evolve(
        band,
        low=attrs.evolve(band.low, value=1238.6),
        high=attrs.evolve(band.high, value=56_840.0),
    )
    text = read(as_html(wide)).text.split("how it comes about")[0]
    assert "1230 A" in text
    assert "56.9 kA" in text


def test_passes_stand_by_the_thing_that_they_are_of() -> None:
    found = made_up.decision().design.findings[0]
    things = ("pack", "inverter", "pack")
    passed = [attrs.evolve(found, about=of, detail=f"{of} {k}.") for k, of in enumerate(things)]
    page = to_html((pass_table(passed),))
    text = read(page).text
    assert page.count('scope="rowgroup"') == 2
    assert text.index("pack 0.") < text.index("pack 2.") < text.index("inverter 1.")
    assert "3 checks passed" in text
