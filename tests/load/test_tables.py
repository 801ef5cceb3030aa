"""Tables of numbers: how a file is read, and what is refused."""

import math

import pytest

from evpack.base.errors import DataError
from evpack.load.solar_tables import cold_factors
from evpack.load.tables import read_columns, table


def test_unknown_tables_and_columns() -> None:
    with pytest.raises(DataError, match="nec_240_6a"):
        table("nec_240_6")
    with pytest.raises(DataError, match="rating"):
        table("nec_240_6a").numbers("rating")


def test_an_empty_cell_is_no_number() -> None:
    first, *_ = table("iec_60364_5_52_copper").numbers("PVC F at 70 degC [A]")
    assert math.isnan(first)


def test_a_ragged_table_is_refused() -> None:
    with pytest.raises(DataError, match="line 3"):
        read_columns("a,b\n1,2\n3\n", "t.csv")
    with pytest.raises(DataError, match="at least one row"):
        read_columns("a,b\n", "t.csv")


def test_cold_factors_begin_with_the_warmest_row_and_rise_towards_the_cold() -> None:
    rows = cold_factors()
    air, factors = zip(*rows, strict=True)
    assert list(air) == sorted(air, reverse=True)
    assert list(factors) == sorted(factors)
    assert min(factors) > 1
