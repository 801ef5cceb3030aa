"""What the cold does to cells: how little they may be charged, how much more they resist."""

from __future__ import annotations

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
