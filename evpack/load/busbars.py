"""Bus bars of bare copper from the table."""

from __future__ import annotations

from evpack.base.basis import ALL_CHOSEN, Basis
from evpack.base.units import CURRENT, Quantity, amps, metres
from evpack.base.wording import number
from evpack.describe.cabling import Busbar
from evpack.load.tables import table

# Common practice, no source: bars in a box carry no more than this [A/mm²].
_IN_A_BOX = 1.6
_TABLE = "din_43671_copper"


def busbar(
    width: object,
    thickness: object,
    *,
    length: object,
    count: int = 1,
    enclosed: bool | None = None,
    carries: object = None,
    name: str = "bus bars",
) -> Busbar:
    """Return bus bars of bare copper, with what one of them carries by DIN 43671.

    Parameters
    ----------
    width, thickness, length : text or quantity
        Of one bar, with their units: ``"40 mm"``.
    count : int
        Bars side by side for each pole.
    enclosed : bool, optional
        In a box, where a bar carries no more than 1.6 A/mm². Not said counts as in a box.
    carries : text or quantity, optional
        What one bar carries for good where it lies, by its maker; it goes before the table.
    name : str
        What to call them.

    Returns
    -------
    Busbar
        Its `carries` is None, unknown, for a size that the table does not hold and for several
        bars side by side, which warm each other: nothing is extrapolated.

    Examples
    --------
    >>> busbar("40 mm", "5 mm", length="60 cm", enclosed=False).carries.m
    482.0
    >>> busbar("40 mm", "5 mm", length="60 cm", enclosed=True).carries.m
    320.0
    """
    wide, thick = metres(width), metres(thickness)
    known = ALL_CHOSEN
    told: Quantity | None
    if carries is not None:
        told = amps(carries)
        conditions, source = "as its maker states", "equipment-manual"
    else:
        source = table(_TABLE).source
        amperes, conditions = _by_table(1e3 * wide.m, 1e3 * thick.m, count, enclosed=enclosed)
        told = None if amperes is None else CURRENT.of(amperes)
        if enclosed is None:
            known = ALL_CHOSEN.but(carries=Basis.ASSUMED)
    return Busbar(
        name=name,
        width=wide,
        thickness=thick,
        length=length,
        count=count,
        enclosed=enclosed,
        carries=told,
        conditions=conditions,
        source=source,
        basis=known,
    )


def _by_table(
    wide: float, thick: float, count: int, *, enclosed: bool | None
) -> tuple[float | None, str]:
    """Return what a bar of so many millimetres carries [A], and the conditions in words."""
    if count > 1:
        return None, "the table holds single bars; state what each of several side by side carries"
    held = table(_TABLE)
    sizes = zip(held.numbers("width [mm]"), held.numbers("thickness [mm]"), strict=True)
    carried = dict(zip(sizes, held.numbers("carries [A]"), strict=True))
    size = (round(wide, 3), round(thick, 3))  # metres are not whole millimetres to the last bit
    if size not in carried:
        return None, "a size that the table does not hold; state what one bar carries"
    words = "air at 35 degC, bar at 65 degC"
    if enclosed is False:
        return carried[size], f"{words}, in free air"
    words += ", in a box" + ("" if enclosed else " (not stated)")
    most = _IN_A_BOX * size[0] * size[1]
    if carried[size] <= most:
        return carried[size], words
    return most, f"{words}, held to {number(_IN_A_BOX)} A/mm2 by common practice"
