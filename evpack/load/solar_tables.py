"""What the cold does to a solar panel's voltage, from the table."""

from __future__ import annotations

import functools

from evpack.load.tables import table


@functools.cache
def cold_factors() -> tuple[tuple[float, float], ...]:
    """Return the factors on a panel's open-circuit voltage by NEC 690.7(A), warmest row first.

    Returns
    -------
    tuple of (float, float)
        The coldest air that a row covers [°C], and its factor [1].
    """
    held = table("nec_690_7a")
    rows = zip(held.numbers("air to [degC]"), held.numbers("factor [1]"), strict=True)
    return tuple(sorted(rows, reverse=True))
