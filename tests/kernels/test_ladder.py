"""Strings between two bars. Worked by hand, and held against a circuit simulator."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from evpack.kernels.ladder import load_shares, reduced

ohms = st.floats(1e-4, 1e-1)


def test_two_strings_by_hand() -> None:
    """10 and 10 mΩ; 1 mΩ of bar each, load at the first string on both bars.

    The second string has 12 mΩ to the load, the first 10: it carries 12/22 of the current, and
    the load sees 10 · 12 / 22 mΩ.
    """
    made = reduced([0.010, 0.010], [0.001], [0.001])
    assert made.by_load == pytest.approx([12 / 22, 10 / 22])
    assert made.ohms == pytest.approx(0.010 * 0.012 / 0.022)
    assert made.weights == pytest.approx([12 / 22, 10 / 22])


def test_opposite_ends_make_two_strings_even() -> None:
    """Plus taken at one end, minus at the other: each string has one piece of bar, 11 mΩ."""
    made = reduced([0.010, 0.010], [0.001], [0.001], load_plus=0, load_minus=1)
    assert made.by_load == pytest.approx([0.5, 0.5])
    assert made.ohms == pytest.approx(0.0055)


def test_unlike_voltages_drive_a_current_round() -> None:
    """0.2 V over 10 + 10 + 1 + 1 mΩ: 9.0909 A."""
    made = reduced([0.010, 0.010], [0.001], [0.001])
    assert made.currents([50.2, 50.0], 0.0) == pytest.approx([0.2 / 0.022, -0.2 / 0.022])


@given(
    strings=st.lists(ohms, min_size=1, max_size=8),
    bar=st.floats(0.0, 1e-3),
    data=st.data(),
)
def test_what_holds_of_any_ladder(strings: list[float], bar: float, data: st.DataObject) -> None:
    n = len(strings)
    tap = st.integers(0, n - 1)
    pieces = [bar] * (n - 1)
    made = reduced(strings, pieces, pieces, load_plus=data.draw(tap), load_minus=data.draw(tap))
    assert made.by_load.sum() == pytest.approx(1.0, rel=1e-6)
    assert made.weights.sum() == pytest.approx(1.0, rel=1e-6)
    # Reciprocity: what a string adds to the open voltage is what it carries of the load.
    assert made.weights == pytest.approx(made.by_load, rel=1e-5, abs=1e-7)
    # Equal voltages drive nothing round.
    assert made.currents([50.0] * n, 0.0) == pytest.approx([0.0] * n, abs=1e-3)
    assert made.ohms > 0


@given(count=st.integers(2, 10), each=ohms, bar=st.floats(1e-6, 1e-3))
def test_opposite_ends_are_never_less_even_than_one_end(
    count: int, each: float, bar: float
) -> None:
    pieces = [bar] * (count - 1)
    same = reduced([each] * count, pieces, pieces)
    cross = reduced([each] * count, pieces, pieces, load_minus=count - 1)
    assert cross.by_load.max() <= same.by_load.max() + 1e-9


@pytest.mark.parametrize(
    ("strings", "plus", "load", "words"),
    [
        ([0.01, 0.01], [], 0, "n - 1 pieces"),
        ([0.01, 0.0], [0.001], 0, "above 0"),
        ([0.01, 0.01], [-0.001], 0, "below 0"),
        ([0.01, 0.01], [0.001], 2, "from 0 to 1"),
    ],
)
def test_what_is_no_ladder_is_refused(
    strings: list[float], plus: list[float], load: int, words: str
) -> None:
    with pytest.raises(ValueError, match=words):
        reduced(strings, plus, [0.001], load_plus=load)


def test_one_string_is_itself() -> None:
    made = reduced([0.02], [], [])
    assert (made.by_load, made.ohms) == (pytest.approx([1.0]), pytest.approx(0.02))
    assert np.allclose(made.by_emf, 0.0)


@given(data=st.data(), n=st.integers(1, 12))
def test_shares_of_the_load_are_those_of_the_whole_ladder(data: st.DataObject, n: int) -> None:
    ohm = st.floats(1e-4, 1.0)
    strings = data.draw(st.lists(ohm, min_size=n, max_size=n))
    plus, minus = (data.draw(st.lists(ohm, min_size=n - 1, max_size=n - 1)) for _ in "+-")
    taps = {"load_plus": data.draw(st.integers(0, n - 1))}
    taps["load_minus"] = data.draw(st.integers(0, n - 1))
    whole = reduced(strings, plus, minus, **taps).by_load
    assert load_shares(strings, plus, minus, **taps) == pytest.approx(whole, abs=1e-8)
