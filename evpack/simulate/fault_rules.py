"""What a fault is held against: what fuses break and modules stand, what joining may push."""

from __future__ import annotations

from evpack.base.basis import Basis
from evpack.base.finding import Finding, Rule, Severity, Standing, at_least, at_most, state
from evpack.base.units import CURRENT, POWER, Quantity
from evpack.base.worked import Worked
from evpack.outcome.design import Design
from evpack.outcome.protection import STRING
from evpack.simulate.strings import string_fuse

BACKFEED = Rule(
    key="fault-run.backfeed",
    says="The fuse of a shorted string must break what all the others feed into it.",
    source="fuse-selectivity",
    stands=Standing.BOUND,
    clause="NEC 110.9; IEC 60364-4-43, 434.5.1: breaking capacity",
    kind=CURRENT,
)
OWN = Rule(
    key="fault-run.own",
    says="A short before a string's fuse is fed by its own cells too, and no fuse opens that.",
    source="ohms-law",
    stands=Standing.REMARK,
)
REMAINING = Rule(
    key="fault-run.remaining",
    says="When a string falls out under load, the others must stand its share.",
    source="common-practice",
    stands=Standing.GUARD,
    kind=CURRENT,
)
COLLAPSE = Rule(
    key="fault-run.collapse",
    says="The pack must give the full output of the inverters down to the end of its discharge.",
    source="ohms-law",
    stands=Standing.BOUND,
    clause="physics: a source gives E²/4R at most",
    kind=POWER,
)
JOINING = Rule(
    key="fault-run.joining",
    says="Strings that rest at unlike voltages push current into each other when they are joined.",
    source="common-practice",
    stands=Standing.BOUND,
    clause="print of the cell: charge current",
    kind=CURRENT,
)

_GENTLE, _HALF = 0.1, 0.5  # of a string's capacity an hour, of its fuse; common practice, no source


def reckoned_with(design: Design) -> Worked | None:
    """Return the most that the design says a string fuse must break; None is not known."""
    schedule = design.protection
    if schedule is None:
        return None
    found = [c.interrupting for c in schedule.circuits if c.kind == STRING]
    return next((worked for worked in found if worked is not None), None)


def shorted(design: Design, backfed: Worked, reckoned: Worked | None) -> tuple[Finding, ...]:
    """Judge a short at the ends of one string, by the greater of the run and of the design."""
    more = reckoned is not None and reckoned.value > backfed.value
    worst = reckoned if reckoned is not None and more else backfed
    return (
        at_most(
            BACKFEED,
            worst.quantity,
            _interrupting(design),
            about="string fuses",
            otherwise=Severity.STOP,
            value_name="what the design reckons a string fuse must break"
            if more
            else "what the others feed into a shorted string",
            limit_name="what its fuse breaks",
            remedy="Use string fuses that break more at DC.",
            ask="Settle the string fuse: the design names none yet.",
            assumed=_assumed(design),
        ),
        state(
            OWN,
            Severity.CAUTION,
            about="strings",
            detail="A short between the ends of a string, before its fuse, is fed by its own cells "
            "for as long as they last. No fuse at the bars opens that.",
            remedy="Keep plus and minus of every string apart, insulated and covered up to the "
            "fuse, and put the fuse at the string's own end.",
        ),
    )


def _interrupting(design: Design) -> Quantity | None:
    schedule = design.protection
    if schedule is None:
        return None
    fuses = [schedule.fuse_of(c) for c in schedule.circuits if c.kind == STRING]
    chosen = next((fuse for fuse in fuses if fuse is not None and fuse.size is not None), None)
    return None if chosen is None or chosen.family is None else chosen.family.interrupting


def remaining(design: Design, worst: Worked) -> tuple[Finding, ...]:
    """Judge what each remaining string carries once one is out."""
    module, policy = design.build.pack.module, design.build.policy
    size = string_fuse(design)
    holds = None if size is None else CURRENT.of(size * float(policy.fuse_ambient.m))
    pairs: tuple[tuple[str, Quantity | None, str], ...] = (
        ("modules", module.discharge_limit, "the discharge limit of a module"),
        ("string fuses", holds, "what the warm string fuse holds"),
    )
    return tuple(
        at_most(
            REMAINING,
            worst.quantity,
            limit,
            about=about,
            otherwise=Severity.CAUTION,
            value_name="the greatest current of a string with one out",
            limit_name=name,
            remedy="Let the inverters lower their output, or stop, when a string falls out.",
            assumed=_assumed(design),
        )
        for about, limit, name in pairs
    )


def collapsed(design: Design, most: Worked, rated: Worked | None) -> tuple[Finding, ...]:
    """Judge the most that the pack gives against what the inverters may ask."""
    return (
        at_least(
            COLLAPSE,
            most.quantity,
            None if rated is None else rated.quantity,
            about="pack",
            otherwise=Severity.STOP,
            value_name="the most that the pack gives",
            limit_name="what the inverters ask at full output",
            remedy="Use more strings, modules of less resistance, or less load.",
            ask="Put continuous output, efficiency and idle draw of every inverter in the build "
            "sheet.",
            assumed=_assumed(design),
        ),
    )


def joined(design: Design, first: Worked) -> tuple[Finding, ...]:
    """Judge the greatest current of a string after joining, by the tightest of three limits."""
    pack, size = design.build.pack, string_fuse(design)
    limits = [(_GENTLE * float(pack.module.capacity.m), "a tenth of a string's capacity an hour")]
    if size is not None:
        limits.append((_HALF * size, "half of a string fuse"))
    if pack.module.charge_limit is not None:
        limits.append((float(pack.module.charge_limit.m), "the charge limit of a module"))
    most, name = min(limits)
    return (
        at_most(
            JOINING,
            first.quantity,
            CURRENT.of(most),
            about="strings",
            otherwise=Severity.STOP,
            value_name="the greatest current of a string after joining",
            limit_name=name,
            remedy="Charge the lower string first, or join them through a resistor, until they "
            "rest at one voltage.",
            assumed=_assumed(design),
        ),
    )


def _assumed(design: Design) -> tuple[str, ...]:
    module = design.build.pack.module
    assumed = module.resistance_curve is None and module.basis.of("resistance") is Basis.ASSUMED
    return ("resistance of the modules",) if assumed else ()
