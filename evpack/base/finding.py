"""Rules and findings: the one place where the sign of a margin and an unknown are decided.

A rule always answers, passes included: a pass with its margin is evidence and is kept.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from enum import IntEnum, StrEnum
from typing import Any

import attrs

from evpack.base.brief import brief, cut
from evpack.base.told import INNER
from evpack.base.units import Kind, Quantity, kind_of
from evpack.base.wording import say
from evpack.base.worked import Input, Worked, resting_on

# Below this share of the limit a difference is noise: 14 × 4.2 V is 58.800000000000004 V.
_NOISE = 1e-9


class Severity(IntEnum):
    """How much a finding weighs. `UNKNOWN` and `STOP` hold the design up."""

    OK = 0
    NOTE = 1
    CAUTION = 2
    UNKNOWN = 3
    STOP = 4

    def __str__(self) -> str:
        return self.name.lower()


class Standing(StrEnum):
    """What kind of rule it is, and so what it may do to a build.

    A *bound* is physics, a print, or a clause of the rule set that was picked: breaking it stops
    a build. A *guard* is a margin of our own: it cautions, and never stops nor asks. A *question*
    holds the verdict where an answer would change it. A *remark* is worth saying.
    """

    BOUND = "bound"
    GUARD = "guard"
    QUESTION = "question"
    REMARK = "remark"


# The most that a finding of each standing may weigh.
_MOST = {
    Standing.BOUND: Severity.STOP,
    Standing.GUARD: Severity.CAUTION,
    Standing.QUESTION: Severity.UNKNOWN,
    Standing.REMARK: Severity.CAUTION,
}


@attrs.frozen(kw_only=True)
class Rule:
    """A rule of the trade, said once, with where it comes from.

    `source` is a key of ``data/sources.toml``; `kind` the kind of quantity that it compares;
    `stands` what it may do to a build; `clause` where a bound stands: a clause, a print, physics.
    """

    key: str
    says: str
    source: str
    stands: Standing
    clause: str = ""
    kind: Kind | None = None

    __repr__ = brief


@attrs.frozen
class Try:
    """A change of a build that may clear a finding: in words, and as what it does to the build.

    Of those with one `group` the first that helps is told.
    """

    says: str
    change: Callable[[Any], Any]
    group: str = ""


@attrs.frozen(kw_only=True)
class Finding:
    """What a rule found of one thing. `value`, `limit` and `margin` are in the rule's unit.

    `margin` is positive when the value is inside its limit; `guarded` is the value with our own
    margin on top, where only that lies outside; `tries` are changes that the thread tries before
    it adds those that help to the remedy; `assumed` names the inputs that nobody measured
    or read off a data sheet.
    """

    rule: Rule = attrs.field(metadata=INNER)
    severity: Severity
    about: str
    detail: str
    value: float | None = None
    limit: float | None = None
    margin: float | None = None
    guarded: float | None = None
    remedy: str = ""
    assumed: tuple[str, ...] = ()
    tries: tuple[Try, ...] = attrs.field(default=(), eq=False, repr=False, metadata=INNER)

    def __attrs_post_init__(self) -> None:
        """Refuse a guard that stops a build: that is a mistake in a rule, not in a build."""
        if self.severity > _MOST[self.rule.stands]:
            raise TypeError(
                f"rule {self.rule.key} is a {self.rule.stands} and cannot be {self.severity}"
            )

    def __repr__(self) -> str:
        return f"<Finding {self.rule.key}: {self.severity}, {cut(self.about)}>"

    def __str__(self) -> str:
        return f"{self.severity}: {self.about}: {self.detail} {self.remedy}".strip()

    @property
    def unit(self) -> str:
        """Return the unit of value, limit and margin."""
        return self.rule.kind.unit if self.rule.kind else ""

    @property
    def standing(self) -> Standing:
        """Return what was broken: a bound inside which only our margin is missed is a guard."""
        if self.severity is Severity.UNKNOWN:
            return Standing.QUESTION
        if self.severity is Severity.CAUTION and self.guarded is not None:
            return Standing.GUARD
        return self.rule.stands

    @property
    def holds(self) -> bool:
        """Return whether this finding holds the design up."""
        return self.severity >= Severity.UNKNOWN


Number = Quantity | Input | Worked


def at_most(rule: Rule, value: Number | None, limit: Number | None, **how: object) -> Finding:
    """Find whether a value stays at or below a limit; see `_compare` for the keywords."""
    return _compare(rule, value, limit, +1.0, **how)  # type: ignore[arg-type]


def at_least(rule: Rule, value: Number | None, limit: Number | None, **how: object) -> Finding:
    """Find whether a value reaches a limit; see `_compare` for the keywords."""
    return _compare(rule, value, limit, -1.0, **how)  # type: ignore[arg-type]


def _plain(rule: Rule, number: Number | None) -> Quantity | None:
    """Return the quantity of a number that explains itself, or says how it is known."""
    if isinstance(number, Worked):
        return number.quantity
    if not isinstance(number, Input):
        return number
    if rule.kind is None or number.unit != rule.kind.unit:
        raise TypeError(f"rule {rule.key} compares another kind than {number}")
    return rule.kind.of(number.value)


def _compare(
    rule: Rule,
    value: Number | None,
    limit: Number | None,
    sign: float,
    *,
    about: str,
    otherwise: Severity,
    value_name: str,
    limit_name: str,
    remedy: str = "",
    ask: str = "",
    assumed: tuple[str, ...] = (),
    rests: Iterable[Input | Worked] = (),
    guarded: Quantity | None = None,
    guarded_for: str = "",
    missing: Severity | None = None,
) -> Finding:
    """Compare, and say the comparison in words.

    Parameters
    ----------
    otherwise : Severity
        What a breach weighs.
    value_name, limit_name : str
        The two things compared, in words that fit "the … of 58.8 V".
    remedy : str
        What would clear a breach.
    ask : str
        What to find out when the value or the limit is unknown; a default names it.
    rests : iterable of Input and Worked
        What value and limit were worked out of, where they do not say it themselves.
    guarded : quantity or None
        The value with our own margin on top. Where it alone lies outside, that is a caution which
        gives both figures.
    guarded_for : str
        What that margin is for, in words that fit "for …".
    missing : Severity or None
        What an unknown weighs; None: no more than a breach.
    """
    if rule.kind is None:
        raise TypeError(f"rule {rule.key} compares quantities and so needs a kind")
    themselves = (n for n in (value, limit) if isinstance(n, Input | Worked))
    resting = resting_on(*themselves, *rests)
    if resting:
        assumed = tuple(dict.fromkeys((*assumed, *resting)))
    value, limit = _plain(rule, value), _plain(rule, limit)
    known = []
    for name, quantity in ((value_name, value), (limit_name, limit)):
        if quantity is None:
            found = unknown(
                rule,
                about=about,
                detail=f"{_capital(name)} is not known.",
                remedy=ask or f"Find out {name} and put it in the build sheet.",
                assumed=assumed,
            )
            # What no answer makes more than a caution is not asked for.
            weighs = otherwise if missing is None else missing
            return attrs.evolve(found, severity=min(found.severity, weighs))
        if kind_of(quantity) is not rule.kind:
            raise TypeError(f"rule {rule.key} compares a {rule.kind.name}, got {quantity}")
        known.append(float(quantity.m))
    got, bound = known
    margin = _margin(got, bound, sign)
    inside = not math.isnan(margin) and margin >= 0
    unit = rule.kind.unit
    if inside and guarded is not None and _margin(float(guarded.m), bound, sign) < 0:
        return Finding(
            rule=rule,
            severity=Severity.CAUTION,
            about=about,
            detail=f"{_capital(value_name)}, {say(got, unit)}, is "
            f"{'within' if sign > 0 else 'at or above'} {limit_name}, {say(bound, unit)}: that is "
            f"allowed. We would reckon with {say(float(guarded.m), unit)}"
            f"{', for ' + guarded_for if guarded_for else ''}.",
            value=got,
            limit=bound,
            margin=margin,
            guarded=float(guarded.m),
            remedy=remedy,
            assumed=assumed,
        )
    word = (
        ("within" if sign > 0 else "at or above") if inside else ("above" if sign > 0 else "below")
    )
    return Finding(
        rule=rule,
        severity=Severity.OK if inside else otherwise,
        about=about,
        detail=f"{_capital(value_name)} cannot be held: there is no such value."
        if math.isnan(got)
        else f"{_capital(value_name)}, {say(got, unit)}, is {word} "
        f"{limit_name}, {say(bound, unit)}.",
        value=got,
        limit=bound,
        margin=margin,
        remedy="" if inside else remedy,
        assumed=assumed,
    )


def _margin(got: float, bound: float, sign: float) -> float:
    margin = sign * (bound - got)
    if math.isfinite(margin) and abs(margin) <= _NOISE * max(abs(bound), abs(got)):
        return 0.0
    return margin


def inside(got: float, bound: float, *, at_least: bool = False) -> bool:
    """Return whether a plain number stays at or below a bound, or reaches it, as a finding would.

    For searches, which judge many numbers; what was found is then said by `at_most` or `at_least`.
    """
    return _margin(got, bound, -1.0 if at_least else 1.0) >= 0


def unknown(
    rule: Rule, *, about: str, detail: str, remedy: str, assumed: tuple[str, ...] = ()
) -> Finding:
    """Return the finding for something nobody said: it is never OK.

    Where only a guard would be judged by it, no answer changes the outcome: that is a caution.
    """
    return Finding(
        rule=rule,
        severity=min(Severity.UNKNOWN, _MOST[rule.stands]),
        about=about,
        detail=detail,
        remedy=remedy,
        assumed=assumed,
    )


def state(
    rule: Rule,
    severity: Severity,
    *,
    about: str,
    detail: str,
    remedy: str = "",
    value: float | None = None,
    limit: float | None = None,
    assumed: tuple[str, ...] = (),
) -> Finding:
    """Return a finding that is no comparison: a thing present, absent or worth saying.

    Without a limit the margin stays empty; with one it is left to `at_most` and `at_least`.
    """
    return Finding(
        rule=rule,
        severity=severity,
        about=about,
        detail=detail,
        remedy=remedy,
        value=value,
        limit=limit,
        assumed=assumed,
    )


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
