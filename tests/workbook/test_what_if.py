"""Answers worked out beforehand: one for every choice, the right one, and nothing that runs."""

import itertools
import re
from collections.abc import Callable
from html.parser import HTMLParser

import attrs
import pytest
from turned import with_choices

from evpack.base.errors import DescriptionError
from evpack.decide import decide
from evpack.describe.build import Build
from evpack.design import design
from evpack.edit import edited
from evpack.load.sheet import example, read_sheet
from evpack.outcome.design import Verdict
from evpack.show.clean import prose
from evpack.show.words import VERDICT
from evpack.workbook import what_if as module
from evpack.workbook.controls import Choice, Edit
from evpack.workbook.page import not_allowed
from evpack.workbook.panel import FitPanel, Panel, ProtectionPanel, SettingsPanel
from evpack.workbook.regions import STYLE, keys_of
from evpack.workbook.what_if import (
    LARGEST,
    MOST_STATES,
    rows_of,
    shown_by,
    states_of,
    what_if,
)

EXAMPLES = ("wether-barn", "twelve", "low-shed", "left-on", "split-house")
Kind = Callable[..., Panel]
KINDS: tuple[Kind, ...] = (Panel, FitPanel, SettingsPanel, ProtectionPanel)
HOSTILE = "</label><script>alert(1)</script><input type=image>"


@pytest.fixture(autouse=True)
def _sharing(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("EVPACK_SHARING", "1")


def barn() -> Build:
    return read_sheet(example("wether-barn"))


class Page(HTMLParser):
    """The radio buttons and the answers of a page, and which class rules it has."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.radios: dict[str, list[tuple[str, bool]]] = {}  # by name: place, checked
        self.answers: list[tuple[frozenset[str], bool, list[str]]] = []  # classes, hidden, words
        self._within = 0
        self.feed(html)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = dict(attrs)
        classes = (given.get("class") or "").split()
        if tag == "input":
            place = max(classes, key=len)
            self.radios.setdefault(given["name"], []).append((place, "checked" in given))
        elif "evp-if-s" in classes:
            own = frozenset(classes) - {"evp-if-s"}
            self.answers.append((own, "hidden" in given, []))
            self._within = 1
        elif self._within and tag == "div":
            self._within += 1

    def handle_endtag(self, tag: str) -> None:
        if self._within and tag == "div":
            self._within -= 1

    def handle_data(self, data: str) -> None:
        if self._within:
            self.answers[-1][2].append(data)

    def words_of(self, *places: str) -> str:
        found = [words for own, _, words in self.answers if own == frozenset(places)]
        assert len(found) == 1
        return " ".join(" ".join(found[0]).split())  # no-break spaces become plain ones


def shared_by(panel: Panel) -> str:
    html = panel._repr_mimebundle_()["text/html"]
    assert html.startswith(STYLE)
    return html.removeprefix(STYLE)


class Rules:
    """Which answers the page's own style rules show, read from these rules."""

    def __init__(self, html: str) -> None:
        style = re.findall(r"<style>(.*?)</style>", html, re.DOTALL)[0]
        rule = re.search(r"((?::has\(\.\w+:checked\))+) \.evp-if-s \{ display: block; \}", style)
        self.needed = set(re.findall(r"\.(\w+):checked", rule[1]))
        self.hiding = re.findall(
            r":has\(\.(\w+):checked\) \.evp-if-s:not\(\.(\w+)\) \{ display: none !important; \}",
            style,
        )
        self.answers = Page(html).answers

    def shown(self, checked: set[str]) -> list[frozenset[str]]:
        """Return the answers shown when these places are checked."""
        asked = self.needed <= {place[0] for place in checked}
        kept = {own for on, own in self.hiding if on in checked}
        return [own for own, hidden, _ in self.answers if (asked or not hidden) and kept <= own]


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("name", EXAMPLES)
def test_every_combination_shows_one_answer_its_own(name: str, kind: Kind) -> None:
    html = shared_by(kind(read_sheet(example(name))))
    page = Page(html)
    rows = [[place for place, _ in row] for row in page.radios.values()]
    combinations = list(itertools.product(*rows))
    assert 1 < len(combinations) == len(page.answers) <= MOST_STATES
    rules = Rules(html)
    for picked in combinations:
        assert rules.shown(set(picked)) == [frozenset(picked)]


@pytest.mark.parametrize("kind", KINDS)
def test_at_first_the_sheet_is_picked_and_alone_not_hidden(kind: Kind) -> None:
    page = Page(shared_by(kind(barn())))
    picked = {place for row in page.radios.values() for place, checked in row if checked}
    assert len(picked) == len(page.radios)
    assert [own for own, hidden, _ in page.answers if not hidden] == [picked]
    assert page.words_of(*picked).startswith("As in the sheet:")
    others = [" ".join(words) for own, _, words in page.answers if own != picked]
    assert all(words.startswith("What if, and not the design of the sheet:") for words in others)


def test_where_not_everything_is_picked_the_answer_on_the_sheet_stays() -> None:
    html = shared_by(FitPanel(barn()))
    own = next(own for own, hidden, _ in Page(html).answers if not hidden)
    assert Rules(html).shown(set()) == [own]


@pytest.mark.parametrize("kind", [Panel, FitPanel, SettingsPanel])
@pytest.mark.parametrize("name", ["wether-barn", "low-shed"])
def test_each_answer_is_that_of_the_whole_design(name: str, kind: Kind) -> None:
    panel = kind(read_sheet(example(name)))
    page = Page(shared_by(panel))
    rows = rows_of(panel._all(), panel._values, panel.listing.what_if.counts)
    for at in itertools.product(*(range(len(row.values)) for row in rows)):
        typed = {row.choice.key: row.word(k) for row, k in zip(rows, at, strict=True)}
        counts = {key: int(value) for key, value in typed.items() if value.isdigit()}
        decision = decide(design(with_choices(panel.start, **(typed | counts))))
        words = page.words_of(*(f"{'abcde'[n]}{k}" for n, k in enumerate(at)))
        told = VERDICT[decision.verdict]
        assert f"{told.glyph} {told.word} " in words
        assert sum(f" {one.glyph} {one.word} " in words for one in VERDICT.values()) == 1
        same = all(k == row.of_sheet for row, k in zip(rows, at, strict=True))
        for name_of, value, *_ in keys_of(decision.design, entered=same):
            assert re.search(rf"{re.escape(name_of)} {re.escape(value)}(?!\w)", words)
        if decision.held_by:
            assert "STOP" in words or "UNKNOWN" in words


def test_each_answer_on_cables_is_that_of_the_whole_design() -> None:
    panel = ProtectionPanel(barn())
    page = Page(shared_by(panel))
    strings, size = rows_of(panel._all(), panel._values, panel.listing.what_if.counts)
    assert size.word(size.of_sheet) == "1/0 AWG"
    verdicts = set()
    for j, k in itertools.product(range(len(strings.values)), range(len(size.values))):
        build = with_choices(panel.start, strings=strings.values[j], main_size=size.values[k])
        decision = decide(design(build))
        verdicts.add(decision.verdict)
        words = page.words_of(f"a{j}", f"b{k}")
        assert f"{VERDICT[decision.verdict].glyph} {VERDICT[decision.verdict].word} " in words
        for name, value, *_ in panel.listing.what_if.keys(decision.design, entered=True):
            assert f"{name} {value}" in words
    assert {Verdict.WORKS_WITH_LIMITS, Verdict.DOES_NOT_WORK} <= verdicts


@pytest.mark.parametrize("kind", KINDS)
def test_it_holds_no_script_and_no_more_than_it_may(kind: Kind) -> None:
    # The whole panel is slow, and largest where there are most devices.
    for name in EXAMPLES if kind is not Panel else ("wether-barn", "split-house"):
        html = shared_by(kind(read_sheet(example(name))))
        assert not_allowed(html) == ()
        assert "<form" not in html
        explored = html.partition("<p>What follows is of the design")[0]
        assert len(explored.encode()) <= LARGEST


def test_only_the_design_of_the_sheet_has_numbers_to_enter() -> None:
    html = shared_by(SettingsPanel(barn()))
    explored, _, below = html.partition("What follows is of the design of the sheet")
    assert "What to enter on each device" in below
    assert "What to enter on each device" not in explored
    for own, hidden, words in Page(html).answers:
        assert ("Charged to" in words) != ("Would be charged to" in words), own
        assert ("Would be charged to" in words) == hidden
    panel = SettingsPanel(barn())
    panel.set(reserve=40)
    turned = shared_by(panel)
    assert "What follows is of the design that is picked when this page is opened" in turned
    assert "What to enter on each device" not in turned


def test_a_panel_that_was_turned_over_opens_there_and_still_offers_the_sheet() -> None:
    panel = Panel(barn())
    panel.set(strings=3, charge_target=4.2, continuous_load=6.0, reserve=30)
    page = Page(shared_by(panel))
    own = next(own for own, hidden, _ in page.answers if not hidden)
    words = page.words_of(*own)
    assert "Strings in parallel 3 (sheet: 4)" in words
    assert "Charge target for one cell 4.2 V (sheet: 4.05 V)" in words
    rows = rows_of(panel._all(), panel._values, panel.listing.what_if.counts)
    counts = panel.listing.what_if.counts
    for row in rows:
        assert row.values[row.of_sheet] == row.choice.value
        assert row.values[row.now] == panel._values[row.choice.key]
        assert len(set(row.values)) == len(row.values) <= counts[row.choice.key]
    assert f"Reserve kept for outages {prose('30 %')} in all" in shared_by(panel)


def test_the_cable_of_the_sheet_stays_among_the_sizes() -> None:
    panel = ProtectionPanel(barn())
    sizes = panel._choices["main_size"].options
    panel.set(main_size=sizes[-1])
    row = rows_of(panel._all(), panel._values, {"main_size": 3})[0]
    assert row.word(row.of_sheet) == "1/0 AWG"
    assert row.word(row.now) == sizes[-1]
    assert list(row.values) == sorted(row.values, key=sizes.index)


def choice(**changes: object) -> Choice:
    given = {"key": "load", "place": "load.x", "label": "Load", "unit": "kW", "value": 2.5}
    return Choice(**(given | {"low": 0.1, "high": 6.0, "step": 0.1} | changes))


@pytest.mark.parametrize(
    ("given", "count", "values"),
    [
        # A quarter of 5.9 kW is 1.475 kW: the round step below it is 1 kW.
        (choice(), 3, (1.5, 2.5, 3.5)),
        # At the end of its reach it goes on to the other side.
        (choice(value=6.0), 3, (4.0, 5.0, 6.0)),
        # Never finer than the control: a quarter of 2 is below 1.
        (choice(unit="", value=1, low=1, high=3, step=1), 5, (1, 2, 3)),
        # A quarter of 99 is 24.75: steps of 20 strings, but single modules in series.
        (choice(unit="", value=50, low=1, high=100, step=1), 3, (30, 50, 70)),
        (choice(key="modules_in_series", unit="", value=9, low=1, high=99, step=1), 3, (8, 9, 10)),
    ],
)
def test_values_lie_around_the_one_there_is_in_round_steps(
    given: Choice, count: int, values: tuple[float, ...]
) -> None:
    (row,) = rows_of([given], {"load": given.value, given.key: given.value}, {given.key: count})
    assert row.values == pytest.approx(values)
    assert row.values[row.of_sheet] == row.values[row.now] == given.value


def test_what_cannot_be_is_said_in_words() -> None:
    def refusing(build: Build, *edits: Edit) -> Build:
        if ("pack.strings", 3) in edits:
            raise DescriptionError("three <b>strings</b> cannot be")
        return edited(build, *edits)

    panel = FitPanel(barn())
    rows = rows_of(panel._all(), panel._values, {"strings": 3})
    html = what_if(panel.start, rows, fixed=(), keys=keys_of, changed=refusing)
    k = rows[0].values.index(3)
    words = Page(html).words_of(f"a{k}")
    assert "✕ Cannot be: three <b>strings</b> cannot be" in words
    assert "&lt;b&gt;strings" in html
    assert [s.problem for s in states_of(panel.start, rows, (), refusing) if not s.decision]


def test_where_the_first_answer_cannot_be_there_is_nothing_to_explore() -> None:
    def refusing(_build: Build, *_edits: Edit) -> Build:
        raise DescriptionError("never")

    panel = FitPanel(barn())
    rows = rows_of(panel._all(), panel._values, {"strings": 3})
    assert what_if(panel.start, rows, fixed=(), keys=keys_of, changed=refusing) == ""


def test_too_many_answers_are_made_fewer_and_then_left_out(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    panel = FitPanel(barn())
    many = len(Page(shared_by(panel)).answers)
    monkeypatch.setattr(module, "MOST_STATES", many - 1)
    assert 4 <= len(Page(shared_by(panel)).answers) < many
    monkeypatch.setattr(module, "LARGEST", 1000)
    assert "evp-if" not in shared_by(panel).replace(STYLE, "")
    assert "<span>Strings in parallel</span><b>4</b>" in shared_by(panel)


def test_a_panel_without_choices_to_turn_over_has_none() -> None:
    assert what_if(barn(), (), fixed=(), keys=keys_of) == ""


def test_without_a_page_to_make_the_panel_works_nothing_out_beforehand(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.delenv("EVPACK_SHARING")
    assert "evp-if" not in shared_by(Panel(barn()))


def test_the_rest_of_the_answer_can_be_left_out() -> None:
    assert "What follows" in shared_by(Panel(barn()))
    alone = shared_by(Panel(barn(), rest=False))
    assert "What follows" not in alone
    assert "<figure" not in alone


def test_what_a_user_typed_is_escaped() -> None:
    build = barn()
    module_of = attrs.evolve(build.pack.module, name=HOSTILE)
    pack = attrs.evolve(build.pack, module=module_of)
    inverters = [attrs.evolve(one, name=HOSTILE) for one in build.inverters]
    hostile = attrs.evolve(build, pack=pack, inverters=inverters, title=HOSTILE)
    for kind in KINDS:
        html = shared_by(kind(hostile))
        assert not_allowed(html) == ()
        assert "&lt;script" in html


@pytest.mark.parametrize("given", ["<input>", "<input type=image>", '<input type="text">'])
def test_a_page_may_hold_radio_buttons_and_no_other_input(given: str) -> None:
    assert not_allowed(given) == ("<input> that is no box to tick",)
    assert not_allowed('<input type="radio" name="a">') == ()


def test_two_panels_on_a_page_have_nothing_in_common() -> None:
    panel = FitPanel(barn())
    first, second = (set(Page(shared_by(panel)).radios) for _ in range(2))
    assert first
    assert not first & second


def test_a_browser_that_lacks_the_rules_shows_no_choices() -> None:
    html = shared_by(FitPanel(barn()))
    assert '<div class="evp-if-pick" hidden>' in html
    rules = shown_by("evp-if-x", [2])
    assert rules.startswith("@supports selector(:has(a)) {")
    assert "@media print { .evp-if-x .evp-if-both { display: block; }" in rules


def test_where_the_own_design_is_held_up_a_go_tells_all_of_its_limits() -> None:
    low = read_sheet(example("low-shed"))
    own = decide(design(low))
    other = decide(design(with_choices(low, modules_in_series=2)))
    assert not own.go
    assert other.go
    told = module._reasons(other, own)
    assert "of the same kinds" not in told
    assert "evp-caution" in told
