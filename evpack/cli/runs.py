"""A pack stepped through time: a year of operation, a trial of its settings."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import evpack
from evpack.cli.common import GO, NO_GO, built, may_write, print_json, tell, write

if TYPE_CHECKING:
    from evpack.cli.common import Commands

_FULL = "with every formula and every rule"
_WIDE = 30  # characters of the bar that tells how far a long run is


def add(commands: Commands) -> None:
    """Add the commands."""
    trial = commands.add_parser(
        "trial",
        help="try to break the settings: errors, cold, a string out, a device that never stops",
        description="Exit code: 0 no cell is harmed, or the cell monitoring must catch it; 1 a "
        "cell is, or nobody can tell; 2 the sheet cannot be used.",
    )
    trial.add_argument("sheet", metavar="SHEET")
    trial.add_argument("--full", action="store_true", help=_FULL)
    trial.add_argument("--json", action="store_true", help="for programs instead of people")
    trial.set_defaults(run=_trial)

    year = commands.add_parser(
        "year",
        help="work a pack through a year of load, sun and outages",
        description="The sheet says how in its section [operation]. Exit code: 0 done, 1 a stop or "
        "something not known, 2 a sheet that cannot be used.",
    )
    year.add_argument("sheet", metavar="SHEET")
    year.add_argument("--full", action="store_true", help=_FULL)
    year.add_argument("--json", action="store_true", help="for programs instead of people")
    year.add_argument("--outages", action="store_true", help="also how long it lasts alone")
    year.add_argument("--page", metavar="PAGE.html", type=Path, help="also write it as one page")
    year.add_argument("--force", action="store_true", help="replace any file of that name")
    year.set_defaults(run=_year)


def _trial(given: argparse.Namespace) -> int:
    from evpack.design import design  # noqa: PLC0415

    found = evpack.try_settings(design(built(given.sheet)))
    tell(found, as_json=given.json, full=given.full)
    return NO_GO if any(finding.holds for finding in found.findings) else GO


def _year(given: argparse.Namespace) -> int:
    from evpack.design import design  # noqa: PLC0415
    from evpack.show.operation import operation_page  # noqa: PLC0415

    may_write(given.page, force=given.force)
    made = design(built(given.sheet))
    run = evpack.simulate_operation(made, progress=bar if sys.stderr.isatty() else None)
    alone = evpack.outage_runtimes(made, run=run) if given.outages else None
    if given.page is not None:
        write(given.page, operation_page(run, alone), force=given.force)
        print(f"written: {given.page}", file=sys.stderr)
    if given.json:
        print_json(run, **({} if alone is None else {"alone": alone}))
    else:
        told = (evpack.as_text(one, full=given.full) for one in (run, alone) if one is not None)
        print("\n\n".join(told))
    return NO_GO if any(finding.holds for finding in run.findings) else GO


def bar(part: float) -> None:
    """Draw how far a long run is."""
    filled = round(part * _WIDE)
    end = "\n" if part >= 1 else ""
    print(
        f"\r[{'#' * filled}{' ' * (_WIDE - filled)}] {part:4.0%}",
        end=end,
        file=sys.stderr,
        flush=True,
    )
