"""The sun on tilted panels under a clear sky, through a year, by pvlib."""

from __future__ import annotations

import functools
import warnings
from typing import Any

import numpy as np
from numpy.typing import NDArray

from evpack.base.errors import EvpackError
from evpack.describe.operation import DAY, DAYS, Sun

Array = NDArray[np.float64]

EVERY = 600.0  # times at which the sky is asked [s]
_YEAR = 2025  # of 365 days; other years differ by minutes
_MONTHS = (31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)
_DEGREES_AN_HOUR = 15.0


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
    """Return what falls on the panels, every 10 minutes of a year, the months' clouds counted.

    A month's factor holds for each of its hours alike [W/m²].
    """
    places = (sun.latitude, sun.longitude, sun.tilt, sun.azimuth)
    latitude, longitude, tilt, azimuth = (0.0 if a is None else float(a.m) for a in places)
    factor = np.repeat([float(share.m) for share in sun.weather], _MONTHS)
    clear = clear_sky(latitude, longitude, tilt, azimuth)
    found: Array = clear * np.repeat(factor, round(DAY / EVERY))
    return found
