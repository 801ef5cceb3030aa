"""The as-built record: what is typed is taken as typed, or refused with the fix."""

from __future__ import annotations

import re
from pathlib import Path

import attrs
import pytest
from hypothesis import given
from hypothesis import strategies as st

from evpack.base.errors import DataError
from evpack.decide import decide
from evpack.design import design
from evpack.finished import as_built_record, commissioning_plan
from evpack.load.as_built import example_as_built, parse_as_built, read_as_built, record_text
from evpack.load.sheet import example, read_sheet
from evpack.outcome.commissioning import LEAD

PLAN = commissioning_plan(decide(design(read_sheet(example("wether-barn")))))
BLANK = as_built_record(PLAN)


def filled(**written: str) -> str:
    """Return the record with keys of the table [discharge] or others filled in."""
    text = BLANK
    for key, value in written.items():
        text, count = re.subn(rf'^{key} = ""', f"{key} = {value}", text, flags=re.MULTILINE)
        assert count == 1
    return text


def refused(text: str) -> str:
    with pytest.raises(DataError) as caught:
        parse_as_built(text, PLAN, "r.toml")
    return str(caught.value)


def test_a_blank_record_is_read_and_says_nothing() -> None:
    record = parse_as_built(BLANK, PLAN)
    assert record.values == {}
    assert record.mark == PLAN.mark
    assert (record.by, record.on, record.note) == ("", "", "")


def test_whoever_works_by_the_record_alone_reads_what_the_list_says() -> None:
    comments = re.findall(r"^#(.*)$", BLANK, flags=re.MULTILINE)
    told = " ".join(" ".join(comments).replace("- ", "-").split())
    assert " ".join(LEAD.split()) in told
    for step in PLAN.steps:
        assert " ".join(step.if_not.split()).replace("- ", "-") in told


def test_answers_and_values_are_taken_in_the_unit_of_their_step() -> None:
    record = parse_as_built(
        filled(
            sound='"Yes"',
            string_spread='"64 mV"',
            resistance='"4.1 mOhm"',
            insulation="true",
            highest_cell='" 4.03 V "',
            cell_monitoring_bms_high_cell_voltage_cut='"4.15 V/cell"',
            slowly='"no"',
        ),
        PLAN,
    )
    assert record.values == {
        "modules.sound": True,
        "modules.string_spread": pytest.approx(0.064),
        "discharge.resistance": pytest.approx(0.0041),
        "modules.insulation": True,
        "charge.highest_cell": pytest.approx(4.03),
        "settings.cell_monitoring_bms_high_cell_voltage_cut": pytest.approx(4.15),
        "first.slowly": False,
    }


@pytest.mark.parametrize(
    ("written", "said"),
    [
        ({"sound": '"maybe"'}, "modules.sound: got 'maybe'"),
        ({"sound": "3"}, "modules.sound"),
        ({"string_spread": "0.05"}, "has no unit"),
        ({"string_spread": '"0.05"'}, "has no unit"),
        ({"string_spread": '"5 A"'}, "voltage is needed"),
        ({"string_spread": '"nan V"'}, "string_spread"),
        ({"string_spread": '"0,05 V"'}, "string_spread"),
        # Only an entry that the sheet writes so is taken for one cell.
        ({"lowest_string": '"50 V/cell"'}, "modules.lowest_string"),
        ({"highest_cell": '"4.03 V/cell"'}, "charge.highest_cell"),
    ],
)
def test_what_cannot_be_taken_is_refused_with_the_fix(written: dict[str, str], said: str) -> None:
    message = refused(filled(**written))
    assert message.startswith("r.toml: ")
    assert said in message


def test_unknown_keys_are_refused_with_the_nearest() -> None:
    assert "did you mean 'torque'" in refused(BLANK.replace("\ntorque = ", "\ntorqe = "))
    assert "did you mean 'modules'" in refused(BLANK.replace("[modules]", "[module]"))
    assert "section [modules] is due" in refused('modules = "x"\n')


def test_who_vouches_says_when() -> None:
    signed = BLANK.replace('\nby = ""', '\nby = "me"').replace('\non = ""', '\non = "2024-10-05"')
    assert parse_as_built(signed, PLAN).on == "2024-10-05"
    assert "on: 'soon' is no date; write it as '2026-05-31'" in refused(
        BLANK.replace('\non = ""', '\non = "soon"')
    )
    assert "on: '2999-01-01' is still to come" in refused(
        BLANK.replace('\non = ""', '\non = "2999-01-01"')
    )
    assert 'on: write the date in quotes: on = "2026-05-31"' in refused(
        BLANK.replace('\non = ""', "\non = 2024-10-05")
    )
    assert "is a date" in refused(BLANK.replace('\nby = ""', "\nby = 2024-10-05"))
    assert "r.toml: by: got" in refused(BLANK.replace('\nby = ""', "\nby = 3"))
    assert "[asked]" in refused('asked = "x"\n')


def test_what_was_asked_goes_with_the_record() -> None:
    assert parse_as_built(BLANK, PLAN).asked == PLAN.asked
    assert parse_as_built('by = "me"\n', PLAN).asked == frozenset()


OTHER = f"""
mark = "{"0" * 12}"
[modules]
sound = "yes"
string_spread = "12 A"
ghost = "yes"
lowest_string = ""
[attic]
rope = "5 m"
"""


def test_a_record_of_another_state_is_read_as_far_as_it_fits() -> None:
    record = parse_as_built(f"lost = 1\n{OTHER}", PLAN)
    assert record.values == {"modules.sound": True}
    assert record.left_over == ("lost", "modules.string_spread", "modules.ghost", "attic.rope")


def test_a_record_of_a_design_that_is_no_go_since_is_read_and_proves_nothing() -> None:
    held = commissioning_plan(decide(design(read_sheet(example("low-shed")))))
    record = read_as_built(example_as_built("wether-barn"), held)
    assert record.values == {}
    assert "modules.sound" in record.left_over


@given(data=st.data())
def test_whatever_is_written_into_a_record_is_read_as_it_was(data: st.DataObject) -> None:
    values = {}
    for step in data.draw(st.lists(st.sampled_from(PLAN.steps), max_size=20)):
        if step.kind is None:
            values[step.key] = data.draw(st.booleans())
        else:
            values[step.key] = data.draw(st.floats(0, min(step.kind.most, 1e3)))
    again = parse_as_built(record_text(PLAN, values), PLAN).values
    assert set(again) == set(values)
    assert all(again[key] == pytest.approx(value, rel=1e-9) for key, value in values.items())


@given(data=st.data())
def test_one_line_written_over_is_read_or_refused(data: st.DataObject) -> None:
    lines = BLANK.splitlines()
    at = data.draw(st.integers(0, len(lines) - 1))
    lines[at] = data.draw(
        st.text(max_size=40)
        | st.sampled_from(["[modules]", 'mark = "x"', "sound = 1", 'joints = "5 K"', '"""'])
    )
    try:
        record = parse_as_built("\n".join(lines), PLAN)
    except DataError:
        return
    assert len(record.values) <= 1


def test_every_mistake_is_told_at_once() -> None:
    message = refused(filled(sound='"maybe"', string_spread='"5 A"'))
    assert "2 things to put right" in message


def test_a_file_that_is_no_record_is_refused(tmp_path: Path) -> None:
    with pytest.raises(DataError, match="no such file"):
        read_as_built(tmp_path / "none.toml", PLAN)
    (tmp_path / "e.toml").write_text("", encoding="utf-8")
    with pytest.raises(DataError, match="is empty"):
        read_as_built(tmp_path / "e.toml", PLAN)
    with pytest.raises(DataError, match="did you mean 'wether-barn'"):
        example_as_built("wether-barm")


@given(title=st.text(min_size=1, max_size=60))
def test_any_title_stays_text_in_the_record(title: str) -> None:
    build = attrs.evolve(PLAN.decision.design.build, title=title)
    made = attrs.evolve(PLAN.decision.design, build=build)
    named = attrs.evolve(PLAN, decision=attrs.evolve(PLAN.decision, design=made))
    assert parse_as_built(record_text(named), PLAN).values == {}


@given(text=st.text(max_size=200))
def test_any_text_is_a_record_or_is_refused(text: str) -> None:
    try:
        values = parse_as_built(text, PLAN).values
    except DataError:
        values = {}
    assert values == {}
