"""Searches as they are shown: in text, in HTML, as data, in a picture."""

from __future__ import annotations

import json
from typing import Any

import attrs
import pytest
from reading import outside, overlaps, root
from strategies import good_build, good_inverter, with_pack

from evpack.describe.equipment import EquipmentList
from evpack.outcome.search import Candidate, Outgrown, TradeOff
from evpack.search.arrangements import search_arrangements
from evpack.search.equipment import search_equipment
from evpack.search.growth import search_growth
from evpack.search.tradeoff import search_trade_offs
from evpack.search.ways import find_ways
from evpack.show.html import as_html
from evpack.show.record_search import (
    grown_record,
    ranking_record,
    trade_off_record,
    ways_record,
)
from evpack.show.search_pictures import trade_off_svg
from evpack.show.search_words import grown_words
from evpack.show.text import as_text

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
    best, why = told.index("2 in series, 3 in parallel"), told.index("What may not")
    assert best < why
    assert "reachable" in told
    assert "above the top of its DC window" in told[why:].replace("\n", " ").replace("  ", " ")
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
        (ranking_record(RANKING), ("title", "asked", "candidates")),
        (ways_record(WAYS), ("now", "to_go", "one_by_one", "tried")),
        (grown_record(GROWN), ("now", "ways")),
        (trade_off_record(TRADE), ("front", "others")),
    ],
)
def test_records_are_json(record: dict[str, Any], keys: tuple[str, ...]) -> None:
    again = json.loads(json.dumps(record, allow_nan=False))
    assert all(key in again for key in keys)


def test_a_record_of_a_candidate_has_its_quantities() -> None:
    first = ranking_record(RANKING)["candidates"][0]
    assert first["verdict"] == "works"
    assert first["usable"]["unit"] == "Wh"
    assert first["usable"]["value"] == pytest.approx(RANKING.candidates[0].usable, rel=1e-9)
    assert first["changes"][1]["place"] == "pack.modules_in_series"


def test_the_picture_names_every_point_and_covers_none() -> None:
    svg = trade_off_svg(TRADE)
    assert not outside(svg)
    assert not overlaps(svg)
    words = "".join(root(svg).itertext())
    assert TRADE.front[0].name in words


def test_nothing_to_choose_is_said() -> None:
    bare = TradeOff(build=good_build(), front=(), others=())
    assert "Nothing may be built" in trade_off_svg(bare)
    assert "None of the arrangements" in as_html(bare)


def test_many_points_near_one_another_keep_their_names_apart() -> None:
    first = TRADE.front[0]
    many: list[Candidate] = [
        attrs.evolve(first, name=f"candidate {k}", usable=5000.0 + k, margin=0.1) for k in range(20)
    ]
    svg = trade_off_svg(attrs.evolve(TRADE, front=tuple(many)))
    assert not overlaps(svg)
    assert not outside(svg)
