"""After commissioning: does the finished pack do what was predicted of it, and does it stay so?"""

from __future__ import annotations

from itertools import combinations
from typing import NamedTuple

import numpy as np

from evpack.base.basis import Basis
from evpack.base.finding import Finding, Rule, Severity, Standing, at_least, at_most
from evpack.base.units import CHARGE, RESISTANCE, SHARE, VOLTAGE, Quantity
from evpack.base.worked import Input, Worked
from evpack.describe.chemistry import Chemistry
from evpack.match.readings import FLAT_FROM, FLAT_TO, state_of
from evpack.outcome.matching import Afterwards
from evpack.outcome.pack_log import Array, PackLog

# A step of less than this part of the greatest current is lost in the noise; between its two
# samples lies no more than so long; and the current holds to this part of the step, before and
# after it, for as long as the step is read. Common practice, no source.
_LEAST_STEP, _LONGEST_GAP, _STEADY, _READ_AFTER = 0.1, 10.0, 0.1, 10.0
# Below this part of the greatest current a pack rests. Common practice, no source.
_REST = 0.005

RESISTANCE_RULE = Rule(
    key="after.resistance",
    says="A pack of higher resistance than predicted has a bad joint, or a module that aged.",
    source="common-practice",
    stands=Standing.BOUND,
    clause="what the design predicted",
    kind=RESISTANCE,
)
CAPACITY = Rule(
    key="after.capacity",
    says="A pack of less capacity than predicted holds a weak module, or is not filled.",
    source="common-practice",
    stands=Standing.BOUND,
    clause="what the design predicted",
    kind=CHARGE,
)
SPREAD = Rule(
    key="after.spread",
    says="Cells that drift apart in use are unequal or leak, and the spread grows until one is "
    "driven beyond its limits.",
    source="common-practice",
    stands=Standing.BOUND,
    clause="what the design predicted",
    kind=VOLTAGE,
)
LIMITS = Rule(
    key="after.limits",
    says="No cell of a finished pack may leave its limits, whatever the pack's voltage is.",
    source="cell-limits",
    stands=Standing.BOUND,
    clause="print of the cell: its voltages",
    kind=VOLTAGE,
)

SHARING = Rule(
    key="after.sharing",
    says="A string that carries more than was predicted has the better joints, or the others lost "
    "theirs.",
    source="common-practice",
    stands=Standing.BOUND,
    clause="what the design predicted",
    kind=SHARE,
)

# Departures that are worth a look. Common practice, no source.
_MORE_OHMS, _LESS_CHARGE, _GROWTH = 1.25, 0.9, 0.01
_LEAST_STEPS = 3
_BUSY = 0.5  # of the greatest current, from which on a share tells something
# Two rests so far apart in charge tell a capacity, and so close in charge a growth of the spread.
# Common practice, no source.
_LEAST_PART, _LIKE = 0.3, 0.1
_LEAST_TIME = 7 * 86400.0
_MONTH = 30 * 86400.0


class Step(NamedTuple):
    """A load step: voltage and current just before it, and ten seconds into it."""

    volts: tuple[float, float]
    amps: tuple[float, float]

    @property
    def ohms(self) -> float:
        """Resistance that the step shows [Ω]."""
        return (self.volts[0] - self.volts[1]) / (self.amps[1] - self.amps[0])


def steps(held: PackLog) -> list[Step]:
    """Return the load steps that can be read: a steady current, then another steady current."""
    seconds, amps = held.seconds, held.amps
    jump = np.abs(np.diff(amps))
    found = []
    for k in np.flatnonzero(jump > _LEAST_STEP * np.abs(amps).max()):
        end = int(np.searchsorted(seconds, seconds[k + 1] + _READ_AFTER))
        begin = int(np.searchsorted(seconds, seconds[k] - _READ_AFTER))
        if seconds[k + 1] - seconds[k] > _LONGEST_GAP or end == seconds.size:
            continue
        if seconds[end] - seconds[k + 1] > 2 * _READ_AFTER:
            continue
        around = (amps[begin : k + 1], amps[k + 1 : end + 1])
        if all(np.ptp(part) <= _STEADY * jump[k] for part in around):
            found.append(
                Step(
                    (float(held.volts[k]), float(held.volts[end])),
                    (float(amps[k]), float(amps[end])),
                )
            )
    return found


def rests(held: PackLog, least: float) -> list[int]:
    """Return the last samples of the rests that last so long [s]."""
    still = np.abs(held.amps) <= _REST * np.abs(held.amps).max()
    edges = np.diff(np.concatenate([[False], still, [False]]).astype(int))
    begins, ends = np.flatnonzero(edges == 1), np.flatnonzero(edges == -1) - 1
    pairs = zip(begins, ends, strict=True)
    return [int(e) for b, e in pairs if held.seconds[e] - held.seconds[b] >= least]


def counted(held: PackLog, one: int, other: int) -> float:
    """Return the charge taken out between two samples [Ah]."""
    part = slice(one, other + 1)
    return float(np.trapezoid(held.amps[part], held.seconds[part])) / 3600.0


def compare(
    held: PackLog,
    chemistry: Chemistry,
    cells_in_series: int,
    *,
    resistance: float | None,
    capacity: float | None,
    share: float | None = None,
) -> Afterwards:
    """Hold the log of a finished pack against what was predicted of it.

    Parameters
    ----------
    held : PackLog
        What was logged.
    cells_in_series : int
        Of the whole pack.
    resistance, capacity : float or None
        Predicted of the whole pack [Ω], [Ah]; None is unknown.
    share : float or None
        Predicted current of the busiest string against an even share [1].
    """
    still = [] if chemistry.targets is None else rests(held, float(chemistry.targets.rest.m))
    states = {
        at: state
        for at in still
        if (state := _told(chemistry, float(held.volts[at]) / cells_in_series)) is not None
    }
    ohms, amp_hours = _ohms(held), _amp_hours(held, states)
    growth = _growth(held, states)
    return Afterwards(
        resistance=ohms,
        capacity=amp_hours,
        growth=growth,
        findings=(
            *_limits(held, chemistry),
            at_most(
                RESISTANCE_RULE,
                ohms,
                None if resistance is None else RESISTANCE.of(_MORE_OHMS * resistance),
                about="pack",
                otherwise=Severity.CAUTION,
                missing=Severity.UNKNOWN,
                value_name="the resistance that its load steps show",
                limit_name="a quarter more than was predicted",
                remedy="Measure the drop over each joint, fuse and module under load.",
                ask="Predict it, and log at least three load steps from one steady current to "
                "another, every few seconds.",
            ),
            at_least(
                CAPACITY,
                amp_hours,
                None if capacity is None else CHARGE.of(_LESS_CHARGE * capacity),
                about="pack",
                otherwise=Severity.CAUTION,
                missing=Severity.UNKNOWN,
                value_name="the capacity that was counted between two rests",
                limit_name="nine tenths of what was predicted",
                remedy="Find the cell group that ends charge or discharge first.",
                ask="Predict it, and log from one long rest to another, a third of the charge "
                "apart or more, where the voltage tells the charge.",
            ),
            at_most(
                SPREAD,
                growth,
                VOLTAGE.of(_GROWTH),
                about="cells",
                otherwise=Severity.CAUTION,
                missing=Severity.UNKNOWN,
                value_name="what the cell spread grows in a month",
                limit_name="what sound cells show",
                remedy="See which cell group moves, and take its module out if it goes on.",
                ask="Log two long rests at like charge, a week apart or more, where the voltage "
                "tells the charge.",
            ),
            *_shares(held, share),
        ),
    )


def _told(chemistry: Chemistry, volts: float) -> float | None:
    """Return the state of charge at rest [1]; None where the voltage does not tell it."""
    state = state_of(chemistry, volts)
    if state is None or (chemistry.flat and FLAT_FROM < state < FLAT_TO):
        return None
    return state


def _limits(held: PackLog, chemistry: Chemistry) -> tuple[Finding, Finding]:
    ask = "Log the highest and the lowest cell, or every one."

    def most(cells: Array | None, sign: float) -> Quantity | None:
        return None if cells is None else VOLTAGE.of(sign * float((sign * cells).max()))

    remedy = "Take the pack out of use, and find out why nothing stopped it."
    return (
        at_most(
            LIMITS,
            most(held.highest, 1.0),
            chemistry.limits.highest,
            about="highest cell",
            otherwise=Severity.STOP,
            value_name="the highest that a cell got",
            limit_name="what a cell stands",
            remedy=remedy,
            ask=ask,
        ),
        at_least(
            LIMITS,
            most(held.lowest, -1.0),
            chemistry.limits.least,
            about="lowest cell",
            otherwise=Severity.STOP,
            value_name="the lowest that a cell got",
            limit_name="the least that a cell stands",
            remedy=remedy,
            ask=ask,
        ),
    )


def _shares(held: PackLog, predicted: float | None) -> tuple[Finding, ...]:
    """Judge the busiest string while the pack works at half its greatest current or more."""
    if held.strings is None or len(held.strings) < 2:  # noqa: PLR2004
        return ()
    total = np.abs(held.strings.sum(axis=0))
    busy = held.strings[:, total >= _BUSY * total.max()]
    if total.max() == 0:
        return ()
    shares = np.abs(busy / busy.mean(axis=0))
    at = int(shares.max(axis=1).argmax())
    return (
        at_most(
            SHARING,
            SHARE.of(float(shares.max())),
            None if predicted is None else SHARE.of(predicted),
            about=f"string {at + 1}",
            otherwise=Severity.CAUTION,
            missing=Severity.UNKNOWN,
            value_name="its current at worst, against an even share,",
            limit_name="what was predicted of the busiest",
            remedy="Measure the drop over each joint and fuse of every string under load, and "
            "compare what the modules of the strings hold.",
            ask="Design the pack with its leads and resistance known.",
        ),
    )


def _ohms(held: PackLog) -> Worked | None:
    """Return the resistance of the middle step, of two middle ones the higher [Ω]."""
    found = sorted(steps(held), key=lambda step: step.ohms)
    if len(found) < _LEAST_STEPS:
        return None
    step = found[len(found) // 2]
    read = [("V_1", "voltage before", "V", step.volts[0]), ("V_2", "voltage", "V", step.volts[1])]
    read += [("I_1", "current before", "A", step.amps[0]), ("I_2", "current", "A", step.amps[1])]
    return Worked(
        name="resistance of the pack",
        kind=RESISTANCE,
        formula="({V_1} − {V_2}) / ({I_2} − {I_1})",
        inputs=tuple(
            Input(symbol, f"{what} the middle step of {len(found)}", value, unit, Basis.MEASURED)
            if "before" in what
            else Input(symbol, f"{what} ten seconds into it", value, unit, Basis.MEASURED)
            for symbol, what, unit, value in read
        ),
        source="ohms-law",
    )


def _amp_hours(held: PackLog, states: dict[int, float]) -> Worked | None:
    """Return the capacity from the two rests that lie furthest apart in charge [Ah]."""
    pairs = list(combinations(sorted(states), 2))
    if not pairs:
        return None
    one, other = max(pairs, key=lambda pair: abs(states[pair[0]] - states[pair[1]]))
    apart = states[one] - states[other]
    if abs(apart) < _LEAST_PART:
        return None
    charge = counted(held, one, other)
    return Worked(
        name="capacity of the pack",
        kind=CHARGE,
        formula="{Q} / ({s_1} − {s_2})",
        inputs=(
            Input("Q", "charge counted between the rests", charge, "Ah", Basis.MEASURED),
            Input("s_1", "charge at the first, off the curve", states[one], "", Basis.COMPUTED),
            Input("s_2", "charge at the second, off the curve", states[other], "", Basis.COMPUTED),
        ),
        source="arithmetic",
    )


def _growth(held: PackLog, states: dict[int, float]) -> Worked | None:
    """Return what the spread grew between the two furthest rests at like charge, a month [V]."""
    spread = held.spread
    if spread is None:
        return None
    pairs = [
        (one, other)
        for one, other in combinations(sorted(states), 2)
        if abs(states[one] - states[other]) <= _LIKE
        and held.seconds[other] - held.seconds[one] >= _LEAST_TIME
    ]
    if not pairs:
        return None
    one, other = max(pairs, key=lambda pair: held.seconds[pair[1]] - held.seconds[pair[0]])
    time = float(held.seconds[other] - held.seconds[one])
    before, after = float(spread[one]), float(spread[other])
    return Worked(
        name="growth of the cell spread in a month",
        kind=VOLTAGE,
        formula="({d_2} − {d_1}) · {t_month} / {t}",
        inputs=(
            Input("d_2", "spread at the last rest", after, "V", Basis.MEASURED),
            Input("d_1", "spread at the first rest", before, "V", Basis.MEASURED),
            Input("t_month", "thirty days", _MONTH, "s", Basis.CHOSEN),
            Input("t", "between the rests", time, "s", Basis.MEASURED),
        ),
        source="arithmetic",
    )
