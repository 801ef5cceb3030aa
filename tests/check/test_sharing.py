"""How strings share the current. Worked by hand."""

from __future__ import annotations

import pytest
from strategies import good_build, groundwork, with_inverter, with_pack

from evpack.check.sharing import sharing
from evpack.describe.build import Build
from evpack.outcome.settings import Thresholds
from evpack.outcome.sharing import Sharing

CUT = Thresholds(charge=None, charge_most=None, cut_off=45.4, changeover=None, back=None)


def shared(build: Build) -> Sharing:
    found = sharing(groundwork(build), CUT)
    assert found is not None
    return found


def test_three_strings() -> None:
    # 3290.870 W at the cut-off of 45.4 V: 72.486 A; a third is 24.162 A, times 1.2 28.994 A; with
    # one out half of it, times 1.2: 43.492 A.
    found = shared(good_build())
    assert found.one_out is not None
    values = [w.value for w in (found.total, found.even, found.worst, found.one_out)]
    assert values == pytest.approx([72.486, 24.162, 28.994, 43.492], abs=0.0005)


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
    assert sharing(groundwork(with_inverter(**{field: None})), CUT) is None
