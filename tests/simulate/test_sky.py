"""The sun on tilted panels: days, noons and nights by hand."""

from __future__ import annotations

import sys

import numpy as np
import pandas as pd
import pvlib
import pytest
from hypothesis import given
from hypothesis import strategies as st

from evpack.base.errors import EvpackError
from evpack.describe.operation import Sun
from evpack.simulate import sky
from evpack.simulate.sky import by_day, clear_sky, under_clouds

# Days of the year from 0: equinox, midsummer, midwinter. The sun's declination is then 0, 23.44
# and −23.44 degrees.
SPRING, SUMMER, WINTER = 79, 171, 354


def day(number: int, *place: float) -> np.ndarray:
    """Return the 144 values of a day."""
    return clear_sky(*place).reshape(365, 144)[number]


def test_position_of_the_sun() -> None:
    """Published: Reda and Andreas, Solar Position Algorithm, NREL/TP-560-34302, example (memory).

    Golden, Colorado, 17 October 2003, 12:30:30 at UTC − 7 h: zenith 50.11162, azimuth 194.34024.
    """
    found = pvlib.solarposition.spa_python(
        pd.DatetimeIndex(["2003-10-17 12:30:30-07:00"]),
        39.742476,
        -105.1786,
        altitude=1830.14,
        pressure=82000,
        temperature=11,
        delta_t=67.0,
    )
    assert found["apparent_zenith"].iloc[0] == pytest.approx(50.11162, abs=5e-4)
    assert found["azimuth"].iloc[0] == pytest.approx(194.34024, abs=5e-4)


@pytest.mark.parametrize(("number", "hours"), [(SPRING, 12.0), (SUMMER, 18.49), (WINTER, 5.51)])
def test_length_of_a_day(number: int, hours: float) -> None:
    # cos ω = −tan 60° · tan 23.44° = −0.751, ω = 138.68°: 2 · 138.68 / 15 = 18.49 h; 24 − 18.49 h
    # in winter. The air bends the light, and each step is 10 minutes.
    lit = (day(number, 60.0, 0.0, 0.0, 180.0) > 0).sum() / 6
    assert lit == pytest.approx(hours, abs=0.5)


def test_polar_night_and_the_south() -> None:
    assert day(WINTER, 75.0, 0.0, 0.0, 180.0).max() == 0.0
    assert day(WINTER, -33.0, 18.0, 0.0, 0.0).sum() > 1.5 * day(SUMMER, -33.0, 18.0, 0.0, 0.0).sum()


@pytest.mark.parametrize(("longitude", "minutes"), [(0.0, 0), (7.5, -30), (-97.0, 28), (151.2, -5)])
def test_noon_by_the_zone_of_the_place(longitude: float, minutes: int) -> None:
    # Zone by whole hours: 7.5 degrees round to 0 h (Python rounds half to even), and noon comes 30
    # minutes early; −97 to −6 h, 7 degrees west of its middle: 28 minutes late; 151.2 to 10 h.
    # The equation of time is under 3 minutes around midsummer.
    values = day(SUMMER, 40.0, longitude, 0.0, 180.0)
    middle = (np.arange(144) * 10 + 5) @ values / values.sum()
    assert middle - 720 == pytest.approx(minutes, abs=6)


def test_panels_to_the_east_and_to_the_west_mirror_each_other() -> None:
    east, west = (day(SUMMER, 46.0, 0.0, 40.0, azimuth) for azimuth in (90.0, 270.0))
    assert east[:72].sum() > 1.5 * east[72:].sum()
    assert east.sum() == pytest.approx(west.sum(), rel=0.02)


def test_a_panel_square_to_the_sun_gets_most() -> None:
    # At an equinox noon the sun stands at 90 − latitude: a panel tilted by the latitude faces it.
    best = {tilt: day(SPRING, 45.0, 0.0, tilt, 180.0).max() for tilt in (5.0, 45.0, 85.0)}
    assert best[45.0] == max(best.values())
    assert 850 < best[45.0] < 1150


PLACE = {"latitude": "46 deg", "longitude": "8 deg", "tilt": "30 deg", "azimuth": "180 deg"}
MONTHS = (31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)
CUTS = np.cumsum(MONTHS)[:-1]


def test_clear_and_dull_days_by_hand() -> None:
    """Of days alike a share c is clear: 0.95 · c + 0.15 · (1 − c) is what the month leaves.

    January 55 %: c = 0.4 / 0.8 = 0.5, so 15 clear days, one that is half of both (0.55) and 15
    dull ones. June 47 %: c = 0.4, 12 clear and 18 dull days. Months at 0, 10, 95 and 100 % have no
    such share, or no dull days, and stay as they are.
    """
    months = [0.55, 0.0, 0.1, 0.95, 1.0, 0.47, *[1.0] * 6]
    left = np.split(by_day(months, np.ones(365)), CUTS)
    assert sorted(left[0]) == pytest.approx([0.15] * 15 + [0.55] + [0.95] * 15)
    assert sorted(left[5]) == pytest.approx([0.15] * 18 + [0.95] * 12)
    for month in (1, 2, 3, 4, *range(6, 12)):
        assert (left[month] == months[month]).all()


def test_the_days_are_the_same_in_every_run_and_come_in_spells() -> None:
    # 31 days of 0.15 or 0.95 by themselves change 0.5 · 364 = 182 times a year at even shares;
    # each after the day before, they change less often.
    found = by_day([0.55] * 12, np.ones(365))
    assert np.array_equal(found, by_day([0.55] * 12, np.ones(365)))
    assert (np.diff(found > 0.5) != 0).sum() < 160


@given(
    st.lists(st.floats(0.0, 1.0), min_size=12, max_size=12),
    st.lists(st.floats(0.0, 1e4), min_size=365, max_size=365),
)
def test_days_keep_the_energy_of_each_month(months: list[float], energy: list[float]) -> None:
    clear = np.array(energy)
    left = by_day(months, clear)
    for factor, got, whole in zip(
        months, np.split(left * clear, CUTS), np.split(clear, CUTS), strict=True
    ):
        assert got.sum() == pytest.approx(factor * whole.sum(), rel=1e-9, abs=1e-6)
    assert (left >= 0).all()
    assert (left <= 1).all()


def test_a_month_without_sun_has_its_days_alike() -> None:
    clear = np.ones(365)
    clear[:31] = 0.0  # a polar night
    assert (by_day([0.5] * 12, clear)[:31] == 0.5).all()


def test_days_keep_the_energy_of_a_place() -> None:
    weather = ["30 %", *["50 %"] * 10, "28 %"]
    drawn, even = (
        under_clouds(Sun(on="roof", **PLACE, weather=weather, clouds=c)) for c in ("days", "even")
    )
    for days, alike in zip(np.split(drawn, CUTS * 144), np.split(even, CUTS * 144), strict=True):
        assert days.sum() == pytest.approx(alike.sum())
    assert drawn.max() == pytest.approx(0.95 / 0.5 * even.max(), rel=0.05)


def test_even_clouds_by_the_month() -> None:
    sun = Sun(on="roof", **PLACE, weather=["40 %"] + ["0 %"] * 10 + ["100 %"], clouds="even")
    found = under_clouds(sun).reshape(365, 144).sum(axis=1)
    clear = clear_sky(46.0, 8.0, 30.0, 180.0).reshape(365, 144).sum(axis=1)
    assert found[:31] == pytest.approx(0.4 * clear[:31])
    assert not found[31:334].any()
    assert found[334:] == pytest.approx(clear[334:])


def test_without_pvlib_the_fix_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "pvlib", None)
    sky._sky.cache_clear()
    with pytest.raises(EvpackError, match=r'pip install "evpack\[sun\]"'):
        clear_sky(46.0, 8.0, 30.0, 180.0)
