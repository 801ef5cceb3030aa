"""Which modules form the strings, how good that is, and what it gains over a careless order."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations, pairwise

import numpy as np

from evpack.base.finding import Finding, Rule, Severity, Standing, at_most, state, unknown
from evpack.base.units import SHARE
from evpack.base.wording import say, say_up
from evpack.describe.batch import Batch
from evpack.kernels import grouping as kernel
from evpack.outcome.matching import Grade, GradedModule, Grouping

WANTED = Rule(
    key="group.wanted",
    says="Modules are grouped for a pack that somebody named.",
    source="arithmetic",
    stands=Standing.REMARK,
)
ENOUGH = Rule(
    key="group.enough",
    says="Only modules that were accepted go into a pack; a retest comes before, not after.",
    source="common-practice",
    stands=Standing.BOUND,
    clause="counting",
)
WISHES = Rule(
    key="group.wishes",
    says="Modules that must stand apart, or together, do so.",
    source="arithmetic",
    stands=Standing.BOUND,
    clause="what you asked for",
)
CAPACITY = Rule(
    key="group.capacity",
    says="Modules in series give the charge of the weakest of them, which is driven hardest.",
    source="common-practice",
    stands=Standing.BOUND,
    clause="the limits that modules are matched by",
    kind=SHARE,
)
RESISTANCE = Rule(
    key="group.resistance",
    says="Strings in parallel share the current by their resistance.",
    source="common-practice",
    stands=Standing.BOUND,
    clause="the limits that modules are matched by",
    kind=SHARE,
)
GAIN = Rule(
    key="group.gain",
    says="A grouping is worth what it gives more than a careless one.",
    source="arithmetic",
    stands=Standing.REMARK,
)
PROVEN = Rule(
    key="group.proven",
    says="Whether a better grouping can exist is proven, or said to be open.",
    source="arithmetic",
    stands=Standing.REMARK,
)

# Spread of capacity in a string: good, accepted, refused; of resistance between strings the same,
# refused at twice what is accepted, as capacity is. Common practice, no source [1].
_CAPACITY = (0.03, 0.05, 0.10)
_RESISTANCE = (0.10, 0.20, 0.40)
# A grouping so near to the best is as good as the best: a capacity test tells no more. No source.
_NEAR = 0.01


def group(
    batch: Batch, graded: Sequence[GradedModule], *, seconds: float, proven: bool
) -> tuple[Grouping | None, tuple[Grouping, ...], tuple[Finding, ...]]:
    """Return the grouping, the careless ones to hold it against, and what was found.

    Parameters
    ----------
    seconds : float
        About how long to look for the best [s].
    proven : bool
        Whether to look on after the quick answer, and prove how far from the best it can be.
    """
    if batch.modules_in_series is None or batch.strings is None:
        return None, (), (_not_wanted(batch),)
    pool, enough = _pool(batch, graded)
    wanted = state(
        WANTED,
        Severity.OK,
        about=batch.title,
        detail=f"Wanted are {batch.strings} strings of {batch.modules_in_series} modules.",
    )
    if len(pool) < batch.modules_in_series * batch.strings:
        return None, (), (wanted, enough)
    heap = _Pool(batch, graded, pool)
    careless = tuple(
        heap.grouping(found, method)
        for found, method in (
            (heap.careless(kernel.as_they_come), "in the order of the log"),
            (heap.careless(kernel.by_capacity), "dealt out by capacity"),
        )
    )
    try:
        found = heap.best(seconds=seconds, proven=proven)
    except kernel.GroupingError as refused:
        return None, careless, (wanted, enough, _cannot(batch, refused))
    findings = [wanted, enough, _kept(batch), *_judged(found), *_gained(found, careless)]
    return found, careless, tuple(findings)


def _not_wanted(batch: Batch) -> Finding:
    return state(
        WANTED,
        Severity.NOTE,
        about=batch.title,
        detail="Nobody said how many strings of how many modules are wanted: nothing is grouped.",
        remedy="Say modules_in_series and strings.",
    )


def _pool(batch: Batch, graded: Sequence[GradedModule]) -> tuple[list[int], Finding]:
    """Return the modules to choose from: those accepted, and of the others no more than needed."""
    assert batch.modules_in_series is not None  # noqa: S101  (asked by the caller)
    assert batch.strings is not None  # noqa: S101
    need = batch.modules_in_series * batch.strings
    kept = [place for place, found in enumerate(graded) if found.module.name not in batch.leave_out]
    # What was read otherwise than most is not compared, and so cannot be grouped with the others.
    alike = {p for p in kept if graded[p].capacity_alike and graded[p].resistance_alike}
    accepted = [place for place in kept if graded[place].grade is Grade.ACCEPT]
    doubted = [place for place in kept if graded[place].grade is Grade.RETEST]
    pool = [place for place in accepted if place in alike]
    words = f"{batch.strings} strings of {batch.modules_in_series} take {need} modules"
    words += f"; {len(accepted)} are accepted"
    if len(pool) < len(accepted):
        words += f", {len(accepted) - len(pool)} of them read otherwise than most"
    if len(pool) >= need:
        return pool, state(ENOUGH, Severity.OK, about=batch.title, detail=f"{words}.")
    lent = sorted(
        (place for place in doubted if place in alike),
        key=lambda place: (len(graded[place].reasons), -_amp_hours(graded[place])),
    )[: need - len(pool)]
    if len(pool) + len(lent) < need:
        words += f", and {len(doubted)} more could be after a retest"
        again = [place for place in accepted if place not in alike] + doubted
        names = [graded[place].module.name for place in again]
        ready = len(alike.intersection([*accepted, *doubted]))
        return pool, _too_few(batch, words, len(pool), names, ready)
    taken = ", ".join(graded[place].module.name for place in lent)
    return sorted([*pool, *lent]), unknown(
        ENOUGH,
        about=batch.title,
        detail=f"{words}. Taken in to see what would come of it, and not yet fit to be built with: "
        f"{taken}.",
        remedy="Retest these, put the new readings in the log, and group again.",
    )


def _too_few(batch: Batch, words: str, pool: int, again: Sequence[str], alike: int) -> Finding:
    """Say what is missing: modules that nobody has, or readings of those that are there."""
    assert batch.modules_in_series is not None  # noqa: S101  (asked by the caller)
    assert batch.strings is not None  # noqa: S101
    short = batch.modules_in_series * batch.strings - pool - len(again)
    if short > 0:
        most = (pool + len(again)) // batch.modules_in_series
        return state(
            ENOUGH,
            Severity.STOP,
            about=batch.title,
            detail=f"{words}.",
            remedy=f"Test or find {short} more" + (f", or want {most} strings." if most else "."),
        )
    return unknown(
        ENOUGH,
        about=batch.title,
        detail=f"{words}. Only {alike} of all can be compared with one another yet.",
        remedy="Read these again, as most were read, put it in the log, and group again: "
        f"{', '.join(again)}.",
    )


def _amp_hours(found: GradedModule) -> float:
    return 0.0 if found.module.capacity is None else float(found.module.capacity.m)


class _Pool:
    """The modules to choose from, as the kernel takes them: counted from 0 as in the batch."""

    def __init__(self, batch: Batch, graded: Sequence[GradedModule], pool: list[int]) -> None:
        assert batch.modules_in_series is not None  # noqa: S101
        assert batch.strings is not None  # noqa: S101
        self.batch, self.strings, self.series = batch, batch.strings, batch.modules_in_series
        self.names = [found.module.name for found in graded]
        self.capacity = [_amp_hours(found) for found in graded]
        self.ohms = [
            0.0 if found.module.resistance is None else float(found.module.resistance.m)
            for found in graded
        ]
        self.out = [place for place in range(len(graded)) if place not in pool]
        place = {name: at for at, name in enumerate(self.names)}
        self.apart = [
            (place[one], place[other])
            for group in batch.apart
            for one, other in combinations(dict.fromkeys(group), 2)
        ]
        self.together = [
            (place[one], place[other])
            for group in batch.together
            for one, other in pairwise(dict.fromkeys(group))
        ]

    def careless(self, how: object) -> kernel.Grouping:
        """Return a grouping by a plain order, which heeds no wishes."""
        found: kernel.Grouping = how(  # type: ignore[operator]
            self.capacity, self.ohms, self.strings, self.series, out=self.out
        )
        return found

    def best(self, *, seconds: float, proven: bool) -> Grouping:
        """Return the best grouping found; a careless one that happens to be more even is taken."""
        given = (self.capacity, self.ohms, self.strings, self.series)
        wishes = {"apart": self.apart, "together": self.together, "out": self.out}
        if proven:
            found = kernel.proven(*given, **wishes, seconds=seconds)  # type: ignore[arg-type]
        else:
            found = kernel.quick(*given, **wishes)  # type: ignore[arg-type]
        method = "searched for the best, with proof" if proven else "quick search"
        if not (self.apart or self.together):
            floor = found.most_charge * (1 - kernel.TOLERANCE)
            for how in (kernel.as_they_come, kernel.by_capacity):
                other = self.careless(how)
                if other.charge >= floor and other.unevenness < found.unevenness:
                    found, method = other, f"{method}; a plain order is more even"
        return self.grouping(found, method)

    def grouping(self, found: kernel.Grouping, method: str) -> Grouping:
        """Return what the kernel found with the modules' names, and in figures of the trade."""
        capacity, ohms = np.array(self.capacity), np.array(self.ohms)
        strings = [list(modules) for modules in found.strings]
        whole = np.array([ohms[modules].sum() for modules in strings])
        limits = self.batch.chemistry.limits
        volts = float(limits.nominal.m) * self.batch.cells_in_series * self.series
        held = [capacity[modules] for modules in strings]
        return Grouping(
            strings=tuple(tuple(self.names[i] for i in modules) for modules in strings),
            spares=tuple(self.names[i] for i in found.spares),
            capacity=found.charge,
            energy=found.charge * volts,
            worst_share=float(self.strings * (1 / whole).max() / (1 / whole).sum()),
            resistance_spread=float((whole.max() - whole.min()) / whole.mean()),
            capacity_spread=tuple(float((q.max() - q.min()) / q.mean()) for q in held),
            gap=max(0.0, 1.0 - found.charge / found.charge_bound),
            method=method,
        )


def _cannot(batch: Batch, refused: kernel.GroupingError) -> Finding:
    names = [module.name for module in batch.modules]

    def told(pairs: tuple[tuple[int, int], ...]) -> str:
        return ", ".join(f"{names[one]} and {names[other]}" for one, other in pairs)

    wishes = [
        f"{what}: {told(pairs)}"
        for what, pairs in (("apart", refused.apart), ("together", refused.together))
        if pairs
    ]
    return state(
        WISHES,
        Severity.STOP,
        about=batch.title,
        detail="No grouping that keeps every wish was found. These stand against each other, "
        f"against the pack that is wanted, or against the grades: {'; '.join(wishes)}.",
        remedy="Give up one of them, or want a smaller pack.",
    )


def _kept(batch: Batch) -> Finding:
    wishes = len(batch.apart) + len(batch.together) + len(batch.leave_out)
    detail = "Every wish is kept." if wishes else "There are no wishes to keep."
    return state(WISHES, Severity.OK, about=batch.title, detail=detail)


def _judged(found: Grouping) -> list[Finding]:
    judged = [
        _within(
            CAPACITY,
            spread,
            _CAPACITY,
            about=f"string {place + 1}",
            value_name="largest minus least capacity in the string, against the mean",
            remedy="Leave out its weakest module, or want shorter or fewer strings.",
        )
        for place, spread in enumerate(found.capacity_spread)
    ]
    judged.append(
        _within(
            RESISTANCE,
            found.resistance_spread,
            _RESISTANCE,
            about="strings",
            value_name="highest minus lowest string resistance, against the mean",
            remedy=f"The busiest string carries {say(found.worst_share, '')} of an even share: "
            "size its fuse and lead for that, or want fewer strings.",
        )
    )
    return judged


def _within(
    rule: Rule,
    value: float,
    bounds: tuple[float, float, float],
    *,
    about: str,
    value_name: str,
    remedy: str,
) -> Finding:
    """Hold a spread against the three bounds, the loosest first."""
    good, accepted, refused = bounds
    for bound, otherwise, name in (
        (refused, Severity.STOP, "where it is refused"),
        (accepted, Severity.CAUTION, "what is accepted"),
        (good, Severity.NOTE, "what is good"),
    ):
        found = at_most(
            rule,
            SHARE.of(value),
            SHARE.of(bound),
            about=about,
            otherwise=otherwise,
            value_name=value_name,
            limit_name=name,
            remedy=remedy,
        )
        if found.severity is not Severity.OK:
            break
    return found


def _more(gain: float) -> str:
    return f"{say(abs(gain), 'Wh')} {'more' if gain >= 0 else 'less, for evenness,'}"


def _gained(found: Grouping, careless: tuple[Grouping, ...]) -> list[Finding]:
    gains = [
        f"{_more(found.energy - other.energy)} than {other.method}, whose busiest string would "
        f"carry {say(other.worst_share, '')} of an even share"
        for other in careless
    ]
    gap = 1.0 if found.gap is None else found.gap
    near = gap <= _NEAR
    return [
        state(
            GAIN,
            Severity.OK,
            about="strings",
            detail=f"{say(found.energy, 'Wh')}, the busiest string at {say(found.worst_share, '')} "
            f"of an even share: {'; '.join(gains)}.",
            value=found.energy,
        ),
        state(
            PROVEN,
            Severity.OK if near else Severity.NOTE,
            about="strings",
            detail=f"It is proven to lie within {say_up(gap, '')} of the best that there can be."
            if gap > 0
            else "No grouping can give more charge than this one.",
            remedy="" if near else "Give the search more time.",
        ),
    ]
