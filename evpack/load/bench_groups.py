"""Which columns of a record are the voltages of cell groups, by the many names that loggers give.

A column that may be one and cannot be told is refused by its label, never left out: a weak cell
group that was measured must not get lost.
"""

from __future__ import annotations

import re
from collections.abc import Iterable

from evpack.base.errors import DataError

LIKE = "Cell {} Voltage / V"

# What a group of cells in parallel, and a voltage, are called in a label. Common practice.
_GROUP = frozenset(
    ["cell", "cells", "group", "groups", "cellgroup", "block", "vcell", "ucell", "cellv"]
)
_VOLTAGE = frozenset(["voltage", "voltages", "volt", "volts", "v", "u", "mv", "potential"])
_FILLING = frozenset(["no", "nr", "num", "number", "parallel", "in", "of", "at", "the"])
_HIGHEST = frozenset(["highest", "max", "maximum"])
_LEAST = frozenset(["lowest", "least", "min", "minimum"])
# What is said of all of them in one number, which does not tell how low the lowest stood.
_APART = frozenset(["spread", "imbalance", "delta", "diff", "difference"])
_ENDINGS = ("min", "max")  # vmin, cellmax
_VOLTS = frozenset(["v", "volt", "volts", "mv", "millivolt", "millivolts"])


def _words(name: str) -> list[str]:
    """Return the words and the numbers of a label in small letters: ``vcell3`` makes two."""
    found = []
    for word in re.findall(r"[a-z]+|\d+", name.casefold()):
        ending = next((e for e in _ENDINGS if word.endswith(e) and word != e), "")
        stem = word.removesuffix(ending) if ending else word
        found += [stem, ending] if stem in _GROUP | _VOLTAGE and ending else [word]
    return found


def group_number(name: str) -> int | None:
    """Return the number of the cell group whose voltage a label names; None if it names none."""
    words = _words(name)
    numbers = [word for word in words if word.isdigit()]
    others = {word for word in words if not word.isdigit()}
    if len(numbers) != 1 or len(numbers[0]) > 3 or not others & _GROUP:  # noqa: PLR2004
        return None
    return int(numbers[0]) if others <= _GROUP | _VOLTAGE | _FILLING else None


def extreme(name: str) -> str | None:
    """Return ``"highest"`` or ``"lowest"`` where a label names that of all cell groups."""
    words = set(_words(name))
    rest = words - _GROUP - _VOLTAGE
    if not (words & _GROUP or words & {"v", "u"}) or len(rest) != 1:
        return None
    return "highest" if rest <= _HIGHEST else "lowest" if rest <= _LEAST else None


def refuse_unread(file: str, unread: Iterable[tuple[str, str, str | None]]) -> None:
    """Refuse a column that seems to be the voltage of a cell group and was not taken for one.

    Parameters
    ----------
    unread : iterable of (label, name, unit)
        The columns that nobody reads.
    """
    for label, name, unit in unread:
        words = set(_words(name))
        is_voltage = bool(words & (_VOLTAGE | {"vcell", "ucell", "cellv"}))
        if unit is not None and unit.casefold() not in _VOLTS:
            continue
        if unit is None and not is_voltage:
            continue
        if words & (_GROUP | _HIGHEST | _LEAST | _APART) or any(word.isdigit() for word in words):
            raise DataError(
                file,
                "line 1",
                f"column '{label}' may be the voltage of a cell group, and cannot be told; call "
                f"the groups '{LIKE.format(1)}' and on, plus end first (or of all of them "
                "'Lowest Cell Voltage / V' and 'Highest Cell Voltage / V'), or take the column out",
            )
