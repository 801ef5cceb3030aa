"""How a field of a noun is told: its label, its key in JSON, the unit of its plain numbers.

It stands on the field, as its metadata: ``attrs.field(metadata=told("works from"))``. Text, page,
JSON and what was assumed all follow it, so that a new field is told by editing its noun. A quantity
carries its own unit and needs none here.
"""

from __future__ import annotations

from typing import Any


def told(
    label: str = "",
    *,
    unit: str | None = None,
    known: bool = True,
    omit: bool = False,
    unsaid: str = "",
    unfitted: str = "",
    after: str = "",
    key: str = "",
    series: bool = False,
) -> dict[str, Any]:
    """Return what goes into the metadata of a field.

    Parameters
    ----------
    label : str
        What a row calls it, in trade words; empty: it has no row of its own.
    unit : str or None
        Of a plain number, of each in a tuple or array, of each value of a mapping; None: a count,
        or no number at all.
    known : bool
        Whether its row says how it is known; of a count or a name that makes no sense.
    omit : bool
        Whether its row is left out where nobody said anything.
    unsaid, unfitted : str
        What is told where nobody said anything ("not known" if empty), and where there is no such
        thing ("none fitted" if empty).
    after : str
        The field whose row comes before, where that is not the field before.
    key : str
        What it is called in JSON; the field's own name where it is left out.
    series : bool
        A series in time, of which some hundred rows are enough in JSON.
    """
    return {
        "label": label,
        "unit": unit,
        "known": known,
        "omit": omit,
        "unsaid": unsaid,
        "unfitted": unfitted,
        "after": after,
        "key": key,
        "series": series,
    }


# On a field that only a later step needs: no program is told of it.
INNER = {"inner": True}
