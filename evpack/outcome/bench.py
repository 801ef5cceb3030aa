"""What one bench record says of the cell that was tested."""

from __future__ import annotations

import attrs
import numpy as np
from numpy.typing import NDArray

from evpack.base.brief import brief
from evpack.base.errors import DescriptionError
from evpack.base.units import (
    CHARGE,
    ENERGY,
    RESISTANCE,
    SHARE,
    TEMPERATURE,
    VOLTAGE,
    Quantity,
)
from evpack.base.wording import say
from evpack.describe.checked import whole
from evpack.describe.module import in_the_middle
from evpack.describe.ocv import OcvCurve, ResistanceCurve
from evpack.kernels.record import mean_at_floor

Array = NDArray[np.float64]

# Where the resistance is about level [1]. Common practice, no source.
MIDDLE = (0.1, 0.9)


def _column(given: object) -> Array:
    array = np.array(given, dtype=np.float64)
    array.setflags(write=False)
    return array


@attrs.frozen(kw_only=True, eq=False)
class GroupsSeen:
    """Voltages of the cell groups, from full to the end of the discharge, and at full.

    Where a logger gave only the lowest and the highest, the mean is that of the terminals.

    Parameters
    ----------
    lowest, mean, volts : array, shape (k,)
        Lowest group, mean of all groups (empty: not known) and voltage between the terminals [V].
    top_highest, top_mean, top_volts : array, shape (t,)
        Highest group, mean and terminals while full: from the end of the charge till the load
        comes on [V]; empty where that was not logged.
    """

    lowest: Array = attrs.field(converter=_column)
    mean: Array = attrs.field(converter=_column)
    volts: Array = attrs.field(converter=_column)
    top_highest: Array = attrs.field(converter=_column, default=())
    top_mean: Array = attrs.field(converter=_column, default=())
    top_volts: Array = attrs.field(converter=_column, default=())

    __repr__ = brief

    def below_mean(self, cells_in_series: int, floor: Quantity | None = None) -> Quantity:
        """Return how far the lowest group stood below the mean, towards empty [V].

        Parameters
        ----------
        cells_in_series : int
            Cell groups between the terminals.
        floor : quantity, optional
            Where the lowest stood at this voltage. It grows towards empty, so that further down
            it would be too much; by default, or where the record ends above it, that at the end.
        """
        mean = self.mean if self.mean.size else self.volts / cells_in_series
        if floor is not None:
            reached = mean_at_floor(self.lowest, mean, float(floor.m))
            if reached is not None:
                return VOLTAGE.of(max(0.0, reached - float(floor.m)))
        return VOLTAGE.of(max(0.0, float(mean[-1] - self.lowest[-1])))

    def reached(self, floor: Quantity) -> bool:
        """Return whether the lowest group was seen at a voltage or under it."""
        return bool(self.lowest.min() <= floor.m)

    def above_mean(self, cells_in_series: int) -> Quantity | None:
        """Return how far the highest group stood above the mean at full [V]; None if not read."""
        if not self.top_highest.size:
            return None
        mean = self.top_mean if self.top_mean.size else self.top_volts / cells_in_series
        return VOLTAGE.of(max(0.0, float(np.max(self.top_highest - mean))))


def _read_only(values: object) -> Array:
    array = np.array(values, dtype=np.float64)
    array.setflags(write=False)
    return array


@attrs.frozen(kw_only=True, eq=False)
class BenchReading:
    """What was read from one bench record, for the cell (or cell group) as it was tested.

    State of charge counts from full, over the net capacity of this very discharge.

    Parameters
    ----------
    name : str
        The record, as the user knows it.
    source : str
        Where the record comes from: a key or a citation.
    capacity : quantity
        Net charge from full to the end of the discharge [Ah].
    energy : quantity
        Net energy over the same [Wh].
    highest, least : quantity
        Voltages met up to the end of the discharge, and within it [V].
    temperature : quantity or None
        Mean ambient during the discharge [degC]; None if the record does not tell.
    rest_soc, rest_volts : array, shape (r,)
        End of each long rest: state of charge [1], falling, and open-circuit voltage [V].
    pulse_soc, pulse_ohms : array, shape (p,)
        Discharge from rest: state of charge [1], falling, and resistance 10 s later [Ω].
    curve : OcvCurve or None
        Rest voltage from empty to full; None if the record cannot give one (a note says why).
    estimated_below : float or None
        State of charge [1] below which the curve is in part estimated from a loaded discharge.
    charge_positive : bool
        Whether positive current in the record was taken as charging.
    current_sign : str
        The same in a sentence, with how it is known.
    notes : tuple of str
        What was done with the record, in plain sentences.
    current : quantity or None
        Mean current of the discharge while it flowed [A].
    capacity_error : quantity or None
        By how much the capacity may be off at worst [Ah]; None where the meter's accuracy is
        not known.
    pulse_errors : array, shape (p,) or (0,)
        The same of each pulse's resistance [Ω]; empty where it is not known.
    charge_efficiency : quantity or None
        Charge out over charge in [1]; None where the record holds no whole cycle.
    full_rested : quantity or None
        How long the cell had rested at full [s]; None without a long rest there.
    full_cells, end_cells : array, shape (s,) or (0,)
        Voltages of the cell groups at the end of that rest, and at the end of the discharge [V].
    lowest_cell : quantity or None
        The lowest voltage of any cell group in the whole record [V].
    rise : quantity or None
        How much warmer its warmest spot became in the discharge and the rest after it [K].
    groups : GroupsSeen or None
        How the cell groups stood on the way down; None where they were not read.
    pulse_celsius : array, shape (p,) or (0,)
        How warm the cells were before each pulse [°C]; empty where it is not known.

    Raises
    ------
    DescriptionError
        No capacity, or points whose two columns differ in length.
    """

    name: str
    source: str
    capacity: Quantity
    energy: Quantity
    highest: Quantity
    least: Quantity
    temperature: Quantity | None
    rest_soc: Array = attrs.field(converter=_read_only)
    rest_volts: Array = attrs.field(converter=_read_only)
    pulse_soc: Array = attrs.field(converter=_read_only)
    pulse_ohms: Array = attrs.field(converter=_read_only)
    curve: OcvCurve | None
    estimated_below: float | None
    charge_positive: bool
    current_sign: str
    notes: tuple[str, ...]
    current: Quantity | None = None
    capacity_error: Quantity | None = None
    pulse_errors: Array = attrs.field(converter=_read_only, default=())
    charge_efficiency: Quantity | None = None
    full_rested: Quantity | None = None
    full_cells: Array = attrs.field(converter=_read_only, default=())
    end_cells: Array = attrs.field(converter=_read_only, default=())
    lowest_cell: Quantity | None = None
    rise: Quantity | None = None
    groups: GroupsSeen | None = None
    pulse_celsius: Array = attrs.field(converter=_read_only, default=())

    __repr__ = brief

    def __attrs_post_init__(self) -> None:
        """Refuse a reading of nothing."""
        if not (self.capacity.m > 0 and self.energy.m > 0):
            raise DescriptionError(f"{self.name}: a reading needs a capacity and an energy above 0")
        for what, soc, values in (
            ("rest", self.rest_soc, self.rest_volts),
            ("pulse", self.pulse_soc, self.pulse_ohms),
            ("pulse", self.pulse_soc, self.pulse_errors if self.pulse_errors.size else None),
            ("pulse", self.pulse_soc, self.pulse_celsius if self.pulse_celsius.size else None),
        ):
            if values is not None and (soc.ndim != 1 or soc.shape != values.shape):
                raise DescriptionError(
                    f"{self.name}: {what} points need two columns of equal length, got shapes "
                    f"{soc.shape} and {values.shape}"
                )

    @property
    def mean_voltage(self) -> Quantity:
        """Return the mean voltage of the discharge: net energy over net charge [V]."""
        return VOLTAGE.of(float(self.energy.m) / float(self.capacity.m))

    @property
    def resistance(self) -> Quantity | None:
        """Return the 10 s resistance [Ω]; `resistance_where` says at what state of charge.

        Where a pulse stood between 30 and 70 % state of charge, the mean of all from 10 to 90 %;
        else the one nearest to 50 %. None without any pulse, and None is never zero.
        """
        ohms = self._at_middle(self.pulse_ohms)
        return None if ohms is None else RESISTANCE.of(ohms)

    @property
    def resistance_error(self) -> Quantity | None:
        """Return by how much that resistance may be off at worst [Ω]; None where not known."""
        error = self._at_middle(self.pulse_errors)
        return None if error is None else RESISTANCE.of(error)

    @property
    def resistance_soc(self) -> Quantity | None:
        """Return the mean state of charge of the pulses that it comes from [1]."""
        soc = self._at_middle(self.pulse_soc)
        return None if soc is None else SHARE.of(soc)

    @property
    def resistance_temperature(self) -> Quantity | None:
        """Return how warm the cells were before those pulses [°C]; None if it is not known."""
        celsius = self._at_middle(self.pulse_celsius)
        return None if celsius is None else TEMPERATURE.of(celsius)

    @property
    def resistance_where(self) -> str:
        """Return at what state of charge that resistance was read, in words."""
        soc = self.resistance_soc
        if soc is None:
            return ""
        return "middle charge" if in_the_middle(float(soc.m)) else f"at {say(float(soc.m), '')}"

    @property
    def full_voltage(self) -> Quantity | None:
        """Return the open-circuit voltage at full [V]; None without a long rest there."""
        return None if self.full_rested is None else VOLTAGE.of(float(self.rest_volts[0]))

    @property
    def spread_full(self) -> Quantity | None:
        """Return highest minus lowest cell group, rested at full [V]; None if not recorded."""
        return VOLTAGE.of(float(np.ptp(self.full_cells))) if self.full_cells.size else None

    @property
    def spread_end(self) -> Quantity | None:
        """Return highest minus lowest cell group at the end of the discharge [V]."""
        return VOLTAGE.of(float(np.ptp(self.end_cells))) if self.end_cells.size else None

    @property
    def ended_by(self) -> int | None:
        """Return the cell group lowest at the end of the discharge, from 1 as in the record."""
        return int(np.argmin(self.end_cells)) + 1 if self.end_cells.size else None

    def _at_middle(self, values: Array) -> float | None:
        """Return the mean over the pulses at middle charge, else that of the nearest to 50 %."""
        if self.pulse_soc.size == 0 or values.size == 0:
            return None
        if any(in_the_middle(float(soc)) for soc in self.pulse_soc):
            level = (self.pulse_soc >= MIDDLE[0]) & (self.pulse_soc <= MIDDLE[1])
            return float(values[level].mean())
        return float(values[np.argmin(np.abs(self.pulse_soc - 0.5))])

    def for_module(self, *, cells_in_series: int, cells_in_parallel: int = 1) -> ModuleReading:
        """Return the reading carried over to a module of equal cells.

        Parameters
        ----------
        cells_in_series, cells_in_parallel : int
            Cell groups between the terminals, and cells in each.

        Raises
        ------
        DescriptionError
            A count that is no whole number from 1 to 400.
        """
        return ModuleReading(
            cell=self, cells_in_series=cells_in_series, cells_in_parallel=cells_in_parallel
        )


@attrs.frozen(kw_only=True, eq=False)
class ModuleReading:
    """A cell's reading carried over to a module of equal cells.

    Capacity times p, energy times s p, resistance times s / p; the open-circuit curve stays that
    of one cell. Worked by hand: 30 Ah, 115 Wh and 2 mΩ, two in series of three in parallel, give
    90 Ah, 690 Wh and 1.333 mΩ. Salvaged cells are not equal and links add resistance: a module is
    better tested whole.

    Parameters
    ----------
    cell : BenchReading
        Of what was on the bench.
    cells_in_series, cells_in_parallel : int
        s and p, counted in units of what was on the bench.

    Raises
    ------
    DescriptionError
        A count that is no whole number from 1 to 400.
    """

    cell: BenchReading
    cells_in_series: int = attrs.field(validator=whole(1, 400))
    cells_in_parallel: int = attrs.field(validator=whole(1, 400), default=1)

    __repr__ = brief

    @property
    def capacity(self) -> Quantity:
        """Return the module's capacity [Ah]."""
        return CHARGE.of(float(self.cell.capacity.m) * self.cells_in_parallel)

    @property
    def energy(self) -> Quantity:
        """Return the module's energy [Wh]."""
        cells = self.cells_in_series * self.cells_in_parallel
        return ENERGY.of(float(self.cell.energy.m) * cells)

    @property
    def resistance(self) -> Quantity | None:
        """Return the module's 10 s resistance at middle charge, without its links [Ω]."""
        cell = self.cell.resistance
        if cell is None:
            return None
        return RESISTANCE.of(float(cell.m) * self.cells_in_series / self.cells_in_parallel)

    @property
    def resistance_curve(self) -> ResistanceCurve | None:
        """Return the same against state of charge [Ω]; None with fewer than two states tested."""
        soc, first = np.unique(self.cell.pulse_soc, return_index=True)
        if soc.size < 2:  # noqa: PLR2004
            return None
        scale = self.cells_in_series / self.cells_in_parallel
        return ResistanceCurve(soc=soc, ohms=self.cell.pulse_ohms[first] * scale)
