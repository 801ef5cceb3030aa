"""What the commands share: exit codes, the sheet that was typed, files and answers out."""

from __future__ import annotations

import json
import os
from pathlib import Path
from typing import TYPE_CHECKING, TypeAlias

import evpack
from evpack.base.errors import EvpackError
from evpack.base.files import ThereAlreadyError, why, write_whole

if TYPE_CHECKING:
    import argparse

    from evpack.describe.build import Build

    Commands: TypeAlias = argparse._SubParsersAction[argparse.ArgumentParser]  # noqa: SLF001  its only name

GO, NO_GO, UNFORESEEN = 0, 1, 3


def sheet_path(typed: str) -> Path:
    """Return the file that was typed, or say what stands in its place."""
    from evpack.load.library import library  # noqa: PLC0415  each command loads only what it needs

    path = Path(typed)
    if not typed.strip():
        raise EvpackError("the name of a build sheet is needed, and an empty one was given")
    try:
        folder, there = path.is_dir(), path.exists()
    except (OSError, ValueError) as problem:
        raise EvpackError(f"{typed[:60]}: cannot be read ({why(problem)})") from None
    if folder:
        raise EvpackError(f"{typed}: is a folder; a build sheet in it is needed")
    key = path.name.removesuffix(".toml")
    examples = {entry.key for entry in library() if entry.kind == "example"}
    if key in examples and not there:
        raise EvpackError(
            f"{typed}: there is no such file, but an example of that name: write it out with "
            f"'evpack library {key} > {key}.toml', then decide {key}.toml"
        )
    return path


def built(typed: str) -> Build:
    """Return the build of a sheet, or of a page that carries one."""
    from evpack.workbook.page import opened  # noqa: PLC0415

    with opened(sheet_path(typed)) as sheet:
        return sheet.build()


def tell(found: object, *, as_json: bool, full: bool = False) -> None:
    """Print an answer for people, in short or in full, or for programs."""
    if as_json:
        print_json(found)
    else:
        print(evpack.as_text(found, full=full))


def print_json(found: object, **more: object) -> None:
    """Print an answer for programs, with more under keys of its own."""
    from evpack.show.to_json import to_json  # noqa: PLC0415  not every command needs it

    print(json.dumps(to_json(found) | to_json(more), indent=2, allow_nan=False))


_OTHERWISE = "choose another name, or --force replaces it"


def may_write(*targets: Path | None, force: bool) -> None:
    """Refuse the name of a page that could not be written, before anything is worked out."""
    from evpack.workbook.page import page_name  # noqa: PLC0415

    for target in targets:
        if target is None:
            continue
        if os.path.lexists(page_name(target)) and not force:
            raise ThereAlreadyError(f"{target}: is there already; {_OTHERWISE}")
        if not target.parent.is_dir():
            raise EvpackError(f"{target}: there is no folder {target.parent}")


def write(target: Path, text: str, *, force: bool) -> None:
    """Write a page; one that is there is kept, unless it may be replaced."""
    from evpack.workbook.page import page_name  # noqa: PLC0415

    write_whole(page_name(target), text, replace=force, otherwise=_OTHERWISE)


def add_paper(command: argparse.ArgumentParser) -> None:
    """Add the choice of paper of a PDF."""
    command.add_argument(
        "--paper", choices=("a4", "letter"), default="a4", help="of a PDF; a4 if not said"
    )
