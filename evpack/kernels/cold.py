"""How much a cell with a graphite anode may be charged in the cold."""

from __future__ import annotations

# Cell temperature from which on [°C] -> charge current in capacities an hour.
# Common practice, no source: no charge below 0 °C, then slowly more.
STEPS = ((15.0, 1.0), (5.0, 0.2), (0.0, 0.05))


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
