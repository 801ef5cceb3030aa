"""The middle and the spread of a few readings, of which one may be wrong.

One bad module moves a mean and a standard deviation so far that it hides itself. The median and
the median deviation from it do not move.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from evpack.base.errors import DescriptionError

Array = NDArray[np.float64]

# For normally spread readings the median deviation times this is the standard deviation.
MEDIAN_TO_SIGMA = 1.4826
# The same for the mean deviation: sqrt(pi / 2).
MEAN_TO_SIGMA = 1.2533
# Beyond this modified z-score a reading is called an outlier. Iglewicz and Hoaglin, How to detect
# and handle outliers (ASQC, 1993), from memory; so is the mean deviation where the median one is 0.
OUTLIER = 3.5


def median(values: ArrayLike) -> float:
    """Return the median of a batch of readings; at least one, all finite."""
    return float(np.median(_readings(values)))


def median_deviation(values: ArrayLike) -> float:
    r"""Return the median absolute deviation, scaled to a standard deviation.

    .. math:: s = 1.4826 \cdot \mathrm{med}_i |x_i - \mathrm{med}(x)|

    Parameters
    ----------
    values : array, shape (n,)
        Readings in any one unit, finite.

    Returns
    -------
    float
        In the unit of the readings; 0 where more than half of them are equal.

    Examples
    --------
    >>> round(median_deviation([50.0, 51.0, 49.0, 50.5, 20.0]), 4)
    1.4826
    """
    return MEDIAN_TO_SIGMA * float(np.median(_deviations(values)))


def modified_z(values: ArrayLike) -> Array:
    r"""Return how far each reading lies from the median, in spreads of the batch.

    .. math:: z_i = \frac{x_i - \mathrm{med}(x)}{1.4826 \cdot \mathrm{MAD}}

    Where more than half of the readings are equal the median deviation is 0 and says nothing.
    The mean deviation times 1.2533 then stands in for it. Where all are equal every score is 0.

    Parameters
    ----------
    values : array, shape (n,)
        Readings in any one unit, finite.

    Returns
    -------
    array, shape (n,)
        Scores [1], negative below the median.

    References
    ----------
    Iglewicz and Hoaglin, How to detect and handle outliers (ASQC, 1993), from memory.

    Examples
    --------
    >>> modified_z([50.0, 51.0, 49.0, 50.5, 20.0]).round(2).tolist()
    [0.0, 0.67, -0.67, 0.34, -20.23]
    """
    spread = median_deviation(values)
    if spread == 0.0:
        spread = MEAN_TO_SIGMA * float(np.mean(_deviations(values)))
    apart = _readings(values) - median(values)
    return apart / spread if spread > 0.0 else np.zeros_like(apart)


def outliers(values: ArrayLike, beyond: float = OUTLIER) -> tuple[int, ...]:
    """Return which readings lie beyond a modified z-score, in their order.

    Parameters
    ----------
    values : array, shape (n,)
        Readings in any one unit, finite.
    beyond : float
        The score from above which a reading counts as an outlier [1].

    Examples
    --------
    >>> outliers([50.0, 51.0, 49.0, 50.5, 20.0])
    (4,)
    """
    return tuple(int(i) for i in np.flatnonzero(np.abs(modified_z(values)) > beyond))


def _deviations(values: ArrayLike) -> Array:
    """Return how far each reading lies from the median."""
    readings = _readings(values)
    return np.asarray(np.abs(readings - np.median(readings)))


def _readings(values: ArrayLike) -> Array:
    """Refuse an empty batch and a reading that is no number: it would pass as no outlier."""
    readings = np.asarray(values, dtype=float)
    if readings.ndim != 1 or readings.size == 0:
        raise DescriptionError("need a row of at least one reading")
    unread = np.flatnonzero(~np.isfinite(readings))
    if unread.size:
        raise DescriptionError(f"reading {unread[0]} (counted from 0) is not a finite number")
    return readings
