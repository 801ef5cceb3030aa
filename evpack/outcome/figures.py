"""What the pack is, in figures that explain themselves."""

from __future__ import annotations

import attrs

from evpack.base.brief import brief
from evpack.base.worked import Worked


@attrs.frozen(kw_only=True)
class PackFigures:
    """The pack's own figures; None where an input is unknown.

    `reachable` are the series counts of cells that whole modules allow, from one module up.
    """

    cells_in_series: int
    modules: int
    reachable: tuple[int, ...]
    nominal: Worked
    least: Worked
    highest: Worked
    charge_target: Worked
    capacity: Worked
    label_energy: Worked
    resistance: Worked | None
    discharge_limit: Worked | None
    discharge_peak: Worked | None
    charge_limit: Worked | None

    __repr__ = brief

    def lines(self) -> tuple[Worked, ...]:
        """Return the figures that are known, in the order a person asks for them."""
        every = (
            self.nominal,
            self.least,
            self.highest,
            self.charge_target,
            self.capacity,
            self.label_energy,
            self.resistance,
            self.discharge_limit,
            self.discharge_peak,
            self.charge_limit,
        )
        return tuple(line for line in every if line is not None)
