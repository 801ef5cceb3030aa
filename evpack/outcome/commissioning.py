"""Commissioning: what is to be proven before a pack is used, what was noted, how it compares."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from enum import StrEnum
from typing import TypeAlias

import attrs

from evpack.base.brief import brief
from evpack.base.units import Kind
from evpack.base.wording import say, say_down, say_up
from evpack.base.worked import Worked
from evpack.outcome.design import Decision

Written: TypeAlias = bool | float  # an answer, or a value in the unit of its step


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
    optional : bool
        It is of a device that need not be there.
    """

    key: str
    stage: str
    title: str
    todo: str
    why: str = ""
    kind: Kind | None = None
    low: float | None = None
    high: float | None = None
    worked: Worked | None = None
    entry: str = ""
    later: bool = False
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
        if low is not None and high is not None:
            return f"{say_up(low, unit)} to {say_down(high, unit)}"
        if high is not None:
            return f"at most {say_down(high, unit)}"
        if low is not None:
            return f"at least {say_up(low, unit)}"
        return "not known: the design cannot say"


@attrs.frozen(kw_only=True, eq=False)
class CommissioningPlan:
    """What is to be proven, in the order of safe work.

    `steps` is empty where the design may not be built: `decision.held_by` says why.
    """

    decision: Decision
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
        told = "\n".join(f"{step.key}: {step.expected}" for step in self.steps)
        return hashlib.sha256(told.encode()).hexdigest()[:12]


@attrs.frozen(kw_only=True, eq=False)
class AsBuilt:
    """What a person wrote down.

    Parameters
    ----------
    name : str
        Of the file.
    by, on : str
        Who vouches for it, and when; empty while nobody does.
    mark : str
        Of the plan that the record was begun for.
    values : mapping
        By the key of the step: yes or no, or a value in the unit of the step; what is not noted
        yet is not in it.
    note : str
    """

    name: str
    by: str = ""
    on: str = ""
    mark: str = ""
    values: Mapping[str, Written] = attrs.field(factory=dict)
    note: str = ""

    __repr__ = brief


class Came(StrEnum):
    """How one step came out."""

    PROVEN = "proven"
    OFF = "not as designed"
    OPEN = "not noted yet"
    UNKNOWN = "proves nothing yet"


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

    plan: CommissioningPlan
    record: AsBuilt
    proofs: tuple[Proof, ...]

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
        """Return what it comes to; what is done later, or need not be there, may stay open."""
        if self.plan.withheld:
            return Proven.NOT_ALLOWED
        if self.of(Came.OFF):
            return Proven.OFF
        open_ = (proof.step for proof in self.of(Came.OPEN, Came.UNKNOWN))
        if not self.signed or any(not (step.later or step.optional) for step in open_):
            return Proven.NOT_YET
        return Proven.AS_DESIGNED
