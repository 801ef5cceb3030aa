"""What happened in a fault: currents through time, what happened when, what was found."""

from __future__ import annotations

import attrs
import numpy as np
from numpy.typing import NDArray

from evpack.base.brief import brief
from evpack.base.finding import Finding
from evpack.base.worked import Worked

Array = NDArray[np.float64]


@attrs.frozen(kw_only=True, eq=False)
class FaultRun:
    """A fault stepped through time.

    Parameters
    ----------
    kind : str
        Which fault, as it was asked for.
    says : str
        What was done, in words.
    time : array, shape (r,)
        [s].
    current, soc : array, shape (r, n)
        Through the lead of each string [A], positive out of it; state of charge [1].
    load, volts : array, shape (r,)
        Current [A] and voltage [V] at the load.
    events : tuple of (float, str)
        What happened when [s].
    numbers : tuple of Worked
    """

    title: str
    invented: bool
    kind: str
    says: str
    time: Array
    current: Array
    soc: Array
    load: Array
    volts: Array
    events: tuple[tuple[float, str], ...]
    numbers: tuple[Worked, ...]
    findings: tuple[Finding, ...]
    assumed: tuple[str, ...]

    __repr__ = brief

    def __str__(self) -> str:
        return (
            f"{self.title}: {self.kind}, {len(self.findings)} findings. "
            "The whole of it: print(evpack.as_text(run))"
        )
