"""Invent the example heaps: no such modules exist.

The model behind the first heap, all of it made up to look like what a tester meets:

* Capacity against new is normal, 82 % with a standard deviation of 5 %; the cell groups of a
  module lie 0 to 4 % above its weakest one.
* Resistance against new is 1 + 2 (1 - health), with a scatter of 0.05.
* A cell group shows the open-circuit voltage of its state of charge by the short table below
  (a blend of NMC and LMO, rounded); states within a module scatter by a few tenths of a per cent.
* Modules lose 1 % of their charge in a month, give or take a tenth of that.
* H05 is swollen and was not tested. A cell group of H17 was found at 1.4 V. One of H21 loses
  ten per cent a month besides. H11's resistance was not read, H09's capacity was read twice, and
  H07 was tested by a logger: its bench record lies beside the log.

Each module was read as it came (nobody knows for how long it had stood), rested after a charge to
full, and again a week later with nothing in between; then its capacity and resistance were read.

Of the second heap hardly anything was read, to show what stays unknown then.

``python invent_heap.py FOLDER`` writes the logs and the record into a folder. The same numbers come
every time: the seed is fixed, and only `random.random`, which keeps its sequence, is drawn from.
"""  # noqa: INP001  a script beside its data, no package

from __future__ import annotations

import csv
import datetime as dt
import random
import sys
from pathlib import Path
from statistics import NormalDist
from typing import NamedTuple

SEED = 7
CELLS = 7
NEW_AH, NEW_OHM = 66.0, 0.0063
TEST_A = 22.0  # a third of the new capacity in an hour
STATE = (0.0, 0.06, 0.165, 0.27, 0.375, 0.48, 0.58, 0.69, 0.79, 0.895, 1.0)
VOLTS = (3.0, 3.53, 3.72, 3.8, 3.87, 3.91, 3.95, 3.985, 4.05, 4.085, 4.18)
# Modules that something is odd about; the text above says what.
SWOLLEN, LOGGED, TWICE, UNREAD, ONCE_DEAD, LEAKING = 5, 7, 9, 11, 17, 21
UNLABELLED = 8  # of the second heap

HEADING = (
    *("module", "date", "rested [h]", "temperature [degC]", "voltage [V]"),
    *(f"cell {k} [V]" for k in range(1, CELLS + 1)),
    *("full", "capacity [Ah]", "energy [Wh]", "current [A]", "efficiency [%]"),
    *("resistance [mOhm]", "method", "soc [%]", "warmest rise [K]", "ended by cell"),
    *("seen", "note", "record"),
)


class Truth(NamedTuple):
    """What a module is, before anybody reads it: shares of new, a cell group, and its warmth."""

    health: float
    ratio: float
    weakest: int
    warm: float


class Chance:
    """Random numbers of which the sequence is fixed."""

    def __init__(self, seed: int) -> None:
        self._random = random.Random(seed)  # noqa: S311  repeatable, no secret

    def normal(self, mean: float, deviation: float) -> float:
        """Return a normal number."""
        return NormalDist(mean, deviation).inv_cdf(max(self._random.random(), 1e-9))

    def between(self, low: float, high: float) -> float:
        """Return an evenly spread number."""
        return low + (high - low) * self._random.random()


def rest_volts(state: float) -> float:
    """Return the open-circuit voltage of a cell group [V], straight between the table's points."""
    state = min(max(state, 0.0), 1.0)
    k = max(k for k in range(len(STATE) - 1) if STATE[k] <= state)
    part = (state - STATE[k]) / (STATE[k + 1] - STATE[k])
    return VOLTS[k] + part * (VOLTS[k + 1] - VOLTS[k])


def module_rows(number: int, chance: Chance) -> list[dict[str, str]]:
    """Return the rows of one module of the first heap."""
    name = f"H{number:02d}"
    health = chance.normal(0.82, 0.05)
    ratio = 1.0 + 2.0 * (1.0 - health) + chance.normal(0.0, 0.05)
    scatter = chance.between(0.001, 0.006)
    states = [chance.normal(0.0, scatter) for _ in range(CELLS)]
    weakest = 1 + int(chance.between(0, CELLS))
    found_at = chance.between(0.30, 0.55)
    leak = [0.01 * chance.normal(1.0, 0.1) for _ in range(CELLS)]
    warm = chance.between(24.0, 26.0)
    if number == LEAKING:
        leak[2] += 0.10
    day = dt.date(2024, 5, 6) + dt.timedelta(days=(number - 1) // 3)

    def rest(date: dt.date, hours: str, cells: list[float], **more: str) -> dict[str, str]:
        read = [round(volts, 3) for volts in cells]
        return {
            "module": name,
            "date": date.isoformat(),
            "rested [h]": hours,
            "temperature [degC]": f"{warm:.0f}",
            "voltage [V]": f"{sum(read) + chance.between(-0.001, 0.001):.3f}",
            **{f"cell {k} [V]": f"{volts:.3f}" for k, volts in enumerate(read, start=1)},
            **more,
        }

    arrived = [rest_volts(found_at + state) for state in states]
    seen, note = "none", ""
    if number == SWOLLEN:
        seen, note = "swelling", "stands proud by 4 mm; put outside, not tested"
    if number == ONCE_DEAD:
        arrived[3] = 1.40
        note = "cell group 4 was dead; brought back on the bench before the test"
    rows = [rest(dt.date(2024, 5, 4), "", arrived, seen=seen, note=note)]
    if number == SWOLLEN:
        return rows
    full = [0.995 + state for state in states]
    rows.append(rest(day, "4", [rest_volts(state) for state in full], full="yes"))
    week = day + dt.timedelta(days=7)
    later = [state - lost * 7 / 30 for state, lost in zip(full, leak, strict=True)]
    rows.append(rest(week, "172", [rest_volts(state) for state in later], full="yes"))
    rows += test_rows(
        number,
        week + dt.timedelta(days=1),
        chance,
        Truth(health=health, ratio=ratio, weakest=weakest, warm=warm),
    )
    return rows


def test_rows(number: int, date: dt.date, chance: Chance, truth: Truth) -> list[dict[str, str]]:
    """Return the rows of a module's capacity and resistance."""
    name = f"H{number:02d}"
    ohms, amp_hours = NEW_OHM * truth.ratio, NEW_AH * truth.health
    mean = CELLS * 3.87 - TEST_A * ohms * 1.4
    same = {"module": name, "temperature [degC]": f"{truth.warm:.0f}"}
    capacity = {
        **same,
        "date": date.isoformat(),
        "capacity [Ah]": f"{amp_hours:.1f}",
        "energy [Wh]": f"{amp_hours * mean:.0f}",
        "current [A]": f"{TEST_A:g}",
        "efficiency [%]": f"{100 * min(0.999, chance.normal(0.994, 0.002)):.1f}",
        "warmest rise [K]": f"{max(0.5, chance.normal(1.5 * truth.ratio, 0.3)):.1f}",
        "ended by cell": str(truth.weakest),
    }
    resistance = {
        **same,
        "date": date.isoformat(),
        "resistance [mOhm]": f"{1000 * ohms:.2f}",
        "method": "10 s pulse",
        "soc [%]": "50",
    }
    if number == LOGGED:
        return [{"module": name, "date": date.isoformat(), "record": "hill-heap-H07.bdf.csv"}]
    if number == TWICE:
        again = (date + dt.timedelta(days=3)).isoformat()
        return [
            {**capacity, "capacity [Ah]": f"{amp_hours - 1.3:.1f}", "note": "first run"},
            {**capacity, "date": again, "note": "second run, the one to go by"},
            {**resistance, "date": again},
        ]
    return [capacity] if number == UNREAD else [capacity, resistance]


def record_rows(chance: Chance) -> list[tuple[str, ...]]:
    """Return a logger's rows of H07: charge, rest, discharge with a rest at half, charge again."""
    amp_hours = [NEW_AH * 0.80 * (1.0 + chance.between(0.0, 0.03)) for _ in range(CELLS)]
    ohms = [NEW_OHM * 1.4 / CELLS * (1.0 + chance.between(-0.05, 0.05)) for _ in range(CELLS)]
    amp_hours[4] = NEW_AH * 0.80
    states = [0.70 + chance.normal(0.0, 0.002) for _ in range(CELLS)]
    rows: list[tuple[str, ...]] = []
    clock, warm, step = 0.0, 25.0, 0

    def run(amps: float, spacing: float, most: float, floor: float = 0.0, top: float = 9.0) -> None:
        """Run a current, positive on charge, until a time is over or a cell group at its end."""
        nonlocal clock, warm, step
        step, ends = step + 1, clock + most
        while clock < ends - 1e-9:
            clock += spacing
            for k in range(CELLS):
                kept = 0.995 if amps > 0 else 1.0  # what does not come back out
                states[k] += kept * amps * spacing / 3600.0 / amp_hours[k]
            warm += spacing * (amps**2 * sum(ohms) - 1.6 * (warm - 25.0)) / 9000.0
            cells = [rest_volts(s) + amps * r for s, r in zip(states, ohms, strict=True)]
            rows.append(
                (
                    *(f"{clock:.0f}", f"{sum(cells):.4f}", f"{amps:.3f}", str(step)),
                    *("25.0", f"{warm:.2f}"),
                    *(f"{volts:.4f}" for volts in cells),
                )
            )
            if min(cells) < floor or max(cells) > top:
                break

    def rest() -> None:
        """Rest for an hour, read closely at first, as loggers do when something changes."""
        run(0.0, 2.0, 10.0)
        run(0.0, 300.0, 3600.0)

    for again in (False, True):
        run(11.0, 120.0, 36000.0, top=4.18)
        run(3.3, 60.0, 36000.0, top=4.18)
        rest()
        if again:
            break
        run(-TEST_A, 2.0, 20.0)
        run(-TEST_A, 60.0, 3600.0)
        rest()
        run(-TEST_A, 2.0, 20.0)
        run(-TEST_A, 60.0, 36000.0, floor=3.0)
        rest()
    return rows


RECORD_HEADING = (
    *("Test Time / s", "Voltage / V", "Current / A", "Step Count / 1"),
    *("Ambient Temperature / degC", "Surface Temperature / degC"),
    *(f"Cell {k} Voltage / V" for k in range(1, CELLS + 1)),
)

SHELF_HEADING = (
    *("module", "date", "rested [h]", "voltage [V]"),
    *(f"cell {k} [V]" for k in range(1, 5)),
    *("seen", "note"),
)


def shelf_rows(chance: Chance) -> list[dict[str, str]]:
    """Return the second heap: eight modules of LFP, of which little was read."""
    rows = []
    for number in range(1, 9):
        cells = [chance.normal(3.295, 0.004) for _ in range(4)]
        row = {
            "module": f"F{number}",
            "date": "2024-09-14",
            "rested [h]": "300",
            "voltage [V]": f"{sum(cells):.2f}",
        }
        if number in {2, 5}:
            row |= {f"cell {k} [V]": f"{volts:.3f}" for k, volts in enumerate(cells, start=1)}
        if number in {1, 2, 3}:
            row["seen"] = "none"
        if number == UNLABELLED:
            row["note"] = "label torn off"
        rows.append(row)
    return rows


def write(path: Path, heading: tuple[str, ...], rows: list[tuple[str, ...]]) -> None:
    """Write a table; a line ends the same way everywhere."""
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(heading)
        writer.writerows(rows)


def named(heading: tuple[str, ...], rows: list[dict[str, str]]) -> list[tuple[str, ...]]:
    """Return rows by heading as rows in its order."""
    return [tuple(row.get(name, "") for name in heading) for row in rows]


def invent(folder: Path) -> None:
    """Write all logs and the record into a folder."""
    chance = Chance(SEED)
    heap = [row for number in range(1, 25) for row in module_rows(number, chance)]
    write(folder / "hill-heap.csv", HEADING, named(HEADING, heap))
    write(folder / "hill-heap-H07.bdf.csv", RECORD_HEADING, record_rows(chance))
    write(folder / "iron-shelf.csv", SHELF_HEADING, named(SHELF_HEADING, shelf_rows(chance)))


if __name__ == "__main__":
    invent(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent)
