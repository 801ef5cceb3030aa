"""Where the library of data and the workbooks lie: inside a wheel, or at the top of a checkout."""

from __future__ import annotations

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
