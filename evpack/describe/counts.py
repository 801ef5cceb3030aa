"""Whole numbers (cells, modules, strings, units), and values that nothing can have."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from evpack.base.errors import DescriptionError
from evpack.base.units import Quantity, kind_of
from evpack.base.wording import say


def whole(least: int, most: int) -> Callable[[Any, Any, Any], None]:
    """Return an attrs validator for a whole number between two bounds."""

    def validator(_noun: Any, field: Any, given: Any) -> None:
        if isinstance(given, bool) or not isinstance(given, int):
            raise DescriptionError(
                f"{field.name} must be a whole number without a unit, got {given!r}"
            )
        if not least <= given <= most:
            raise DescriptionError(f"{field.name} must lie between {least} and {most}, got {given}")

    return validator


def above_nothing(noun: Any, *fields: str) -> None:
    """Refuse a known value of 0 or less in fields where no such thing can be."""
    for field in fields:
        value = getattr(noun, field)
        if value is not None and value.m <= 0:
            unit = kind_of(value).unit
            raise DescriptionError(
                f"{noun.name}: {field} must be above 0 {unit}, got {say(float(value.m), unit)}; "
                "leave it out if it is not known"
            )


def exact(error: Quantity) -> str:
    """Return what to say of a measuring error of nothing; empty for any other."""
    if error.m > 0:
        return ""
    return "; nothing measures perfectly, so leave it out if it is not known"
