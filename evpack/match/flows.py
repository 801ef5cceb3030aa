"""What flows when strings, as sources at rest, are joined: first current, charge, heat, time.

The first current is reckoned with a low resistance, since what is measured after ten seconds is
more than what limits the first instant; and with the voltages as far apart as the meter allows.
The time is reckoned with the whole of it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import attrs

from evpack.base.basis import Basis
from evpack.base.units import CHARGE, CURRENT, HEAT, TIME, VOLTAGE
from evpack.base.worked import Input, Worked, count, known
from evpack.describe.batch import Batch, Rest
from evpack.kernels.joining import AMP_HOUR, bus, common_volts
from evpack.kernels.load_line import state_at
from evpack.match.readings import last_read, module_volts
from evpack.outcome.matching import GradedModule, Grouping, JoinStep

# Over so much more than what lies between the strings the slope of the curve is taken [V/cell]: a
# rest voltage is known no better.
_BESIDE = 0.01

# Of a resistance measured after ten seconds, what is there at once [1]; of the capacity, what may
# flow as a first current [1/h]. Common practice, no source.
LOW = 0.5
_RATE = 0.1


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


def low_share() -> Input:
    """Return the low share of a resistance as an input."""
    return Input("f", "part of the resistance that is there at once", LOW, "", Basis.CHOSEN)


def limit_of(found: Sequence[End]) -> Worked:
    """Return the most that may flow when strings are joined [A]."""
    least = min(found, key=lambda end: end.amp_hours)
    return Worked(
        name="most that may flow when strings are joined",
        kind=CURRENT,
        formula="{r} · {Q} / 1 h",
        inputs=(
            Input("r", "a tenth of the capacity an hour", _RATE, "", Basis.CHOSEN),
            Input(
                "Q",
                f"capacity of {least.name}, the smallest",
                least.amp_hours,
                "Ah",
                Basis.MEASURED,
            ),
        ),
        source="common-practice",
        note="And never more than half of the string fuse.",
    )


def _meter(batch: Batch, readings: int) -> tuple[float, str, tuple[Input, ...]]:
    """Return by how much further apart two voltages may be: value, formula and inputs."""
    if batch.voltage_accuracy is None:
        return 0.0, "", ()
    accuracy = known(
        "ε",
        "accuracy of the voltmeter",
        batch.voltage_accuracy,
        batch.basis_of("voltage_accuracy"),
    )
    value = readings * accuracy.value
    return value, " + {m} · {ε}", (count("m", "readings that were added up", readings), accuracy)


def pair_step(batch: Batch, one: End, other: End, limit: Worked) -> JoinStep:
    """Return what flows between two strings joined as they rest."""
    high, low = (one, other) if one.volts >= other.volts else (other, one)
    _, wider, meter = _meter(batch, high.readings + low.readings)
    e_1, e_2, r_1, r_2 = high.volt(), low.volt(), high.ohm(), low.ohm()
    apart = f"({{{e_1.symbol}}} − {{{e_2.symbol}}}{wider})"
    both = f"({{{r_1.symbol}}} + {{{r_2.symbol}}})"
    inputs = (e_1, e_2, *meter)
    names = f"{high.name} and {low.name}"
    current = Worked(
        name=f"first current between {names}",
        kind=CURRENT,
        formula=f"{apart} / ({{f}} · {both})",
        inputs=(*inputs, r_1, r_2, low_share()),
        source="ohms-law",
        note="Leads left out: they only lessen it.",
    )
    do = _do(current, limit)
    if high.farads is None or low.farads is None:
        return JoinStep(names=(high.name, low.name), do=do, current=current)
    c_1, c_2 = high.farad(), low.farad()
    series = f"{{{c_1.symbol}}} · {{{c_2.symbol}}} / ({{{c_1.symbol}}} + {{{c_2.symbol}}})"
    return JoinStep(
        names=(high.name, low.name),
        do=do,
        current=current,
        charge=Worked(
            name=f"charge that moves between {names}",
            kind=CHARGE,
            formula=f"{apart} · {series} / 3600",
            inputs=(*inputs, c_1, c_2),
            source="rc-transient",
        ),
        heat=Worked(
            name=f"heat left in {names}",
            kind=HEAT,
            formula=f"{apart}^2 · {series} / 2",
            inputs=(*inputs, c_1, c_2),
            source="rc-transient",
        ),
        tau=Worked(
            name=f"time constant of {names}",
            kind=TIME,
            formula=f"{both} · {series}",
            inputs=(r_1, r_2, c_1, c_2),
            source="rc-transient",
            note="After three of these a twentieth of the current is left.",
        ),
    )


def _do(current: Worked, limit: Worked) -> str:
    if current.value > limit.value:
        return f"Do not join as they rest: {current} would flow at first, and {limit} may."
    return f"May be joined as they rest: {current} flows at first, and {limit} may."


def bus_step(batch: Batch, found: Sequence[End], limit: Worked) -> JoinStep:
    """Return the greatest first current of any string if all were joined at once as they rest."""
    joined = bus(
        [end.volts for end in found], [LOW * end.ohms for end in found], [1.0 for _ in found]
    )
    most_readings = max(end.readings for end in found)

    def reaches(i: int) -> float:
        """Return its first current with the meter as far off as it may be [A]."""
        error, _, _ = _meter(batch, found[i].readings + most_readings)
        return float(abs(joined.first[i])) + error / (LOW * found[i].ohms)

    at = max(range(len(found)), key=reaches)
    worst = found[at]
    _, wider, meter = _meter(batch, worst.readings + most_readings)
    gives = "/".join
    sums = " + ".join(gives((f"{{E_{end.place}}}", f"{{R_{end.place}}}")) for end in found)
    wholes = " + ".join(f"1/{{R_{end.place}}}" for end in found)
    bus_volts, own = f"({sums}) / ({wholes})", f"{{E_{worst.place}}}"
    apart = f"{own} − {bus_volts}" if joined.first[at] >= 0 else f"{bus_volts} − {own}"
    inputs = (*(end.volt() for end in found), *(end.ohm() for end in found), *meter, low_share())
    current = Worked(
        name=f"first current of {worst.name} with all on one bus",
        kind=CURRENT,
        formula=f"({apart}{wider}) / ({{f}} · {{R_{worst.place}}})",
        inputs=inputs,
        source="ohms-law",
        note="The voltage of the bus is that of Millman's theorem.",
    )
    names, do = tuple(end.name for end in found), _do(current, limit)
    farads = [end.farads for end in found if end.farads is not None]
    if len(farads) < len(found):
        return JoinStep(names=names, do=do, current=current)
    return JoinStep(
        names=names, do=do, current=current, tau=_slowest(found), **_moved(found, farads)
    )


def _slowest(found: Sequence[End]) -> Worked:
    """Return a time constant that no part of the currents on one bus exceeds [s].

    The rates at which they die away lie between those of the strings by themselves.
    """
    return Worked(
        name="longest time constant with all on one bus",
        kind=TIME,
        formula=f"max({', '.join(f'{{R_{end.place}}} · {{C_{end.place}}}' for end in found)})",
        inputs=(*(end.ohm() for end in found), *(end.farad() for end in found)),
        source="rc-transient",
    )


def _moved(found: Sequence[End], farads: Sequence[float]) -> dict[str, Worked]:
    """Return the most charge that any string gives or takes, and the heat left in all."""
    common = common_volts([end.volts for end in found], [AMP_HOUR / each for each in farads])
    at = max(range(len(found)), key=lambda i: abs(found[i].volts - common) * farads[i])
    most = found[at]
    apart = ("{E_%d} − {U}" if most.volts >= common else "{U} − {E_%d}") % most.place
    rest = Input("U", "voltage of all in the end", common, "V", Basis.COMPUTED)
    heats = (f"{{C_{end.place}}} · ({{E_{end.place}}} − {{U}})^2" for end in found)
    return {
        "charge": Worked(
            name=f"charge that {most.name} moves with all on one bus",
            kind=CHARGE,
            formula=f"({apart}) · {{C_{most.place}}} / 3600",
            inputs=(most.volt(), rest, most.farad()),
            source="rc-transient",
        ),
        "heat": Worked(
            name="heat left in all strings with all on one bus",
            kind=HEAT,
            formula=f"({' + '.join(heats)}) / 2",
            inputs=(
                *(end.volt() for end in found),
                rest,
                *(end.farad() for end in found),
            ),
            source="rc-transient",
        ),
    }


def worst_within(end: End, tolerance: Input) -> Worked:
    """Return the most that flows in a string that lies within a tolerance of the bus [A]."""
    return Worked(
        name=f"first current of {end.name} at most",
        kind=CURRENT,
        formula=f"{{{tolerance.symbol}}} / ({{f}} · {{R_{end.place}}})",
        inputs=(tolerance, end.ohm(), low_share()),
        source="ohms-law",
        note="As if the bus had no resistance of its own.",
    )


def volts_worked(name: str, formula: str, inputs: tuple[Input, ...]) -> Worked:
    """Return a voltage to bring something to [V]."""
    return Worked(
        name=name,
        kind=VOLTAGE,
        formula=formula,
        inputs=inputs,
        source="common-practice",
    )
