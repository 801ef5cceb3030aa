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


def test_answers_and_values_are_taken_in_the_unit_of_their_step() -> None:
    record = parse_as_built(
        filled(
            sound='"Yes"',
            string_spread='"64 mV"',
            resistance='"4.1 mOhm"',
            insulation="true",
            highest_cell='" 4.03 V "',
            stops='"no"',
        ),
        PLAN,
    )
    assert record.values == {
        "modules.sound": True,
        "modules.string_spread": pytest.approx(0.064),
        "discharge.resistance": pytest.approx(0.0041),
        "modules.insulation": True,
        "charge.highest_cell": pytest.approx(4.03),
        "charge.stops": False,
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
