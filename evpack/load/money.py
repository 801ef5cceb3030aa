"""Prices as they are typed: a number and the name or sign of a money, such as ``450 EUR``."""

from __future__ import annotations

import re

from evpack.base.errors import DescriptionError

_PRICE = re.compile(r"(\d+(?:\.\d+)?)\s*([^\W\d_]{1,8}|[$€£¥])")
_MOST = 1e9  # a price beyond belief


def price_typed(typed: object) -> tuple[float, str]:
    """Return the amount and the money of a price.

    Raises
    ------
    DescriptionError
        It is no price, or one beyond belief.
    """
    match = _PRICE.fullmatch(typed.strip()) if isinstance(typed, str) else None
    if match is None:
        raise DescriptionError(
            f"'{str(typed)[:40]}' is no price; write a number and a money, such as \"450 EUR\""
        )
    amount = float(match[1])
    if amount > _MOST:
        raise DescriptionError(f"'{typed}' is not a believable price")
    return amount, match[2]
