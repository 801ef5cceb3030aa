"""How long a search takes, beside the same designs one by one.

``python -m evpack.search.benchmark`` prints it.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from itertools import islice

from evpack.decide import decide
from evpack.describe.build import Build
from evpack.design import design
from evpack.load.sheet import example, read_sheet
from evpack.outcome.search import Change
from evpack.search.changes import arranged, at_hand, changed
from evpack.search.judge import Wanted, judge_all

CANDIDATES, SAMPLE, PROCESSES = 10_000, 500, 2
_MODULES = 96


def wanted(number: int) -> list[Wanted]:
    """Return so many candidates: arrangements of 96 modules, each with several charge targets."""
    return list(islice(_every(), number))


def _every() -> Iterator[Wanted]:
    for target in range(40):
        volts = Change(
            place="policy.charge_target", value=f"{4.05 - 0.005 * target:.3f} V", says="target"
        )
        for series in range(1, _MODULES + 1):
            for strings in range(1, _MODULES // series + 1):
                yield f"{series} × {strings}", (*arranged(series, strings), volts)


def seconds(work: Callable[[], object]) -> float:
    """Return how long a call takes [s]."""
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def main() -> None:
    """Print the time of each way of judging the same candidates."""
    build: Build = changed(read_sheet(example("wether-barn")), (at_hand(_MODULES),))
    many, few = wanted(CANDIDATES), wanted(SAMPLE)
    decide(design(build))  # tables are read once

    def plainly() -> None:
        for _, changes in few:
            decide(design(changed(build, changes)))

    with ProcessPoolExecutor(PROCESSES) as executor:
        judge_all(build, few[:64], executor=executor)  # the processes are started
        rows = [
            ("design and decide, one by one", len(few), seconds(plainly)),
            ("one process, stopping early", len(few), seconds(lambda: judge_all(build, few))),
            (
                f"{PROCESSES} processes, stopping early",
                len(many),
                seconds(lambda: judge_all(build, many, executor=executor)),
            ),
        ]
    for name, number, took in rows:
        line = (
            f"{name:<34}{number:>7} candidates {took:>7.2f} s {1e3 * took / number:>6.2f} ms each"
        )
        sys.stdout.write(line + "\n")


if __name__ == "__main__":
    main()
