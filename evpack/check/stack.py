"""Several inverters on one pack: in parallel, or on the two legs of a split-phase supply."""

from __future__ import annotations

from evpack.base.basis import Basis
from evpack.base.finding import Finding, Rule, Severity, Standing, at_least, state, unknown
from evpack.base.units import CURRENT, POWER, Quantity
from evpack.base.wording import say
from evpack.base.worked import resting_on, stated
from evpack.describe.inverter import Inverter
from evpack.outcome.groundwork import Groundwork

LEGS = Rule(
    key="stack.legs",
    says="Of a split-phase supply both legs must be fed.",
    source="common-practice",
    stands=Standing.BOUND,
    clause="counting: each leg is fed by an inverter",
)
MIXED = Rule(
    key="stack.mixed",
    says="Where one inverter feeds a leg, it must be said of every one which leg it feeds.",
    source="common-practice",
    stands=Standing.BOUND,
    clause="counting: each leg is fed by an inverter",
)
LARGER_LEG = Rule(
    key="stack.larger-leg",
    says="The larger leg rules: either leg must carry the larger part of the continuous load.",
    source="common-practice",
    stands=Standing.BOUND,
    clause="print of the inverter: continuous output",
    kind=POWER,
)
LARGER_LEG_PEAK = Rule(
    key="stack.larger-leg-peak",
    says="A motor starts on one leg: either leg must carry the larger part of the peak load.",
    source="common-practice",
    stands=Standing.BOUND,
    clause="print of the inverter: surge output",
    kind=POWER,
)
MAY = Rule(
    key="stack.parallel-operation",
    says="Outputs of inverters may be joined only where their manual says that they run together.",
    source="equipment-manual",
    stands=Standing.BOUND,
    clause="print of the inverter: parallel operation",
)
APART = Rule(
    key="stack.own-circuits",
    says="An inverter whose output is joined to no other must carry its own loads alone.",
    source="common-practice",
    stands=Standing.BOUND,
    clause="print of the inverter: parallel operation",
)
ALIKE = Rule(
    key="stack.alike",
    says="Only like inverters that are made to run in parallel share a load.",
    source="equipment-manual",
    stands=Standing.BOUND,
    clause="print of the inverter: parallel operation",
)
OWN_DEVICE = Rule(
    key="stack.own-device",
    says="Every inverter of a stack has a main fuse and a cable of its own.",
    source="nec-706",
    stands=Standing.REMARK,
)
BUS = Rule(
    key="stack.bus-current",
    says="The bus carries the sum of all inverters.",
    source="arithmetic",
    stands=Standing.QUESTION,
    kind=CURRENT,
)

_EACH_LEG = ("1", "2")
# What inverters that share a load must have in common.
_IN_COMMON = ("continuous", "surge", "efficiency", "idle", "window_low", "window_high")


def stacks(ground: Groundwork) -> tuple[Finding, ...]:
    """Return what was found of inverters that work together; nothing for a single one."""
    inverters = ground.build.inverters
    found: list[Finding] = []
    if not any(inverter.leg for inverter in inverters):
        found += _legs_unsaid(ground)
    else:
        found += [_fed(inverters), _mixed(inverters), *_larger_leg(ground)]
    found += _alike(inverters)
    found += _may(inverters)
    found += [_apart(i, len(inverters)) for i in inverters if i.own_circuits]
    units = sum(inverter.count for inverter in inverters)
    if units > 1:
        found += [
            state(
                OWN_DEVICE,
                Severity.OK,
                about="all inverters",
                detail=f"{units} inverters: {units} main fuses and {units} cables, one for each.",
            ),
            _bus(inverters),
        ]
    return tuple(found)


def _on(inverters: tuple[Inverter, ...], leg: str) -> list[Inverter]:
    """Return the inverters that feed a leg."""
    return [inverter for inverter in inverters if inverter.leg in {leg, "both"}]


def _legs_unsaid(ground: Groundwork) -> list[Finding]:
    if ground.build.load.larger_leg is None:
        return []
    return [
        unknown(
            LEGS,
            about="all inverters",
            detail="The load has a larger leg, and nobody said which leg an inverter feeds.",
            remedy="Say leg under [[inverter]]; or leave larger_leg under [load] out, where there "
            "are no legs.",
        )
    ]


def _fed(inverters: tuple[Inverter, ...]) -> Finding:
    bare = [leg for leg in _EACH_LEG if not _on(inverters, leg)]
    if bare:
        return state(
            LEGS,
            Severity.STOP,
            about="all inverters",
            detail=f"Nothing feeds leg {bare[0]}.",
            remedy="Put an inverter on each leg; or one that feeds both, and say leg = "
            '"both" under [[inverter]].',
        )
    return state(
        LEGS,
        Severity.OK,
        about="all inverters",
        detail="Both legs are fed. Units on different legs must be made to be joined so, and be "
        "linked by their makers' cable.",
    )


def _mixed(inverters: tuple[Inverter, ...]) -> Finding:
    bare = [
        inverter.name for inverter in inverters if not inverter.leg and not inverter.own_circuits
    ]
    if bare:
        return state(
            MIXED,
            Severity.STOP,
            about=" and ".join(bare),
            detail="Other inverters feed legs, and nobody said which leg this feeds. Two outputs "
            "that do not run together destroy each other when they are joined.",
            remedy="Say leg under [[inverter]] for every one; or own_circuits = true of one whose "
            "output is joined to no other.",
        )
    return state(
        MIXED,
        Severity.OK,
        about="all inverters",
        detail="It is said of every inverter which leg it feeds.",
    )


def _larger_leg(ground: Groundwork) -> list[Finding]:
    """Compare what the weaker leg can carry with what the larger may ask: either may be it."""
    load, inverters = ground.build.load, ground.build.inverters
    part = load.larger_leg
    ask = "Say larger_leg under [load], and continuous and surge of every inverter."
    common = {"about": "all inverters", "ask": ask}
    found = [
        at_least(
            LARGER_LEG,
            _weaker_leg(inverters, "continuous"),
            None if part is None else POWER.of(part.m * load.continuous.m),
            otherwise=Severity.STOP,
            value_name="the continuous output on the weaker leg",
            limit_name="the larger leg's part of the continuous load",
            remedy="Share the loads out more evenly, or put more output on that leg.",
            **common,
        )
    ]
    if load.peak is not None:
        found.append(
            at_least(
                LARGER_LEG_PEAK,
                _weaker_leg(inverters, "surge"),
                None if part is None else POWER.of(part.m * load.peak.m),
                otherwise=Severity.CAUTION,
                value_name="the surge output on the weaker leg",
                limit_name="the larger leg's part of the peak load",
                remedy="Put motors on different legs, or start them one after the other.",
                **common,
            )
        )
    return found


def _weaker_leg(inverters: tuple[Inverter, ...], field: str) -> Quantity | None:
    """Return the lower of both legs' outputs; one that feeds both gives half to each."""
    legs = []
    for leg in _EACH_LEG:
        watts = 0.0
        for inverter in _on(inverters, leg):
            power: Quantity | None = getattr(inverter, field)
            if power is None:
                return None
            watts += inverter.count * float(power.m) / (2 if inverter.leg == "both" else 1)
        legs.append(watts)
    return POWER.of(min(legs))


def _alike(inverters: tuple[Inverter, ...]) -> list[Finding]:
    """Judge the inverters in parallel: those of each leg, and those without legs."""
    found = []
    for leg in ("", *_EACH_LEG):
        group = [i for i in inverters if i.leg == leg] if not leg else _on(inverters, leg)
        group = [inverter for inverter in group if not inverter.own_circuits]
        if sum(inverter.count for inverter in group) < 2:  # noqa: PLR2004
            continue
        about = f"inverters on leg {leg}" if leg else "inverters in parallel"
        if all(_same(group[0], other) for other in group[1:]):
            found.append(
                state(
                    ALIKE,
                    Severity.NOTE,
                    about=about,
                    detail="They are alike. Their manual says how they are linked and set.",
                )
            )
        else:
            names = " and ".join(inverter.name for inverter in group)
            found.append(
                state(
                    ALIKE,
                    Severity.CAUTION,
                    about=about,
                    detail=f"{names} differ. Unlike inverters do not share a load, and most must "
                    "not be joined at their outputs at all.",
                    remedy="Use like units that are made to run in parallel; or give each circuits "
                    "of its own, see that its loads stay within its own output, and say "
                    "own_circuits = true under [[inverter]].",
                )
            )
    return found


def _may(inverters: tuple[Inverter, ...]) -> list[Finding]:
    """Judge whether those joined at their outputs may be: alike in parallel, and on legs."""
    joined = [i for i in inverters if not i.own_circuits]
    if sum(inverter.count for inverter in joined) < 2:  # noqa: PLR2004
        joined = []
    # Units of one entry share their circuits, whatever they are apart from.
    joined += [i for i in inverters if i.own_circuits and i.count > 1]
    found = []
    for inverter in joined:
        may = inverter.parallel_operation
        if may is None:
            found.append(
                unknown(
                    MAY,
                    about=inverter.name,
                    detail="Nobody said whether its output may be joined with that of others.",
                    remedy="Read its manual and say parallel_operation of it under [[inverter]]; "
                    "or own_circuits = true where its output is joined to no other.",
                )
            )
        elif not may:
            found.append(
                state(
                    MAY,
                    Severity.STOP,
                    about=inverter.name,
                    detail="Its output may not be joined with that of others: they destroy each "
                    "other.",
                    remedy="Use units that are made to run together, linked as their manual says; "
                    "or one larger inverter.",
                )
            )
        else:
            basis = inverter.basis.of("parallel_operation")
            sure = basis is not Basis.ASSUMED
            found.append(
                state(
                    MAY,
                    Severity.OK if sure else Severity.CAUTION,
                    about=inverter.name,
                    detail="Its output may be joined with that of others, linked and set as its "
                    "manual says.",
                    remedy="" if sure else "Read it off its manual; it is only assumed.",
                    assumed=() if sure else ("statement on parallel_operation",),
                )
            )
    return found


def _apart(inverter: Inverter, of: int) -> Finding:
    """Say what nobody can see here of an inverter that is joined to no other."""
    if inverter.leg:
        return state(
            APART,
            Severity.STOP,
            about=inverter.name,
            detail=f"It is said to feed leg {inverter.leg}, which others belong to, and to be "
            "joined to no other: both cannot be.",
            remedy="Leave leg out, or own_circuits.",
        )
    sure = inverter.basis.of("own_circuits") is not Basis.ASSUMED
    alone = of == 1
    return state(
        APART,
        Severity.NOTE if sure and alone else Severity.CAUTION,
        about=inverter.name,
        detail="Its output is said to be joined to no other. The load is held here against all "
        "outputs together: whether its own loads stay within its own output is not seen.",
        remedy=""
        if sure and alone
        else "List its circuits and their loads, and keep them within "
        "its own output; see that no wire joins it to another's.",
        assumed=() if sure else ("statement on own_circuits",),
    )


def _same(one: Inverter, other: Inverter) -> bool:
    """Return whether two have all in common that must be; unknown is not in common."""
    pairs = [(getattr(one, field), getattr(other, field)) for field in (*_IN_COMMON, "leg")]
    return all(a is not None and b is not None and a == b for a, b in pairs)


def _bus(inverters: tuple[Inverter, ...]) -> Finding:
    amps = 0.0
    for inverter in inverters:
        power, share, idle, low = (
            inverter.continuous,
            inverter.efficiency,
            inverter.idle,
            inverter.window_low,
        )
        if power is None or share is None or idle is None or low is None or low.m <= 0:
            return unknown(
                BUS,
                about="all inverters",
                detail="What all inverters draw together is not known.",
                remedy=f"Say continuous, efficiency, idle and window_low of {inverter.name}.",
            )
        amps += inverter.count * (power.m / share.m + idle.m) / low.m
    return state(
        BUS,
        Severity.NOTE,
        about="all inverters",
        detail=f"Together they draw {say(amps, 'A')} at full output and the bottom of their "
        "windows. Bars, battery disconnect and leads are for the sum.",
        value=amps,
        assumed=resting_on(
            *(
                one
                for i in inverters
                for one in stated(i, "continuous", "efficiency", "idle", "window_low")
            )
        ),
    )
