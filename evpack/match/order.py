"""The steps in which strings come onto one bus: to one voltage first, then one after the other."""

from __future__ import annotations

from collections.abc import Sequence

from evpack.base.basis import Basis
from evpack.base.units import CHARGE
from evpack.base.wording import say
from evpack.base.worked import Input, Worked, count, from_worked, known
from evpack.describe.batch import Batch
from evpack.describe.chemistry import CellTargets
from evpack.match.ends import End
from evpack.match.flows import LOW, volts_worked, worst_within
from evpack.outcome.matching import JoinStep

# How far a string may lie from the others as it is joined [V/cell], and to what it is read [V].
# Common practice, no source.
_NEAR = 0.005
_READ = 0.001


def ordered(
    batch: Batch, targets: CellTargets, found: Sequence[End], limit: Worked
) -> tuple[JoinStep, ...]:
    """Return what to do, in this order; no string is joined before all lie near each other."""
    near = _tolerance(batch, found, limit)
    target = (
        _full(batch, targets, found) if batch.chemistry.flat else _highest(batch, targets, found)
    )
    # A string that is full by its voltage alone is not full where voltage tells nothing.
    apart = [
        end
        for end in found
        if abs(end.volts - target.value) > near.value or (batch.chemistry.flat and not end.full)
    ]
    names = tuple(end.name for end in found)
    rest = say(targets.rest.m, "s")
    return (
        JoinStep(
            names=names,
            do="Disconnect everything, and read each string's voltage again: the voltages here "
            "are those of the log. If a cell lies outside its limits, stop.",
        ),
        *(_bring(batch, end, target, limit) for end in apart),
        JoinStep(
            names=names,
            do=f"Let all rest for {rest} at one temperature, and read them again with one meter. "
            f"All must lie within {say(near.value, 'V')} of each other; else begin again.",
            target=near,
        ),
        *_joins(found, near, limit),
        JoinStep(
            names=names,
            do="Leave the bus without load until no string's current can be told from nothing, "
            "then check that all carry like currents under a small load.",
        ),
    )


def _tolerance(batch: Batch, found: Sequence[End], limit: Worked) -> Worked:
    """Return how far strings may lie from each other as they are joined [V].

    No more than what is usual, and no more than drives the limit through the least resistance.
    Rounded down to what a meter shows.
    """
    cells = batch.cells_in_series * (batch.modules_in_series or 1)
    least = min(found, key=lambda end: end.ohms)
    most = min(cells * _NEAR, limit.value * LOW * least.ohms)
    # Below one step of a meter a tolerance means nothing.
    formula = "min({n} · {V_near}, {I_most} · {f} · {R})"
    inputs: tuple[Input, ...] = (
        count("n", "cell groups in series", cells),
        Input("V_near", "how near cells must be", _NEAR, "V", Basis.CHOSEN),
        from_worked("I_most", limit),
        Input("f", "part of the resistance that is there at once", LOW, "", Basis.CHOSEN),
        Input("R", f"{least.name}, the least resistance", least.ohms, "Ω", Basis.MEASURED),
    )
    if most >= _READ:
        formula = f"down({formula}, {{zero}}, {{V_step}})"
        inputs += (
            Input("zero", "nothing", 0.0, "V", Basis.CHOSEN),
            Input("V_step", "step of a meter", _READ, "V", Basis.CHOSEN),
        )
    return volts_worked("how near strings must be to be joined", formula, inputs)


def _cell_target(batch: Batch, targets: CellTargets) -> tuple[int, Input]:
    cells = batch.cells_in_series * (batch.modules_in_series or 1)
    return cells, known(
        "V_charge", "charge target of a cell", targets.charge, batch.chemistry.basis.of("charge")
    )


def _full(batch: Batch, targets: CellTargets, found: Sequence[End]) -> Worked:
    cells, each = _cell_target(batch, targets)
    return volts_worked(
        f"full: all {len(found)} strings",
        "{n} · {V_charge}",
        (count("n", "cell groups in series", cells), each),
    )


def _highest(batch: Batch, targets: CellTargets, found: Sequence[End]) -> Worked:
    """Return the voltage of the highest string: little is lost by charging the others up to it.

    Nothing is charged beyond the charge target for it; where all lie above, the lowest is taken.
    """
    cells, each = _cell_target(batch, targets)
    top, bottom = (choose(found, key=lambda end: end.volts) for choose in (max, min))
    ends = (top,) if top is bottom else (top, bottom)
    return volts_worked(
        "voltage to bring each string to",
        f"max({{E_{bottom.place}}}, min({{E_{top.place}}}, {{n}} · {{V_charge}}))",
        (*(end.volt() for end in ends), count("n", "cell groups in series", cells), each),
    )


def _bring(batch: Batch, end: End, target: Worked, limit: Worked) -> JoinStep:
    """Return how one string is brought to the voltage, by itself and with little current."""
    up = batch.chemistry.flat or end.volts < target.value
    watch = "watching each cell"
    if batch.chemistry.flat:
        do = f"Charge {end.name} by itself until full, at {target}, with {limit} at most, {watch}."
    elif up:
        do = (
            f"Charge {end.name} by itself from {say(end.volts, 'V')} until it rests at {target}, "
            f"with {limit} at most, {watch}."
        )
    else:
        do = (
            f"Discharge {end.name} by itself through a load from {say(end.volts, 'V')} until it "
            f"rests at {target}, with {limit} at most, {watch}."
        )
    return JoinStep(names=(end.name,), do=do, target=target, charge=_needed(end, target, up=up))


def _needed(end: End, target: Worked, *, up: bool) -> Worked | None:
    """Return the charge that it takes or gives [Ah]; None where the voltage does not tell."""
    if end.farads is None:
        return None
    own, there = end.volt(), from_worked("V", target)
    apart = (there, own) if up else (own, there)
    return Worked(
        name=f"charge to bring {end.name} there",
        kind=CHARGE,
        formula=f"({{{apart[0].symbol}}} − {{{apart[1].symbol}}}) · {{C_{end.place}}} / 3600",
        inputs=(own, there, end.farad()),
        source="rc-transient",
    )


def _joins(found: Sequence[End], near: Worked, limit: Worked) -> list[JoinStep]:
    """Return the joining itself: the two that rest nearest first, each time the nearest next.

    As no string lies further from the bus than the tolerance, neither does its first current lie
    above what the tolerance drives through it.
    """
    left = sorted(found, key=lambda end: end.volts)
    start = min(range(len(left) - 1), key=lambda i: left[i + 1].volts - left[i].volts)
    joined = [left.pop(start), left.pop(start)]
    steps = [_joined(tuple(joined), joined, near, limit)]
    while left:
        mean = sum(end.volts for end in joined) / len(joined)
        following = min(left, key=lambda end: abs(end.volts - mean))
        left.remove(following)
        steps.append(_joined((*joined, following), [following], near, limit))
        joined.append(following)
    return steps


def _joined(ends: Sequence[End], new: Sequence[End], near: Worked, limit: Worked) -> JoinStep:
    worst = min(new, key=lambda end: end.ohms)
    what = " and ".join(end.name for end in new)
    onto = "" if len(new) > 1 else " to the others"
    return JoinStep(
        names=tuple(end.name for end in ends),
        do=f"Join {what}{onto}, through {'its' if len(new) == 1 else 'a'} fuse, with a clamp meter "
        f"on the lead. Part them at once if more than {limit} flows. Wait until it has died away.",
        current=worst_within(worst, from_worked("V_near", near)),
    )
