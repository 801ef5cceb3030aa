"""A pack at work as it is shown: in text, in HTML, as data, in pictures."""

from __future__ import annotations

import json
import re
from typing import Any

import attrs
import numpy as np
import pytest
from reading import outside, overlaps, root
from strategies import good_build, solar_build, with_module

from evpack.describe.operation import (
    Operation,
    Outage,
    PricedHours,
    Profile,
    Sun,
    Tariff,
    daily,
)
from evpack.design import design
from evpack.outcome.operation import OperationRun, OutageRun
from evpack.show.draw.operation import (
    day_svg,
    day_words,
    hunting_svg,
    outage_svg,
    year_svg,
)
from evpack.show.html import as_html
from evpack.show.operation import hunting_words, in_money, operation_page
from evpack.show.text import as_text
from evpack.show.to_json import to_json
from evpack.simulate.operation import outage_runtimes, simulate_operation

EVIL = "<script>alert(1)</script>&\"'"
SUN = [1500.0 if 8 <= hour < 16 else 0.0 for hour in range(24)]


def an(**changes: Any) -> Operation:
    fields: dict[str, Any] = {
        "load": daily("home", "9 kWh"),
        "coldest": "20 degC",
        "warmest": "25 degC",
        "length": "3 days",
    }
    return Operation(**{**fields, **changes})


def ran(**changes: Any) -> OperationRun:
    sun = Sun(on="array", profile=Profile(name="sun", every="1 h", values=SUN))
    made = design(solar_build(title=EVIL, invented=True))
    return simulate_operation(made, an(**{"sun": sun, **changes}))


@pytest.fixture(scope="module")
def sunny() -> OperationRun:
    return ran(tariff=Tariff(price="0.3 GBP/kWh"), outages=Outage(day=2, at="18:00", lasts="1 h"))


@pytest.fixture(scope="module")
def hunting() -> OperationRun:
    return simulate_operation(
        design(good_build(title=EVIL)),
        an(
            load=daily("flat", "48 kWh"),
            start="50 %",
            changeover="51.8 V",
            return_to_battery="51.9 V",
        ),
    )


@pytest.fixture(scope="module")
def year() -> OperationRun:
    return ran(length="365 days", step="10 min", first_day=200)


@pytest.fixture(scope="module")
def alone() -> OutageRun:
    return outage_runtimes(design(solar_build(title=EVIL)), an())


def unknown() -> OperationRun:
    return simulate_operation(design(with_module(resistance=None)), an())


def test_in_text(sunny: OperationRun) -> None:
    told = as_text(sunny)
    assert sunny.outcome is not None
    assert "In operation" in told
    assert "Invented: no such pack exists" in told
    for worked in sunny.outcome.energies:
        assert str(worked) in told
    assert re.search(r"money saved\s+[\d.]+ GBP", told)
    assert "¤" not in told
    assert "outage begins: 1 time" in told
    assert "Hours by state of charge" in told
    for words in sunny.assumed:
        assert f"- {words}"[:40] in told
    assert max(map(len, told.splitlines())) <= 88


def test_a_year_is_called_one(year: OperationRun) -> None:
    assert as_text(year).startswith("A year of operation")
    assert "A year of operation" in as_html(year)


def test_in_html(sunny: OperationRun, hunting: OperationRun) -> None:
    page = as_html(sunny)
    assert "<script" not in page
    assert "<b>Invented:</b>" in page
    assert page.count("<svg") == 3, "all of it, the lowest day, the sunniest"
    assert "GBP" in page
    assert "¤" not in page
    assert "integral of its power over the run" in page
    assert as_html(hunting).count("<svg") == 4, "all, most going to and fro, lowest, hunting"
    assert "Invented" not in as_html(hunting)
    assert "To and fro" in as_html(hunting)


def test_money_has_the_name_that_the_tariff_gives_it(sunny: OperationRun) -> None:
    assert sunny.outcome is not None
    saved = sunny.outcome.saved
    assert saved is not None
    assert "GBP − " in in_money(saved, "GBP").numbers
    # Francs written F would be told like farads, in thousandths: the note alone names them.
    assert in_money(saved, "F").unit == saved.unit == "¤"
    assert in_money(saved, "") is saved


def test_what_could_not_be_run_says_so() -> None:
    run = unknown()
    for told in (as_text(run), as_html(run)):
        assert "Nothing could be run" in told
        assert "resistance of the modules is not known" in told
    assert to_json(run)["outcome"] is None
    none = outage_runtimes(design(with_module(resistance=None)), an())
    assert "Nothing could be run" in as_text(none)
    assert "not two starts" in as_html(none)


def test_as_data(sunny: OperationRun, hunting: OperationRun, alone: OutageRun) -> None:
    record = json.loads(json.dumps(to_json(sunny), allow_nan=False))
    came = sunny.outcome
    assert came is not None
    told = record["outcome"]
    assert told["energies"]["load asked"] == {
        "value": pytest.approx(came.energy("load asked").value),
        "unit": "Wh",
    }
    assert came.saved is not None
    assert told["money_saved"] == {"value": pytest.approx(came.saved.value), "unit": "GBP"}
    assert told["counts"] == dict(came.counts)
    assert told["days"]["load"]["unit"] == "Wh"
    assert len(told["days"]["load"]["values"]) == 3
    assert [event["what"] for event in told["events"]] == [e.what for e in came.events][:200]
    record = json.loads(json.dumps(to_json(hunting), allow_nan=False))
    assert record["outcome"]["money_saved"] is None
    assert record["outcome"]["hunting"]["foretold"]["unit"] == "V"
    hours = json.loads(json.dumps(to_json(alone), allow_nan=False))
    assert hours["hours"] == {"values": pytest.approx(alone.hours.tolist()), "unit": "h"}


def test_pictures_are_well_formed_and_legible(
    sunny: OperationRun, hunting: OperationRun, year: OperationRun, alone: OutageRun
) -> None:
    for picture in (
        year_svg(sunny),
        year_svg(year),
        day_svg(sunny, 1),
        day_svg(hunting, 0),
        day_svg(year, 170),
        hunting_svg(hunting),
        outage_svg(alone),
    ):
        assert root(picture).get("role") == "img"
        assert "nan" not in picture
        assert not overlaps(picture)
        assert not outside(picture)


def test_the_picture_of_a_year(year: OperationRun) -> None:
    picture = year_svg(year)
    for month in ("Aug", "Dec", "Mar"):
        assert f">{month}<" in picture
    assert "kWh a day" in picture
    assert "load 3285 kWh" in picture, "it is told to a screen reader"
    dark = simulate_operation(design(good_build()), an())
    assert "from the sun<" not in year_svg(dark)


def test_the_picture_of_a_day(sunny: OperationRun) -> None:
    picture = day_svg(sunny, 1)
    assert "pack, below 0: in" in picture
    assert "red marks" in picture, "the outage"
    assert "day 2, 2 Jan" in picture
    assert day_words(sunny, 31) == "day 32, 1 Feb"
    assert day_words(attrs.evolve(sunny, first_day=365), 1) == "day 2, 1 Jan"
    assert "no such day" in day_svg(sunny, 3)
    assert "no such day" in day_svg(unknown(), 0)


def test_the_picture_of_hunting(hunting: OperationRun, sunny: OperationRun) -> None:
    picture = hunting_svg(hunting)
    assert hunting.outcome is not None
    assert "the utility carries" in picture
    assert "changeover 51.8 V" in picture
    assert "the design foretells at least" in picture
    assert "never went back" in hunting_svg(sunny)
    assert "never went back" in hunting_svg(unknown())
    came = attrs.evolve(
        hunting.outcome, hunting=attrs.evolve(hunting.outcome.hunting, gap=None, worst_day=-1)
    )
    without = attrs.evolve(hunting, outcome=came, thresholds={})
    assert "foretells" not in hunting_svg(without)
    assert "Gap" not in hunting_words(came)
    unforetold = attrs.evolve(came.hunting, gap=1.0, foretold=None)
    assert "foretells" not in hunting_words(attrs.evolve(came, hunting=unforetold))


def test_an_island_that_hunts_has_its_picture() -> None:
    run = simulate_operation(
        design(good_build()),
        an(mode="island", load=daily("flat", "48 kWh"), start="50 %", restart="45.5 V"),
    )
    assert run.outcome is not None
    assert run.outcome.hunting.times > 0
    assert not overlaps(hunting_svg(run))


def test_a_run_without_whole_days_or_events() -> None:
    short = ran(length="2 h", start="100 %")
    assert "no whole day" in year_svg(short)
    assert "no whole day" in year_svg(unknown())
    assert "nothing to tell of" in as_text(ran(length="2 h", sun=()))


def test_how_long_it_lasts_alone(alone: OutageRun) -> None:
    told = as_text(alone)
    assert f"{alone.hours.min():.1f} h" in told
    assert "72 starts" in told
    assert "<svg" in as_html(alone)
    long = attrs.evolve(alone, starts=np.arange(1000) * 3600.0, hours=np.arange(1000.0))
    assert not outside(outage_svg(long))


def test_the_page_loads_and_runs_nothing(sunny: OperationRun, alone: OutageRun) -> None:
    page = operation_page(sunny, alone)
    assert page.startswith("<!DOCTYPE html>")
    assert "default-src 'none'" in page
    assert "<script" not in page
    assert "How long the pack lasts alone" in page
    assert "How long the pack lasts alone" not in operation_page(sunny)


def test_what_an_operation_states() -> None:
    place = {"latitude": "46 deg", "longitude": "8 deg", "tilt": "30 deg", "azimuth": "180 deg"}
    night = PricedHours(start="22:00", end="06:30", price="0.1 GBP/kWh")
    sun = Sun(on="array", **place, weather="40 %", rated="2 kW")
    operation = an(
        sun=sun,
        tariff=Tariff(price="0.3 GBP/kWh", hours=night),
        outages=Outage(day=2, at="18:00", lasts="1 h"),
        changeover="48 V",
    )
    told = as_text(operation)
    for words in (
        "battery first",
        "home, 9 kWh a day",
        "1 array",
        "as the settings sheet has it",
        "48 V",
        "0.3 GBP/kWh",
        "1 outage",
    ):
        assert words in told
    assert "none" in as_text(an())
    assert "22:00 to 06:30" in as_text(operation.tariff)
    assert "22:00 to 06:30" in as_text(night)
    assert "18:00" in as_text(operation.outages[0])
    assert "40 %" in as_text(sun)
    assert "46 °" in as_text(sun)
    months = attrs.evolve(sun, weather=["40 %"] * 11 + ["50 %"])
    assert "40 %, 50 %" in " ".join(as_text(months).split())
    shaded = Sun(on="array", profile=Profile(name="roof.csv", every="1 h", values=SUN))
    assert "roof.csv" in as_text(shaded)
    assert "24 values" in as_text(operation.load)
    assert "<table" in as_html(operation)
