"""How a number is written for a person: enough digits, its unit, never more."""

from __future__ import annotations

import math

# Unit -> (smallest value written in it, factor, unit written), tried in order.
_SCALED: dict[str, tuple[tuple[float, float, str], ...]] = {
    "Ω": ((1.0, 1.0, "Ω"), (0.0, 1e3, "mΩ")),
    "F": ((1.0, 1.0, "F"), (1e-3, 1e3, "mF"), (0.0, 1e6, "µF")),
    "W": ((1e4, 1e-3, "kW"), (0.0, 1.0, "W")),
    "Wh": ((1e3, 1e-3, "kWh"), (0.0, 1.0, "Wh")),
    "A": ((1e4, 1e-3, "kA"), (0.0, 1.0, "A")),
    "": ((0.0, 1e2, "%"),),
    "s": ((7200.0, 1 / 3600.0, "h"), (120.0, 1 / 60.0, "min"), (0.0, 1.0, "s")),
}
COUNT = "×1"  # the unit of a plain count; it is not written
_FIXED_DIGITS = {"V": 2, "V/cell": 3, "°C": 1, "K": 1, "V/K": 3}


def number(value: float, digits: int = 4) -> str:
    """Write a number with so many significant digits, without exponent or trailing zeros.

    Examples
    --------
    >>> number(56.8), number(0.002341, 3), number(24300.0, 3)
    ('56.8', '0.00234', '24300')
    """
    if value == 0 or not math.isfinite(value):
        return "0" if value == 0 else str(value)
    decimals = max(0, digits - 1 - math.floor(math.log10(abs(value))))
    text = f"{value:.{min(decimals, 9)}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text in {"-0", ""} else text


def say(value: float, unit: str) -> str:
    """Write a value in its unit the way the trade would.

    Parameters
    ----------
    value : float
        Magnitude in `unit`.
    unit : str
        One of evpack's canonical short units; ``""`` is a share, written in per cent.

    Examples
    --------
    >>> say(56.8, "V"), say(0.0234, "Ω"), say(12400.0, "W"), say(0.2, "")
    ('56.8 V', '23.4 mΩ', '12.4 kW', '20 %')
    """
    if not math.isfinite(value):
        return f"{value} {unit}".strip()
    if unit == COUNT:
        return number(value)
    for least, factor, written in _SCALED.get(unit, ()):
        if abs(value) >= least:
            return f"{number(value * factor, 3)} {written}"
    if unit in _FIXED_DIGITS:
        text = f"{value:.{_FIXED_DIGITS[unit]}f}".rstrip("0").rstrip(".")
        return f"{'0' if text == '-0' else text} {unit}"
    return f"{number(value)} {unit}".strip()
