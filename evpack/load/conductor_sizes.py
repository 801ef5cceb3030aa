"""Sizes of conductors as they are sold, with their area and resistance."""

from __future__ import annotations

import functools
import re
from collections.abc import Mapping

from evpack.base.errors import OutsideTableError, nearest
from evpack.load.tables import table

# IEC 60228 and IEC 60028: resistance of copper against that at 20 degC [1].
_WARM_COPPER = (234.5 + 75.0) / (234.5 + 20.0)
_METRES_IN_A_THOUSAND_FEET = 304.8
# A reel may be marked with its noughts: 0, 00, 000 and 0000 are 1/0 to 4/0 AWG.
_NOUGHTS = re.compile(r"0{1,4}")
_SIZE = re.compile(r"(\d+(?:/0)?|\d+\.\d+)\s*(AWG|kcmil|mm2|mm²)", re.IGNORECASE)


def conductor_sizes() -> tuple[str, ...]:
    """Return every size by its name, AWG and kcmil first, each from thin to thick."""
    return tuple(all_sizes())


@functools.cache
def all_sizes() -> Mapping[str, tuple[float, float, str]]:
    """Return area [mm²], resistance [Ω/m] and its source by size; stranded where both exist."""
    inches, metric = table("nec_ch9_t8"), table("iec_60228")
    found = {}
    for size, strands, area, ohms in zip(
        inches.texts("size"),
        inches.numbers("strands [1]"),
        inches.numbers("area [mm2]"),
        inches.numbers("uncoated at 75 degC [Ohm/kft]"),
        strict=True,
    ):
        if strands > 1:
            found[size] = (area, ohms / _METRES_IN_A_THOUSAND_FEET, inches.source)
    for text, area, ohms in zip(
        metric.texts("area [mm2]"),
        metric.numbers("area [mm2]"),
        metric.numbers("class 5 plain at 20 degC [Ohm/km]"),
        strict=True,
    ):
        found[f"{text} mm2"] = (area, ohms * _WARM_COPPER / 1000.0, metric.source)
    return found


def sized(size: str) -> tuple[str, float, float, str]:
    """Return a size's name in the tables, area [mm²], resistance at 75 degC [Ω/m] and its source.

    Raises
    ------
    OutsideTableError
        A size that is not understood, or that the tables do not hold.
    """
    match = _SIZE.fullmatch(size.strip())
    if match is None:
        raise OutsideTableError(
            f"size '{size[:60]}' is not understood; write it as '2/0 AWG' or '70 mm2'"
        )
    unit = {"awg": "AWG", "kcmil": "kcmil"}.get(match[2].lower(), "mm2")
    noughts = unit == "AWG" and _NOUGHTS.fullmatch(match[1])
    name = f"{len(match[1])}/0 AWG" if noughts else f"{match[1]} {unit}"
    sizes = all_sizes()
    if name not in sizes:
        raise OutsideTableError(f"size '{name}' is not in the tables{_neighbours(name)}")
    return name, *sizes[name]


def _neighbours(name: str) -> str:
    """Return the sizes around one that is not held, or the range that is."""
    amount, unit = name.split()
    known = [size.split()[0] for size in all_sizes() if size.endswith(unit)]
    if "/" in amount:
        return nearest(name, [f"{size} {unit}" for size in known])
    values = sorted(float(size) for size in known if "/" not in size)
    below = [value for value in values if value < float(amount)]
    above = [value for value in values if value > float(amount)]
    named = [f"'{value:g} {unit}'" for value in below[-1:] + above[:1]]
    return f" (nearest: {' and '.join(named)})"
