"""Where the library of data and the workbooks lie: inside a wheel, or at the top of a checkout."""

from __future__ import annotations

import re
from pathlib import Path

_PACKAGE = Path(__file__).resolve().parents[1]


def data_dir() -> Path:
    """Return the folder of tables, chemistries, equipment and examples."""
    return _folder("data")


def workbooks_dir() -> Path:
    """Return the folder of workbooks."""
    return _folder("workbooks")


def _folder(name: str) -> Path:
    inside = _PACKAGE / f"_{name}"
    return inside if inside.is_dir() else _PACKAGE.parent / name


def workbooks() -> dict[str, Path]:
    """Return the workbooks that come with evpack by name, in the order of the road.

    The number before a name only puts the files in order.
    """
    return {unnumbered(path.stem): path for path in sorted(workbooks_dir().glob("*.ipynb"))}


def unnumbered(name: str) -> str:
    """Return the name of a workbook without the number before it.

    Examples
    --------
    >>> unnumbered("01-start-here")
    'start-here'
    """
    return re.sub(r"^\d+-", "", name)
