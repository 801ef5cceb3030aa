"""What a search hands on: changes of a build, how each candidate does, and ways out."""

from __future__ import annotations

import attrs

from evpack.base.brief import brief
from evpack.base.told import INNER, told
from evpack.base.units import VOLTAGE
from evpack.describe.build import Build
from evpack.outcome.design import Verdict


@attrs.frozen(kw_only=True)
class Change:
    """One thing that is made otherwise in a build.

    Parameters
    ----------
    place : str
        Where it stands in a build sheet: ``"pack.strings"``, ``"inverter"``.
    value : object
        What it becomes: a count, a text as typed in a sheet, or a noun for a whole device.
    says : str
        In words, what is done: "4 strings in parallel instead of 3".
    """

    place: str
    value: object = attrs.field(repr=False, metadata=INNER)
    says: str

    __repr__ = brief


@attrs.frozen(kw_only=True)
class Held:
    """What holds a candidate up, told shortly.

    Parameters
    ----------
    rule, about : str
        Key of the rule, and the thing that it speaks of.
    detail, remedy : str
        What was found, and what would clear it.
    stop : bool
        A stop; else something is not known.
    """

    rule: str
    about: str
    detail: str
    remedy: str = ""
    stop: bool = True

    __repr__ = brief

    @property
    def key(self) -> tuple[str, str]:
        """Return what tells two of them apart."""
        return self.rule, self.about


@attrs.frozen(kw_only=True)
class Candidate:
    """A build of a search, as the whole design and decision found it.

    Parameters
    ----------
    name : str
        What it is, shortly.
    changes : tuple of Change
        What differs from the build that was given; empty for that itself.
    verdict : Verdict
    held_by : tuple of Held
        What holds it up; where the design stopped early, only what was found first.
    limits : int
        Limits to keep.
    usable, everyday : float or None
        Energy at the inverters' DC terminals [Wh]: reachable at all, and above the changeover.
    usable_ac, everyday_ac : float or None
        The same out of the inverters, at the typical load [Wh].
    rough : bool
        Whether the open-circuit curve is only assumed, and the energies with it.
    margin : float or None
        How near the nearest check of windows and currents that passes comes to its limit, as a
        share of it.
    margin_of : str
        Which check that is.
    modules, left_out : int
        Modules that it takes, and that stay on the heap; `left_out` is below 0 where some must be
        found.
    stranded : float or None
        Energy that the modules left out hold, by their nominal capacity and voltage [Wh]; None
        where modules are missing, or nobody said how many there are.
    stranded_worth : float or None
        Of the modules left out, where it is told what one is worth.
    price : float or None
        Of the devices that it would take, where the list tells prices.
    cost : float or None
        Of its modules, where it is told what one is worth, and of the devices that it would take;
        None where one of those prices is not known, and where no price was told at all.
    life : tuple of float or None
        Years till its cells are spent, the least and the most that published models tell; None
        where none fits the chemistry, or nobody asked.
    """

    name: str
    changes: tuple[Change, ...] = ()
    verdict: Verdict
    held_by: tuple[Held, ...] = ()
    limits: int = 0
    usable: float | None = attrs.field(default=None, metadata=told(unit="Wh"))
    everyday: float | None = attrs.field(default=None, metadata=told(unit="Wh"))
    usable_ac: float | None = attrs.field(default=None, metadata=told(unit="Wh"))
    everyday_ac: float | None = attrs.field(default=None, metadata=told(unit="Wh"))
    rough: bool = False
    margin: float | None = attrs.field(default=None, metadata=told(unit=""))
    margin_of: str = ""
    modules: int = 0
    left_out: int = 0
    stranded: float | None = attrs.field(default=None, metadata=told(unit="Wh"))
    stranded_worth: float | None = attrs.field(default=None, metadata=told(unit="¤"))
    price: float | None = attrs.field(default=None, metadata=told(unit="¤"))
    cost: float | None = attrs.field(default=None, metadata=told(unit="¤"))
    life: tuple[float, float] | None = attrs.field(default=None, metadata=INNER)

    __repr__ = brief

    @property
    def charge_target(self) -> float | None:
        """Return the charge target that it sets [V]; None where it sets none."""
        typed = (c.value for c in self.changes if c.place == "policy.charge_target")
        return next((float(VOLTAGE.read(value).m) for value in typed), None)

    @property
    def go(self) -> bool:
        """Return whether it may be built, with or without limits."""
        return self.verdict in {Verdict.WORKS, Verdict.WORKS_WITH_LIMITS}

    @property
    def stops(self) -> frozenset[tuple[str, str]]:
        """Return the stops among what holds it up."""
        return frozenset(held.key for held in self.held_by if held.stop)

    @property
    def keys(self) -> frozenset[tuple[str, str]]:
        """Return what holds it up, to be compared with what holds another up."""
        return frozenset(held.key for held in self.held_by)


@attrs.frozen(kw_only=True, eq=False)
class Ranking:
    """Candidates, best first, and the build that they come from.

    Parameters
    ----------
    asked : str
        What was searched, in a sentence.
    note : str
        What the reader must know of it.
    money : str
        In which prices are told.
    """

    title: str
    asked: str
    build: Build = attrs.field(metadata=INNER)
    candidates: tuple[Candidate, ...]
    note: str = ""
    money: str = ""

    __repr__ = brief

    @property
    def best(self) -> Candidate | None:
        """Return the best that may be built; None where none may."""
        first = self.candidates[0] if self.candidates else None
        return first if first is not None and first.go else None

    @property
    def winners(self) -> tuple[Candidate, ...]:
        """Return those that may be built."""
        return tuple(candidate for candidate in self.candidates if candidate.go)


@attrs.frozen(kw_only=True)
class Way:
    """Changes that were tried in the whole design, and what they come to.

    Parameters
    ----------
    clears : tuple of Held
        What no longer holds the design up.
    costs, costs_everyday : float or None
        Energy that it costs against the build as it is, DC [Wh]: of what is reachable at all, and
        of that above the changeover; below 0 it gains some. None where either is not known.
    costs_ac, costs_everyday_ac : float or None
        The same out of the inverters [Wh].
    to_find_out : int
        What is not known after it, and was not asked before.
    """

    candidate: Candidate
    clears: tuple[Held, ...]
    costs: float | None = attrs.field(default=None, metadata=told(unit="Wh"))
    costs_everyday: float | None = attrs.field(default=None, metadata=told(unit="Wh"))
    costs_ac: float | None = attrs.field(default=None, metadata=told(unit="Wh"))
    costs_everyday_ac: float | None = attrs.field(default=None, metadata=told(unit="Wh"))
    to_find_out: int = 0

    __repr__ = brief

    @property
    def says(self) -> str:
        """Return what is done, in words."""
        return "; ".join(change.says for change in self.candidate.changes)


@attrs.frozen(kw_only=True, eq=False)
class WaysOut:
    """What would clear what holds a design up, each way proven by the whole design.

    Parameters
    ----------
    now : Candidate
        The build as it is.
    to_go : tuple of Way
        Ways after which it may be built: the fewest changes first, and of those the smallest price
        in energy.
    one_by_one : tuple of (Held, tuple of Way)
        For each thing that holds it up, the ways that clear it and bring no new stop. Such a way
        may leave something to find out: the `held_by` of its candidate tell.
    nearest : tuple of Way
        Where no way is found after which it may be built: those that leave the fewest stops, and
        bring none that is not there now.
    tried : int
        Designs that were carried out.
    note : str
        What the reader must know of them.
    """

    build: Build = attrs.field(metadata=INNER)
    now: Candidate
    to_go: tuple[Way, ...]
    one_by_one: tuple[tuple[Held, tuple[Way, ...]], ...] = attrs.field(metadata=INNER)
    nearest: tuple[Way, ...] = ()
    tried: int
    note: str = ""

    __repr__ = brief


@attrs.frozen(kw_only=True)
class Outgrown:
    """Something that is right today and too small after growing: a fuse, a cable, a rating.

    Parameters
    ----------
    what : str
    now, then : float
        What it must be today and then, in `unit`; a rating that it must reach.
    swap : bool
        It is no part to buy bigger now: a fuse must be changed when the pack grows, since one for
        then would not guard what is there now.
    """

    what: str
    now: float
    then: float
    unit: str = attrs.field(metadata=INNER)
    swap: bool = False

    __repr__ = brief


@attrs.frozen(kw_only=True)
class Growth:
    """The pack grown in one way: how it does, and what should be bought bigger now."""

    candidate: Candidate
    outgrown: tuple[Outgrown, ...]
    new_limits: tuple[str, ...] = attrs.field(default=(), metadata=told(key="held_up"))

    __repr__ = brief


@attrs.frozen(kw_only=True, eq=False)
class Grown:
    """What stays valid when the pack grows."""

    build: Build = attrs.field(metadata=INNER)
    now: Candidate
    ways: tuple[Growth, ...]

    __repr__ = brief


@attrs.frozen(kw_only=True, eq=False)
class TradeOff:
    """Candidates of which none is better than another in everything.

    Parameters
    ----------
    front : tuple of Candidate
        Those, most usable energy first.
    others : tuple of Candidate
        Those that may be built and are beaten in everything by one of the front.
    weighed : str
        What they were held against one another by, in words.
    note : str
        What the reader must know of it.
    money : str
        In which costs are told.
    tried : int
        Designs that were carried out.
    """

    build: Build = attrs.field(metadata=INNER)
    front: tuple[Candidate, ...]
    others: tuple[Candidate, ...]
    weighed: str = ""
    note: str = ""
    money: str = ""
    tried: int = 0

    __repr__ = brief
