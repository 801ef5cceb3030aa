"""How a number is written for a person: enough digits, its unit, never more."""

from __future__ import annotations

import functools
import math
from collections.abc import Callable

# Unit -> (smallest value written in it, factor, unit written), tried in order.
_SCALED: dict[str, tuple[tuple[float, float, str], ...]] = {
    "Ω": ((1e6, 1e-6, "MΩ"), (2e4, 1e-3, "kΩ"), (1.0, 1.0, "Ω"), (0.0, 1e3, "mΩ")),
    "F": ((1.0, 1.0, "F"), (1e-3, 1e3, "mF"), (0.0, 1e6, "µF")),
    "W": ((1e4, 1e-3, "kW"), (0.0, 1.0, "W")),
    "Wh": ((1e3, 1e-3, "kWh"), (0.0, 1.0, "Wh")),
    "A": ((1e4, 1e-3, "kA"), (0.0, 1.0, "A")),
    "A²s": ((1e3, 1e-3, "kA²s"), (0.0, 1.0, "A²s")),
    "J": ((1e4, 1e-3, "kJ"), (0.0, 1.0, "J")),
    "1/K": ((0.0, 1e2, "%/K"),),
    "H/m": ((0.0, 1e6, "µH/m"),),
    "m": ((0.1, 1.0, "m"), (0.0, 1e3, "mm")),
    "": ((0.0, 1e2, "%"),),
    "s": (
        (15778800.0, 1 / 31557600.0, "years"),
        (7200.0, 1 / 3600.0, "h"),
        (120.0, 1 / 60.0, "min"),
        (0.1, 1.0, "s"),
        (0.0, 1e3, "ms"),
    ),
}
COUNT = "×1"  # the unit of a plain count; it is not written
# Voltages between these are written in mV [V]: two decimals of a volt would hide half of 5 mV. What
# lies below is dust; 0.1 V stays 0.1 V.
_LEAST_MILLIVOLT, _MILLIVOLTS = 5e-5, 0.1 - 1e-9
_DUST = 1e-6
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
    return _said(value, unit, round)


def say_up(value: float, unit: str) -> str:
    """Write a value that must be reached: rounded up, never down.

    Examples
    --------
    >>> say_up(11432.0, "A"), say_up(58.800000000000004, "V"), say_up(58.81, "V")
    ('11.5 kA', '58.8 V', '58.9 V')
    """
    return _said(value, unit, math.ceil)


def say_down(value: float, unit: str) -> str:
    """Write a value that must not be passed: rounded down, never up.

    Examples
    --------
    >>> say_down(119.96, "A"), say_down(120.0, "A"), say_down(0.1239, "V")
    ('119 A', '120 A', '0.12 V')
    """
    return _said(value, unit, math.floor)


_HALF = 5.0  # a band is told in steps of 1 or 5 times a power of ten
_BAND_DIGITS = 2  # of a number that is only about right


def about(low: float, high: float, unit: str) -> str:
    """Write a value that lies between two, with no more digits than the width leaves.

    Both ends are rounded to the largest step of 1 or 5 times a power of ten that is no wider than
    the band, and to two digits at most.

    Examples
    --------
    >>> about(5420.0, 8400.0, "Wh"), about(8670.0, 8710.0, "Wh"), about(490.0, 2850.0, "Wh")
    ('about 5 to 8 kWh', 'about 8.7 kWh', 'up to about 3 kWh')
    """
    if not (math.isfinite(low) and math.isfinite(high)) or high <= 0:
        return say(high, unit)
    factor, written = 1.0, unit
    for least, times, name in _SCALED.get(unit, ()):
        if high >= least:
            factor, written = times, name
            break
    low, high = low * factor, high * factor
    step = 10.0 ** (math.floor(math.log10(high)) + 1 - _BAND_DIGITS)
    if high - low > step:
        tens = 10.0 ** math.floor(math.log10(high - low))
        step = max(step, _HALF * tens if high - low >= _HALF * tens else tens)
    ends = [number(math.floor(end / step + 0.5) * step, 9) for end in (low, high)]
    if ends[0] == ends[1]:
        return f"about {ends[0]} {written}".strip()
    if ends[0] == "0":
        return f"up to about {ends[1]} {written}".strip()
    return f"about {ends[0]} to {ends[1]} {written}".strip()


def said_number(value: float, unit: str) -> float:
    """Return the number that `say` writes, in the unit itself: what a display shows of it.

    Examples
    --------
    >>> said_number(7.4999, "A"), said_number(4.13571, "V/cell"), said_number(0.0512, "")
    (7.5, 4.136, 0.0512)
    """
    text, factor, _ = _in_parts(value, unit, round)
    return round(float(text) / factor, 12)


@functools.lru_cache(maxsize=16_384)  # designs say the same limits over and over
def _said(value: float, unit: str, rounding: Callable[[float], int]) -> str:
    text, _, written = _in_parts(value, unit, rounding)
    return f"{text} {written}".strip()


def _in_parts(value: float, unit: str, rounding: Callable[[float], int]) -> tuple[str, float, str]:
    """Return the number as written, what it was multiplied with, and the unit as written."""
    if not math.isfinite(value):
        return str(value), 1.0, unit
    if unit == COUNT:
        return number(_to_digits(value, 3, rounding)), 1.0, ""
    if unit == "V" and _LEAST_MILLIVOLT <= abs(value) < _MILLIVOLTS:
        return number(_to_digits(value * 1e3, 3, rounding), 3), 1e3, "mV"
    for least, factor, written in _SCALED.get(unit, ()):
        if abs(value) >= least:
            return number(_to_digits(value * factor, 3, rounding), 3), factor, written
    if unit in _FIXED_DIGITS:
        digits = _FIXED_DIGITS[unit]
        value = _to_digits(value, 3, rounding, finest=10.0**-digits)
        text = f"{value:.{digits}f}".rstrip("0").rstrip(".")
        return "0" if text == "-0" else text, 1.0, unit
    return number(_to_digits(value, 3, rounding)), 1.0, unit


_NOTHING = 1e-30  # so small that the step of its digits would be no number


def _to_digits(
    value: float, digits: int, rounding: Callable[[float], int], finest: float = 0.0
) -> float:
    """Return a value rounded to so many significant digits, no finer than `finest`."""
    if abs(value) < _NOTHING or rounding is round:  # what writes it rounds it
        return value
    step = max(finest, 10.0 ** (math.floor(math.log10(abs(value))) + 1 - digits))
    steps = value / step
    # Binary dust is no reason to round: 14 · 4.2 V is 58.800000000000004 V.
    on_step = abs(steps - round(steps)) < _DUST
    return (round(steps) if on_step else rounding(steps)) * step
