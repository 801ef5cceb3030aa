"""The groundwork: the build and what follows from it alone, made once and used by every step."""

from __future__ import annotations

import functools

import attrs
import numpy as np
from numpy.typing import NDArray

from evpack.base.basis import Basis, weakest
from evpack.base.brief import brief
from evpack.base.rounding import down_to_step
from evpack.base.told import INNER
from evpack.base.units import SHARE, VOLTAGE, Quantity
from evpack.base.worked import Input, Worked, count, from_worked, known, stated
from evpack.describe.build import Build
from evpack.describe.chemistry import CellTargets
from evpack.describe.policy import means
from evpack.kernels import load_line
from evpack.outcome.cells import at_room, imbalance

_CUT_STEP = 0.01  # what a cut of the cell monitoring is entered to [V]; common practice, no source


@attrs.frozen(kw_only=True, eq=False)
class PackSource:
    """The pack seen from the inverter's terminals.

    Parameters
    ----------
    cells : int
        Cell groups in series.
    soc, emf : array, shape (n,)
        State of charge [1] and open-circuit voltage of the pack [V].
    ohms : array, shape (n,), or None
        Resistance of the pack over 10 s [Ω], without cables; None is unknown.
    cable : float
        Resistance of leads, links and mains together [Ω], as far as it is known.
    capacity : float
        Charge of all strings together [Ah].
    long_factor : float
        Resistance over hours against that over 10 s.
    cold_factor : float
        Resistance of the cells at the coldest they get against that at room temperature.
    """

    cells: int
    soc: NDArray[np.float64]
    emf: NDArray[np.float64]
    ohms: NDArray[np.float64] | None
    cable: float
    cable_known: bool
    capacity: float
    long_factor: float
    cold_factor: float = 1.0

    __repr__ = brief

    def rest_voltage(self, state: float) -> float:
        """Return the pack's voltage at rest [V] at a state of charge."""
        return load_line.voltage_at(self.soc, self.emf, state)

    def state_at_rest(self, voltage: float) -> float:
        """Return the state of charge at which the rested pack shows a voltage [V]."""
        return load_line.state_at(self.soc, self.emf, voltage)

    def path(self, *, hours: bool, warm: bool = False) -> NDArray[np.float64] | None:
        """Return the resistance up to the inverter [Ω], over hours or over 10 s.

        At the coldest that the cells get, or `warm`, at room temperature.
        """
        if self.ohms is None:
            return None
        cells = self.ohms * (self.long_factor if hours else 1.0)
        return cells * (1.0 if warm else self.cold_factor) + self.cable

    def ohms_at(self, state: float, *, hours: bool, warm: bool = False) -> float | None:
        """Return the resistance up to the inverter at a state of charge [Ω]; see `path`."""
        path = self.path(hours=hours, warm=warm)
        return None if path is None else float(np.interp(state, self.soc, path))

    def state_under(self, power: float | None, threshold: float) -> float | None:
        """Return the state at which the pack, loaded for hours, falls to a voltage [V]."""
        path = self.path(hours=True)
        if path is None or power is None:
            return None
        return load_line.lowest_state(self.soc, self.emf, path, power, threshold)[0]


@attrs.frozen(kw_only=True)
class Demand:
    """What is asked of the pack at its DC terminals [W]; None where an input is unknown.

    `rated` is every inverter at its full continuous output, `surge` at its full surge: nothing
    but the builder's word keeps the load below them.
    """

    continuous: Worked | None
    typical: Worked | None
    peak: Worked | None
    rated: Worked | None
    surge: Worked | None

    __repr__ = brief

    def load_for(self, power: float) -> float | None:
        """Return the AC load that draws a DC power [W]; None where the inverters are unknown."""
        if self.continuous is None:
            return None
        by_symbol = {i.symbol: i.value for i in self.continuous.inputs}
        return max(0.0, (power - by_symbol["P_idle"]) * by_symbol["η"])


@attrs.frozen(kw_only=True)
class PackFigures:
    """The pack's own figures; None where an input is unknown.

    `reachable` are the series counts of cells that whole modules allow, from one module up.
    """

    cells_in_series: int
    modules: int
    reachable: tuple[int, ...]
    nominal: Worked
    least: Worked
    highest: Worked
    charge_target: Worked
    capacity: Worked
    label_energy: Worked
    resistance: Worked | None
    discharge_limit: Worked | None
    discharge_peak: Worked | None
    charge_limit: Worked | None

    __repr__ = brief

    def lines(self) -> tuple[Worked, ...]:
        """Return the figures that are known, in the order a person asks for them."""
        every = (
            self.nominal,
            self.least,
            self.highest,
            self.charge_target,
            self.capacity,
            self.label_energy,
            self.resistance,
            self.discharge_limit,
            self.discharge_peak,
            self.charge_limit,
        )
        return tuple(line for line in every if line is not None)


@attrs.frozen(kw_only=True)
class Sharing:
    """Currents of the strings at the pack's greatest continuous current.

    `one_out` is what each remaining string carries when one is missing; None with one string.
    `method` says how the worst was got: a simple bound, or a simulation. `leads` is what the
    string on the shortest lead takes of an even share; None where the leads are alike.
    """

    strings: int
    total: Worked
    even: Worked
    worst: Worked
    one_out: Worked | None
    method: str
    leads: Worked | None = attrs.field(default=None, metadata=INNER)

    __repr__ = brief


def unequal_leads(build: Build, strings: int) -> Worked | None:
    """Return what the string on the shortest lead carries, against an even share.

    Reckoned with the lowest credible resistance of the modules, at which the leads count most.

    Parameters
    ----------
    strings : int
        How many share: all, or those that are left when some are out.

    Returns
    -------
    Worked or None
        None where the leads are alike, where one string carries all, or where the modules'
        resistance is unknown, which no design passes.
    """
    pack, lead, policy = build.pack, build.cabling.module_lead, build.policy
    each = at_room(pack.module, least=True)
    if each is None or lead is None or lead.shortest is None or strings < 2:  # noqa: PLR2004
        return None
    if lead.shortest.m == lead.length.m:
        return None
    string = each.value * pack.modules_in_series
    long = float(lead.resistance.m)
    short = long * float(lead.shortest.m) / float(lead.length.m)
    low = known("k_low", means("ohmic_part"), policy.ohmic_part, policy.basis.of("ohmic_part"))
    wire = lead.basis.of("conductor")
    return Worked(
        name="string on the shortest lead against an even share",
        kind=SHARE,
        formula="{N_on} / (1 + ({N_on} − 1) · ({k_low} · {R_str} + {R_short}) / "
        "({k_low} · {R_str} + {R_long}))",
        inputs=(
            count("N_on", "strings that share", strings),
            low,
            Input(
                "R_str",
                "resistance of a string over 10 s",
                float(string),
                "Ω",
                each.basis,
            ),
            Input("R_short", "shortest lead, both ways", short, "Ω", wire),
            Input("R_long", "longest lead, both ways", long, "Ω", wire),
        ),
        source="ohms-law",
    )


@attrs.frozen(kw_only=True, eq=False)
class Groundwork:
    """The build, its cells' targets, its figures, its pack as a source, and what is asked of it.

    The methods return what the steps put into their formulas, each with how it is known.
    """

    build: Build
    targets: CellTargets
    figures: PackFigures
    source: PackSource
    demand: Demand

    __repr__ = brief

    @property
    def n(self) -> int:
        """Return the number of cells in series."""
        return self.source.cells

    def cells(self) -> Input:
        """Return the number of cells in series as an input."""
        return count("n", "cells in series", self.n)

    def charge_target(self) -> Input:
        """Return the charge target for the highest cell."""
        policy, chemistry = self.build.policy, self.build.pack.module.chemistry
        what = "charge target for the highest cell"
        if policy.charge_target is not None:
            return known("V_high", what, policy.charge_target, policy.basis.of("charge_target"))
        return known("V_high", what, self.targets.charge, chemistry.basis.of("charge"))

    def cell_thresholds(self) -> dict[str, float]:
        """Return the thresholds of the cell monitoring for one cell [V].

        They lie inside the module's limits. A module with tighter limits of its own keeps the
        distance that the chemistry's cuts keep from the chemistry's limits: the monitoring has
        errors too. An inverter that stands less than the high cut draws it in.
        """
        targets, module = self.targets, self.build.pack.module
        limits, gap = module.chemistry.limits, float(targets.ladder_gap.m)
        high, low = float(targets.cut_high.m), float(targets.cut_low.m)
        cut_high = min(high, module.highest.m - (limits.highest.m - high))
        stands = self.cut_that_inverters_stand()
        if stands is not None:
            cut_high = min(cut_high, stands.value)
        cut_low = max(low, module.least.m + min(low - limits.least.m, gap))
        return {
            "cut_high": cut_high,
            "warn_high": min(float(targets.warn_high.m), cut_high - gap),
            "warn_low": max(float(targets.warn_low.m), cut_low + gap),
            "cut_low": cut_low,
        }

    def cut_that_inverters_stand(self) -> Worked | None:
        """Return the high cut of a cell that the weakest inverter survives [V].

        Rounded down to what is entered. None where no inverter says what it stands, and where the
        warning below such a cut would not lie above the charge target: then fewer cells help, and
        no cut does.
        """
        stated = [
            (volts, inverter.basis.of(field))
            for inverter in self.build.inverters
            for field in ("survives", "window_high")
            if (volts := getattr(inverter, field)) is not None
            # The top of the window stands in where nobody said what it survives.
            and (field == "survives" or inverter.survives is None)
        ]
        if not stated:
            return None
        least, basis = min(stated, key=lambda pair: float(pair[0].m))
        value = down_to_step(float(least.m) / self.n, 0.0, _CUT_STEP)
        if value - float(self.targets.ladder_gap.m) <= self.charge_target().value:
            return None
        return Worked(
            name="high cut that the inverters stand",
            kind=VOLTAGE,
            formula="down({V_stands} / {n}, {zero}, {V_step})",
            inputs=(
                known("V_stands", "least DC voltage that an inverter survives", least, basis),
                self.cells(),
                Input("zero", "lowest entry", 0.0, "V", Basis.CHOSEN),
                Input("V_step", "step of an entry", _CUT_STEP, "V", Basis.ASSUMED),
            ),
            source="equipment-manual",
        )

    def coldest_sensor(self) -> float | None:
        """Return the coldest that a charger's temperature sensor may get [°C]; None is unknown.

        Cells may be kept warm while the sensor hangs in the cold, so the air outside counts too.
        """
        site = self.build.site
        known_ones = [float(t.m) for t in (site.coldest, site.coldest_outside) if t is not None]
        return min(known_ones, default=None)

    def coldest_or_freezing(self) -> float:
        """Return the coldest that a charger's sensor may get [°C]; freezing where nobody said."""
        felt = self.coldest_sensor()
        if felt is None or self.build.site.coldest is None:  # outside may be the warmer of the two
            return min(0.0, felt or 0.0)
        return felt

    def spread(self) -> Input:
        """Return how far the highest cell lies above the mean when full."""
        return imbalance(self.build.pack, full=True)

    def spread_empty(self) -> Input:
        """Return how far the weakest cell group lies below the mean towards empty."""
        return imbalance(self.build.pack, full=False)

    def unevenness(self, strings: int) -> float:
        """Return what the busiest of so many strings carries, against an even share."""
        if strings < 2:  # noqa: PLR2004  (one string has nobody to share with)
            return 1.0
        leads = unequal_leads(self.build, strings)
        assumed = float(self.build.policy.sharing_imbalance.m)
        return assumed if leads is None else assumed * leads.value

    def uneven(self, strings: int) -> tuple[Input, ...]:
        """Return the factors of `unevenness`: what is assumed, and what unlike leads add."""
        if strings < 2:  # noqa: PLR2004
            return ()
        assumed, leads = self.guard("k", "sharing_imbalance"), unequal_leads(self.build, strings)
        return (assumed,) if leads is None else (assumed, from_worked("k_lead", leads))

    def guard(self, symbol: str, field: str) -> Input:
        """Return a field of the policy as an input."""
        policy = self.build.policy
        return known(symbol, means(field), getattr(policy, field), policy.basis.of(field))

    @functools.cached_property
    def errors(self) -> tuple[Input, ...]:
        """Return the errors of all meters, and how far the cells lie apart, as what others rest on.

        Of a device that does not say its own the policy's assumed one stands in.
        """
        build = self.build
        found = [
            self.accuracy(
                c.accuracy,
                c.basis.of("accuracy"),
                "charger_accuracy",
                "voltage error of the charger",
            )
            for c in build.all_chargers
        ]
        found += [
            self.accuracy(
                *(i.meter_accuracy, i.basis.of("meter_accuracy")),
                *("meter_accuracy", "error of the inverter's voltmeter"),
            )
            for i in build.inverters
        ]
        return (*found, self.spread(), self.spread_empty())

    @functools.cached_property
    def chargers(self) -> tuple[Input, ...]:
        """Return what all chargers give, as what others rest on."""
        return tuple(one for c in self.build.all_chargers for one in stated(c, "current"))

    @functools.cached_property
    def curve(self) -> Input:
        """Return the open-circuit curve as what others rest on; its value is no one number."""
        return Input(
            "E", "voltage at rest against charge", 0.0, "V", self.build.pack.module.curve.basis
        )

    def coldest(self) -> Input | None:
        """Return the coldest that the cells get; None where nobody said."""
        site = self.build.site
        if site.coldest is None:
            return None
        return known("T", "coldest the cells get", site.coldest, site.basis.of("coldest"))

    @functools.cached_property
    def source_rests(self) -> tuple[Input | Worked, ...]:
        """Return what the pack as a source rests on: its cells, its cables, how cold it is."""
        build, figures = self.build, self.figures
        cabling = build.cabling
        runs = [cabling.module_lead, cabling.link]
        runs += [cabling.run_of(i, cabling.main) for i in build.inverters]
        wires = (
            Input(
                *("R", f"resistance of the {run.name}", float(run.resistance.m), "Ω"),
                weakest((run.basis.of("conductor"), run.basis.of("length"))),
            )
            for run in runs
            if run is not None
        )
        found = (
            self.curve,
            figures.capacity,
            figures.resistance,
            self.guard("k", "long_resistance"),
            self.coldest(),
            *wires,
        )
        return tuple(one for one in found if one is not None)

    def accuracy(self, stated: Quantity | None, basis: Basis, fallback: str, what: str) -> Input:
        """Return a device's stated accuracy, else the policy's assumed one."""
        if stated is None:
            return self.guard("ε", fallback)
        return known("ε", what, stated, basis)
