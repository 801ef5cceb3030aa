"""How long a decision takes, beside things to hold it against: ``python -m evpack.benchmark``.

From a checkout it also counts how many of the trade's own builds come out as the trade judges them.
"""

from __future__ import annotations

import importlib.util
import statistics
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np

from evpack.base.files import passing_folder
from evpack.decide import decide
from evpack.describe.build import Build
from evpack.design import design
from evpack.kernels.grouping import as_they_come, by_capacity, proven, quick
from evpack.kernels.grouping_batch import Grouping
from evpack.load.sheet import example, parse_sheet
from evpack.show.text import decision_text

_TRADE = Path(__file__).resolve().parents[1] / "tests" / "trade" / "table.py"


def median_ms(work: Callable[[], object], rounds: int) -> float:
    """Return the median time of a call [ms], after one call that is not counted."""
    work()
    times = []
    for _ in range(rounds):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return 1e3 * statistics.median(times)


def fresh_import_ms(module: str, rounds: int = 5) -> float:
    """Return the median time of a whole fresh process that imports a module [ms]."""
    command = [sys.executable, "-c", f"import {module}"]
    return median_ms(lambda: subprocess.run(command, check=True), rounds)  # noqa: S603


def main() -> None:
    """Print every time and what to hold it against."""
    path = Path(example("wether-barn"))
    text = path.read_text(encoding="utf-8")
    build = parse_sheet(text, path.name, path.parent)
    decision = decide(design(build))

    rows = [
        ("read the build sheet", median_ms(lambda: parse_sheet(text, path.name, path.parent), 20)),
        ("design and decide, from a loaded sheet", median_ms(lambda: decide(design(build)), 100)),
        ("the decision as text", median_ms(lambda: decision_text(decision), 50)),
        *moves(build),
        ("the sheet run as a workbook and shared as a page", shared_ms(path)),
        ("a fresh python that imports nothing (sys)", fresh_import_ms("sys")),
        ("a fresh python that imports evpack", fresh_import_ms("evpack")),
        ("a fresh python that imports numpy", fresh_import_ms("numpy")),
        ("a fresh python that imports pint", fresh_import_ms("pint")),
    ]
    for what, taken in rows:
        print(f"{taken:10.2f} ms  {what}")
    for modules, strings, series in ((24, 3, 8), (48, 6, 8), (96, 12, 8)):
        print(f"\n{modules} invented modules into {strings} strings of {series}")
        for told in groupings(modules, strings, series):
            print(told)
    print()
    for told in trade_table():
        print(told)


def shared_ms(sheet: Path) -> float:
    """Return the time from a sheet to its shared page, a fresh kernel included [ms]."""
    from evpack.workbook.share import share  # noqa: PLC0415  Jupyter loads only for this line

    with passing_folder() as folder:
        return median_ms(lambda: share(sheet, folder / "page.html", force=True), 1)


def moves(build: Build) -> Iterator[tuple[str, float]]:
    """Yield what one move of a control costs in each panel, to new numbers and pictures [ms].

    The last of them steps a whole year minute by minute.
    """
    # Widgets load only for these lines.
    from evpack.workbook.panel import OperationPanel, Panel, ProtectionPanel  # noqa: PLC0415

    panel, cables, year = Panel(build), ProtectionPanel(build), OperationPanel(design(build))
    steps = iter(range(10_000))

    def reserve() -> None:
        panel.set(reserve=float(10 + next(steps) % 40))

    def length() -> None:
        cables.set(main_length=1.0 + next(steps) % 40 / 10)

    def changeover() -> None:
        year.set(changeover=50.0 + next(steps) % 20 / 10)

    yield "one move of a control: the whole decision", median_ms(reserve, 30)
    yield "one move of a control: fuses and cables", median_ms(length, 30)
    yield "one move of a control: a year of operation", median_ms(changeover, 10)


def groupings(modules: int, strings: int, series: int) -> Iterator[str]:
    """Return time, usable charge and proven gap of each way of grouping invented modules."""
    drawn = np.random.default_rng(96)
    capacity = drawn.normal(50.0, 2.0, modules)
    ohms = drawn.normal(0.010, 0.0008, modules)
    ways: tuple[tuple[str, Callable[[], Grouping]], ...] = (
        ("in the order they come", lambda: as_they_come(capacity, ohms, strings, series)),
        ("dealt out by capacity", lambda: by_capacity(capacity, ohms, strings, series)),
        ("the quick answer", lambda: quick(capacity, ohms, strings, series)),
        ("the search with a proof", lambda: proven(capacity, ohms, strings, series)),
    )
    for what, work in ways:
        start = time.perf_counter()
        made = work()
        taken = time.perf_counter() - start
        yield (
            f"{1e3 * taken:10.2f} ms  {what}: {made.charge:.2f} Ah, at most "
            f"{100 * (1 - made.charge / made.charge_bound):.3f} % from the best; resistance spread "
            f"{100 * made.resistance_spread:.2f} %"
        )


def trade_table(table: Path = _TRADE) -> Iterator[str]:
    """Yield how many of the trade's builds come out as judged, and the names of those that do not.

    Parameters
    ----------
    table : Path
        The module that expands and judges the table; it is part of the tests, not of evpack.
    """
    spec = importlib.util.spec_from_file_location("trade_table", table)
    if not table.is_file() or spec is None or spec.loader is None:
        yield "the table of trade builds is not here: it comes with a checkout, in tests/trade"
        return
    trade = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = trade  # attrs looks a class's module up
    spec.loader.exec_module(trade)
    builds = trade.trade_builds()
    wrong = [build for build in builds if not trade.as_judged(build, trade.judge(build))]
    yield f"{len(builds) - len(wrong)} of {len(builds)} trade builds come out as judged"
    for must in (trade.GO, trade.NOT_GO):
        asked = sum(build.must == must for build in builds)
        not_so = [build.name for build in wrong if build.must == must]
        yield f"{asked - len(not_so):10d} of {asked} that must {must}"
        yield from (f"{'':13}otherwise: {name}" for name in not_so)


if __name__ == "__main__":
    main()
