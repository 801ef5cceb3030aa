"""A build sheet to fill in."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

from evpack.base.errors import EvpackError
from evpack.base.files import write_whole


def start_sheet(path: str | Path) -> Path:
    """Write a build sheet with comments, to fill in; a file that is there is never replaced.

    Parameters
    ----------
    path : path
        Where to write, ending in ``.toml``.

    Raises
    ------
    EvpackError
        A name with another ending, a file that is there, or a place that cannot be written.
    """
    target = Path(path)
    if target.suffix != ".toml":
        raise EvpackError(f"{target.name}: a build sheet needs a name that ends in .toml")
    return write_whole(target, starter_text())


def starter_text() -> str:
    """Return the build sheet to fill in."""
    return (files("evpack.workbook") / "starter.toml").read_text(encoding="utf-8")
