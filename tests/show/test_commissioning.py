"""Commissioning told: every step once, what a person typed escaped, nothing withheld shown."""

from __future__ import annotations

import html
import json
import re

import attrs

from evpack.commission.plan import held_against
from evpack.decide import decide
from evpack.design import design
from evpack.finished import check_as_built, commissioning_plan
from evpack.load.as_built import example_as_built
from evpack.load.sheet import example, read_sheet
from evpack.outcome.commissioning import AsBuilt, Came
from evpack.show.commissioning import (
    CAME,
    NOT_YET,
    OTHER_PLAN,
    PROVEN,
    left_over_words,
    written_words,
)
from evpack.show.html import as_html
from evpack.show.one_page import one_page
from evpack.show.text import as_text
from evpack.show.to_json import to_json
from evpack.workbook.page import not_allowed

PLAN = commissioning_plan(decide(design(read_sheet(example("wether-barn")))))
HELD = commissioning_plan(decide(design(read_sheet(example("low-shed")))))
CHECK = check_as_built(PLAN, example_as_built("wether-barn"))


def words_of(fragment: str) -> str:
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", fragment)).split())


def test_every_step_is_told_with_what_is_expected_and_a_blank() -> None:
    fragment, text = as_html(PLAN), " ".join(as_text(PLAN).split())
    told = words_of(fragment)
    for step in PLAN.steps:
        assert " ".join(step.todo.split()) in told
        assert f"expected: {step.expected}" in text
    assert fragment.count("<tbody>") == len(PLAN.steps)
    assert text.count("[ ]") == len(PLAN.steps)
    assert "done by" in told


def test_who_works_by_the_list_reads_first_who_may_and_with_what() -> None:
    for told in (words_of(as_html(PLAN)), " ".join(as_text(PLAN).split())):
        assert "Where the pack or a solar array reaches 60 V or more" in told
        assert "leads rated for the highest DC voltage of pack and array" in told


def test_on_paper_the_lines_to_sign_stand_with_the_last_stage() -> None:
    *_, last = PLAN.stages
    kept = as_html(PLAN).split('<div style="break-inside:avoid">')
    assert len(kept) == 2
    assert last in words_of(kept[1])
    assert "done by" in words_of(kept[1])
    assert "done by" not in words_of(kept[0])
    assert last not in words_of(kept[0])


def test_a_design_that_is_no_go_shows_no_step_and_says_why() -> None:
    for told in (words_of(as_html(HELD)), " ".join(as_text(HELD).split())):
        assert NOT_YET in told
        assert HELD.decision.held_by[0].about in told
    assert "<tbody>" not in as_html(HELD)
    assert to_json(HELD)["steps"] == []
    refused = held_against(HELD, AsBuilt(name="r"))
    assert "Not to be switched on" in as_html(refused)
    assert "✕ NOT TO BE SWITCHED ON" in as_text(refused)


def test_what_is_off_stands_open_and_what_is_proven_is_folded() -> None:
    fragment = as_html(CHECK)
    front = words_of(fragment.split("<details>")[0])
    for proof in CHECK.of(Came.OFF):
        assert proof.step.title in front
        assert proof.step.if_not in front
    assert "2.6 mΩ" in front
    assert f"{len(CHECK.of(Came.PROVEN))} steps proven" in words_of(fragment)
    text = as_text(CHECK)
    assert "Not as designed (2)" in text
    assert "A device that does not keep it is not used" in text
    assert "read: 2.6 mΩ" in text


def test_a_record_of_another_plan_or_of_nobody_says_so() -> None:
    other = held_against(PLAN, AsBuilt(name="r", mark="x", note="<b>mind</b>"))
    for told in (words_of(as_html(other)), " ".join(as_text(other).split())):
        assert OTHER_PLAN in told
        assert "Nobody vouches for it yet" in told
    assert "<b>mind" not in as_html(other)
    assert "&lt;b&gt;mind" in as_html(other)


def test_whatever_a_user_typed_is_escaped() -> None:
    build = attrs.evolve(PLAN.decision.design.build, title="<script>x</script>")
    made = attrs.evolve(PLAN.decision.design, build=build)
    named = attrs.evolve(PLAN, decision=attrs.evolve(PLAN.decision, design=made))
    page = one_page(named.title, as_html(named))
    assert "<script" not in page
    assert not_allowed(page) == ()


def test_the_records_are_plain_data() -> None:
    plan = json.loads(json.dumps(to_json(PLAN), allow_nan=False))
    assert len(plan["steps"]) == len(PLAN.steps)
    check = json.loads(json.dumps(to_json(CHECK), allow_nan=False))
    assert check["outcome"] == "not built as designed"
    by_key = {step["key"]: step for step in check["steps"]}
    bad = by_key["discharge.main_5_kva_inverter_charger_48_v_class"]
    assert bad["read"] == {"value": 0.0026, "unit": "Ω"}
    assert bad["came"] == "not as designed"
    assert by_key["modules.sound"]["read"] is True
    assert by_key["later.log"]["read"] is None
    assert check["left_over"] == []


def test_a_yes_where_a_reading_is_due_is_told_as_a_yes() -> None:
    check = held_against(PLAN, AsBuilt(name="r", values={"discharge.sharing": True}))
    proof = next(p for p in check.proofs if p.step.key == "discharge.sharing")
    assert written_words(proof) == "yes"
    (read,) = (s for s in to_json(check)["steps"] if s["key"] == "discharge.sharing")
    assert read["read"] is True


def test_what_was_asked_otherwise_and_what_is_left_over_is_told() -> None:
    left = tuple(f"parts.<b>{number}</b>" for number in range(15))
    record = AsBuilt(name="r", mark="x", values={"modules.sound": True}, left_over=left)
    check = held_against(PLAN, record)
    for told in (words_of(as_html(check)), " ".join(as_text(check).split())):
        assert "asked otherwise since" in told
        assert "parts.<b>11</b>, and 3 more." in told
    assert "<b>11" not in as_html(check)
    # Of a record of this plan nothing is left over.
    assert left_over_words(CHECK) == ""


def test_what_waits_or_is_proven_is_folded_only_where_there_is_any() -> None:
    blank = as_html(held_against(PLAN, AsBuilt(name="r", mark=PLAN.mark)))
    assert "Proven" not in words_of(blank)
    done = {step.key: True for step in PLAN.steps if step.kind is None}
    bounds = {s.key: s.high if s.low is None else s.low for s in PLAN.steps if s.kind is not None}
    whole = as_html(held_against(PLAN, AsBuilt(name="r", mark=PLAN.mark, values=done | bounds)))
    assert "for later, or only if fitted</summary>" not in whole
    assert f"{len(PLAN.steps)} steps proven" in words_of(whole)


def test_every_answer_has_its_words() -> None:
    assert set(CAME) == set(Came)
    assert {words.glyph for words in PROVEN.values()} == {"✓", "✕", "?"}
