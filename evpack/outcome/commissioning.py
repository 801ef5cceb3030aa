"""Commissioning: what is to be proven before a pack is used, what was noted, how it compares."""

from __future__ import annotations

import datetime as dt
import hashlib
import math
import re
from collections.abc import Mapping
from enum import StrEnum
from typing import TypeAlias

import attrs

from evpack.base.brief import brief
from evpack.base.errors import DescriptionError, UnitError
from evpack.base.told import INNER, told
from evpack.base.units import Kind
from evpack.base.wording import number, say, say_down, say_up
from evpack.base.worked import Worked
from evpack.outcome.design import Decision

Written: TypeAlias = bool | float  # an answer, or a value in the unit of its step
_DATE = re.compile(r"\d{4}-\d\d-\d\d", re.ASCII)
_MOST_DIGITS, _DUST = 12, 1e-6
# What every list and every record begins with.
LEAD = (
    "Walk down the list in this order, and stop at the first thing that is not as expected. "
    "Two people, insulated tools, eyes covered, no metal worn, an extinguisher and a way out at "
    "hand; meter and leads rated for the highest DC voltage of pack and array. Where the pack or a "
    "solar array reaches 60 V or more, or local rules ask for it, a licensed person does this."
)


@attrs.frozen(kw_only=True)
class CommissioningStep:
    """One thing to do and to write down.

    Parameters
    ----------
    key : str
        Its place in the record: ``"modules.string_spread"``.
    stage : str
        The part of the work that it belongs to.
    title, todo : str
        What it is, and what a person does.
    why : str
        What it proves, or what goes wrong without it.
    if_not : str
        What to do where it is not as expected; empty: nothing but to stop and look.
    device : str
        The device that it is about; empty where it is of the pack.
    kind : Kind or None
        Of the value that is written down; None is a question whose good answer is yes.
    low, high : float or None
        Between which the value must lie, in the unit of `kind`; both alike: exactly that. A value
        that neither bounds cannot be held against anything, and so proves nothing.
    worked : Worked or None
        How a bound comes about.
    entry : str
        The text of a setting, as the settings sheet has it.
    later : bool
        It is done once the pack has been in use.
    rests_on : str
        What else it rests on: the parts that are there, as a text that nobody reads. With other
        parts it has to be done again.
    optional : bool
        It is of a device that need not be there; once one step of the device is noted, the others
        are due.
    """

    key: str
    stage: str
    title: str
    todo: str
    why: str = ""
    if_not: str = ""
    device: str = ""
    kind: Kind | None = attrs.field(default=None, metadata=INNER)
    low: float | None = None
    high: float | None = None
    worked: Worked | None = attrs.field(default=None, metadata=INNER)
    entry: str = attrs.field(default="", metadata=INNER)
    later: bool = False
    rests_on: str = attrs.field(default="", metadata=INNER)
    optional: bool = False

    __repr__ = brief

    @property
    def expected(self) -> str:
        """Return what is expected, in words, rounded to the safe side."""
        if self.kind is None:
            return self.entry or "yes"
        unit, low, high = self.kind.unit, self.low, self.high
        if low is not None and low == high:
            return self.entry or say(low, unit)
        if low and high is not None:  # of a size without a sign, 0 need not be said
            return _between(low, high, self.kind)
        if high is not None:
            return f"at most {say_down(high, unit)}"
        if low is not None:
            return f"at least {say_up(low, unit)}"
        return "not known: the design cannot say"

    @property
    def token(self) -> str:
        """Return a short mark of what is asked: an answer to another question is none to this.

        The bounds of a value are not part of it: a reading stays what was read.
        """
        unit = self.expected if self.kind is None else self.kind.unit
        told = (self.key, self.title, self.todo, unit, self.rests_on)
        return _hashed("\n".join(told))[:8]


@attrs.frozen(kw_only=True, eq=False)
class CommissioningPlan:
    """What is to be proven, in the order of safe work.

    `steps` is empty where the design may not be built: `decision.held_by` says why.
    """

    decision: Decision = attrs.field(metadata=INNER)
    steps: tuple[CommissioningStep, ...]

    __repr__ = brief

    @property
    def title(self) -> str:
        """Return what the build is called."""
        return self.decision.design.build.title

    @property
    def withheld(self) -> bool:
        """Return whether nothing may be switched on yet."""
        return not self.decision.go

    @property
    def stages(self) -> dict[str, tuple[CommissioningStep, ...]]:
        """Return the steps by their stage."""
        found: dict[str, list[CommissioningStep]] = {}
        for step in self.steps:
            found.setdefault(step.stage, []).append(step)
        return {stage: tuple(steps) for stage, steps in found.items()}

    @property
    def mark(self) -> str:
        """Return a short mark of all that is expected: it differs where that differs."""
        return _hashed("\n".join(f"{step.token}: {step.expected}" for step in self.steps))[:12]

    @property
    def asked(self) -> frozenset[str]:
        """Return the marks of all that is asked."""
        return frozenset(step.token for step in self.steps)


def _between(low: float, high: float, kind: Kind) -> str:
    """Return both bounds, each rounded inwards, with as many digits as keep them apart."""
    told = (say_up(low, kind.unit), say_down(high, kind.unit))
    try:
        apart = kind.read(told[0]).m < kind.read(told[1]).m
    except UnitError:  # of years, say: such bounds lie far apart
        apart = True
    if apart:
        return " to ".join(told)
    factor, unit = (1.0, kind.unit) if kind.unit else (100.0, "%")
    for digits in range(4, _MOST_DIGITS):
        step = 10.0 ** (math.floor(math.log10(abs(high) * factor)) + 1 - digits)
        # Binary dust is no reason to round: 72.49 / 0.01 is 7248.999999999999.
        least = math.ceil(low * factor / step - _DUST)
        most = math.floor(high * factor / step + _DUST)
        told = (number(least * step, digits), number(most * step, digits))
        if least < most and told[0] != told[1]:
            return f"{told[0]} {unit} to {told[1]} {unit}"
    return f"{low * factor!r} {unit} to {high * factor!r} {unit}"


def _hashed(told: str) -> str:
    return hashlib.sha256(told.encode("utf-8", "replace")).hexdigest()


@attrs.frozen(kw_only=True, eq=False)
class AsBuilt:
    """What a person wrote down.

    Parameters
    ----------
    name : str
        Of the file.
    by, on : str
        Who vouches for it, and when, as 2026-05-31 (no day to come); empty while nobody does.
    mark : str
        Of the plan that the record was begun for.
    asked : frozenset of str
        The marks of what that plan asked.
    values : mapping
        By the key of the step: yes or no, or a value in the unit of the step; what is not noted
        yet is not in it.
    left_over : tuple of str
        Keys that were filled in for the other plan, and that this one does not ask, or asks in
        another way.
    note : str
    """

    name: str
    by: str = ""
    on: str = ""
    mark: str = ""
    asked: frozenset[str] = frozenset()
    values: Mapping[str, Written] = attrs.field(factory=dict)
    left_over: tuple[str, ...] = ()
    note: str = ""

    __repr__ = brief

    def __attrs_post_init__(self) -> None:
        """Refuse a date that is none or still to come: what is vouched for has been done."""
        if not self.on:
            return
        if not _is_date(self.on):
            raise DescriptionError(f"on: '{self.on[:40]}' is no date; write it as '2026-05-31'")
        # Somewhere it is tomorrow already.
        last = dt.datetime.now(tz=dt.UTC).date() + dt.timedelta(days=1)
        if dt.date.fromisoformat(self.on) > last:
            raise DescriptionError(f"on: '{self.on}' is still to come; write the day it was done")


def _is_date(given: str) -> bool:
    try:
        dt.date.fromisoformat(given)
    except ValueError:
        return False
    return bool(_DATE.fullmatch(given))


class Came(StrEnum):
    """How one step came out."""

    PROVEN = "proven"
    OFF = "not as designed"
    OPEN = "not noted yet"
    UNKNOWN = "proves nothing yet"
    STALE = "asked otherwise since"


@attrs.frozen(kw_only=True)
class Proof:
    """One step with what was written down, and how it came out."""

    step: CommissioningStep
    written: Written | None
    came: Came

    __repr__ = brief


class Proven(StrEnum):
    """What a record comes to."""

    AS_DESIGNED = "built as designed"
    OFF = "not built as designed"
    NOT_YET = "not proven yet"
    NOT_ALLOWED = "not to be switched on"


@attrs.frozen(kw_only=True, eq=False)
class AsBuiltCheck:
    """A record held against its plan."""

    plan: CommissioningPlan = attrs.field(metadata=INNER)
    record: AsBuilt = attrs.field(metadata=INNER)
    proofs: tuple[Proof, ...] = attrs.field(metadata=told(key="steps"))

    __repr__ = brief

    def of(self, *came: Came) -> tuple[Proof, ...]:
        """Return the steps that came out in one of these ways."""
        return tuple(proof for proof in self.proofs if proof.came in came)

    @property
    def signed(self) -> bool:
        """Return whether somebody vouches for it, with a date."""
        return bool(self.record.by and self.record.on)

    @property
    def other_plan(self) -> bool:
        """Return whether the record was begun for another state of the design."""
        return self.record.mark != self.plan.mark

    @property
    def outcome(self) -> Proven:
        """Return what it comes to; what is done later, or is not fitted, may stay open."""
        if self.plan.withheld:
            return Proven.NOT_ALLOWED
        if self.of(Came.OFF):
            return Proven.OFF
        if not self.signed or self.due:
            return Proven.NOT_YET
        return Proven.AS_DESIGNED

    @property
    def due(self) -> tuple[Proof, ...]:
        """Return what is to be done before the pack may be used."""
        return tuple(p for p in self._unproven if not self._may_wait(p))

    @property
    def waiting(self) -> tuple[Proof, ...]:
        """Return what is to be done later, or only if its device is fitted."""
        return tuple(p for p in self._unproven if self._may_wait(p))

    @property
    def _unproven(self) -> tuple[Proof, ...]:
        return self.of(Came.OPEN, Came.UNKNOWN, Came.STALE)

    def _may_wait(self, proof: Proof) -> bool:
        """Return whether a step may stay open; a device of which anything is noted is fitted."""
        step = proof.step
        noted = {p.step.device for p in self.proofs if p.step.optional and p.written is not None}
        return step.later or (step.optional and step.device not in noted)
