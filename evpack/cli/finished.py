"""The pack that is being built: its commissioning, its record, its log."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import evpack
from evpack.base.errors import EvpackError
from evpack.base.files import write_whole
from evpack.cli.common import GO, NO_GO, built, may_write, sheet_path, tell, write

if TYPE_CHECKING:
    from evpack.cli.common import Commands


def add(commands: Commands) -> None:
    """Add the commands."""
    plan = commands.add_parser(
        "commissioning",
        help="what to measure, prove and write down before the pack is used",
        description="Exit code: 0 there is a plan, 1 the design may not be built yet, 2 the sheet "
        "cannot be used.",
    )
    plan.add_argument("sheet", metavar="SHEET")
    plan.add_argument("--json", action="store_true", help="for programs instead of people")
    plan.add_argument("--page", metavar="PAGE.html", type=Path, help="a checklist to print")
    plan.add_argument("--record", metavar="RECORD.toml", type=Path, help="a record to fill in")
    plan.add_argument(
        "--begun",
        metavar="OLD.toml",
        type=Path,
        help="with --record: a record of the design before it changed; what still holds is kept",
    )
    plan.add_argument("--force", action="store_true", help="replace any page of that name")
    plan.set_defaults(run=_commissioning)

    built = commands.add_parser(
        "as-built",
        help="hold the filled record of commissioning against the design",
        description="Exit code: 0 built as designed, 1 not so or not proven yet, 2 a file that "
        "cannot be used.",
    )
    built.add_argument("sheet", metavar="SHEET")
    built.add_argument("record", metavar="RECORD.toml", type=Path)
    built.add_argument("--json", action="store_true", help="for programs instead of people")
    built.set_defaults(run=_as_built)

    log = commands.add_parser(
        "log",
        help="hold the log of the finished pack against its design",
        description="Exit code: 0 as predicted or a word of caution, 1 a stop or not known, 2 a "
        "file that cannot be used.",
    )
    log.add_argument("sheet", metavar="SHEET")
    log.add_argument("log", metavar="LOG.csv")
    log.set_defaults(run=_log)


def _plan(typed: str) -> Any:
    from evpack.decide import decide  # noqa: PLC0415
    from evpack.design import design  # noqa: PLC0415

    return evpack.commissioning_plan(decide(design(built(typed))))


def _commissioning(given: argparse.Namespace) -> int:
    from evpack.show.commissioning import checklist_page  # noqa: PLC0415

    if given.begun is not None and given.record is None:
        raise EvpackError("--begun goes with --record: name the new record to write")
    may_write(given.page, force=given.force)
    plan = _plan(given.sheet)
    written = []
    if given.record is not None:
        if plan.withheld:
            raise EvpackError("there is nothing to record yet: this design may not be built")
        # A record may hold what somebody wrote in it: never replaced, not even with --force.
        write_whole(_record_name(given.record), evpack.as_built_record(plan, begun=given.begun))
        written.append(given.record)
    if given.page is not None:
        write(given.page, checklist_page(plan), force=given.force)
        written.append(given.page)
    tell(plan, as_json=given.json)
    for target in written:
        print(f"written: {target}", file=sys.stderr if given.json else sys.stdout)
    return NO_GO if plan.withheld else GO


def _record_name(target: Path) -> Path:
    if target.suffix != ".toml":
        raise EvpackError(f"{target.name}: a record needs a name that ends in .toml")
    return target


def _as_built(given: argparse.Namespace) -> int:
    from evpack.outcome.commissioning import Proven  # noqa: PLC0415

    check = evpack.check_as_built(_plan(given.sheet), given.record)
    tell(check, as_json=given.json)
    return GO if check.outcome is Proven.AS_DESIGNED else NO_GO


def _log(given: argparse.Namespace) -> int:
    from evpack.design import design  # noqa: PLC0415
    from evpack.workbook.page import opened  # noqa: PLC0415

    with opened(sheet_path(given.sheet)) as sheet:
        made = design(sheet.build())
    after = evpack.compare_log(made, evpack.read_pack_log(given.log))
    print(evpack.as_text(after))
    return NO_GO if any(finding.holds for finding in after.findings) else GO
