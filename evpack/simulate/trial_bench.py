"""What every attempt to break the settings needs, and how a run is told."""

from __future__ import annotations

import attrs
import numpy as np
from numpy.typing import NDArray

from evpack.base.basis import Basis
from evpack.base.units import VOLTAGE
from evpack.base.worked import Input, Worked, count
from evpack.kernels.network import Strings
from evpack.kernels.runs import Followed
from evpack.outcome.cell_imbalance import imbalance
from evpack.outcome.design import Design
from evpack.outcome.trial import TrialRun

Array = NDArray[np.float64]

WARM = 25.0  # cells and air where nothing else is said [°C]
FROM = 0.2  # state of charge at which charges begin [1]
GENTLE = 0.05  # a discharge that sags little, of capacity an hour; common practice, no source
BEYOND = 1.5  # states of charge up to which a stuck charger is followed, and down to its mirror
KEPT = 400  # rows of a run that are kept
_FINE = 1.5e-4  # state of charge that a step moves: curves bend sharply near full [1]
_MOST_STEPS = 20_000


@attrs.frozen(kw_only=True, eq=False)
class Bench:
    """What every attempt needs: the design, its strings, cells in series."""

    design: Design
    strings: Strings
    cells: int

    def apart(self, *, charging: bool) -> Input:
        """Return how far the highest cell, or on discharge the lowest, lies from the mean [V]."""
        found = imbalance(self.design.build.pack, full=charging)
        return attrs.evolve(found, means="spread of the cells")

    def limit(self, *, charging: bool) -> float:
        """Return what a cell stands [V]."""
        module = self.design.build.pack.module
        return float((module.highest if charging else module.least).m)

    def told(
        self, name: str, says: str, done: Followed, *, charging: bool, volts: float | None = None
    ) -> TrialRun:
        """Return a run with its cell; `volts` stands in for the worst that was read off it [V]."""
        sign, apart = (1.0 if charging else -1.0), self.apart(charging=charging)
        seen = done.record.volts
        if volts is None:
            volts = float(sign * np.max(sign * seen, initial=-np.inf))
        return self._run(
            name,
            says,
            done,
            seen / self.cells + sign * apart.value,
            Worked(
                name=f"{'highest' if charging else 'lowest'} cell, {name}",
                kind=VOLTAGE,
                formula=f"{{V_bars}} / {{n}} {'+' if charging else '−'} {{δ}}",
                inputs=(
                    Input(
                        "V_bars", "voltage at the bars, at its worst", volts, "V", Basis.COMPUTED
                    ),
                    count("n", "cells in series", self.cells),
                    apart,
                ),
                source="arithmetic",
            ),
            charging=charging,
        )

    def told_of_module(
        self, name: str, says: str, done: Followed, mean: Array, worst: float, *, charging: bool
    ) -> TrialRun:
        """Return a run with the cell of one module, from its mean cell: of every row, at its worst.

        Parameters
        ----------
        mean : array, shape (r,)
            Mean cell of the module [V].
        worst : float
            The same at its worst [V].
        """
        sign, apart = (1.0 if charging else -1.0), self.apart(charging=charging)
        return self._run(
            name,
            says,
            done,
            mean + sign * apart.value,
            Worked(
                name=f"{'highest' if charging else 'lowest'} cell, {name}",
                kind=VOLTAGE,
                formula=f"{{V_mod}} {'+' if charging else '−'} {{δ}}",
                inputs=(
                    Input(
                        "V_mod",
                        "mean cell of the module that stands highest, in the run"
                        if charging
                        else "mean cell of the weak module, in the run",
                        worst,
                        "V",
                        Basis.COMPUTED,
                    ),
                    apart,
                ),
                source="arithmetic",
            ),
            charging=charging,
        )

    def _run(
        self,
        name: str,
        says: str,
        done: Followed,
        cell: Array,
        reached: Worked,
        *,
        charging: bool,
    ) -> TrialRun:
        """Return a run, thinned for the picture; the worst cell and the last row are kept."""
        sign, seen, record = (1.0 if charging else -1.0), done.record.volts, done.record
        even = np.linspace(0, seen.size - 1, min(KEPT, seen.size)).astype(int)
        kept = np.unique(np.append(even, np.argmax(sign * cell)))
        return TrialRun(
            name=name,
            says=says,
            time=done.time[kept],
            volts=seen[kept],
            cell=cell[kept],
            current=record.current[kept],
            soc=record.soc[kept],
            # Of every step: rows may have been thinned.
            busiest=float(np.max(-record.lowest if charging else record.highest)),
            limit=self.limit(charging=charging),
            reached=reached,
        )


def steps_of(own: Strings, amps: float, seconds: float) -> tuple[int, float]:
    """Return how many steps of how long [s]: fine, and not without end."""
    moved = amps * seconds / float(own.coulombs.sum())
    steps = min(_MOST_STEPS, max(KEPT, int(np.ceil(moved / _FINE))))
    return steps, seconds / steps
