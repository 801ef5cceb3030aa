"""Runs as they are shown: in text, in HTML, as data, in pictures."""

from __future__ import annotations

import json

import attrs
import numpy as np
import pytest
from reading import outside, overlaps, root
from strategies import good_build, with_inverter, with_module, with_pack

from evpack.base.finding import Severity
from evpack.design import design
from evpack.outcome.runs import FaultRun, SharingRun
from evpack.show.draw.runs import currents_svg, states_svg
from evpack.show.html import as_html
from evpack.show.runs import span_words
from evpack.show.text import as_text
from evpack.show.to_json import to_json
from evpack.simulate.faults import simulate_fault
from evpack.simulate.sharing import simulate_sharing

EVIL = "<script>alert(1)</script>&\"'"
KINDS = ("short", "fuse opens", "collapse", "join")


@pytest.fixture(scope="module")
def shared() -> SharingRun:
    return simulate_sharing(design(good_build(title=EVIL, invented=True)))


@pytest.fixture(scope="module", params=KINDS)
def fault(request: pytest.FixtureRequest) -> FaultRun:
    return simulate_fault(design(good_build(title=EVIL, invented=True)), request.param)


def test_sharing_in_text(shared: SharingRun) -> None:
    told = as_text(shared)
    assert "Invented: no such pack exists" in told
    for case in shared.cases:
        assert case.name in told
        assert str(case.discharge.worst) in told
    assert "To keep in mind" in told
    for words in shared.assumed:
        assert f"- {words}"[:40] in told
    assert max(map(len, told.splitlines())) <= 88


def test_in_full_every_number_and_every_rule_is_explained(shared: SharingRun) -> None:
    told = " ".join(as_text(shared, full=True).split())
    for case in shared.cases:
        lead, _, after = told.partition(f"{case.name}: how it comes about")
        assert lead
        assert after.lstrip().startswith(case.discharge.worst.name)
        assert f"charge {case.charge.charge_lost:.0e}" in after
    hard = [finding for finding in shared.findings if finding.severity >= Severity.CAUTION]
    assert hard
    for finding in hard:
        assert finding.detail in told
        assert finding.rule.says in told
    assert "how it comes about" not in as_text(shared)


def test_sharing_in_html(shared: SharingRun) -> None:
    page = as_html(shared)
    assert "<script" not in page
    assert "<b>Invented:</b>" in page
    assert page.count("<svg") == 3
    for case in shared.cases:
        assert case.name in page
    assert "What was assumed" in page
    assert "sharing-run.even" in page or "what the design reckons with" in page


def test_one_case_and_one_run_alone(shared: SharingRun) -> None:
    case = shared.cases[4]
    assert as_html(case).count("<svg") == 3
    assert as_html(case.discharge).count("<svg") == 1
    assert case.name in as_text(case)
    assert as_text(case.charge).strip().startswith("charge:")


def test_what_could_not_be_run_says_so() -> None:
    run = simulate_sharing(design(with_module(resistance=None)))
    for told in (as_text(run), as_html(run)):
        assert "Nothing could be run" in told
        assert "resistance of the modules is not known" in told
    assert to_json(run)["cases"] == []
    unasked = simulate_sharing(design(with_inverter(continuous=None)))
    for told in (as_text(unasked), as_html(unasked)):
        assert "The most that the inverters draw is not known" in told
        assert "charge current of the pack" in told


def test_a_fault_in_text_and_html(fault: FaultRun) -> None:
    told, page = as_text(fault), as_html(fault)
    assert "<script" not in page
    assert page.count("<svg") == 1
    for worked in fault.numbers:
        assert str(worked) in told
        assert str(worked) in page
    for _, words in fault.events:
        assert words[:30] in told
    assert "checks passed" in told or "check passed" in told


def test_runs_as_data(shared: SharingRun, fault: FaultRun) -> None:
    record = json.loads(json.dumps(to_json(shared)))
    case = record["cases"][0]
    assert case["name"] == "all alike"
    discharge = shared.cases[0].discharge
    assert case["discharge"]["worst"] == {
        "value": pytest.approx(discharge.worst.value),
        "unit": "A",
    }
    time, current = case["discharge"]["time"], case["discharge"]["current"]
    assert (time["unit"], current["unit"]) == ("s", "A")
    assert len(time["values"]) <= 200
    assert time["values"][-1] == pytest.approx(discharge.time[-1])
    assert current["values"][-1] == pytest.approx(discharge.current[-1].tolist())
    told = json.loads(json.dumps(to_json(fault)))
    assert told["kind"] == fault.kind
    assert [event["what"] for event in told["events"]] == [words for _, words in fault.events]
    assert set(told["numbers"]) == {worked.name for worked in fault.numbers}


def test_pictures_are_well_formed_and_legible(shared: SharingRun, fault: FaultRun) -> None:
    first = shared.cases[0].discharge
    pictures = (
        currents_svg(first.time, first.current, title=EVIL),
        states_svg(first.time, first.soc, title="states"),
        currents_svg(fault.time, fault.current, title=fault.kind, events=fault.events),
    )
    for picture in pictures:
        assert root(picture).get("role") == "img"
        assert "nan" not in picture
        assert not overlaps(picture)
        assert not outside(picture)


def test_of_many_strings_the_extremes_and_the_mean() -> None:
    run = simulate_sharing(design(with_pack(strings=9))).cases[0].discharge
    picture = currents_svg(run.time, run.current, title="many")
    assert "mean of 9" in picture
    assert "least" in picture
    assert picture.count("<path") == 3


def test_many_events_are_numbered_and_long_ones_cut() -> None:
    time, current = np.arange(1.0, 11.0), np.ones((10, 2))
    events = [(2.0, "one"), (2.1, "two"), (9.0, "words " * 25)]
    picture = currents_svg(time, current, title="events", events=events)
    assert not outside(picture)
    assert not overlaps(picture)


def test_a_run_without_numbers_draws_none() -> None:
    assert "no number to draw" in currents_svg(np.empty(0), np.empty((0, 2)), title="none")
    broken = np.array([[np.nan, 1.0]])
    assert "no number to draw" in currents_svg(np.array([1.0]), broken, title="broken")


def test_currents_in_words() -> None:
    assert span_words((10.0, 12.0, 11.0)) == "10 A to 12 A"
    assert span_words((-10.0, -10.0)) == "10 A"
    assert span_words((10.0, 1e-8)) == "10 A"  # one is open
    assert span_words((0.0,)) == "0 A"


def test_findings_that_weigh_nothing_are_counted(shared: SharingRun) -> None:
    calm = attrs.evolve(shared, findings=shared.findings[:1], assumed=())
    assert "To keep in mind" not in as_text(calm)
    assert "What was assumed" not in as_text(calm)
    page = as_html(attrs.evolve(shared, findings=(), assumed=()))
    assert "What was assumed" not in page
    assert "To keep in mind" not in page
