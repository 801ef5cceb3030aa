"""How long the cells last: the cycles they go through, and the years that published models give."""

from __future__ import annotations

import attrs
import numpy as np
from numpy.typing import NDArray

from evpack.base.brief import brief
from evpack.base.finding import Finding
from evpack.base.told import INNER, told
from evpack.base.worked import Worked
from evpack.describe.ageing_model import AgeingModel

Array = NDArray[np.float64]


def _read_only(values: object) -> Array:
    array = np.array(values, dtype=np.float64)
    array.setflags(write=False)
    return array


@attrs.frozen(kw_only=True, eq=False)
class Cycles:
    """The cycles in a history of the state of charge, counted by rainflow.

    Parameters
    ----------
    depth, middle, number : array, shape (c,)
        Depth [1], state of charge in the middle [1], and how often: 0.5 for a half cycle.
    hours : float
        What the history spans [h].
    """

    depth: Array = attrs.field(converter=_read_only, metadata=INNER)
    middle: Array = attrs.field(converter=_read_only, metadata=INNER)
    number: Array = attrs.field(converter=_read_only, metadata=INNER)
    hours: float = attrs.field(metadata=told(unit="h"))

    __repr__ = brief

    def __str__(self) -> str:
        return (
            f"{self.full_cycles:.1f} equivalent full cycles in {self.hours:.0f} h, "
            f"{self.mean_depth * 100:.0f} % deep in the mean"
        )

    @property
    def full_cycles(self) -> float:
        """Return the equivalent full cycles: depths added up, halves counting half [1]."""
        return float(self.depth @ self.number)

    @property
    def mean_depth(self) -> float:
        """Return the mean depth, each cycle weighing as much as it moves [1]; 0 without any."""
        moved = self.depth * self.number
        return float(moved @ self.depth / moved.sum()) if moved.sum() > 0 else 0.0

    def by_depth(self, edges: tuple[float, ...] = (0.0, 0.1, 0.2, 0.4, 0.6, 0.8, 1.0)) -> Array:
        """Return how many cycles lie between each two depths [1]."""
        counted, _ = np.histogram(self.depth, bins=edges, weights=self.number)
        return counted


@attrs.frozen(kw_only=True, eq=False)
class ModelAgeing:
    """What one published model gives.

    Parameters
    ----------
    resting, cycling, first : Worked
        Loss of the first year at rest, by cycling, and both together, of today's capacity [1].
    years : Worked
        Till the end that was chosen [s]; `most` of the whole where the model does not reach it.
    losses : array, shape (y,)
        Loss at each year of the noun's `grid` [1].
    """

    model: AgeingModel = attrs.field(metadata=INNER)
    resting: Worked
    cycling: Worked
    first: Worked = attrs.field(metadata=told(key="first_year"))
    years: Worked
    losses: Array = attrs.field(converter=_read_only, metadata=told(unit=""))

    __repr__ = brief


@attrs.frozen(kw_only=True, eq=False)
class YearsRange:
    """The least and the most years that the models give, rounded down [s]."""

    least: Worked
    most: Worked

    __repr__ = brief


@attrs.frozen(kw_only=True, eq=False)
class LowerTarget:
    """What a lower charge target buys, and what it costs.

    Parameters
    ----------
    target : Worked
        The lower charge target of a cell [V].
    as_before : bool
        Whether the pack can be used as before; if not, its use is cut short where the discharge
        ends, and the years are of that.
    years : YearsRange
        With it.
    gained : Worked
        How many more years the pessimistic end has [s].
    given_up : Worked
        Reachable energy that the design with it has no longer [Wh].
    """

    target: Worked
    as_before: bool
    years: YearsRange
    gained: Worked
    given_up: Worked

    __repr__ = brief


@attrs.frozen(kw_only=True, eq=False)
class Ageing:
    """How long the cells of a design last, as a range over published models.

    Parameters
    ----------
    end : float
        Share of today's capacity at which they count as spent [1].
    cycles : Cycles or None
        Of the history; None where there was none to count.
    through : Worked or None
        Charge through the pack in a year, out of it [Ah].
    warmth : float or None
        Mean temperature of the cells [°C].
    models : tuple of ModelAgeing
        Empty where no model fits the chemistry.
    years : YearsRange or None
    lower : LowerTarget or None
    grid : array, shape (y,)
        Years of the curves.
    """

    title: str
    invented: bool
    chemistry: str
    end: float = attrs.field(metadata=told(unit=""))
    cycles: Cycles | None
    through: Worked | None
    warmth: float | None = attrs.field(metadata=told(unit="°C"))
    models: tuple[ModelAgeing, ...]
    years: YearsRange | None
    lower: LowerTarget | None = attrs.field(metadata=told(key="lower_target"))
    grid: Array = attrs.field(converter=_read_only, metadata=told(unit="years"))
    findings: tuple[Finding, ...]
    assumed: tuple[str, ...]

    __repr__ = brief

    def __str__(self) -> str:
        told = "not known" if self.years is None else f"{self.years.least} to {self.years.most}"
        return (
            f"{self.title}: {told} till {self.end * 100:.0f} % of today's capacity. "
            "The whole of it: print(evpack.as_text(ageing))"
        )

    def lines(self) -> tuple[Worked, ...]:
        """Return every explained number."""
        found = [] if self.through is None else [self.through]
        for one in self.models:
            found += [one.resting, one.cycling, one.first, one.years]
        if self.years is not None:
            found += [self.years.least, self.years.most]
        if self.lower is not None:
            lower = self.lower
            found += [lower.target, lower.years.least, lower.years.most]
            found += [lower.gained, lower.given_up]
        return tuple(found)
