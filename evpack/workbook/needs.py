"""What a cell of a workbook goes on from."""

from __future__ import annotations

import sys

from evpack.base.errors import EvpackError


class RunFirstError(EvpackError):
    """A cell that was run before those above it."""

    def _render_traceback_(self) -> list[str]:
        """Return what a notebook shows of it: the sentence, and no way through the code."""
        return [str(self)]


def needs(*names: str) -> None:
    """Say what to run first, where a cell is run alone in a fresh kernel.

    Parameters
    ----------
    *names : str
        What the cells above it make.

    Raises
    ------
    RunFirstError
        One of them is not there.
    """
    there = sys._getframe(1).f_globals  # noqa: SLF001  the names of the notebook
    missing = [name for name in names if name not in there]
    if missing:
        told = f"{', '.join(missing)} {'is' if len(missing) == 1 else 'are'} not there"
        raise RunFirstError(
            f"This cell goes on from those above it, and they were not run yet ({told}). Run them "
            "first: menu Run, Run All Above Selected Cell."
        )
