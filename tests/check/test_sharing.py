"""How strings share the current. Worked by hand."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from strategies import (
    good_build,
    good_cabling,
    good_conductor,
    good_inverter,
    good_module,
    good_pack,
    groundwork,
    with_inverter,
    with_pack,
)

from evpack.check.sharing import sharing
from evpack.describe.build import Build
from evpack.describe.cabling import Run
from evpack.design import design
from evpack.kernels.conductor import short_lead_factor
from evpack.outcome.groundwork import Sharing


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


def unequal(shortest: str | None, **pack: Any) -> Build:
    """Return the good build on leads of 3 m, the shortest of them as said."""
    lead = Run(name="lead", conductor=good_conductor(115.0, 0.64), length="3 m", shortest=shortest)
    return good_build(pack=good_pack(**pack), cabling=good_cabling(module_lead=lead))


def test_the_string_on_the_shortest_lead_carries_more() -> None:
    # A string of 2 · 10 mΩ, at its lowest credible half 10 mΩ; leads 2 · 0.64 mΩ/m: 1.28 mΩ at
    # 1 m, 3.84 mΩ at 3 m. 3 / (1 + 2 · 11.28 / 13.84) = 3 / 2.630058 = 1.140659; of two that are
    # left 2 / (1 + 11.28 / 13.84) = 2 / 1.815029 = 1.101911.
    found, even = shared(unequal("1 m")), shared(unequal(None))
    assert found.leads is not None
    assert found.leads.value == pytest.approx(1.140659, abs=5e-7)
    assert found.worst.value == pytest.approx(even.worst.value * 1.140659, rel=1e-6)
    assert found.one_out is not None
    assert even.one_out is not None
    assert found.one_out.value == pytest.approx(even.one_out.value * 1.101911, rel=1e-6)
    assert "what unequal leads do" in found.method


def test_unequal_leads_bring_the_limits_of_the_pack_down() -> None:
    # 3 · 60 / (1.2 · 1.140659) = 131.503 A; warm charge 3 · 30 / (1.2 · 1.140659) = 65.7514 A.
    figures = groundwork(unequal("1 m")).figures
    assert figures.discharge_limit is not None
    assert figures.charge_limit is not None
    assert figures.discharge_limit.value == pytest.approx(131.503, abs=0.0005)
    assert figures.charge_limit.value == pytest.approx(65.7514, abs=5e-5)
    # 40 A over two strings, times 1.2 · 1.101911.
    found = {f.rule.key: f for f in design(unequal("1 m")).findings}
    assert found["charging.one-out"].value == pytest.approx(26.4459, abs=0.0005)


@pytest.mark.parametrize(
    "build",
    [
        unequal(None),
        unequal("3 m"),
        unequal("1 m", module=good_module(resistance=None)),
        good_build(cabling=good_cabling(module_lead=None)),
    ],
    ids=["unsaid", "alike", "no resistance", "no lead"],
)
def test_no_factor_where_leads_are_alike_or_nothing_is_known(build: Build) -> None:
    found = shared(build)
    assert found.leads is None
    assert "leads" not in found.method


def test_of_two_strings_the_one_left_has_no_lead_to_share_with() -> None:
    found = shared(unequal("1 m", strings=2))
    assert found.one_out is not None
    assert found.one_out.value == found.total.value


@given(
    strings=st.integers(2, 100),
    string=st.floats(1e-5, 1.0),
    long=st.floats(1e-5, 0.1),
    part=st.floats(0.0, 1.0),
)
def test_a_shorter_lead_never_takes_less_and_never_more_than_all(
    strings: int, string: float, long: float, part: float
) -> None:
    found = short_lead_factor(strings, string, part * long, long)
    assert 1 - 1e-12 <= found <= strings
    # Against Ohm's law itself: the conductances of one short and N − 1 long leads.
    short_g, long_g = 1 / (string + part * long), 1 / (string + long)
    assert found == pytest.approx(strings * short_g / (short_g + (strings - 1) * long_g))


def test_one_string_carries_all() -> None:
    found = shared(with_pack(strings=1))
    assert (found.worst, found.one_out) == (found.even, None)
    assert found.even.value == found.total.value


@pytest.mark.parametrize("field", ["continuous", "efficiency", "idle", "window_low"])
def test_nobody_knows_the_shares_of_an_unknown_current(field: str) -> None:
    assert sharing(groundwork(with_inverter(**{field: None}))) is None
