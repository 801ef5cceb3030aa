"""What was assumed: each value once, in words, with its value and of which thing."""

import attrs
import made_up
import pytest

from evpack.base.basis import Basis
from evpack.decide import decide
from evpack.design import design
from evpack.load.places import data_dir
from evpack.load.sheet import parse_sheet, read_sheet
from evpack.outcome.design import Decision
from evpack.show.assumed import assumed_in
from evpack.show.gather import worked_of
from evpack.show.words import only_assumed, shown

SHEETS = sorted((data_dir() / "examples").glob("*.toml"))


@pytest.fixture(params=SHEETS, ids=[sheet.stem for sheet in SHEETS])
def decision(request: pytest.FixtureRequest) -> Decision:
    return decide(design(read_sheet(request.param)))


def test_no_value_is_told_twice(decision: Decision) -> None:
    found = assumed_in(decision.design)
    rows = [(row.of, row.what) for row in found.confirm + found.stand_in]
    assert len(rows) == len(set(rows))


def test_every_assumed_input_of_a_formula_is_among_them(decision: Decision) -> None:
    found = assumed_in(decision.design)
    told = " ; ".join(row.value for row in found.confirm + found.stand_in)
    for number in worked_of(decision.design):
        for given in number.inputs:
            if given.basis is Basis.ASSUMED:
                assert f" {shown(given.value, given.unit)} " in f" {told} "


def test_they_are_told_in_words_with_a_value_and_of_which_thing(decision: Decision) -> None:
    for row in assumed_in(decision.design).confirm:
        assert row.of
        assert row.value
        assert "_" not in row.what
        assert row.what not in {"window low", "window high", "cut off", "current"}


def test_a_field_that_a_finding_names_is_told_by_its_noun() -> None:
    held = made_up.decision()
    raw = attrs.evolve(held.design.findings[0], assumed=("charge voltage", "of nothing known"))
    found = assumed_in(attrs.evolve(held.design, findings=(raw,)))
    # The charger that states nothing tells "charge voltage can be set" by itself.
    assert [row.what for row in found.confirm if row.of == raw.about] == ["of nothing known"]


def test_guards_are_no_values_to_confirm() -> None:
    found = assumed_in(made_up.decision().design)
    assert "fuse against continuous current" in {row.what for row in found.stand_in}
    assert "fuse against continuous current" not in {row.what for row in found.confirm}


def test_measured_things_leave_nothing_to_confirm() -> None:
    barn = next(sheet for sheet in SHEETS if sheet.stem == "wether-barn")
    assert assumed_in(design(read_sheet(barn))).confirm == ()
    assert only_assumed(0) == ""


def test_the_ampacity_of_a_cable_is_one_assumed_value_and_not_three() -> None:
    sheet = (data_dir() / "examples" / "split-house.toml").read_text()
    bare = "\n".join(
        line
        for line in sheet.splitlines()
        if not line.startswith(("column", "terminals", "ambient", "circuits", "method"))
    )
    made = design(parse_sheet(bare, "bare.toml"))
    rows = assumed_in(made).confirm
    cables = [row for row in rows if row.what.startswith("carries for good")]
    assert cables
    assert not [row for row in rows if row.what in {"conductor", "ampacity of the cable"}]
