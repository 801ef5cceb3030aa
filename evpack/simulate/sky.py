"""The sun on tilted panels under a clear sky, through a year, by pvlib."""

from __future__ import annotations

import functools
import warnings
from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from evpack.base.errors import EvpackError
from evpack.describe.operation import DAY, DAYS, EVENLY, Sun

Array = NDArray[np.float64]

EVERY = 600.0  # times at which the sky is asked [s]
_YEAR = 2025  # of 365 days; other years differ by minutes
_MONTHS = (31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)
_DEGREES_AN_HOUR = 15.0

# What a clear day and a dull day leave of a clear sky, and how much of a day's weather stays to the
# next. All of it common practice, no source.
CLEAR_DAY, DULL_DAY = 0.95, 0.15
_STAYS = 0.5
_SEED = 365  # the same days for every array and every run


def pvlib_or_say() -> Any:
    """Return pvlib, or refuse in words that name the fix."""
    try:
        import pvlib  # noqa: PLC0415  only where a sky is asked for
    except ImportError:
        raise EvpackError(
            "the sun of a place needs pvlib, which is not installed: "
            'pip install "evpack[sun]"; or give the sun as hours or as a file'
        ) from None
    return pvlib


def clear_sky(latitude: float, longitude: float, tilt: float, azimuth: float) -> Array:
    """Return what falls on panels under a clear sky, every 10 minutes of a year [W/m²].

    Parameters
    ----------
    latitude, longitude : float
        North and east positive [°].
    tilt, azimuth : float
        From level, and clockwise from north [°].

    Notes
    -----
    Times are those of the zone of the place, by its longitude, without summer time. Clear sky after
    Ineichen with the monthly turbidity of the place; diffuse light alike from all of the sky; 20 %
    of it back from the ground. All as pvlib has them.
    """
    return _sky(latitude, longitude, tilt, azimuth)


@functools.lru_cache(maxsize=32)
def _sky(latitude: float, longitude: float, tilt: float, azimuth: float) -> Array:
    pvlib = pvlib_or_say()
    import pandas as pd  # noqa: PLC0415  pvlib brings it

    zone = round(longitude / _DEGREES_AN_HOUR)
    # In this old way of writing zones, east is minus.
    times = pd.date_range(
        f"{_YEAR}-01-01", periods=round(DAYS * DAY / EVERY), freq="600s", tz=f"Etc/GMT{-zone:+d}"
    ) + pd.Timedelta(seconds=EVERY / 2)
    place = pvlib.location.Location(latitude, longitude, tz=times.tz)
    with warnings.catch_warnings():  # what pvlib calls of pandas is between two ways of writing
        warnings.simplefilter("ignore", DeprecationWarning)
        sun = place.get_solarposition(times)
        clear = place.get_clearsky(times, solar_position=sun)
        found = pvlib.irradiance.get_total_irradiance(
            tilt,
            azimuth,
            sun["apparent_zenith"],
            sun["azimuth"],
            clear["dni"],
            clear["ghi"],
            clear["dhi"],
        )["poa_global"].to_numpy()
    falls: Array = np.maximum(np.nan_to_num(found), 0.0)
    falls.setflags(write=False)
    return falls


def under_clouds(sun: Sun) -> Array:
    """Return what falls on the panels, every 10 minutes of a year, clouds counted [W/m²].

    What a month leaves of a clear sky holds for its energy, however its days are drawn.
    """
    places = (sun.latitude, sun.longitude, sun.tilt, sun.azimuth)
    latitude, longitude, tilt, azimuth = (0.0 if a is None else float(a.m) for a in places)
    clear = clear_sky(latitude, longitude, tilt, azimuth).reshape(round(DAYS), -1)
    months = [float(share.m) for share in sun.weather]
    left = np.repeat(months, _MONTHS) if sun.clouds == EVENLY else by_day(months, clear.sum(axis=1))
    found: Array = (clear * left[:, None]).ravel()
    return found


def is_drawn(factor: float) -> bool:
    """Return whether clear and dull days can come to what a month leaves of a clear sky."""
    return DULL_DAY < factor < CLEAR_DAY


def by_day(months: Sequence[float], clear: Array) -> Array:
    """Return what clouds leave of a clear sky on each day of a year: clear days and dull days.

    Parameters
    ----------
    months : sequence of float
        What the clouds of each month leave of the energy of a clear sky.
    clear : array, shape (365,)
        Energy of each day under a clear sky, in any unit.

    Notes
    -----
    One day a month lies between clear and dull, so that the energy of the month is kept. A month
    that no clear and dull days come to has all its days alike.
    """
    brightness = _brightness()
    left = np.repeat(np.asarray(months, dtype=float), _MONTHS)
    first = 0
    for factor, count in zip(months, _MONTHS, strict=True):
        days = np.arange(first, first + count)
        first += count
        whole = float(clear[days].sum())
        if not is_drawn(factor) or whole <= 0.0:
            continue
        # The brightest days are clear, until their energy is the clear days' share of it.
        days = days[np.argsort(-brightness[days], kind="stable")]
        wanted = (factor - DULL_DAY) / (CLEAR_DAY - DULL_DAY) * whole
        before = np.concatenate([[0.0], np.cumsum(clear[days])[:-1]])
        part = np.clip((wanted - before) / np.maximum(clear[days], 1e-12), 0.0, 1.0)
        left[days] = DULL_DAY + (CLEAR_DAY - DULL_DAY) * part
    return left


def _brightness() -> Array:
    """Return by what the days of the year are put in order: each takes after the day before."""
    drawn = np.random.default_rng(_SEED).random(round(DAYS)) - 0.5
    found = np.empty(drawn.size)
    last = 0.0
    for day, own in enumerate(drawn):
        found[day] = last = _STAYS * last + own
    return found
