"""Ageing, trials, draws and identified cells as they are shown: in text, HTML, data, pictures."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import attrs
import numpy as np
import pytest
from reading import outside, overlaps, root
from strategies import OXIDE, curve, good_build, good_module, good_pack, with_module, with_pack

from evpack.base.units import CHARGE, RESISTANCE, TIME, VOLTAGE
from evpack.describe.ocv import ResistanceCurve
from evpack.describe.scatter import Scatter
from evpack.design import design
from evpack.lifetime import ageing
from evpack.load.chemistries import ageing_models
from evpack.outcome.ageing import Ageing
from evpack.outcome.draws import Draws
from evpack.outcome.identified import IdentifiedCell, RcBranch
from evpack.outcome.runs import SettingsTrial
from evpack.show.draw.ageing import ageing_svg, cell_svg
from evpack.show.html import as_html
from evpack.show.text import as_text
from evpack.show.to_json import to_json
from evpack.simulate.ageing_years import count_cycles
from evpack.simulate.trial import try_settings
from evpack.uncertain import draw_designs

EVIL = "<script>alert(1)</script>&\"'"


def flat(text: str) -> str:
    return " ".join(text.split())


def aged(key: str, **changes: Any) -> Ageing:
    chemistry = attrs.evolve(OXIDE, key=key)
    pack = good_pack(module=good_module(chemistry=chemistry))
    return ageing(design(good_build(title=EVIL, invented=True, pack=pack, **changes)))


@pytest.fixture(scope="module")
def blend() -> Ageing:
    return aged("nmc-lmo")


@pytest.fixture(scope="module")
def trial() -> SettingsTrial:
    return try_settings(design(good_build(title=EVIL, invented=True)))


@pytest.fixture(scope="module")
def draws() -> Draws:
    scatter = Scatter(capacity="3 %", temperature="2 K")
    return draw_designs(good_build(title=EVIL, invented=True), scatter, count=12)


@pytest.fixture(scope="module")
def cell() -> IdentifiedCell:
    return IdentifiedCell(
        name=EVIL,
        source="own-bench-record",
        capacity=CHARGE.of(30.0),
        curve=curve((0.0, 1.0), (3.0, 4.2)),
        resistance=ResistanceCurve(soc=[0.1, 0.9], ohms=[0.002, 0.0015]),
        branches=(RcBranch(resistance=RESISTANCE.of(0.001), time_constant=TIME.of(20.0)),),
        error=VOLTAGE.of(0.0011),
        error_over_time=VOLTAGE.of(0.002),
        error_whole=VOLTAGE.of(0.0014),
        error_most=VOLTAGE.of(0.0096),
        time=np.arange(3.0),
        recorded=np.full(3, 4.0),
        replayed=np.full(3, 4.0),
        notes=("Told on a discharge.",),
    )


def test_everything_is_shown_and_harmless(
    blend: Ageing, trial: SettingsTrial, draws: Draws, cell: IdentifiedCell
) -> None:
    for noun in (blend, trial, draws, cell, blend.models[0], trial.runs[0], blend.cycles):
        told, page = as_text(noun), as_html(noun)
        assert told.strip()
        assert max(map(len, told.splitlines())) <= 88
        assert "<script" not in page
        assert "None" not in told
        assert "nan" not in page


def test_what_is_invented_says_so(blend: Ageing, trial: SettingsTrial, draws: Draws) -> None:
    for noun in (blend, trial, draws):
        assert "Invented: no such pack exists" in as_text(noun)
        assert "<b>Invented:</b>" in as_html(noun)
        assert "nvented" not in as_text(attrs.evolve(noun, invented=False))


def test_years_are_told_as_a_range_with_every_model(blend: Ageing) -> None:
    told, page = as_text(blend), as_html(blend)
    assert blend.years is not None
    for words in (str(blend.years.least), str(blend.years.most)):
        assert words in told
        assert words in page
    for one in blend.models:
        assert one.model.name in told
        assert one.model.name in page
    assert "An order of size" in told
    assert "The least grows by" in told
    assert "What was assumed" in told


def test_no_model_no_years_in_every_form() -> None:
    none = aged("nca")
    assert "No years are told" in as_text(none)
    assert "No years are told" in as_html(none)
    assert "? UNKNOWN" in as_text(none)
    assert to_json(none)["years"] is None
    assert "so no years are drawn" in ageing_svg(none)
    bare = ageing(attrs.evolve(design(good_build()), usable=None))
    assert to_json(bare)["cycles"] is None
    assert "<figure>" not in as_html(bare)


def test_settings_that_hold_and_settings_that_do_not(trial: SettingsTrial) -> None:
    # A weak module, and one emptied by a stuck inverter, would be emptied too far but for the cell
    # monitoring: that is said first.
    assert "Of 11 attempts, 2 would take a cell past its limit" in flat(as_text(trial))
    assert "a discharge with a weak module: The lowest cell" in flat(as_text(trial))
    none = attrs.evolve(trial, findings=())
    assert "None of 11 attempts took a cell past its limits." in flat(as_text(none))
    for run in trial.runs:
        assert run.name in as_text(trial, width=200)  # so wide that no column wraps it
        assert run.name in as_html(trial)
        assert str(run.reached) in as_text(run)
    open_ = try_settings(design(with_pack(monitoring=None)))
    assert "do not hold, or it cannot be told" in flat(as_text(open_))
    nothing = try_settings(design(with_module(resistance=None)))
    assert "Nothing could be tried" in flat(as_text(nothing))
    assert "Nothing could be tried" in as_html(nothing)


def test_draws_tell_how_sure_they_are(draws: Draws) -> None:
    told, page = as_text(draws), as_html(draws)
    # None of 12: 1 - 0.05^(1/12) = 22.1 %
    for words in (told, page.replace("\u00a0", " ")):
        assert "22.1 % or less" in words
        assert "capacity 3 %, temperature 2 K" in " ".join(words.split())
    assert "capacity of the pack" in page


def test_draws_tell_what_is_wished_for_from_below_and_where_the_stated_lies() -> None:
    scatter = Scatter(capacity="3 %", resistance="40 %")
    drawn = draw_designs(good_build(), scatter, count=12)
    told, page = " ".join(as_text(drawn).split()), as_html(drawn).replace("\u00a0", " ")
    still = draw_designs(good_build(), Scatter(temperature="0 K"), count=12)
    # All of 12 work: 0.05^(1/12) = 77.9 %, rounded down.
    assert "12 of 12 (100 %; 95 % sure to be at least 77.9 %)" in as_text(still)
    for words in (told, page):
        assert f"{drawn.numbers[2].less} of 12 draws reach less, for a string" in words
        assert drawn.uneven is not None
        assert f"sharing_imbalance: in {drawn.uneven.times} of 12 draws" in words
    assert "0 of 12 draws reach less. How unevenly strings share the current is not drawn" in (
        " ".join(as_text(still).split())
    )
    assert to_json(drawn)["numbers"]["reachable energy"]["of"] == 12
    assert to_json(still)["uneven"] is None
    assert to_json(drawn)["uneven"]["of"] == 12


def test_a_lower_target_that_cannot_be_used_as_before_says_so(blend: Ageing) -> None:
    assert blend.lower is not None
    for as_before, words in ((True, "and used as before"), (False, "not to be used as before")):
        lower = attrs.evolve(blend.lower, as_before=as_before)
        told = attrs.evolve(blend, lower=lower)
        assert words in " ".join(as_text(told).split())
        assert words in as_html(told).replace("\u00a0", " ")
        assert to_json(told)["lower_target"]["as_before"] is as_before


def test_facts_of_the_smaller_nouns(cell: IdentifiedCell) -> None:
    told = as_text(cell)
    # 20 s / 1 mOhm = 20000 F; half charged at 3.6 V
    for words in ("1 mΩ, settles in 20 s", "20000 F", "3.6 V at 50 %", "1.1 mV", "1.5 mΩ to 2 mΩ"):
        assert words in told
    assert "played again within 1.1 mV rms" in str(cell)
    scatter = as_text(Scatter(capacity="3 %"))
    assert "3 % (chosen)" in scatter
    assert "not known" in scatter
    cycles = as_text(count_cycles([0.9, 0.4, 0.9], [0, 12, 24]))
    assert "0.5" in cycles
    for model in ageing_models():
        assert "from memory, not seen" in " ".join(as_text(model).split())


RECORDS: dict[str, Callable[[Any], dict[str, Any]]] = {
    "blend": to_json,
    "trial": to_json,
    "draws": to_json,
    "cell": to_json,
}


@pytest.mark.parametrize("name", RECORDS)
def test_as_data(name: str, request: pytest.FixtureRequest) -> None:
    noun = request.getfixturevalue(name)
    record = json.loads(json.dumps(RECORDS[name](noun), allow_nan=False))
    assert record.get("title", record.get("name")) == EVIL


def test_data_holds_what_the_nouns_hold(
    blend: Ageing, trial: SettingsTrial, draws: Draws, cell: IdentifiedCell
) -> None:
    told = to_json(blend)
    assert told["models"][0]["first_year"]["value"] == pytest.approx(blend.models[0].first.value)
    assert told["lower_target"]["target"] == {"value": pytest.approx(4.0), "unit": "V"}
    assert told["grid"]["unit"] == "years"
    assert len(told["grid"]["values"]) == len(told["models"][0]["losses"]["values"])
    tried = to_json(trial)
    assert tried["holds"]
    assert [run["name"] for run in tried["runs"]] == [run.name for run in trial.runs]
    time = tried["runs"][0]["time"]
    assert time["unit"] == "s"
    assert len(time["values"]) <= 201
    assert time["values"][-1] == pytest.approx(trial.runs[0].time[-1])
    drawn = to_json(draws)
    assert drawn["scatter"] == {
        "capacity": {"value": 0.03, "unit": ""},
        "temperature": {"value": 2.0, "unit": "K"},
    }
    assert drawn["no_go"]["of"] == 12
    assert to_json(cell)["branches"][0]["time_constant"] == {"value": 20.0, "unit": "s"}
    no_lower = attrs.evolve(blend, lower=None)
    assert to_json(no_lower)["lower_target"] is None
    assert "The least grows by" not in as_text(no_lower)
    assert "The least grows by" not in as_html(no_lower)


@pytest.mark.parametrize("key", ["nmc", "nmc-lmo", "lfp", "lmo"])
def test_the_picture_of_years_is_well_formed_and_legible(key: str) -> None:
    found = aged(key)
    picture = ageing_svg(found)
    assert root(picture).get("role") == "img"
    assert not overlaps(picture)
    assert not outside(picture)
    assert picture.count("<path") == len(found.models)


def test_the_picture_of_a_cell_is_well_formed_and_legible(trial: SettingsTrial) -> None:
    for run in trial.runs:
        picture = cell_svg(run)
        assert not overlaps(picture)
        assert not outside(picture)
        assert str(run.reached) in picture
    empty = attrs.evolve(
        trial.runs[0], time=(), volts=(), cell=(), current=np.empty((0, 1)), soc=np.empty((0, 1))
    )
    assert "no number to draw" in cell_svg(empty)


def test_pages_without_assumptions_have_no_empty_list(trial: SettingsTrial) -> None:
    plain = attrs.evolve(trial, assumed=(), findings=())
    assert "What was assumed" not in as_html(plain)
    assert "What was assumed" not in as_text(plain)
    assert plain.holds
    assert not attrs.evolve(plain, runs=()).holds
