"""The decision on a build sheet, and the page to hand over."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from evpack.cli.common import GO, NO_GO, add_paper, built, print_json, sheet_path

if TYPE_CHECKING:
    from evpack.cli.common import Commands


def add(commands: Commands) -> None:
    """Add the commands."""
    decide = commands.add_parser(
        "decide",
        help="does it work, with what settings and protection",
        description="Exit code: 0 works or works with limits, 1 does not work or cannot tell yet, "
        "2 the sheet cannot be used.",
    )
    decide.add_argument("sheet", metavar="SHEET")
    decide.add_argument("--json", action="store_true", help="for programs instead of people")
    decide.add_argument("--full", action="store_true", help="with every formula and rule")
    decide.add_argument(
        "--share", metavar="PAGE.html", type=Path, help="also write a shared page, or a .pdf of it"
    )
    add_paper(decide)
    _add_formulas(decide)
    decide.add_argument("--force", action="store_true", help="replace any file of that name")
    decide.set_defaults(run=_decide)

    share = commands.add_parser("share", help="write a page (.html) or a PDF to hand over")
    share.add_argument("sheet", metavar="SHEET")
    share.add_argument("page", metavar="PAGE.html", type=Path)
    add_paper(share)
    _add_formulas(share)
    share.add_argument("--code", action="store_true", help="show the code cells as well")
    share.add_argument("--workbook", metavar="NAME", help="another workbook than the usual one")
    share.add_argument("--force", action="store_true", help="replace any file of that name")
    share.set_defaults(run=_share)

    sheets = commands.add_parser(
        "sheets",
        help="write sheets for the wall and the toolbox, to print",
        description="Settings for each device, fuses and cables, the one-line diagram, the "
        "checklist of commissioning, labels for the modules, an emergency card. Exit code: 0 "
        "written, 1 written but the design may not be built yet, 2 they cannot be written.",
    )
    sheets.add_argument("sheet", metavar="SHEET")
    sheets.add_argument("out", metavar="SHEETS.html", type=Path, help="or .pdf")
    sheets.add_argument("--only", metavar="NAMES", help="some of them, as settings,labels")
    add_paper(sheets)
    sheets.add_argument("--force", action="store_true", help="replace any file of that name")
    sheets.set_defaults(run=_sheets)


def _add_formulas(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "--formulas",
        action="store_true",
        help="print formulas, rules and the build sheet with the page",
    )


def _decide(given: argparse.Namespace) -> int:
    from evpack.decide import decide  # noqa: PLC0415  each command loads only what it needs
    from evpack.design import design  # noqa: PLC0415
    from evpack.show import decision_text  # noqa: PLC0415
    from evpack.workbook.page import opened  # noqa: PLC0415

    path = sheet_path(given.sheet)
    with opened(path) as sheet:
        decision = decide(design(sheet.build()))
    if given.share:  # before anything is printed: a reader that goes away must not cost the page
        from evpack.workbook.share import share  # noqa: PLC0415

        page = share(
            path, given.share, force=given.force, paper=given.paper, formulas=given.formulas
        )
        print(f"written: {page}", file=sys.stderr)
    if given.json:
        print_json(decision)
    else:
        print(decision_text(decision, full=given.full))
    return GO if decision.go else NO_GO


def _share(given: argparse.Namespace) -> int:
    from evpack.workbook.share import WORKBOOK, share  # noqa: PLC0415

    workbook = given.workbook or WORKBOOK
    page = share(
        sheet_path(given.sheet),
        given.page,
        workbook,
        code=given.code,
        force=given.force,
        paper=given.paper,
        formulas=given.formulas,
    )
    print(f"written: {page}")
    return GO


def _sheets(given: argparse.Namespace) -> int:
    from evpack.decide import decide  # noqa: PLC0415
    from evpack.design import design  # noqa: PLC0415
    from evpack.show.wall import SHEETS  # noqa: PLC0415
    from evpack.workbook.paper import write_sheets  # noqa: PLC0415

    decision = decide(design(built(given.sheet)))
    only = SHEETS if given.only is None else [name.strip() for name in given.only.split(",")]
    out = write_sheets(decision, given.out, only=only, paper=given.paper, force=given.force)
    print(f"written: {out}")
    return GO if decision.go else NO_GO
