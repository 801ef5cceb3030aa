"""The sun on tilted panels: days, noons and nights by hand."""

from __future__ import annotations

import sys

import numpy as np
import pandas as pd
import pvlib
import pytest

from evpack.base.errors import EvpackError
from evpack.describe.operation import Sun
from evpack.simulate import sky
from evpack.simulate.sky import clear_sky, under_clouds

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


def test_clouds_by_the_month() -> None:
    place = {"latitude": "46 deg", "longitude": "8 deg", "tilt": "30 deg", "azimuth": "180 deg"}
    sun = Sun(on="roof", **place, weather=["40 %"] + ["0 %"] * 10 + ["100 %"])
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
