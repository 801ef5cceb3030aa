"""Whole numbers (cells, modules, strings, units), and errors that nobody can have."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from evpack.base.errors import DescriptionError
from evpack.base.units import Quantity


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


def exact(error: Quantity) -> str:
    """Return what to say of a measuring error of nothing; empty for any other."""
    if error.m > 0:
        return ""
    return "; nothing measures perfectly, so leave it out if it is not known"
