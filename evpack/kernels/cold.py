"""What the cold does to cells: how little they may be charged, how much more they resist."""

from __future__ import annotations

import math

# Cell temperature from which on [°C] -> charge current in capacities an hour.
# Common practice, no source: no charge below 0 °C, then slowly more.
STEPS = ((15.0, 1.0), (5.0, 0.2), (0.0, 0.05))


# Cell temperature [°C] -> resistance against that at room temperature; linear between.
# Common practice, from memory, no source.
RESISTANCE = ((-20.0, 4.0), (0.0, 2.0), (5.0, 1.0))


def resistance_factor(temperature: float) -> float:
    """Return how many times its resistance at room temperature a cell has in the cold.

    Parameters
    ----------
    temperature : float
        Of the cells [°C].

    Returns
    -------
    float
        1 from 5 °C on; 2 at 0 °C, 4 at -20 °C, linear between. Colder still it goes on at the
        same slope, which a cell outdoes: such cells are not to be discharged at all.
    """
    (coldest, most), (freezing, doubled), (mild, once) = RESISTANCE
    if temperature >= mild:
        return once
    if temperature >= freezing:
        return doubled + (temperature - freezing) / (mild - freezing) * (once - doubled)
    return doubled + (temperature - freezing) / (coldest - freezing) * (most - doubled)


# Between these a reading counts as one at room temperature [°C]. Common practice, no source.
ROOM = (15.0, 30.0)
# Activation energy of a 10 s resistance, least and most over the lithium chemistries [eV]: at
# freezing it is 1.4 to 2.2 times that at 15 °C. From memory, no document.
_ENERGY = (0.15, 0.35)
_BOLTZMANN = 8.617333e-5  # [eV/K]; exact in the SI
_ZERO = 273.15  # °C in K


def reading_factors(temperature: float) -> tuple[float, float]:
    r"""Return how many times its resistance in a room a cell has, at least and at most.

    .. math:: k = e^{\frac{E}{k_B} (\frac{1}{T} - \frac{1}{T_0})}

    Parameters
    ----------
    temperature : float
        Of the cells when they were read [°C].

    Returns
    -------
    tuple of float
        Both 1 from 15 to 30 °C; above 1 in the cold, below 1 in the heat.

    Notes
    -----
    To bring a reading to room temperature, divide by the second for the least that it may be, and
    by the first for the most. `resistance_factor` is the middle of it, for cells in use.

    References
    ----------
    Arrhenius' law; the range of energies from memory, no document.

    Examples
    --------
    >>> tuple(round(k, 2) for k in reading_factors(0.0))
    (1.39, 2.17)
    """
    nearest = min(max(temperature, ROOM[0]), ROOM[1])
    if nearest == temperature:
        return 1.0, 1.0
    apart = 1.0 / (temperature + _ZERO) - 1.0 / (nearest + _ZERO)
    low, high = (math.exp(energy / _BOLTZMANN * apart) for energy in _ENERGY)
    return min(low, high), max(low, high)


def charge_rate_limit(temperature: float) -> float:
    """Return the most charge current at a cell temperature, in capacities an hour.

    Parameters
    ----------
    temperature : float
        Of the cells, not of the room [°C].

    Returns
    -------
    float
        0 below freezing; 1.0 where cold sets no limit of its own.
    """
    for least, rate in STEPS:
        if temperature >= least:
            return rate
    return 0.0
