"""A bench record named in a log: read, held against the module, and turned into its readings."""

from __future__ import annotations

import datetime as dt
from typing import Any

import attrs

from evpack.base.errors import DescriptionError
from evpack.base.wording import say
from evpack.describe.batch import Rest
from evpack.describe.chemistry import Chemistry
from evpack.load.batch_log import FromRecord
from evpack.load.bench_record import CurrentSign, read_bench_record
from evpack.load.beside import Beside
from evpack.outcome.bench import BenchReading


@attrs.frozen(kw_only=True)
class Records:
    """Where the records of a log lie, and with what they were made; a call reads one.

    Parameters
    ----------
    beside : Beside
        The folder of the log.
    voltage_accuracy, current_accuracy : quantity or None
        Of the meters [V], [1].
    """

    beside: Beside
    cells: int
    chemistry: Chemistry
    current_sign: CurrentSign
    voltage_accuracy: Any
    current_accuracy: Any

    def __call__(self, name: str, date: dt.date) -> FromRecord:
        """Return what the record of that name, made on that day, says of a module."""
        path = self.beside.file(name, "log")
        targets = self.chemistry.targets
        reading = read_bench_record(
            path,
            current_sign=self.current_sign,
            least_rest=targets.rest if targets else "1 h",
            voltage_accuracy=self.voltage_accuracy,
            current_accuracy=self.current_accuracy,
        )
        self._refuse_another(reading)
        lowest = reading.lowest_cell
        return FromRecord(
            fields=_fields(reading) | self._groups(reading),
            rests=_rest(reading, date),
            lowest=None if lowest is None else float(lowest.m),
            notes=_notes(reading, name, date),
        )

    def _groups(self, reading: BenchReading) -> dict[str, Any]:
        """Return how far the weakest cell group fell behind, looked at as a pack would stop."""
        if reading.groups is None:
            return {}
        targets = self.chemistry.targets
        floor = None if targets is None else targets.warn_low
        return {"imbalance_empty": reading.groups.below_mean(self.cells, floor)}

    def _refuse_another(self, reading: BenchReading) -> None:
        """Refuse a record of one cell, or of another kind of module."""
        mean = float(reading.mean_voltage.m) / self.cells
        limits = self.chemistry.limits
        if not limits.least.m <= mean <= limits.highest.m:
            raise DescriptionError(
                f"its mean voltage of {say(float(reading.mean_voltage.m), 'V')} makes "
                f"{say(mean, 'V')} for each of {self.cells} cell groups; a record of the whole "
                "module is needed"
            )
        if reading.end_cells.size not in {0, self.cells}:
            raise DescriptionError(
                f"it tells of {reading.end_cells.size} cell groups, and a module has "
                f"{self.cells} in series"
            )


def _fields(reading: BenchReading) -> dict[str, Any]:
    """Return the fields of a `TestedModule` that the record tells; what it does not is left out."""
    found: dict[str, Any] = {
        "capacity": reading.capacity,
        "capacity_error": reading.capacity_error,
        "energy": reading.energy,
        "capacity_current": reading.current,
        "capacity_temperature": reading.temperature,
        "charge_efficiency": reading.charge_efficiency,
        "rise": reading.rise,
        "ended_by": reading.ended_by,
    }
    if reading.resistance is not None:
        found |= {
            "resistance": reading.resistance,
            "resistance_error": reading.resistance_error,
            "resistance_method": "10 s pulse",
            "resistance_soc": reading.resistance_soc,
            "resistance_temperature": reading.resistance_temperature,
        }
    return {field: value for field, value in found.items() if value is not None}


def _rest(reading: BenchReading, date: dt.date) -> tuple[Rest, ...]:
    if reading.full_voltage is None:
        return ()
    rest = Rest(
        date=date,
        rested=reading.full_rested,
        temperature=reading.temperature,
        voltage=reading.full_voltage,
        cells=tuple(float(volts) for volts in reading.full_cells),
        full=True,
    )
    return (rest,)


def _notes(reading: BenchReading, name: str, date: dt.date) -> tuple[str, ...]:
    """Say what came from the record, and what of its own notes a judge must know."""
    told = ["capacity", "energy"]
    if reading.resistance is not None:
        told.append(f"resistance ({reading.resistance_where})")
    found = [f"{', '.join(told)} of {date} from the record {name}"]
    weighty = ("taken on trust", "do not add up", "cell groups were read", "Of the cell groups")
    found += [note for note in reading.notes if any(words in note for words in weighty)]
    return tuple(found)
