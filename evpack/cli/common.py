"""What the commands share: exit codes, the sheet that was typed, files and answers out."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, TypeAlias

import evpack
from evpack.base.errors import EvpackError

if TYPE_CHECKING:
    import argparse

    from evpack.describe.build import Build

    Commands: TypeAlias = argparse._SubParsersAction[argparse.ArgumentParser]  # noqa: SLF001  its only name

GO, NO_GO, BAD_INPUT = 0, 1, 2


def sheet_path(typed: str) -> Path:
    """Return the file that was typed, or say what stands in its place."""
    from evpack.load.library import library  # noqa: PLC0415  each command loads only what it needs

    path = Path(typed)
    if not typed.strip():
        raise EvpackError("the name of a build sheet is needed, and an empty one was given")
    if path.is_dir():
        raise EvpackError(f"{typed}: is a folder; a build sheet in it is needed")
    key = path.name.removesuffix(".toml")
    examples = {entry.key for entry in library() if entry.kind == "example"}
    if key in examples and not path.exists():
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


def tell(found: object, record: Callable[..., object], *, as_json: bool) -> None:
    """Print an answer for people, or for programs."""
    if as_json:
        print(json.dumps(record(found), indent=2, allow_nan=False))
    else:
        print(evpack.as_text(found))


def write(target: Path, text: str, *, force: bool) -> None:
    """Write a file; one that is there is kept, unless it may be replaced."""
    from evpack.search.sheet_out import write_new  # noqa: PLC0415

    if not force:
        write_new(target, text, otherwise="--force replaces it")
        return
    try:
        target.write_text(text, encoding="utf-8", newline="\n")
    except OSError as problem:
        raise EvpackError(f"{target}: cannot be written: {problem.strerror}") from None


def add_paper(command: argparse.ArgumentParser) -> None:
    """Add the choice of paper of a PDF."""
    command.add_argument(
        "--paper", choices=("a4", "letter"), default="a4", help="of a PDF; a4 if not said"
    )
