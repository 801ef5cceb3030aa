"""What becomes of a design when what was measured scatters: verdicts and margins with chances."""

from __future__ import annotations

import attrs

from evpack.base.brief import brief
from evpack.base.finding import Rule, Severity
from evpack.base.told import INNER, told
from evpack.base.units import Kind
from evpack.describe.scatter import Scatter


@attrs.frozen(kw_only=True)
class Chance:
    """How often something came up in draws.

    Parameters
    ----------
    what : str
    times, of : int
    at_most, at_least : float
        The chance that it may really have, with 95 % confidence each, from so many draws [1].
    wished : bool
        Whether it is good that it comes up: then the bound that counts is the lower one.
    """

    what: str = attrs.field(metadata=INNER)
    times: int
    of: int
    at_most: float = attrs.field(metadata=told(unit=""))
    at_least: float = attrs.field(metadata=told(unit=""))
    wished: bool = attrs.field(default=False, metadata=INNER)

    __repr__ = brief

    @property
    def share(self) -> float:
        """Return its share of the draws [1]."""
        return self.times / self.of


@attrs.frozen(kw_only=True)
class DrawnMargin:
    """One finding over all draws.

    Parameters
    ----------
    worst : Severity
        The worst that it came to.
    held : Chance
        How often it held the design up.
    low, middle, high : float or None
        Margins that 5, 50 and 95 % of the draws lie under, in the rule's unit; None where the
        finding compares nothing.
    """

    rule: Rule = attrs.field(metadata=INNER)
    about: str
    worst: Severity
    held: Chance
    low: float | None
    middle: float | None
    high: float | None

    __repr__ = brief

    @property
    def unit(self) -> str:
        """Return the unit of the margins."""
        return self.rule.kind.unit if self.rule.kind else ""


@attrs.frozen(kw_only=True)
class DrawnNumber:
    """A number of the design over all draws: what 5, 50 and 95 % of them lie under.

    Parameters
    ----------
    stated : float or None
        Of the build as it is stated; None where it is not known.
    less, of : int
        How many draws have less than that, of those that know the number.
    """

    name: str = attrs.field(metadata=INNER)
    kind: Kind = attrs.field(metadata=told(key="unit"))
    low: float
    middle: float
    high: float
    stated: float | None
    less: int
    of: int

    __repr__ = brief


@attrs.frozen(kw_only=True, eq=False)
class Draws:
    """Every draw judged as a design of its own.

    Parameters
    ----------
    seed : int
        The same seed gives the same draws.
    stated : str
        The verdict on the build as it is stated.
    no_go : Chance
        How often the verdict is no go.
    verdicts : tuple of Chance
        Each verdict that came up.
    margins : tuple of DrawnMargin
        Findings that held some draw up or changed their weight, then the tightest of the others.
    numbers : tuple of DrawnNumber
    uneven : Chance or None
        How often a drawn string takes more of the current than the policy's guard reckons with:
        only then do findings on strings move. None where strings are not drawn apart.
    """

    title: str
    invented: bool
    count: int
    seed: int
    scatter: Scatter = attrs.field(metadata=INNER)
    stated: str
    no_go: Chance
    verdicts: tuple[Chance, ...] = attrs.field(metadata=INNER)
    margins: tuple[DrawnMargin, ...] = attrs.field(metadata=told(key="findings"))
    numbers: tuple[DrawnNumber, ...] = attrs.field(metadata=INNER)
    uneven: Chance | None

    __repr__ = brief

    def __str__(self) -> str:
        return (
            f"{self.title}: {self.no_go.times} of {self.count} draws are no go. "
            "The whole of it: print(evpack.as_text(draws))"
        )
