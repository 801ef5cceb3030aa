"""The panel: two hands on one value, one answer for one move, nothing lost on a bad value."""

from importlib.resources import files
from pathlib import Path

import attrs
import pytest

from evpack.decide import decide
from evpack.design import design
from evpack.load.sheet import example, parse_sheet, read_sheet
from evpack.outcome.design import Verdict
from evpack.show.words import WITHHELD
from evpack.workbook import listings
from evpack.workbook.panel import Panel
from evpack.workbook.regions import settled

REGIONS = ("verdict", "figures", "ladder", "energy", "found", "settings")


@pytest.fixture
def panel() -> Panel:
    return Panel(read_sheet(example("wether-barn")))


@pytest.fixture
def answers(monkeypatch: pytest.MonkeyPatch) -> list:
    """Collect the builds that are worked out."""
    worked_out: list = []

    def counted(build: object) -> object:
        worked_out.append(build)
        return design(build)

    monkeypatch.setattr(listings, "design", counted)
    return worked_out


def html_of(panel: Panel, region: str) -> str:
    """Return what a region shows; a message stands beside its field or below all of them."""
    if region == "message":
        told = [row.problem.value for row in panel._rows.values()]
        return "".join([panel._regions["message"].value, *told])
    return panel._regions[region].value


def test_it_starts_with_the_answer_on_the_build(panel: Panel) -> None:
    assert panel.build is panel.start
    assert panel.decision.verdict is decide(design(panel.start)).verdict
    for region in REGIONS:
        assert html_of(panel, region).startswith('<div class="evp')
    assert html_of(panel, "message") == html_of(panel, "keep") == ""


def test_a_moved_slider_moves_the_box_and_is_answered_once(panel: Panel, answers: list) -> None:
    before = html_of(panel, "energy")
    panel._rows["strings"].slider.value = 3
    assert panel._rows["strings"].number.value == 3
    assert panel.build.pack.strings == 3
    assert html_of(panel, "energy") != before
    assert len(answers) == 1


def test_a_typed_value_moves_the_slider_and_is_answered_once(panel: Panel, answers: list) -> None:
    panel._rows["reserve"].number.value = 30
    assert panel._rows["reserve"].slider.value == 30
    assert panel.build.policy.reserve.m == pytest.approx(0.3)
    assert len(answers) == 1


def test_a_value_that_stays_the_same_is_not_answered_again(panel: Panel, answers: list) -> None:
    panel.set(reserve=30)
    panel.set(reserve=30)
    assert len(answers) == 1


def test_a_typed_value_beyond_the_slider_stretches_it(panel: Panel) -> None:
    beyond = panel._rows["continuous_load"].slider.max + 2
    panel._rows["continuous_load"].number.value = beyond
    assert panel._rows["continuous_load"].slider.value == beyond
    assert panel.build.load.continuous.m == pytest.approx(beyond * 1e3)


def test_more_strings_than_modules_is_a_finding_and_no_error(panel: Panel) -> None:
    panel.set(strings=20)
    assert html_of(panel, "message") == ""
    assert panel.decision.verdict is Verdict.DOES_NOT_WORK
    assert "there are 9" in html_of(panel, "found")


def test_a_value_that_cannot_be_is_said_and_changes_nothing(panel: Panel) -> None:
    panel.set(strings=3)
    before = {region: html_of(panel, region) for region in REGIONS}
    panel._rows["reserve"].number.value = 150
    assert 'role="alert"' in html_of(panel, "message")
    assert "reserve" in html_of(panel, "message")
    assert panel.build.pack.strings == 3
    assert {region: html_of(panel, region) for region in REGIONS} == before
    panel._rows["reserve"].number.value = 40
    assert html_of(panel, "message") == ""
    assert panel.build.policy.reserve.m == pytest.approx(0.4)


def test_reset_leads_back_to_the_build_with_one_answer(panel: Panel, answers: list) -> None:
    panel.set(strings=3, reserve=40)
    panel._rows["charge_target"].number.value = -5
    answers.clear()
    panel._reset(None)
    assert panel.build is panel.start
    assert panel._rows["charge_target"].number.value == 4.05
    assert html_of(panel, "message") == html_of(panel, "keep") == ""
    assert len(answers) == 1


def test_a_charge_target_of_nothing_is_refused_in_words(panel: Panel) -> None:
    """0 was once taken for nothing said: the page showed 4.05 V and judged 0 V."""
    panel._rows["charge_target"].number.value = 0
    assert "limits of one cell, 3 V to 4.2 V, got 0 V" in html_of(panel, "message")
    assert panel.build is panel.start


def test_it_says_what_to_write_in_the_sheet_to_keep_a_choice(panel: Panel) -> None:
    panel.set(strings=3)
    assert "[pack]<br>strings = 3" in html_of(panel, "keep")


def test_a_page_without_a_kernel_gets_the_settled_state(panel: Panel) -> None:
    panel.set(strings=3)
    bundle = panel._repr_mimebundle_()
    assert "application/vnd.jupyter.widget-view+json" in bundle
    assert "<b>3</b>" in bundle["text/html"]
    assert html_of(panel, "ladder") in bundle["text/html"]
    assert str(panel.decision.verdict) in bundle["text/plain"]


def test_cells_that_are_not_charged_to_a_voltage_are_answered_all_the_same() -> None:
    sheet = (files("evpack.workbook") / "starter.toml").read_text(encoding="utf-8")
    panel = Panel(parse_sheet(sheet.replace("pouch-7s", "hybrid-6s")))
    assert "charge_target" not in panel._rows
    assert panel.decision.verdict is Verdict.DOES_NOT_WORK
    assert "could not be worked out" in html_of(panel, "settings")
    panel.set(strings=2)
    assert panel.build.pack.strings == 2


def test_a_choice_that_does_not_work_withholds_the_settings(panel: Panel) -> None:
    assert "Would be charged to" not in html_of(panel, "figures")
    assert "What to enter on each device" in html_of(panel, "settings")
    panel.set(strings=20)
    assert "Would be charged to" in html_of(panel, "figures")
    assert WITHHELD in html_of(panel, "settings")
    assert "evp-box" not in html_of(panel, "settings")
    assert "What to enter" not in html_of(panel, "settings")
    assert "provisional" in html_of(panel, "ladder")
    panel.set(strings=4)
    assert WITHHELD not in html_of(panel, "settings")


def test_what_a_user_typed_is_escaped() -> None:
    assert "<script" not in settled([("<script>", "<script>")], dict.fromkeys(REGIONS, ""))


def test_each_number_says_why_and_all_are_laid_open_by_one_box(panel: Panel) -> None:
    figures = html_of(panel, "figures")
    names = (
        "Modules",
        "Nominal voltage",
        "Charged to",
        "Cut off at",
        "Usable energy, AC",
        "Everyday, AC",
    )
    for name in (*names, "Kept in reserve, AC"):
        assert f'why<span class="evp-unseen"> {name}</span></summary>' in figures
    assert " open" not in figures
    panel._why.value = True
    assert html_of(panel, "figures").count('<details class="evp-why" open') == 7
    panel.set(strings=3)
    assert 'class="evp-why" open' in html_of(panel, "figures")


def test_choices_are_written_to_a_new_sheet_and_never_over_one(
    panel: Panel, tmp_path: Path
) -> None:
    target = tmp_path / "mine.toml"
    panel.keep.name.value = str(target)
    panel.keep.button.click()
    assert "nothing is turned over" in panel.keep.result.value
    panel.set(strings=3, reserve=40, charge_target=4.0, continuous_load=1.5)
    assert panel.keep.result.value == ""
    panel.keep.button.click()
    assert "Written" in panel.keep.result.value
    again = read_sheet(target)
    assert again.pack.strings == 3
    assert again.policy.reserve.m == pytest.approx(0.4)
    assert again.policy.charge_target.m == pytest.approx(4.0)
    assert again.load.continuous.m == pytest.approx(1500)
    assert decide(design(again)).verdict is panel.decision.verdict
    comments = [line for line in panel.start.sheet.splitlines() if line.startswith("#")]
    written = target.read_text(encoding="utf-8")
    assert all(line in written for line in comments)
    panel.set(strings=2)
    panel.keep.button.click()
    assert "is there already" in panel.keep.result.value
    assert target.read_text(encoding="utf-8") == written


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("", "a name"),
        ("mine", "end in .toml"),
        ("<b>.txt", "&lt;b&gt;.txt"),
        ("no/such/folder/mine.toml", "cannot be written"),
    ],
)
def test_a_name_that_cannot_be_is_said_in_place(panel: Panel, name: str, said: str) -> None:
    panel.set(strings=3)
    panel.keep.name.value = name
    panel.keep.button.click()
    assert said in panel.keep.result.value


def test_a_build_without_a_sheet_cannot_be_written(panel: Panel, tmp_path: Path) -> None:
    bare = Panel(attrs.evolve(panel.start, sheet=""))
    bare.set(strings=3)
    bare.keep.name.value = str(tmp_path / "mine.toml")
    bare.keep.button.click()
    assert "not read from a build sheet" in bare.keep.result.value
    assert not (tmp_path / "mine.toml").exists()


def test_what_is_shown_is_what_the_written_sheet_would_say(panel: Panel) -> None:
    """Whatever is turned over, the panel's build is that of the text that it would write."""
    panel.set(modules_in_series=1, strings=3, continuous_load=0.6, charge_target=4.01)
    again = parse_sheet(panel._sheet(Path()))
    assert again.policy.basis == panel.build.policy.basis
    assert [p.name for p in again.profiles] == [p.name for p in panel.build.profiles]
    assert again.load.typical.m == panel.build.load.typical.m
