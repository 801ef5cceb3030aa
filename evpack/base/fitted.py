"""The difference between what nobody told us and what a device does not have.

``None`` on a noun means unknown, and an unknown holds the verdict back. `NOT_FITTED` (the word
``"none"`` in a build sheet) means: the user says that the device has no such thing.
"""

from __future__ import annotations

from enum import Enum
from typing import Any, Final, Literal, TypeAlias


class Fitted(Enum):
    """Has one member, so that a type checker can tell it from a quantity."""

    NOT_FITTED = "none"

    def __repr__(self) -> str:
        return "NOT_FITTED"


NOT_FITTED: Final = Fitted.NOT_FITTED
NotFitted: TypeAlias = Literal[Fitted.NOT_FITTED]


def is_not_fitted(given: object) -> bool:
    """Return whether the user said that there is no such thing."""
    return given is NOT_FITTED or (isinstance(given, str) and given.strip().lower() == "none")


def or_not_fitted(given: Any) -> Any:
    """Convert the word ``"none"`` to `NOT_FITTED`, and leave all else for the noun to check."""
    return NOT_FITTED if is_not_fitted(given) else given
