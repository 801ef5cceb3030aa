"""What attempts to break the settings are made with: devices at their worst, strings, runs.

Modules are level when full. On the way down a weak one is empty first, which the voltage of the
pack does not show: where the bars stand at the cut-off, the others still hold theirs up, and its
cells lie far lower than the spread at full.
"""

from __future__ import annotations

import attrs
import numpy as np
from numpy.typing import NDArray

from evpack.base.basis import Basis
from evpack.base.brief import brief
from evpack.base.fitted import NOT_FITTED
from evpack.base.units import VOLTAGE, Quantity
from evpack.base.wording import say
from evpack.base.worked import Input, Worked, count
from evpack.describe.charger import Charger
from evpack.describe.inverter import Inverter
from evpack.kernels.network import State, Strings, rested
from evpack.kernels.runs import Followed, Limits, follow
from evpack.outcome.cells import imbalance, imbalance_basis
from evpack.outcome.design import Design
from evpack.outcome.runs import TrialRun
from evpack.outcome.settings import Act, Line, Setting
from evpack.simulate.sharing import WEAK
from evpack.simulate.strings import StringScale, pack_strings

Array = NDArray[np.float64]

CUTS = "cell monitoring (BMS)"
# What takes a charger's voltage elsewhere, unless it is turned off or entered.
_RAISES = (Line.FLOAT, Line.EQUALISE, Line.COMPENSATION)

WARM = 25.0  # cells and air where nothing else is said [°C]
FROM = 0.2  # state of charge at which charges begin [1]
GENTLE = 0.05  # a discharge that sags little, of capacity an hour; common practice, no source
BEYOND = 1.5  # states of charge up to which a stuck charger is followed, and down to its mirror
KEPT = 400  # rows of a run that are kept
_FINE = 1.5e-4  # state of charge that a step moves: curves bend sharply near full [1]
_MOST_STEPS = 20_000

WEAK_WORDS = (
    f"a weak module has {say(WEAK.capacity, '')} of the capacity and {WEAK.resistance:g} times the "
    "resistance, and is level with the others when full"
)
_THE_MODULE = (
    f"One module of the last string has {say(WEAK.capacity, '')} of the capacity and "
    f"{WEAK.resistance:g} times the resistance."
)


@attrs.frozen(kw_only=True)
class ChargerAtWorst:
    """One charger as it is set.

    Parameters
    ----------
    volts : float or None
        The highest voltage that it may really hold, its error included [V]; None is not settled.
    amps : float or None
        What all its units give together as they are set [A]; None is not known.
    unit : float or None
        What one unit gives by itself, whatever is entered [A].
    assumed : tuple of str
    """

    name: str
    volts: float | None
    amps: float | None
    unit: float | None
    assumed: tuple[str, ...]

    __repr__ = brief


@attrs.frozen(kw_only=True)
class StopAtWorst:
    """One inverter: the voltage at which it really stops, its meter reading high [V]."""

    name: str
    volts: float | None
    assumed: tuple[str, ...]

    __repr__ = brief


def chargers_at_worst(design: Design) -> tuple[ChargerAtWorst, ...]:
    """Return every charger as the sheet sets it."""
    return tuple(_charger(design, charger) for charger in design.build.all_chargers)


def _charger(design: Design, charger: Charger) -> ChargerAtWorst:
    error, assumed = _error(
        design, charger.accuracy, charger.basis.of("accuracy"), "charger_accuracy", charger.name
    )
    unit = None if charger.current is None else float(charger.current.m)
    highest = _highest(design, charger)
    limit = _line(design, charger.name, Line.CURRENT)
    amps = None
    if limit is not None and not limit.not_connected:
        entered = limit.act is Act.ENTER and limit.worked is not None
        settled = limit.act is not Act.FIND_OUT
        each = limit.worked.value if entered and limit.worked is not None else unit
        amps = each * charger.count if settled and each else None  # one of 0 A charges nothing
    return ChargerAtWorst(
        name=charger.name,
        volts=None if highest is None else highest * (1 + error),
        amps=amps,
        unit=unit,
        assumed=assumed,
    )


def _highest(design: Design, charger: Charger) -> float | None:
    """Return the highest voltage that is entered on a charger, or that its profile rises to [V]."""
    profile = charger.left_on
    if profile is None:
        lines = _lines(design, charger.name)
        if any(line.not_connected for line in lines):
            return None
        if any(line.name in _RAISES and line.act in {Act.FIND_OUT, Act.CANNOT} for line in lines):
            return None  # it may rise to nobody knows what
        entered = [
            line.worked.value
            for line in lines
            if line.act is Act.ENTER and line.worked is not None and line.worked.kind is VOLTAGE
        ]
        charge = _line(design, charger.name, Line.CHARGE)
        return max(entered) if charge is not None and charge.act is Act.ENTER else None
    site = design.build.site
    if site.coldest is None:
        return None
    felt = min(float(t.m) for t in (site.coldest, site.coldest_outside) if t is not None)
    return max(
        profile.compensated(felt, equalising=equalising, least=charger.unstated_compensation)
        for equalising in (False, True)
    )


def stops_at_worst(design: Design) -> tuple[StopAtWorst, ...]:
    """Return where every inverter really stops."""
    return tuple(_stop(design, inverter) for inverter in design.build.inverters)


def _stop(design: Design, inverter: Inverter) -> StopAtWorst:
    error, assumed = _error(
        design,
        inverter.meter_accuracy,
        inverter.basis.of("meter_accuracy"),
        "meter_accuracy",
        inverter.name,
    )
    line = _line(design, inverter.name, Line.CUT_OFF)
    volts = None
    if inverter.cut_off is NOT_FITTED:
        volts = None if inverter.window_low is None else float(inverter.window_low.m)
    elif line is not None and line.act is Act.ENTER and line.worked is not None:
        volts = line.worked.value
    return StopAtWorst(
        name=inverter.name, volts=None if volts is None else volts / (1 + error), assumed=assumed
    )


def cut_of_monitoring(design: Design, side: str) -> float | None:
    """Return the ``"high"`` or ``"low"`` cut of the cell monitoring, as the sheet has it [V]."""
    cut = Line.CELL_CUT_HIGH if side == "high" else Line.CELL_CUT_LOW
    line = _line(design, CUTS, cut)
    return None if line is None else line.per_cell


def only_assumed(design: Design, side: str) -> tuple[str, ...]:
    """Return what a cell is judged by that is only assumed, in words.

    Parameters
    ----------
    side : str
        ``"highest"`` or ``"least"``: the limit of a cell that it is held against.
    """
    pack, module = design.build.pack, design.build.pack.module
    known = (
        ("spread of the cells", imbalance_basis(pack, full=side == "highest")),
        (f"{side} voltage of a cell", module.limit_basis(side)),
        ("open-circuit voltage curve", module.curve.basis),
    )
    return tuple(words for words, basis in known if basis is Basis.ASSUMED)


def amps_assumed(design: Design) -> tuple[str, ...]:
    """Return the chargers whose current is only assumed, in words."""
    return tuple(
        f"current of {charger.name}"
        for charger in design.build.all_chargers
        if charger.basis.of("current") is Basis.ASSUMED
    )


def output_assumed(design: Design) -> tuple[str, ...]:
    """Return the inverters whose output or efficiency is only assumed, in words."""
    return tuple(
        f"{field} of {inverter.name}"
        for inverter in design.build.inverters
        for field in ("continuous", "efficiency")
        if inverter.basis.of(field) is Basis.ASSUMED
    )


def _error(
    design: Design, stated: Quantity | None, basis: Basis, fallback: str, name: str
) -> tuple[float, tuple[str, ...]]:
    policy = design.build.policy
    if stated is None:
        stated, basis = getattr(policy, fallback), policy.basis.of(fallback)
    return float(stated.m), (f"error of {name}",) if basis is Basis.ASSUMED else ()


def _lines(design: Design, device: str) -> tuple[Setting, ...]:
    settings = None if design.settings is None else design.settings.device(device)
    return () if settings is None else settings.lines


def _line(design: Design, device: str, name: Line) -> Setting | None:
    return next((line for line in _lines(design, device) if line.name == name), None)


@attrs.frozen(kw_only=True, eq=False)
class Bench:
    """What every attempt needs: the design, its strings, cells in series."""

    design: Design
    strings: Strings
    cells: int

    def apart(self, *, charging: bool) -> Input:
        """Return how far the highest cell, or on discharge the lowest, lies from the mean [V]."""
        found = imbalance(self.design.build.pack, full=charging)
        return attrs.evolve(found, means="spread of the cells")

    def limit(self, *, charging: bool) -> float:
        """Return what a cell stands [V]."""
        module = self.design.build.pack.module
        return float((module.highest if charging else module.least).m)

    def told(
        self, name: str, says: str, done: Followed, *, charging: bool, volts: float | None = None
    ) -> TrialRun:
        """Return a run with its cell; `volts` stands in for the worst that was read off it [V]."""
        sign, apart = (1.0 if charging else -1.0), self.apart(charging=charging)
        seen = done.record.volts
        if volts is None:
            volts = float(sign * np.max(sign * seen, initial=-np.inf))
        return self._run(
            name,
            says,
            done,
            seen / self.cells + sign * apart.value,
            Worked(
                name=f"{'highest' if charging else 'lowest'} cell, {name}",
                kind=VOLTAGE,
                formula=f"{{V_bars}} / {{n}} {'+' if charging else '−'} {{δ}}",
                inputs=(
                    Input(
                        "V_bars", "voltage at the bars, at its worst", volts, "V", Basis.COMPUTED
                    ),
                    count("n", "cells in series", self.cells),
                    apart,
                ),
                source="arithmetic",
            ),
            charging=charging,
        )

    def told_of_module(
        self, name: str, says: str, done: Followed, mean: Array, worst: float, *, charging: bool
    ) -> TrialRun:
        """Return a run with the cell of one module, from its mean cell: of every row, at its worst.

        Parameters
        ----------
        mean : array, shape (r,)
            Mean cell of the module [V].
        worst : float
            The same at its worst [V].
        """
        sign, apart = (1.0 if charging else -1.0), self.apart(charging=charging)
        return self._run(
            name,
            says,
            done,
            mean + sign * apart.value,
            Worked(
                name=f"{'highest' if charging else 'lowest'} cell, {name}",
                kind=VOLTAGE,
                formula=f"{{V_mod}} {'+' if charging else '−'} {{δ}}",
                inputs=(
                    Input(
                        "V_mod",
                        "mean cell of the module that stands highest, in the run"
                        if charging
                        else "mean cell of the weak module, in the run",
                        worst,
                        "V",
                        Basis.COMPUTED,
                    ),
                    apart,
                ),
                source="arithmetic",
            ),
            charging=charging,
        )

    def _run(
        self,
        name: str,
        says: str,
        done: Followed,
        cell: Array,
        reached: Worked,
        *,
        charging: bool,
    ) -> TrialRun:
        """Return a run, thinned for the picture; the worst cell and the last row are kept."""
        sign, seen, record = (1.0 if charging else -1.0), done.record.volts, done.record
        even = np.linspace(0, seen.size - 1, min(KEPT, seen.size)).astype(int)
        kept = np.unique(np.append(even, np.argmax(sign * cell)))
        return TrialRun(
            name=name,
            says=says,
            time=done.time[kept],
            volts=seen[kept],
            cell=cell[kept],
            current=record.current[kept],
            soc=record.soc[kept],
            # Of every step: rows may have been thinned.
            busiest=float(np.max(-record.lowest if charging else record.highest)),
            limit=self.limit(charging=charging),
            reached=reached,
        )


def steps_of(own: Strings, amps: float, seconds: float) -> tuple[int, float]:
    """Return how many steps of how long [s]: fine, and not without end."""
    moved = amps * seconds / float(own.coulombs.sum())
    steps = min(_MOST_STEPS, max(KEPT, int(np.ceil(moved / _FINE))))
    return steps, seconds / steps


def discharge_weak(bench: Bench, name: str, lowest: float, power: float | None) -> TrialRun:
    """Draw gently, and at full output, till the inverter with the lowest stop has stopped.

    Gently the others hold the most voltage up; loaded, the weak module sags the most. Which of them
    takes its cells lower hangs on the curve: that run is returned.

    Parameters
    ----------
    lowest : float
        At which the last inverter stops [V].
    power : float or None
        What the inverters draw at full output [W]; None is not known.
    """
    gentle = GENTLE * float(_strings(bench)[0].coulombs.sum()) / 3600
    runs = [_discharged(bench, name, lowest, gentle, full=False)]
    if power is not None:
        runs.append(_discharged(bench, name, lowest, power, full=True))
    return min(runs, key=lambda run: run.reached.value)


def _discharged(bench: Bench, name: str, lowest: float, order: float, *, full: bool) -> TrialRun:
    """Draw a current [A], or at full output a power [W]; return the run of the weak module."""
    own, alone = _strings(bench)
    amps = order / lowest if full else order
    steps, step = steps_of(own, amps, BEYOND * float(own.coulombs.sum()) / amps)
    done = follow(
        own,
        rested(own, 1.0, WARM),
        np.full(steps, order),
        step,
        power=full,
        limits=Limits(lowest=lowest),
        ambient=WARM,
    )
    cell, _ = _cells(bench, own, alone, done)
    cut, worst = done.books.cut, float(cell.min())
    if cut > 0:
        # Between two steps the bars may fall all the way to the stop; let it all be the weak one.
        falls = max(0.0, float(done.record.volts[cut - 1]) - lowest)
        cells = bench.design.build.pack.module.cells_in_series
        worst = min(worst, float(cell[cut - 1]) - falls / cells)
    says = (
        f"{_THE_MODULE} {say(order, 'W' if full else 'A')} drawn from full till the last inverter "
        f"stops at {say(lowest, 'V')}."
    )
    return bench.told_of_module(name, says, done, cell, worst, charging=False)


def charge_weak(bench: Bench, name: str, highest: float, amps: float, held: float) -> TrialRun:
    """Charge at all that the chargers give; return the cell of the module that stands highest.

    Parameters
    ----------
    highest, amps : float
        Voltage [V] and current [A] of all chargers at their worst.
    held : float
        For how long the charge is held on after it could be over [s].
    """
    own, alone = _strings(bench)
    seconds = (1.0 - FROM) * float(own.coulombs.sum()) / amps + held
    steps, step = steps_of(own, amps, seconds)
    done = follow(
        own,
        _joined(own, FROM),
        np.full(steps, -amps),
        step,
        limits=Limits(highest=highest),
        ambient=WARM,
    )
    weak, others = _cells(bench, own, alone, done)
    cell = np.maximum(weak, others)
    says = (
        f"{_THE_MODULE} All chargers at {say(amps, 'A')} up to {say(highest, 'V')}, and held there."
    )
    return bench.told_of_module(name, says, done, cell, float(cell.max()), charging=True)


def _strings(bench: Bench) -> tuple[Strings, Strings]:
    """Return the strings, of which the last has a weak module; and strings of weak modules alone.

    Both have the state of charge of the weak module.
    """
    n = bench.strings.lead.size
    mixed = [StringScale()] * (n - 1) + [WEAK]
    alone = [attrs.evolve(WEAK, modules=None)] * n
    return (
        pack_strings(bench.design, scales=mixed).strings,
        pack_strings(bench.design, scales=alone).strings,
    )


def _joined(own: Strings, soc: float) -> State:
    """Return strings that rest at one voltage, the first of them at a state of charge [1]."""
    state = rested(own, soc, WARM)
    grid = np.linspace(0.0, 1.0, own.ocv.shape[1])
    volts = np.interp(soc, grid, own.ocv[0])
    state.soc[:] = [np.interp(volts, curve, grid) for curve in own.ocv]
    return state


def _cells(bench: Bench, own: Strings, alone: Strings, done: Followed) -> tuple[Array, Array]:
    """Return the mean cell of the weak module and of the others in its string, row by row [V].

    What a string loses inside falls on its modules as their resistances do. What the bars lose is
    counted as lost inside: to the safe side both ways.
    """
    pack = bench.design.build.pack
    series, cells = pack.modules_in_series, pack.module.cells_in_series
    soc, amps = done.record.soc[:, -1], done.record.current[:, -1]
    string = done.record.volts + amps * own.lead[-1]
    lost = _at(own.ocv[-1], soc) - string
    inside = np.clip(soc, 0.0, 1.0)
    part = _at(alone.ohms[-1], inside) / series / _at(own.ohms[-1], inside)
    weak = _at(alone.ocv[-1], soc) / series - lost * part
    others = weak if series == 1 else (string - weak) / (series - 1)
    return weak / cells, others / cells


def _at(curve: Array, soc: Array) -> Array:
    """Return a curve over states of charge from 0 to 1, straight on beyond its ends."""
    place = soc * (curve.size - 1)
    j = np.clip(place.astype(int), 0, curve.size - 2)
    found: Array = curve[j] + (place - j) * (curve[j + 1] - curve[j])
    return found
