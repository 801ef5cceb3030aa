"""Whole numbers: how many cells, modules, strings, units."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from evpack.base.errors import DescriptionError


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
