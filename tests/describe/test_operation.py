"""How a pack is worked: shapes, clocks, prices, suns, and what none of them can be."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from evpack.base.errors import DescriptionError, UnitError
from evpack.describe.operation import (
    SHAPES,
    Operation,
    Outage,
    PricedHours,
    Profile,
    Sun,
    Tariff,
    clock,
    daily,
    hourly,
    price,
)

LOAD = daily("home", "8 kWh")
PLACE = {"latitude": "46 deg", "longitude": "8 deg", "tilt": "30 deg", "azimuth": "180 deg"}


@given(st.sampled_from(sorted(SHAPES)), st.floats(0.1, 1000))
def test_a_shape_has_the_energy_asked_for(shape: str, kwh: float) -> None:
    load = daily(shape, f"{kwh} kWh")
    assert load.values.sum() * load.every.m / 3.6e6 == pytest.approx(kwh)
    assert load.period == 86400
    assert (load.values > 0).all()


def test_a_day_of_typed_powers() -> None:
    load = hourly("mine", ["200 W"] * 12 + ["1 kW"] * 12)
    assert load.values.sum() == pytest.approx(14400)
    assert "mine" in repr(load)


@pytest.mark.parametrize(
    ("text", "seconds"), [("00:00", 0), ("6:30", 23400), ("22:05", 79500), ("24:00", 86400)]
)
def test_clock(text: str, seconds: float) -> None:
    assert clock(text).m == seconds
    assert clock(clock(text)).m == seconds


@pytest.mark.parametrize("wrong", ["25:00", "24:01", "12:60", "noon", "", 7, None])
def test_what_is_no_time_of_day(wrong: object) -> None:
    with pytest.raises(DescriptionError, match="time of day"):
        clock(wrong)


def test_price() -> None:
    given_ = price("0.32 EUR/kWh")
    assert (given_.amount, given_.currency) == (0.32, "EUR")
    assert str(given_) == "0.32 EUR/kWh"
    assert price(given_) is given_
    assert price(".2 $ / kWh").currency == "$"


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        (0.32, "0.32 has no unit; write it as '0.32 EUR/kWh'"),
        ("0.32", "is not a price"),
        ("0,32 EUR/kWh", "is not a price"),
        ("0.32 EUR/MWh", "is not a price"),
        (True, "is not a price"),
        ("-1 EUR/kWh", "not a believable price"),
        ("1e9 EUR/kWh", "is not a price"),
        ("10000000 EUR/kWh", "not a believable price"),
    ],
)
def test_what_is_no_price(wrong: object, says: str) -> None:
    with pytest.raises(DescriptionError) as caught:
        price(wrong)
    assert says in str(caught.value)


def test_a_tariff_by_the_minute() -> None:
    tariff = Tariff(
        price="0.3 EUR/kWh",
        hours=[
            PricedHours(start="22:00", end="06:00", price="0.2 EUR/kWh"),
            PricedHours(start="17:30", end="20:00", price="0.5 EUR/kWh"),
        ],
    )
    prices = tariff.by_minute()
    # Eight hours at night, two and a half in the evening.
    assert (prices == 0.2).sum() == 480
    assert (prices == 0.5).sum() == 150
    assert prices[[0, 359, 360, 1049, 1050, 1200, 1320]].tolist() == [
        0.2,
        0.2,
        0.3,
        0.3,
        0.5,
        0.3,
        0.2,
    ]
    assert (Tariff(price="0.3 EUR/kWh").by_minute() == 0.3).all()


def test_two_prices_for_one_hour_and_two_moneys() -> None:
    night = PricedHours(start="22:00", end="06:00", price="0.2 EUR/kWh")
    early = PricedHours(start="05:00", end="07:00", price="0.1 EUR/kWh")
    with pytest.raises(DescriptionError, match="two prices hold at 05:00"):
        Tariff(price="0.3 EUR/kWh", hours=(night, early))
    with pytest.raises(DescriptionError, match="in GBP and in EUR"):
        Tariff(price="0.3 GBP/kWh", hours=night)


def test_a_sun_of_a_place() -> None:
    sun = Sun(on="roof", **PLACE, weather=["40 %"] * 11 + ["30 %"])
    assert [float(share.m) for share in sun.weather] == pytest.approx([0.4] * 11 + [0.3])
    assert len(Sun(on="roof", **PLACE).weather) == 12


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"latitude": None, "tilt": None}, "latitude, tilt missing"),
        ({"latitude": "91 deg"}, "latitude must lie between -90° and 90°"),
        ({"longitude": "181 deg"}, "longitude must lie between"),
        ({"tilt": "-1 deg"}, "tilt must lie between 0° and 90°"),
        ({"azimuth": "-90 deg"}, "azimuth must lie between 0° and 360°"),
        ({"weather": "120 %"}, "between 0 and 100 %"),
        ({"weather": ["50 %"] * 11}, "each of the 12 months, is needed, got 11"),
        ({"profile": LOAD}, "either a profile or latitude"),
    ],
)
def test_what_is_no_sun(changes: dict[str, Any], says: str) -> None:
    with pytest.raises(DescriptionError) as caught:
        Sun(on="roof", **{**PLACE, **changes})
    assert says in str(caught.value)


def test_a_sun_that_takes_is_none() -> None:
    dark = Profile(name="odd", every="1 h", values=[100.0, -1.0])
    with pytest.raises(DescriptionError, match="no power below 0 W"):
        Sun(on="roof", profile=dark)


@pytest.mark.parametrize("name", ["latitude", "rated", "weather"])
def test_bare_numbers_of_a_sun_are_refused_with_the_fix(name: str) -> None:
    with pytest.raises(UnitError, match="has no unit; write it as"):
        Sun(on="roof", **{**PLACE, name: 40})


@pytest.mark.parametrize(
    ("values", "every", "says"),
    [
        ([], "1 h", "one row of values"),
        ([[1.0], [2.0]], "1 h", "one row of values"),
        ([1.0, np.nan], "1 h", "not a finite number"),
        ([1.0], "0 s", "must hold for some time"),
    ],
)
def test_what_is_no_profile(values: Any, every: str, says: str) -> None:
    with pytest.raises(DescriptionError, match=says):
        Profile(name="mine", every=every, values=values)


def test_shapes_and_hours_that_are_none() -> None:
    with pytest.raises(DescriptionError, match=r"did you mean 'home'"):
        daily("hom", "8 kWh")
    with pytest.raises(UnitError, match="8 has no unit"):
        daily("home", 8)
    with pytest.raises(DescriptionError, match="got 23"):
        hourly("mine", ["1 W"] * 23)
    with pytest.raises(DescriptionError, match="got 0"):
        hourly("mine", "200 W")


@pytest.mark.parametrize(
    ("fields", "says"),
    [
        ({"day": 0, "at": "18:00", "lasts": "8 h"}, "between 1 and 365, got 0"),
        ({"day": 366, "at": "18:00", "lasts": "8 h"}, "between 1 and 365, got 366"),
        ({"day": 3, "at": "18:00", "lasts": "0 s"}, "lasts must be above 0 s"),
        ({"day": 3.5, "at": "18:00", "lasts": "8 h"}, "day: a int is needed"),
    ],
)
def test_what_is_no_outage(fields: dict[str, Any], says: str) -> None:
    with pytest.raises(DescriptionError, match=says):
        Outage(**fields)


def test_an_operation_of_defaults() -> None:
    operation = Operation(load=LOAD)
    assert operation.mode == "battery first"
    assert operation.steps == 525600
    assert operation.sun == operation.outages == ()
    assert operation.tariff is None
    assert Operation(load=LOAD, step="1 s", length="1 h").steps == 3600


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"mode": "battery frist"}, "did you mean 'battery first'"),
        ({"mains_charging": "always"}, "mains_charging 'always' is not known"),
        ({"mains_charging": "in the cheapest hours"}, "needs a tariff"),
        ({"mode": "island", "mains_charging": "with the utility"}, "must be 'never' on an island"),
        ({"start": "101 %"}, "start must lie between 0 and 100 %"),
        ({"step": "0.5 s"}, "between 1 s and 1 h"),
        ({"step": "2 h"}, "between 1 s and 1 h"),
        ({"step": "7 min"}, "must fill an hour"),
        ({"length": "30 s"}, "whole number of steps of 60 s"),
        ({"length": "90 s"}, "whole number of steps of 60 s"),
        ({"length": "5000 days"}, "at most 10 years"),
        ({"length": "700 days", "step": "1 s"}, "are too many; take a longer step"),
        ({"first_day": 0}, "first_day must lie between 1 and 365"),
        ({"coldest_day": 366}, "coldest_day must lie between 1 and 365"),
        ({"coldest": "20 degC", "warmest": "10 degC"}, "coldest must not lie above warmest"),
        ({"sun": [Sun(on="roof", **PLACE)] * 2}, "'roof' stands there twice"),
        ({"sun": ["roof"]}, "sun: a Sun is needed"),
        ({"outages": "none"}, "outages: an Outage is needed"),
        ({"load": Profile(name="no", every="1 h", values=[0.0])}, "0 W all the time"),
        ({"load": Profile(name="no", every="1 h", values=[-1.0])}, "below 0 W"),
        ({"load": "8 kWh"}, "load: a Profile is needed, such as daily"),
        ({"tariff": "0.3 EUR/kWh"}, "tariff: a Tariff is needed"),
    ],
)
def test_what_is_no_operation(changes: dict[str, Any], says: str) -> None:
    with pytest.raises(DescriptionError) as caught:
        Operation(**{"load": LOAD, **changes})
    assert says in str(caught.value)


def test_clouds_are_days_or_even() -> None:
    assert Sun(on="roof", **PLACE).clouds == "days"
    with pytest.raises(DescriptionError, match=r"clouds 'evn' is not known.*even"):
        Sun(on="roof", **PLACE, clouds="evn")
