"""The strings of a grouping as sources at rest: voltage, low and full resistance, slope."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import attrs

from evpack.base.basis import Basis
from evpack.base.worked import Input
from evpack.describe.batch import Batch, Rest
from evpack.kernels.joining import AMP_HOUR
from evpack.kernels.load_line import state_at
from evpack.match.rests import last_read, module_volts
from evpack.outcome.matching import GradedModule, Grouping

# Over so much more than what lies between the strings the slope of the curve is taken [V/cell]: a
# rest voltage is known no better.
_BESIDE = 0.01


@attrs.frozen(kw_only=True)
class End:
    """One string at rest.

    Parameters
    ----------
    volts, ohms, amp_hours : float
        Open-circuit voltage [V], DC internal resistance [Ω], capacity of its weakest module [Ah].
    farads : float or None
        Charge for each volt that it rises [F]; None where the voltage does not tell the charge.
    readings : int
        How many readings its voltage was added up from.
    full : bool
        Whether each of its modules had been charged full.
    cells : tuple of float
        Least and greatest voltage of a cell group of it, or of a mean one where only whole
        modules were read [V].
    """

    name: str
    place: int
    volts: float
    ohms: float
    amp_hours: float
    farads: float | None
    readings: int
    full: bool
    cells: tuple[float, float]

    def volt(self) -> Input:
        """Return its voltage as an input."""
        return Input(f"E_{self.place}", f"{self.name} at rest", self.volts, "V", Basis.MEASURED)

    def ohm(self) -> Input:
        """Return its resistance as an input."""
        what = f"{self.name}, resistance of its modules"
        return Input(f"R_{self.place}", what, self.ohms, "Ω", Basis.MEASURED)

    def farad(self) -> Input:
        """Return its charge for each volt as an input."""
        assert self.farads is not None  # noqa: S101  (asked by the caller)
        what = f"{self.name}, charge for each volt, off the open-circuit curve"
        return Input(f"C_{self.place}", what, self.farads, "F", Basis.COMPUTED)


def ends(
    batch: Batch, graded: Sequence[GradedModule], grouping: Grouping
) -> tuple[tuple[End, ...], tuple[str, ...]]:
    """Return the strings at rest, and the modules of which no rest voltage is known.

    With any such module there are no strings: a voltage that nobody read is not guessed.
    """
    by_name = {found.module.name: found for found in graded}
    rests = {
        name: last_read(batch, by_name[name].module)
        for modules in grouping.strings
        for name in modules
    }
    unread = tuple(name for name, rest in rests.items() if rest is None)
    if unread:
        return (), unread
    known = {name: rest for name, rest in rests.items() if rest is not None}
    farads = _farads_a_cell(batch, grouping, known)
    return tuple(
        _end(batch, place, [by_name[name] for name in modules], known, farads)
        for place, modules in enumerate(grouping.strings, start=1)
    ), ()


def _end(
    batch: Batch,
    place: int,
    modules: Sequence[GradedModule],
    rests: Mapping[str, Rest],
    farads: float | None,
) -> End:
    held = [rests[found.module.name] for found in modules]
    capacity = [float(q.m) for found in modules if (q := found.module.capacity) is not None]
    ohms = [float(r.m) for found in modules if (r := found.module.resistance) is not None]
    cells = batch.cells_in_series
    # Capacitors in series; each cell group takes its charge from the same slope of the curve.
    chain = None
    if farads is not None:
        chain = 1.0 / sum(cells / (farads * amp_hours) for amp_hours in capacity)
    each = [v for rest in held for v in (*rest.cells, _volts(rest) / cells)]
    return End(
        name=f"string {place}",
        place=place,
        volts=sum(_volts(rest) for rest in held),
        ohms=sum(ohms),
        amp_hours=min(capacity),
        farads=chain,
        readings=sum(1 if rest.voltage is not None else len(rest.cells) for rest in held),
        full=all(rest.full for rest in held),
        cells=(min(each), max(each)),
    )


def _volts(rest: Rest) -> float:
    volts = module_volts(rest)
    assert volts is not None  # noqa: S101  (only rests that were read come here)
    return volts


def _farads_a_cell(batch: Batch, grouping: Grouping, rests: Mapping[str, Rest]) -> float | None:
    """Return the charge for each volt of a cell group of 1 Ah where the strings rest [F/Ah].

    The chord of the curve over all that lies between the strings, and a little beside it. None
    where the curve is flat or not known, and beyond its ends.
    """
    curve = batch.chemistry.ocv
    if curve is None or batch.chemistry.flat:
        return None
    cells = batch.cells_in_series
    means = [
        sum(_volts(rests[name]) for name in modules) / len(modules) / cells
        for modules in grouping.strings
    ]
    low, high = min(means) - _BESIDE, max(means) + _BESIDE
    first, last = (max(curve.volts[0], min(curve.volts[-1], v)) for v in (low, high))
    if last - first < _BESIDE:  # all of it lies beyond an end of the curve
        return None
    states = [state_at(curve.soc, curve.volts, float(v)) for v in (first, last)]
    return AMP_HOUR * (states[1] - states[0]) / float(last - first)
