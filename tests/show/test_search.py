"""Searches as they are shown: in text, in HTML, as data, in a picture."""

from __future__ import annotations

import json
from typing import Any

import attrs
import pytest
from reading import SVG, outside, overlaps, root
from strategies import OXIDE, good_build, good_inverter, good_module, good_pack, with_pack

from evpack.describe.equipment import EquipmentList
from evpack.outcome.search import Candidate, Outgrown, TradeOff
from evpack.search.arrangements import search_arrangements
from evpack.search.equipment import search_equipment
from evpack.search.growth import search_growth
from evpack.search.tradeoff import search_trade_offs
from evpack.search.ways import find_ways
from evpack.show.draw.trade_off import trade_off_svg
from evpack.show.html import as_html
from evpack.show.search import beaten_words, grown_words, left, years
from evpack.show.text import as_text
from evpack.show.to_json import to_json

EVIL = "<script>alert(1)</script>&\"'"
TALL = attrs.evolve(with_pack(modules_in_series=3, strings=2), title=EVIL)
RANKING = search_arrangements(attrs.evolve(good_build(), title=EVIL), 7)
WAYS = find_ways(TALL)
GROWN = search_growth(attrs.evolve(good_build(), title=EVIL))
TRADE = search_trade_offs(attrs.evolve(good_build(), title=EVIL), 6)
PRICED = search_equipment(
    good_build(),
    EquipmentList(
        inverters=(good_inverter(name=EVIL), good_inverter(name="unread", restart=None)),
        prices={EVIL: 1250.0},
        money="EUR",
    ),
)


def test_a_ranking_in_text_tells_winners_and_why_the_others_lost() -> None:
    told = as_text(RANKING)
    best, why = told.index("2 in series, 3 in parallel"), told.index("what may not be built")
    assert best < why
    assert "reachable" in told
    assert "above the top of its DC window" in " ".join(told[why:].split())
    assert "And " in told[why:]  # of 13 losers 10 are told, and not every reason


def test_ways_in_text() -> None:
    told = as_text(WAYS)
    assert "1. 2 modules in series instead of 3" in told
    assert "works with limits" in told or "works," in told
    assert "Nothing holds it up." in as_text(find_ways(good_build()))


def test_growth_in_text_rounds_up_and_says_what_to_buy() -> None:
    told = as_text(GROWN).replace("\n", " ")
    assert "twice the strings" in told
    assert "buy for then" in told
    assert grown_words(Outgrown(what="x", now=15_964.4, then=31_928.8, unit="A")) == (
        "16 kA now, 32 kA then: buy for then"
    )
    swapped = Outgrown(what="x", now=80.0, then=125.0, unit="A", swap=True)
    assert grown_words(swapped) == "80 A now, 125 A then: changed when it grows"


def test_prices_are_told_where_there_are_any() -> None:
    assert "1,250 EUR" in as_text(PRICED)
    assert "1,250 EUR" in as_html(PRICED)
    assert "EUR" not in as_html(RANKING)


@pytest.mark.parametrize("found", [RANKING, WAYS, GROWN, TRADE, PRICED])
def test_no_title_and_no_name_is_markup(found: object) -> None:
    assert EVIL not in as_html(found)
    assert "<script>" not in as_html(found)


@pytest.mark.parametrize(
    ("record", "keys"),
    [
        (to_json(RANKING), ("title", "asked", "candidates")),
        (to_json(WAYS), ("now", "to_go", "one_by_one", "tried")),
        (to_json(GROWN), ("now", "ways")),
        (to_json(TRADE), ("front", "others")),
    ],
)
def test_records_are_json(record: dict[str, Any], keys: tuple[str, ...]) -> None:
    again = json.loads(json.dumps(record, allow_nan=False))
    assert all(key in again for key in keys)


def test_a_record_of_a_candidate_has_its_quantities() -> None:
    first = to_json(RANKING)["candidates"][0]
    assert first["verdict"] == "works"
    assert first["usable"]["unit"] == "Wh"
    assert first["usable"]["value"] == pytest.approx(RANKING.candidates[0].usable, rel=1e-9)
    assert first["changes"][1]["place"] == "pack.modules_in_series"


def words_of(svg: str) -> str:
    words = " ".join("".join(element.itertext()) for element in root(svg).iter(f"{SVG}text"))
    return words.replace("\N{NO-BREAK SPACE}", " ")


def circles(svg: str) -> list[tuple[str | None, str | None]]:
    return [(c.get("cx"), c.get("cy")) for c in root(svg).iter(f"{SVG}circle")]


def priced_trade_off() -> TradeOff:
    """Return a trade-off with years and money, of two inverters and all arrangements of six."""
    module = good_module(chemistry=attrs.evolve(OXIDE, key="nmc"))
    listed = EquipmentList(
        inverters=(good_inverter(name=EVIL, efficiency="96 %"),), prices={EVIL: 300.0}, money="EUR"
    )
    return search_trade_offs(
        good_build(pack=good_pack(module=module)), 6, module_price="40 EUR", equipment=listed
    )


YEARS = priced_trade_off()


def without(found: TradeOff, **gone: None) -> TradeOff:
    front, others = (
        tuple(attrs.evolve(c, **gone) for c in candidates)
        for candidates in (found.front, found.others)
    )
    return attrs.evolve(found, front=front, others=others)


@pytest.mark.parametrize(
    ("found", "axis"),
    [
        (YEARS, "years of life, the least that models tell"),
        (without(YEARS, life=None), "cost, EUR"),
        (without(YEARS, life=None, cost=None), "charge target, V a cell"),
        (TRADE, "charge target, V a cell"),
    ],
)
def test_the_picture_tells_what_energy_is_given_up_for(found: TradeOff, axis: str) -> None:
    svg = trade_off_svg(found)
    assert axis in words_of(svg)
    assert not outside(svg)
    assert not overlaps(svg)
    # Never a row of dots: they differ both ways.
    assert len({x for x, _ in circles(svg)}) > 1
    assert len({y for _, y in circles(svg)}) > 1
    assert len(circles(svg)) == len(found.front) + len(found.others)


def test_curves_are_named_at_their_end_and_charge_targets_above() -> None:
    words = words_of(trade_off_svg(YEARS))
    assert "2 × 3, 240 EUR" in words
    assert "2 × 2, 160 EUR" in words
    assert all(f"{4.05 - 0.02 * k:.2f} V" in words for k in range(8))
    assert "4.05 V a cell" not in words
    by_cost = words_of(trade_off_svg(without(YEARS, life=None)))
    assert "2 × 3" in by_cost
    assert "4.05 V a cell" in by_cost
    assert "<script>" not in trade_off_svg(YEARS)


def test_the_picture_is_told_to_who_cannot_see_it() -> None:
    best = YEARS.front[0]
    assert best.life is not None
    told = root(trade_off_svg(YEARS)).find(f"{SVG}desc")
    assert told is not None
    assert f"{best.life[0]:.1f} to {best.life[1]:.1f} years" in (told.text or "")
    assert "240 EUR" in (told.text or "")


def test_one_point_alone_and_points_alike_are_drawn_too() -> None:
    first = TRADE.front[0]
    for front in ((first,), (first, attrs.evolve(first, name="the same again"))):
        svg = trade_off_svg(attrs.evolve(TRADE, front=front, others=()))
        assert len(circles(svg)) == len(front)
        assert not outside(svg)
    bare = attrs.evolve(first, changes=(), margin=None)
    others = (attrs.evolve(bare, modules=9, usable=9000.0),)
    svg = trade_off_svg(attrs.evolve(TRADE, front=(bare, *others), others=()))
    assert "modules" in words_of(svg)


def test_a_trade_off_in_text_and_html_is_numbered_and_tells_years_and_money() -> None:
    told, page = as_text(YEARS), as_html(YEARS)
    assert "1. " in told
    assert "cost 540 EUR" in told.replace("\n      ", " ")
    assert "years of life" in page
    assert "540 EUR" in page
    assert "An order of size." in page
    assert "may be built too" in as_text(YEARS).replace("\n", " ") or not YEARS.others
    last = f"{len(YEARS.front)}. "
    assert last in told
    assert "years" not in as_text(attrs.evolve(TRADE, note=""))


def test_years_beyond_what_is_told_say_so() -> None:
    first = YEARS.front[0]
    assert years(attrs.evolve(first, life=(12.3, 40.0))) == "12.3 to 40.0 or more"
    assert years(attrs.evolve(first, life=None)) == "–"


def test_what_stays_on_the_heap_is_told_with_what_it_holds() -> None:
    first = YEARS.front[0]
    heap = attrs.evolve(first, left_out=2, stranded=3066.0, stranded_worth=80.0)
    assert left(heap, "EUR") == "2 (3.07 kWh, 80 EUR)"
    assert left(attrs.evolve(heap, stranded_worth=None)) == "2 (3.07 kWh)"
    assert left(attrs.evolve(heap, left_out=-2, stranded=None)) == "2 too few"
    assert left(attrs.evolve(heap, left_out=0, stranded=0.0)) == "0"
    worth = search_arrangements(good_build(), 7, module_price="40 EUR")
    assert "1 (1.53 kWh, 40 EUR)" in as_html(worth).replace("\N{NO-BREAK SPACE}", " ")
    assert "1 (1.53 kWh, 40 EUR)" in as_text(worth).replace("\n    ", " ")


def test_years_and_money_are_in_the_record() -> None:
    record = to_json(YEARS)
    first = record["front"][0]
    assert first["life"]["unit"] == "years"
    assert first["life"]["least"] == pytest.approx(YEARS.front[0].life[0])
    assert first["cost"] == {"value": 540.0, "unit": "EUR"}
    assert record["money"] == "EUR"
    assert to_json(TRADE)["front"][0]["life"] is None


def test_how_many_others_there_are_is_said() -> None:
    one = attrs.evolve(TRADE, others=TRADE.front[:1])
    assert "1 other may be built too" in beaten_words(one)
    assert "No other may be built." in beaten_words(attrs.evolve(TRADE, others=()))


def test_classes_that_were_tried_are_said() -> None:
    noted = attrs.evolve(WAYS, note="Classes were tried.")
    assert "Classes were tried." in as_text(noted)
    assert "Classes were tried." in as_html(noted)


def test_the_picture_names_every_point_and_covers_none() -> None:
    svg = trade_off_svg(TRADE)
    assert not outside(svg)
    assert not overlaps(svg)
    words = "".join(root(svg).itertext())
    assert all(candidate.name in words for candidate in TRADE.front)


def test_nothing_to_choose_is_said() -> None:
    bare = TradeOff(build=good_build(), front=(), others=())
    assert "Nothing may be built" in trade_off_svg(bare)
    assert "none of the arrangements" in as_html(bare)
    assert "None of the 0 designs" in as_text(bare)


def test_many_points_near_one_another_keep_their_names_apart() -> None:
    first = TRADE.front[0]
    many: list[Candidate] = [
        attrs.evolve(
            first, name=f"candidate {k}", changes=(), usable=5000.0 + k, margin=0.1 + k / 1000
        )
        for k in range(40)
    ]
    svg = trade_off_svg(attrs.evolve(TRADE, front=tuple(many)))
    assert "more: see the table" in words_of(svg)
    page = as_html(attrs.evolve(TRADE, front=tuple(many * 2)))
    assert "And 20 more." in page
    assert not overlaps(svg)
    assert not outside(svg)
