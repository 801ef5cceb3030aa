"""How a field of a noun is told: its label, its key, the unit of its plain numbers.

It stands on the field, as its metadata: ``attrs.field(metadata=told(unit="V"))``. A quantity
carries its own unit and needs none here.
"""

from __future__ import annotations

from typing import Any


def told(*, key: str = "", unit: str | None = None, series: bool = False) -> dict[str, Any]:
    """Return what goes into the metadata of a field.

    Parameters
    ----------
    key : str
        What it is called in JSON; the field's own name where it is left out.
    unit : str or None
        Of a plain number, of each in a tuple or array, of each value of a mapping; None: a count,
        or no number at all.
    series : bool
        A series in time, of which some hundred rows are enough.
    """
    return {"key": key, "unit": unit, "series": series}


# On a field that only a later step needs: no program is told of it.
INNER = {"inner": True}
