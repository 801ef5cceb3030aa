"""The numbers of one inverter's precharge: what is filled, through what, and what without it."""

from __future__ import annotations

from collections.abc import Sequence

import attrs

from evpack.base.basis import Basis
from evpack.base.units import CURRENT, HEAT, LET_THROUGH, RESISTANCE, TIME, VOLTAGE
from evpack.base.wording import say, say_up
from evpack.base.worked import Input, Worked, count, from_worked, known
from evpack.describe.inverter import Inverter
from evpack.describe.safeguards import Precharge
from evpack.kernels.conductor import COLD_COPPER
from evpack.kernels.precharge import (
    part_left,
    resistor_at_least,
    resistor_at_most,
)
from evpack.outcome.groundwork import Groundwork
from evpack.outcome.protection import Circuit
from evpack.protect.bounds import needed_voltage

FULL = 5.0  # time constants: 99.3 % of the voltage is there
NEARLY = 3.0  # 95 %: a step of more than 5 % is as good as no precharge. Common practice
GIVES_UP = 10.0  # time constants to a time-out. Common practice, no source
_QUICK = 2.0  # s that a proposed precharge should take at most; common practice, no source
_GENTLE = 10.0  # A that a proposed precharge begins with at most; common practice, no source


@attrs.frozen(kw_only=True)
class Filling:
    """What is filled through what.

    Parameters
    ----------
    one : Input
        Capacitance of one unit [F].
    units : Input
        How many units one contact feeds.
    volts : Worked
        Of the full pack [V].
    resistor : Input
        As stated, else as proposed [Ω].
    path : Worked
        All that resists where there is no precharge, at its least [Ω].
    strings, uneven : Input
        How many share a rush, and the part of the busiest against an even one.
    """

    one: Input
    units: Input
    volts: Worked
    resistor: Input
    path: Worked
    strings: Input
    uneven: Input

    @property
    def farads(self) -> float:
        """Return the capacitance of all units [F]."""
        return self.one.value * self.units.value

    def times(self, name: str, number: float) -> Worked:
        """Return so many time constants [s]."""
        return Worked(
            name=name,
            kind=TIME,
            formula=f"{number:g} · {{R}} · {{C}} · {{N_u}}",
            inputs=(self.resistor, self.one, self.units),
            source="rc-transient",
        )

    def heat(self) -> Worked:
        """Return what one filling leaves in the resistor [J], whatever its resistance."""
        volts = from_worked("V", self.volts)
        return Worked(
            name="heat in the resistor",
            kind=HEAT,
            formula="{N_u} · {C} · {V}^2 / 2",
            inputs=(self.units, self.one, volts),
            source="rc-transient",
        )

    def heat_into_short(self, seconds: float) -> Worked:
        """Return what a short behind the resistor heats it with till the time-out [J]."""
        volts = from_worked("V", self.volts)
        return Worked(
            name="heat in the resistor if the inverter is shorted",
            kind=HEAT,
            formula="{V}^2 / {R} · {t}",
            inputs=(
                volts,
                self.resistor,
                Input("t", "till the time-out", seconds, "s", Basis.COMPUTED),
            ),
            source="ohms-law",
        )

    def first_current(self) -> Worked:
        """Return what the filling begins with [A]."""
        return _over("first current", self.volts, self.resistor)

    def rush(self) -> Worked:
        """Return what a rush without precharge begins with [A]."""
        return _over("first current without precharge", self.volts, from_worked("R_0", self.path))

    def through_main(self) -> Worked:
        """Return the I²t of a rush through a unit's main fuse [A²s]: worst when it starts alone."""
        volts, path = from_worked("V", self.volts), from_worked("R_0", self.path)
        return Worked(
            name="I²t through its main fuse without precharge",
            kind=LET_THROUGH,
            formula="{C} · {V}^2 / (2 · {R_0})",
            inputs=(self.one, volts, path),
            source="rc-transient",
        )

    def through_string(self) -> Worked:
        """Return the I²t of a rush through each string fuse [A²s]: worst when all start at once."""
        volts, path = from_worked("V", self.volts), from_worked("R_0", self.path)
        return Worked(
            name="I²t through each string fuse without precharge",
            kind=LET_THROUGH,
            formula="{N_u} · {C} · {V}^2 / (2 · {R_0}) · min({k} / {N}, 1)^2",
            inputs=(self.units, self.one, volts, path, self.uneven, self.strings),
            source="rc-transient",
        )

    def with_it(self, fitted: Precharge | None) -> tuple[Worked, ...]:
        """Return resistor, first current, heat, heat into a short, time, time-out, step left."""
        waited = self.times("time to fill", FULL)
        seconds = waited.value
        if fitted is not None and fitted.wait is not None:
            seconds = float(fitted.wait.m)
        left = Input(
            "k",
            f"part of the voltage that is missing after {say(seconds, 's')}: e to the power of "
            "−t / (R · C)",
            part_left(seconds, self.resistor.value, self.farads),
            "",
            Basis.COMPUTED,
        )
        volts = from_worked("V", self.volts)
        resistor = Worked(
            name="precharge resistor",
            kind=RESISTANCE,
            formula="{R}",
            inputs=(self.resistor,),
            source="common-practice",
        )
        step = Worked(
            name="step left when the main contact closes",
            kind=VOLTAGE,
            formula="{V} · {k}",
            inputs=(volts, left),
            source="rc-transient",
        )
        time_out = self.times("time-out", GIVES_UP)
        until = time_out.value
        if fitted is not None and fitted.time_out is not None:
            until = float(fitted.time_out.m)
        heat = self.heat_into_short(until)
        return resistor, self.first_current(), self.heat(), heat, waited, time_out, step

    def offer(self) -> str:
        """Say in words what to fit."""
        waited = self.times("time to fill", FULL).value
        time_out = self.times("time-out", GIVES_UP).value
        shorted = shorted_heat(self.volts.value, self.resistor.value, time_out)
        return (
            f"Take {say(self.resistor.value, 'Ω')}, which begins with "
            f"{say_up(self.first_current().value, 'A')}, for a pulse of {say_up(shorted, 'J')}: "
            f"{say_up(self.heat().value, 'J')} for a filling, all of it for a short-circuited "
            "inverter. "
            f"Close the main contact after {say_up(waited, 's')} and a look at the voltage, and "
            f"give up after {say_up(time_out, 's')}."
        )


def shorted_heat(volts: float, ohms: float, seconds: float) -> float:
    """Return what a short behind the resistor heats it with till the time-out [J]."""
    return volts**2 / ohms * seconds


def stated_resistor(fitted: Precharge) -> Input | None:
    """Return the resistor that the build sheet describes; None where it does not."""
    if fitted.resistance is None:
        return None
    return known("R", "precharge resistor", fitted.resistance, fitted.basis.of("resistance"))


def filling(
    ground: Groundwork, inverter: Inverter, main: Circuit, fitted: Precharge | None
) -> Filling | None:
    """Return what is filled; None where nobody knows the capacitance, or says there is none."""
    held = inverter.input_capacitance
    if held is None or held.m <= 0:
        return None
    one = known("C", "input capacitance of one unit", held, inverter.basis.of("input_capacitance"))
    units = count("N_u", "units behind one contact", inverter.count)
    volts = needed_voltage(ground)
    return Filling(
        one=one,
        units=units,
        volts=volts,
        resistor=_resistor(fitted, volts, one.value * units.value),
        path=_least_path(volts, main),
        strings=count("N", "strings in parallel", ground.build.pack.strings),
        uneven=ground.guard("k", "sharing_imbalance"),
    )


def together(each: Sequence[Filling | None], fitted: Precharge | None) -> Filling | None:
    """Return what one precharge for all fills; None where one of them is not known."""
    held = [one for one in each if one is not None]
    if not held or len(held) < len(each):
        return None
    told = " + ".join(f"{one.units.value:.0f} × {say(one.one.value, 'F')}" for one in held)
    guessed = any(one.one.basis is Basis.ASSUMED for one in held)
    farads = sum(one.farads for one in held)
    return attrs.evolve(
        held[0],
        one=Input(
            "C",
            f"input capacitance of all inverters together, {told}",
            farads,
            "F",
            Basis.ASSUMED if guessed else Basis.COMPUTED,
        ),
        units=count("N_u", "contacts that feed them", 1),
        resistor=_resistor(fitted, held[0].volts, farads),
    )


def _resistor(fitted: Precharge | None, volts: Worked, farads: float) -> Input:
    """Return the resistor that is stated, else one to propose [Ω]."""
    resistor = None if fitted is None else stated_resistor(fitted)
    if resistor is not None:
        return resistor
    means = (
        "precharge resistor, proposed: a value of the E6 series that fills within "
        f"{_QUICK:g} s, or a larger one where that would begin with more than {_GENTLE:g} A"
    )
    return Input("R", means, _proposed(volts.value, farads), "Ω", Basis.CHOSEN)


_LEAST_FARADS = 1e-9  # below it there is nothing to fill, and any resistor does


def _proposed(volts: float, farads: float) -> float:
    """Return a resistor that fills in good time [Ω]; where that begins too hard, a larger one."""
    quick = resistor_at_most(_QUICK / (FULL * max(farads, _LEAST_FARADS)))
    return quick if volts / quick <= _GENTLE else resistor_at_least(volts / _GENTLE)


def _least_path(volts: Worked, main: Circuit) -> Worked:
    """Return all that resists a rush into one inverter [Ω]: warm cells at their least, cold cable.

    The cells come in by the highest fault current at the bus, which took them at their least.
    """
    assert main.interrupting is not None  # noqa: S101  (a main always has its fault current)
    cable = 0.0 if main.run is None else float(main.run.resistance.m) * COLD_COPPER
    return Worked(
        name=f"least resistance on the way to {main.device}",
        kind=RESISTANCE,
        formula="{V} / {I_bus} + {R_cable}",
        inputs=(
            from_worked("V", volts),
            from_worked("I_bus", main.interrupting),
            Input("R_cable", "its cable, both ways, cold", cable, "Ω", Basis.COMPUTED),
        ),
        source="ohms-law",
    )


def _over(name: str, volts: Worked, ohms: Input) -> Worked:
    return Worked(
        name=name,
        kind=CURRENT,
        formula=f"{{V}} / {{{ohms.symbol}}}",
        inputs=(from_worked("V", volts), ohms),
        source="ohms-law",
    )
