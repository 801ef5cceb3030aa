"""Solar panels in the cold and in the heat."""

from __future__ import annotations

from collections.abc import Iterable

STANDARD_CELL = 25.0  # cell temperature at which panels are rated [°C] (IEC 60904-3, from memory)


def voltage_at(volts: float, slope: float, celsius: float) -> float:
    r"""Return a panel's voltage at a cell temperature.

    .. math:: V = V_{25} + s (t - 25)

    Parameters
    ----------
    volts : float
        Rated voltage, at 25 degC [V].
    slope : float
        What it gains for each kelvin, below 0 [V/K]: a coefficient of one times the voltage.
    celsius : float
        Cell temperature [°C].

    Returns
    -------
    float
        Voltage [V].
    """
    return volts + slope * (celsius - STANDARD_CELL)


def cold_factor(celsius: float, rows: Iterable[tuple[float, float]]) -> float | None:
    """Return the factor of a table of cold corrections on the open-circuit voltage.

    Parameters
    ----------
    celsius : float
        The coldest air [°C].
    rows : iterable of (float, float)
        The coldest air that a row covers [°C] and its factor [1], warmest row first. Between two
        rows the colder one holds.

    Returns
    -------
    float or None
        1 from 25 degC up. None below the last row: nothing is extrapolated.
    """
    if celsius >= STANDARD_CELL:
        return 1.0
    return next((factor for coldest, factor in rows if celsius >= coldest), None)
