"""Prices as they are typed."""

from __future__ import annotations

import pytest

from evpack.base.errors import DescriptionError
from evpack.load.equipment_list import price_typed


@pytest.mark.parametrize(
    ("typed", "amount", "money"),
    [
        ("450 EUR", 450.0, "EUR"),
        (" 65.50 € ", 65.5, "€"),
        ("0 GBP", 0.0, "GBP"),
        ("3Kč", 3.0, "Kč"),
    ],
)
def test_a_price_is_a_number_and_a_money(typed: str, amount: float, money: str) -> None:
    assert price_typed(typed) == (amount, money)


@pytest.mark.parametrize(
    "typed", ["450", "EUR 450", "4,50 EUR", "-1 EUR", "1e3 EUR", "", 450, None]
)
def test_what_is_no_price_is_refused(typed: object) -> None:
    with pytest.raises(DescriptionError, match="is no price; write a number and a money"):
        price_typed(typed)


def test_a_price_beyond_belief_is_refused() -> None:
    with pytest.raises(DescriptionError, match="not a believable price"):
        price_typed("99999999999 EUR")
