"""A log of a finished pack read as physics: load steps, rests, counted charge."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from evpack.outcome.pack_log import PackLog

# A step of less than this part of the greatest current is lost in the noise; between its two
# samples lies no more than so long; and the current holds to this part of the step, before and
# after it, for as long as the step is read. Common practice, no source.
_LEAST_STEP, _LONGEST_GAP, _STEADY, _READ_AFTER = 0.1, 10.0, 0.1, 10.0
# Below this part of the greatest current a pack rests. Common practice, no source.
_REST = 0.005


class Step(NamedTuple):
    """A load step: voltage and current just before it, and ten seconds into it."""

    volts: tuple[float, float]
    amps: tuple[float, float]

    @property
    def ohms(self) -> float:
        """Resistance that the step shows [Ω]."""
        return (self.volts[0] - self.volts[1]) / (self.amps[1] - self.amps[0])


def steps(held: PackLog) -> list[Step]:
    """Return the load steps that can be read: a steady current, then another steady current."""
    seconds, amps = held.seconds, held.amps
    jump = np.abs(np.diff(amps))
    found = []
    for k in np.flatnonzero(jump > _LEAST_STEP * np.abs(amps).max()):
        end = int(np.searchsorted(seconds, seconds[k + 1] + _READ_AFTER))
        begin = int(np.searchsorted(seconds, seconds[k] - _READ_AFTER))
        if seconds[k + 1] - seconds[k] > _LONGEST_GAP or end == seconds.size:
            continue
        if seconds[end] - seconds[k + 1] > 2 * _READ_AFTER:
            continue
        around = (amps[begin : k + 1], amps[k + 1 : end + 1])
        if all(np.ptp(part) <= _STEADY * jump[k] for part in around):
            found.append(
                Step(
                    (float(held.volts[k]), float(held.volts[end])),
                    (float(amps[k]), float(amps[end])),
                )
            )
    return found


def rests(held: PackLog, least: float) -> list[int]:
    """Return the last samples of the rests that last so long [s]."""
    still = np.abs(held.amps) <= _REST * np.abs(held.amps).max()
    edges = np.diff(np.concatenate([[False], still, [False]]).astype(int))
    begins, ends = np.flatnonzero(edges == 1), np.flatnonzero(edges == -1) - 1
    pairs = zip(begins, ends, strict=True)
    return [int(e) for b, e in pairs if held.seconds[e] - held.seconds[b] >= least]


def counted(held: PackLog, one: int, other: int) -> float:
    """Return the charge taken out between two samples [Ah]."""
    part = slice(one, other + 1)
    return float(np.trapezoid(held.amps[part], held.seconds[part])) / 3600.0
