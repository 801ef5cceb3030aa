"""The solar side: what an array gives its charger on a cold and on a hot day."""

from __future__ import annotations

import attrs

from evpack.base.brief import brief
from evpack.base.worked import Worked


@attrs.frozen(kw_only=True)
class SolarSide:
    """One array on its charger; a number that is None could not be worked out.

    Parameters
    ----------
    cold_open : Worked or None
        Open-circuit voltage on the coldest morning [V].
    hot_working : Worked or None
        Voltage at maximum power on the hottest day [V].
    short : Worked or None
        Short-circuit current of all strings [A].
    rated, real : Worked or None
        Rated power, and what comes of it on a good day [W].
    into_battery : Worked or None
        The most that the charger passes on, at the battery's least voltage [A].
    """

    array: str
    charger: str
    cold_open: Worked | None
    hot_working: Worked | None
    short: Worked | None
    rated: Worked | None
    real: Worked | None
    into_battery: Worked | None

    __repr__ = brief

    def lines(self) -> tuple[Worked, ...]:
        """Return what could be worked out."""
        every = (
            self.cold_open,
            self.hot_working,
            self.short,
            self.rated,
            self.real,
            self.into_battery,
        )
        return tuple(line for line in every if line is not None)
