"""What a lower charge target buys and costs: the design made anew with it, the same use from it."""

from __future__ import annotations

from collections.abc import Callable

import attrs
import numpy as np

from evpack.base.basis import Basis
from evpack.base.errors import DescriptionError
from evpack.base.finding import Finding, Rule, Severity, Standing, state, unknown
from evpack.base.units import ENERGY, VOLTAGE, Quantity
from evpack.base.wording import say
from evpack.base.worked import Input, Worked, from_worked, known
from evpack.describe.build import Build
from evpack.outcome.ageing import LowerTarget, YearsRange
from evpack.outcome.design import Design
from evpack.simulate.ageing_years import Case, History, gained, range_of, stress_of
from evpack.simulate.cycles import count_cycles

LOWER = Rule(
    key="lower-target.serves",
    says="A lower charge target buys years only where the pack, so filled, still gives what is "
    "drawn from it.",
    source="common-practice",
    stands=Standing.QUESTION,
)

_WITH_LOWER = " with the lower charge target"
_LOWER = 0.05  # by how much a lower charge target lies lower, where nobody says [V]


def lowered(
    design: Design,
    case: Case,
    years: YearsRange,
    lower: Quantity | None,
    redesign: Callable[[Build], Design],
) -> tuple[LowerTarget | None, tuple[Finding, ...]]:
    """Return what a lower charge target buys and costs, by the design made anew with it."""
    pack, policy = design.build.pack, design.build.policy
    if pack.module.chemistry.targets is None:
        return None, ()
    target = _lower_target(design, lower)
    then = redesign(
        attrs.evolve(
            design.build,
            policy=attrs.evolve(
                policy,
                charge_target=VOLTAGE.of(target.value),
                basis=policy.basis.but(charge_target=Basis.CHOSEN),
            ),
        )
    )
    now, less = design.usable, then.usable
    shift = 0.0 if now is None or less is None else now.soc_top - less.soc_top
    if now is None or less is None or shift <= 0:
        return None, (
            unknown(
                LOWER,
                about="charge target",
                detail=f"What {target} a cell would buy is not known: the design with it has no "
                "usable window, or its charge setting comes no lower.",
                remedy="Clear the other findings first, or give a target further down.",
            ),
        )
    past, floor = _shifted(case.past, shift, less.soc_bottom)
    range_then = range_of(
        case, stress_of(past, pack.module.curve.soc, pack.module.curve.volts), _WITH_LOWER
    )
    as_before = float(case.past.soc.min()) - shift >= floor
    told = LowerTarget(
        target=target,
        as_before=as_before,
        years=range_then,
        gained=gained(range_then, years),
        given_up=Worked(
            name="reachable energy given up, DC",
            kind=ENERGY,
            formula="{E_now} − {E_low}",
            inputs=(
                attrs.evolve(from_worked("E_now", now.reachable), means="reachable energy now, DC"),
                attrs.evolve(
                    from_worked("E_low", less.reachable),
                    means="reachable energy, DC, designed with the lower charge target",
                ),
            ),
            source="arithmetic",
        ),
    )
    return told, (_serves(told, case.past, shift, floor, _newly_held(design, then)),)


def _lower_target(design: Design, lower: Quantity | None) -> Worked:
    """Return the lower charge target; a target that is not lower is refused."""
    pack, policy = design.build.pack, design.build.policy
    curve, chemistry = pack.module.curve, pack.module.chemistry
    stated = chemistry.targets
    assert stated is not None  # noqa: S101  (asked by the caller)
    own = policy.charge_target
    now = known(
        "V_high",
        "charge target for the highest cell",
        stated.charge if own is None else own,
        chemistry.basis.of("charge") if own is None else policy.basis.of("charge_target"),
    )
    less = now.value - float(lower.m) if lower is not None else _LOWER
    if not 0 < less < now.value - float(curve.volts[0]):
        raise DescriptionError(
            f"a lower charge target lies below {say(now.value, 'V')} and above "
            f"{say(float(curve.volts[0]), 'V')}, got {say(now.value - less, 'V')}"
        )
    return Worked(
        name="lower charge target of a cell",
        kind=VOLTAGE,
        formula="{V_high} − {ΔV}",
        inputs=(now, Input("ΔV", "by how much it is lowered", less, "V", Basis.CHOSEN)),
        source="common-practice",
    )


def _shifted(past: History, shift: float, bottom: float) -> tuple[History, float]:
    """Return the same use from a lower top, cut short where the discharge ends, and where that is.

    Whoever already drew below the end of discharge, at a lighter load, draws no further than that.
    """
    floor = min(bottom, float(past.soc.min()))
    soc = np.maximum(past.soc - shift, floor)
    return attrs.evolve(past, soc=soc, cycles=count_cycles(soc, past.hours)), floor


def _newly_held(design: Design, then: Design) -> tuple[str, ...]:
    """Return the rules that hold up the design with the lower target, and not the one now."""
    before = design.found_from(Severity.UNKNOWN)
    after = [f for f in then.findings if f.holds and (f.rule.key, f.about) not in before]
    return tuple(dict.fromkeys(f"{f.rule.key} ({f.about})" for f in after))


def _serves(
    lowered: LowerTarget, past: History, shift: float, floor: float, held: tuple[str, ...]
) -> Finding:
    """Say whether the pack can still be used as before with the lower target."""
    if lowered.as_before and not held:
        return state(
            LOWER,
            Severity.OK,
            about="charge target",
            detail=f"With {lowered.target} a cell the pack ends {say(shift, '')} less full, and "
            "can be used as before.",
        )
    words = []
    if not lowered.as_before:
        lowest = float(past.soc.min())
        words.append(
            f"With {lowered.target} a cell the pack ends {say(shift, '')} less full. It cannot be "
            f"used as before: from {say(lowest, '')} at the lowest it would have to go to "
            f"{say(lowest - shift, '')}, and the discharge ends at {say(floor, '')}. The years "
            "told with it are of use cut short there."
        )
    if held:
        words.append(f"The design with {lowered.target} is held up by {', '.join(held)}.")
    return state(
        LOWER,
        Severity.CAUTION,
        about="charge target",
        detail=" ".join(words),
        remedy="Draw less each day, add a string, or keep the charge target.",
    )
