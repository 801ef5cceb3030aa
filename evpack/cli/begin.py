"""To begin with: the workbooks, the library, a build sheet to fill in."""

from __future__ import annotations

import argparse
import subprocess
import sys
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import TYPE_CHECKING

import evpack
from evpack.base.errors import EvpackError
from evpack.base.files import ThereAlreadyError, why, write_whole
from evpack.cli.common import GO, UNFORESEEN

if TYPE_CHECKING:
    from evpack.cli.common import Commands

from evpack.base.errors import nearest


def add(commands: Commands) -> None:
    """Add the commands."""
    workbooks = commands.add_parser(
        "workbooks", help="copy the workbooks and examples to a folder and open them"
    )
    workbooks.add_argument("folder", metavar="FOLDER", type=Path, nargs="?", default=Path())
    workbooks.add_argument("--no-open", action="store_true", help="copy only")
    workbooks.set_defaults(run=_workbooks)

    library = commands.add_parser("library", help="list the library, or show one entry of it")
    library.add_argument("key", metavar="KEY", nargs="?")
    library.set_defaults(run=_library)

    start = commands.add_parser("start", help="write a build sheet to fill in")
    start.add_argument("sheet", metavar="NAME.toml", type=Path)
    start.set_defaults(run=_start)


def _workbooks(given: argparse.Namespace) -> int:
    from evpack.load.places import data_dir, workbooks  # noqa: PLC0415

    folder: Path = given.folder
    sources = workbooks()
    _copy(sources.values(), folder)
    _copy(sorted((data_dir() / "examples").glob("*.toml")), folder / "examples")
    _copy(sorted((data_dir() / "as_built").glob("*.toml")), folder / "records")
    heaps = data_dir() / "batches"
    _copy(sorted([*heaps.glob("*.toml"), *heaps.glob("*.csv")]), folder / "heaps")
    if given.no_open:
        return GO
    first = sources["start-here"].name
    # The same Python that runs this command, and no other.
    ended = subprocess.run(  # noqa: S603  nothing here comes from a file
        [
            *(sys.executable, "-m", "jupyterlab"),
            f"--ServerApp.root_dir={folder.resolve()}",
            str(folder.resolve() / first),
        ],
        check=False,
    ).returncode
    return GO if ended == 0 else UNFORESEEN  # its own codes are no verdicts


def _copy(sources: Iterable[Path], folder: Path) -> None:
    """Copy files into a folder and say so; a file that is there already is somebody's work."""
    try:
        if folder.exists() and not folder.is_dir():
            raise EvpackError(f"{folder}: is a file; a folder to copy to is needed")
        folder.mkdir(parents=True, exist_ok=True)
    except (OSError, ValueError) as problem:
        if isinstance(problem, EvpackError):
            raise
        raise EvpackError(f"{folder}: cannot be written: {why(problem)}") from None
    for source in sources:
        try:
            print(f"copied: {write_whole(folder / source.name, source.read_bytes())}")
        except ThereAlreadyError:
            print(f"kept yours: {folder / source.name}")


def _library(given: argparse.Namespace) -> int:
    from evpack.load import library as held  # noqa: PLC0415
    from evpack.show.text import as_text  # noqa: PLC0415

    entries = [e for e in held.library() if given.key in {None, e.key}]
    if not entries:
        known = {entry.key for entry in held.library()}
        raise EvpackError(f"'{given.key}' is not in the library{nearest(given.key, known)}")
    if given.key is None:
        for kind in dict.fromkeys(entry.kind for entry in entries):
            print(f"\n{kind}")
            for entry in (e for e in entries if e.kind == kind):
                print(f"  {entry.key:<22} {entry.name}")
        return GO
    take: dict[str, Callable[[str], object]] = {
        "chemistry": held.chemistry,
        "module": held.module_entry,
        "inverter": held.inverter_entry,
        "charger": held.charger_entry,
        "profile": held.lead_acid_profile,
    }
    for entry in entries:
        if entry.kind in take:
            print(as_text(take[entry.kind](entry.key)))
            typed = held.as_typed(entry)
            if typed:
                print(f"\nIn a build sheet, with its keys to type over:\n\n{typed}")
        else:
            print(held.example(entry.key).read_text(encoding="utf-8"))
    return GO


def _start(given: argparse.Namespace) -> int:
    target = evpack.start_sheet(given.sheet)
    print(f"written: {target}\nFill it in, then: evpack decide {target}")
    return GO
