"""How strings share the current. Worked by hand."""

from __future__ import annotations

import pytest
from strategies import good_build, good_inverter, groundwork, with_inverter, with_pack

from evpack.check.sharing import sharing
from evpack.describe.build import Build
from evpack.outcome.sharing import Sharing


def shared(build: Build) -> Sharing:
    found = sharing(groundwork(build))
    assert found is not None
    return found


def test_three_strings() -> None:
    # 3290.870 W at the bottom of the window, 42 V: 78.354 A; a third is 26.118 A, times 1.2
    # 31.342 A; with one out half of it, times 1.2: 47.012 A.
    found = shared(good_build())
    assert found.one_out is not None
    values = [w.value for w in (found.total, found.even, found.worst, found.one_out)]
    assert values == pytest.approx([78.354, 26.118, 31.342, 47.012], abs=0.0005)


def test_a_higher_cut_off_takes_nothing_off_the_current_of_a_string() -> None:
    # An entry can be changed; the bottom of the window cannot.
    high = shared(with_inverter(cut_off=("48 V", "50 V", "0.1 V")))
    assert high.total.value == shared(good_build()).total.value


def test_the_lowest_window_rules_and_says_how_it_is_known() -> None:
    # 2 · (3000 / 0.92) + 2 · 30 = 6581.739 W over 41 V: 160.530 A.
    vague = good_inverter(
        name="vague", window_low="41 V", basis={"default": "datasheet", "window_low": "assumed"}
    )
    found = shared(good_build(inverters=(good_inverter(), vague)))
    assert found.total.value == pytest.approx(160.530, abs=0.0005)
    assert found.total.assumed == ("bottom of the window",)


def test_two_strings_leave_one_that_carries_all() -> None:
    found = shared(with_pack(strings=2))
    assert found.one_out is not None
    assert found.one_out.value == found.total.value
    assert found.worst.value == pytest.approx(found.total.value * 0.6)


def test_one_string_carries_all() -> None:
    found = shared(with_pack(strings=1))
    assert (found.worst, found.one_out) == (found.even, None)
    assert found.even.value == found.total.value


@pytest.mark.parametrize("field", ["continuous", "efficiency", "idle", "window_low"])
def test_nobody_knows_the_shares_of_an_unknown_current(field: str) -> None:
    assert sharing(groundwork(with_inverter(**{field: None}))) is None
