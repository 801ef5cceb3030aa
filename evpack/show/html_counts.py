"""What modules in series come to, one more at a time."""

from __future__ import annotations

from collections.abc import Iterable

from evpack.base.worked import Worked
from evpack.outcome.groundwork import PackFigures
from evpack.show.html_tables import folded, how, number, row, table

_HEADS = ("modules in series", "cells", "empty", "nominal", "charged to", "never above", "")
_WIDTHS = (14, 9, 13, 13, 14, 14, 23)


def counts_table(counted: Iterable[PackFigures]) -> str:
    """Return a table with a row for each count of modules in series."""
    rows = "".join(
        row(
            str(figures.modules),
            number(str(figures.cells_in_series)),
            number(str(figures.least)),
            number(str(figures.nominal)),
            number(str(figures.charge_target)),
            number(str(figures.highest)),
            folded("how it comes about", "".join(map(_told, _lines(figures)))),
        )
        for figures in counted
    )
    return table("One string of whole modules", _HEADS, rows, widths=_WIDTHS)


def _lines(figures: PackFigures) -> tuple[Worked, ...]:
    return figures.least, figures.nominal, figures.charge_target, figures.highest


def _told(worked: Worked) -> str:
    return how(worked, named=True)
