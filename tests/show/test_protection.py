"""What protects a pack, told as HTML, as text and as plain data."""

import attrs
import made_up
import pytest
from hypothesis import given
from hypothesis import strategies as st
from test_html import read

from evpack.base.finding import Severity
from evpack.base.units import CURRENT
from evpack.show.cables import cable_tone, length_words, outcome_of, size_words
from evpack.show.doc import least, most
from evpack.show.fuses import fuse_words
from evpack.show.html import as_html, decision_html
from evpack.show.text import as_text
from evpack.show.to_json import to_json
from evpack.show.words import NOT_TO_BUY

SOUND = made_up.decision(Severity.CAUTION)
HELD = made_up.decision(Severity.STOP)
SCHEDULE = SOUND.design.protection
PARTS = (
    "Protection schedule",
    "Cable schedule",
    "Other devices",
    "Precharge of Inverter Spare barn (2 of them)",
    "Fault levels: current into a dead short",
    "Solar side",
    "Bill of materials",
)


def flat(text: str) -> str:
    return " ".join(text.split())


def test_the_page_tells_every_part_of_the_schedule_in_order() -> None:
    text = read(decision_html(SOUND)).text
    places = [text.index(part) for part in PARTS]
    assert places == sorted(places)


def test_a_schedule_alone_has_no_solar_side_and_one_of_nothing_says_so() -> None:
    assert "Solar side" not in as_html(SCHEDULE)
    nothing = attrs.evolve(
        SCHEDULE, faults=(), circuits=(), fuses=(), cables=(), needs=(), precharge=(), parts=()
    )
    assert "No fuse was asked for" in as_html(nothing)


def test_a_design_that_is_held_up_is_not_to_be_bought() -> None:
    for told in (read(as_html(HELD)).text, flat(as_text(HELD, full=True))):
        assert NOT_TO_BUY in told
        assert "Bill of materials (provisional" in told
    assert NOT_TO_BUY not in as_html(SOUND)


def test_what_must_be_reached_is_rounded_up() -> None:
    text = read(as_html(SCHEDULE.fuses[0])).text
    # 11 432 A must be interrupted: 11.4 kA would be too little.
    assert "11.5 kA" in text.split("how it comes about")[0]
    assert "11.4 kA" not in text.split("how it comes about")[0]


@given(value=st.floats(1e-3, 1e6))
def test_rounding_in_words_is_to_the_safe_side(value: float) -> None:
    def number(words: str) -> float:
        amount, unit = words.split()
        return float(amount) * {"A": 1.0, "kA": 1e3}[unit]

    worked = made_up._of("x", value, CURRENT)
    dust = 1 + 1e-5
    assert number(least(worked).words) * dust >= value
    assert number(most(worked).words) <= value * dust


def test_what_is_not_known_is_said() -> None:
    assert least(None).words == most(None).words == "not known"
    assert most(made_up._of("x", float("inf"), CURRENT)).words == "no limit"
    assert least(made_up._of("x", float("nan"), CURRENT)).words == "not known"


def test_a_circuit_without_a_fuse_says_why() -> None:
    text = read(as_html(SCHEDULE)).text
    assert "none needed" in text
    assert "no string can be fed too much" in text


def test_a_device_names_its_family_and_whether_it_is_a_breaker() -> None:
    fuse = SCHEDULE.fuses[0]
    assert "100 AClass T, fuse" in read(as_html(fuse)).text
    breaker = attrs.evolve(fuse, family=attrs.evolve(fuse.family, kind="breaker"))
    assert "100 AClass T, breaker" in read(as_html(breaker)).text
    named = attrs.evolve(fuse, family=attrs.evolve(fuse.family, name="fuse X"))
    assert "100 Afuse X3" in read(as_html(named)).text
    assert "100 A3" in read(as_html(attrs.evolve(fuse, family=None))).text


def test_choices_of_fuses_in_words() -> None:
    words = [fuse_words(fuse) for fuse in SCHEDULE.fuses]
    assert [(w.glyph, w.word) for w in words] == [
        ("", "100 A"),
        ("?", "cannot tell yet"),
        ("✕", "none fits"),
    ]


def test_an_unknown_voltage_is_not_a_fuse_that_does_not_fit() -> None:
    unknown = attrs.evolve(SCHEDULE.fuses[2], voltage=None)
    assert fuse_words(unknown).word == "cannot tell yet"


@pytest.mark.parametrize(
    ("place", "mark"), [("string", "✓ passes"), ("main", "✕ fails"), ("charger", "? cable not")]
)
def test_a_cable_stands_as_its_worst_test(place: str, mark: str) -> None:
    cable = next(c for c in SCHEDULE.cables if c.place.startswith(place))
    assert f"{cable_tone(cable).glyph} {cable_tone(cable).word}".startswith(mark)
    assert mark in read(as_html(cable)).text
    assert mark in flat(as_text(cable))


def test_an_untested_or_open_cable_has_not_passed() -> None:
    cable = SCHEDULE.cables[0]
    assert cable_tone(attrs.evolve(cable, tests=())).glyph == "?"
    unknown = attrs.evolve(cable, tests=(SCHEDULE.cables[1].tests[1],))
    assert cable_tone(unknown).glyph == "?"
    run = attrs.evolve(cable.run, left_open=True, alternatives=(cable.run.conductor,))
    assert cable_tone(attrs.evolve(cable, run=run)).glyph == "?"


def test_a_test_says_its_value_beside_its_limit() -> None:
    carries, drop = SCHEDULE.cables[0].tests
    assert outcome_of(carries).sentence == "current for good: must carry 62 A, carries 175 A"
    assert outcome_of(drop).sentence == "voltage drop: lost 0.25 V, allowed 0.5 V"
    _, unknown, new = SCHEDULE.cables[1].tests
    assert "lets through not known, it stands 180 A" in outcome_of(unknown).sentence
    assert outcome_of(new).sentence == "a new test: it is 1 A, at least not known"
    assert outcome_of(new).glyph == "?"


def test_a_cable_that_passes_is_folded_and_one_that_fails_stands_open() -> None:
    page = as_html(SCHEDULE.cables[1])
    before_fold = page.partition("<details")[0]
    assert "must carry" in before_fold
    page = as_html(SCHEDULE.cables[0])
    assert "must carry" not in page.partition("<details")[0]


def test_the_smallest_that_would_pass_is_told_with_what_decides() -> None:
    for told in (read(as_html(SCHEDULE)).text, flat(as_text(SCHEDULE))):
        assert "25 mm² (over 4 AWG)" in told
        assert "what decides: current for good" in told
        assert "No size passes for Spare barn." in told
    thinnest = attrs.evolve(SCHEDULE.cables[0], decided_by="")
    for told in (read(as_html(thinnest)).text, flat(as_text(thinnest))):
        assert "the thinnest of its table" in told


def test_cables_inside_a_string_are_told_too() -> None:
    links = attrs.evolve(SCHEDULE.cables[0], place="links between the modules")
    more = attrs.evolve(SCHEDULE, cables=(*SCHEDULE.cables, links))
    assert "links between the modules" in read(as_html(more)).text
    record = to_json(attrs.evolve(SOUND, design=attrs.evolve(SOUND.design, protection=more)))
    assert record["protection"]["cables"][-1]["from"] is None


def test_an_assumed_resistance_is_said_beside_the_fault_level() -> None:
    page = as_html(SCHEDULE)
    assert page.count("resistance assumed") == 1
    assert "Measure it." in page
    sound = attrs.evolve(SCHEDULE, faults=SCHEDULE.faults[1:])
    assert "Measure it." not in as_html(sound)
    assert "0.4 ms" in read(page).text
    assert "the worst that is credible was taken for it" in flat(as_text(SCHEDULE, full=True))


def test_the_schedule_alone_keeps_what_failed_and_in_full_what_passed() -> None:
    full = flat(as_text(SOUND, full=True))
    assert "✕ fails current for good: must carry 180 A, carries 175 A" in full
    assert "must carry 62 A" in full
    for part in ("battery disconnect", "Precharge of Inverter", "Array Spare barn: charger Roof"):
        assert part in full
    assert "what to buy cable in all" in full
    assert "4 × cable: main 2/0 AWG, copper 8 m (26 ft)" in full
    short = flat(as_text(SCHEDULE))
    assert "✕ fails current for good: must carry 180 A, carries 175 A" in short
    assert "must carry 62 A" not in short


def test_the_schedule_is_plain_data() -> None:
    record = to_json(SOUND)["protection"]
    assert set(record) == {
        "withheld",
        "fuses",
        "faults",
        "circuits",
        "cables",
        "needs",
        "precharge",
        "solar",
        "parts",
    }
    assert record["withheld"] is False
    assert to_json(HELD)["protection"]["withheld"] is True
    cable = record["cables"][1]
    assert cable["run"]["area"] == {"value": 67.4, "unit": "mm²"}
    assert cable["run"]["length"] == {"value": 2.0, "unit": "m"}
    assert [test["passes"] for test in cable["tests"]] == [False, None, None]
    assert cable["tests"][0]["quantity"] == {"value": 180.0, "unit": "A"}
    assert record["cables"][2]["run"] is None
    assert record["cables"][0]["smallest"]["size"] == "25 mm2"
    assert record["faults"][0]["time_constant"] == {"value": 0.0004, "unit": "s"}
    assert record["faults"][0]["assumed"] is True
    assert record["needs"][0]["lines"][0]["quantity"]["unit"] == "A"
    assert record["precharge"][0]["with_it"][0]["name"] == "resistor"
    assert record["solar"][0]["cold_open"] == {"value": 131.4, "unit": "V"}
    assert record["solar"][0]["real"] is None
    assert record["parts"][1]["metres"] == {"value": 8.0, "unit": "m"}
    assert record["parts"][0]["metres"] is None
    assert record["circuits"][3]["needs_fuse"] is False


# ASTM B258, from memory: 0000 to 10 gauge have 107.2, 85.0, 67.4, 53.5, …, 5.26 mm².
@pytest.mark.parametrize(
    ("area", "gauge"),
    [(5.26, "10 AWG"), (53.48, "1/0 AWG"), (67.43, "2/0 AWG"), (85.01, "3/0 AWG")],
)
def test_a_metric_size_stands_with_a_gauge_that_is_no_thicker(area: float, gauge: str) -> None:
    assert size_words("x mm2", area + 0.05).endswith(f"(over {gauge})")
    assert not size_words("x mm2", area - 0.05).endswith(f"(over {gauge})")


def test_lengths_are_told_both_ways() -> None:
    assert length_words(1.8) == "1.8 m (5.9 ft)"
    assert length_words(40.0) == "40 m (131 ft)"
