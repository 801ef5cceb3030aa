"""The whole design with its solar side and its usable window, and the decision on it."""

from __future__ import annotations

import functools
from collections.abc import Callable, Mapping
from enum import StrEnum

import attrs
import numpy as np
from numpy.typing import NDArray

from evpack.base.brief import brief, cut
from evpack.base.finding import Finding, Severity
from evpack.base.told import INNER, told
from evpack.base.worked import Worked
from evpack.describe.build import Build
from evpack.kernels.reach import Ends, Reach, reach
from evpack.outcome.groundwork import PackFigures, Sharing
from evpack.outcome.protection import ProtectionSchedule
from evpack.outcome.settings import SettingsSheet

_WHOLE = "The whole of it: print(evpack.as_text({}))"


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


@attrs.frozen(kw_only=True, eq=False)
class Kindred:
    """Other curves that cells of the same name may have, and the settings to hold against them.

    Parameters
    ----------
    emf : tuple of array, shape (n,)
        Open-circuit voltage of the pack by each of them [V], on the states of the window.
    ohms : array, shape (n,)
        Resistance up to the inverter over hours [Ω].
    capacity : float
        Of all strings together [Ah].
    """

    emf: tuple[NDArray[np.float64], ...]
    ohms: NDArray[np.float64]
    capacity: float
    ends: Ends

    __repr__ = brief


@attrs.frozen(kw_only=True, eq=False)
class UsableWindow:
    """The reachable part of the pack, between the charge setting and the cut-off under load.

    Energies are at the inverter's DC terminals, under the continuous load; those that end in
    ``_ac`` come out of the inverter, at the typical load.

    Parameters
    ----------
    soc_top : float
        State of charge after a charge that ended at the absorption end current.
    soc_bottom : float
        Where the voltage under the continuous load meets the cut-off, or the pack collapses.
    soc_changeover : float or None
        Where the voltage under the typical load meets the changeover.
    soc_float : float or None
        Where a float that cannot be turned off holds the pack, if that lies below the top.
    float_by : str
        The charger that does so.
    bottom_by : str
        What ends the discharge: "cut-off", "inverter window", "weak pack" or "empty".
    everyday, reserve : Worked or None
        Energy above and below the changeover.
    from_float : Worked or None
        Energy from the float down to the changeover, or to the end where there is none.
    load, load_ac : float
        The continuous load at the DC terminals, and the typical load on the AC side [W].
    soc, rest, loaded : array, shape (n,)
        For the picture: pack voltage at rest and at the inverter under the continuous load [V];
        `loaded` is NaN where the pack cannot carry it.
    kindred : Kindred or None
        What else the curve may be, where it is only assumed.
    """

    soc_top: float = attrs.field(metadata=told(unit=""))
    soc_bottom: float = attrs.field(metadata=told(unit=""))
    soc_changeover: float | None = attrs.field(metadata=told(unit=""))
    soc_float: float | None = attrs.field(default=None, metadata=told(unit=""))
    float_by: str = ""
    bottom_by: str
    total: Worked
    reachable: Worked
    share: Worked
    everyday: Worked | None
    reserve: Worked | None
    from_float: Worked | None = None
    reachable_ac: Worked
    everyday_ac: Worked | None = None
    reserve_ac: Worked | None = None
    from_float_ac: Worked | None = None
    stranded_above: Worked
    stranded_below: Worked
    lost_inside: Worked
    load: float = attrs.field(metadata=told(unit="W"))
    load_ac: float = attrs.field(metadata=told(unit="W"))
    soc: NDArray[np.float64] = attrs.field(metadata=INNER)
    rest: NDArray[np.float64] = attrs.field(metadata=INNER)
    loaded: NDArray[np.float64] = attrs.field(metadata=INNER)
    kindred: Kindred | None = attrs.field(default=None, metadata=INNER)

    __repr__ = brief

    @functools.cached_property
    def bands(self) -> Mapping[str, tuple[float, float]]:
        """Return the least and the most of each energy [Wh], by its field.

        Over this curve and the others that cells of the same name may have, at the same settings.
        Empty where the curve was measured. Worked out when it is asked for: a search does not.
        """
        if self.kindred is None:
            return {}
        others = [
            reach(
                self.soc,
                emf,
                self.kindred.ohms,
                capacity=self.kindred.capacity,
                ends=self.kindred.ends,
            )
            for emf in self.kindred.emf
        ]
        found = {}
        for name, of in _PARTS.items():
            mine: Worked | None = getattr(self, name)
            if mine is not None:
                values = [mine.value, *(of(other) or 0.0 for other in others)]
                found[name] = (min(values), max(values))
                if (out := getattr(self, f"{name}_ac", None)) is not None:
                    share = out.value / mine.value if mine.value else 1.0
                    found[f"{name}_ac"] = (share * min(values), share * max(values))
        return found

    @functools.cached_property
    def told(self) -> UsableWindow:
        """Return the same for people: each energy with its band, where the curve is assumed."""
        return attrs.evolve(
            self,
            **{
                name: attrs.evolve(getattr(self, name), between=band)
                for name, band in self.bands.items()
            },
        )


# What of a `Reach` is told under which name.
_PARTS: Mapping[str, Callable[[Reach], float | None]] = {
    "total": lambda r: r.total,
    "reachable": lambda r: r.reachable,
    "share": lambda r: r.reachable / r.total,
    "everyday": lambda r: r.everyday,
    "reserve": lambda r: r.reserve,
    "from_float": lambda r: r.from_float,
    "stranded_above": lambda r: r.above,
    "stranded_below": lambda r: r.below,
    "lost_inside": lambda r: r.lost,
}


@attrs.frozen(kw_only=True, eq=False)
class Design:
    """One build, carried through every step; a part is None where it could not be worked out."""

    build: Build
    figures: PackFigures | None
    settings: SettingsSheet | None
    usable: UsableWindow | None
    sharing: Sharing | None
    protection: ProtectionSchedule | None
    solar: tuple[SolarSide, ...] = ()
    findings: tuple[Finding, ...]

    __repr__ = brief

    def __str__(self) -> str:
        return f"{self.build.title}: {len(self.findings)} findings. {_WHOLE.format('design')}"

    def of(self, severity: Severity) -> tuple[Finding, ...]:
        """Return the findings of one severity."""
        return tuple(f for f in self.findings if f.severity is severity)

    def found_from(self, least: Severity) -> set[tuple[str, str]]:
        """Return what was found as bad as this, or worse: the keys of rules, and about what."""
        return {(f.rule.key, f.about) for f in self.findings if f.severity >= least}


class Verdict(StrEnum):
    """The four answers."""

    WORKS = "works"
    WORKS_WITH_LIMITS = "works with limits"
    DOES_NOT_WORK = "does not work"
    CANNOT_TELL_YET = "cannot tell yet"


@attrs.frozen(kw_only=True, eq=False)
class Decision:
    """The verdict on a design.

    `held_by` are the findings that hold it up, each with what would clear it; `limits` those
    that it works under.
    """

    verdict: Verdict
    design: Design
    held_by: tuple[Finding, ...]
    limits: tuple[Finding, ...]

    def __repr__(self) -> str:
        held, limits = len(self.held_by), len(self.limits)
        title = cut(self.design.build.title)
        return f"<Decision {title!r}: {self.verdict}, held by {held}, limits {limits}>"

    def __str__(self) -> str:
        found = (str(finding) for finding in self.held_by + self.limits)
        title = self.design.build.title
        return "\n".join((f"{title}: {self.verdict}", *found, _WHOLE.format("decision")))

    @property
    def go(self) -> bool:
        """Return whether the pack may be built, with or without limits."""
        return self.verdict in {Verdict.WORKS, Verdict.WORKS_WITH_LIMITS}
