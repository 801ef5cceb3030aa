"""Prospective fault currents as a band. Worked by hand."""

from __future__ import annotations

import pytest
from hypothesis import given
from strategies import good_build, good_cabling, groundwork, sound_builds, with_module, with_pack

from evpack.describe.build import Build
from evpack.outcome.protection import FaultBand
from evpack.protect.fault import fault_bands, string_ohms

OWN = "string, at its own terminals"
FED = "one string, fed by the others"
BUS = "bus, all strings"
FAR = "inverter's terminals, all strings"


def bands(build: Build) -> dict[str, FaultBand]:
    return {band.place: band for band in fault_bands(groundwork(build))}


def values(build: Build, place: str) -> tuple[float | None, float | None]:
    band = bands(build)[place]
    return (
        None if band.low is None else band.low.value,
        None if band.high is None else band.high.value,
    )


def test_the_bands_of_the_good_pack() -> None:
    # A string: 14 · 4.2 = 58.8 V, 20 mΩ; at its lowest half of that, at its highest three times,
    # 14 · 3.0 = 42 V. A lead is 1.28 mΩ warm and 0.82 of that cold, 1.0496 mΩ; the main 0.96 mΩ.
    build = good_build()
    assert string_ohms(groundwork(build)) == pytest.approx(0.020)
    # 42 / 0.060 = 700 A; 58.8 / 0.010 = 5880 A.
    assert values(build, OWN) == (pytest.approx(700.0), pytest.approx(5880.0))
    # Two feed: 42 / ((0.060 + 0.00128) / 2 + 0.00128) = 1315.8 A; 58.8 / (0.0110496 / 2) = 10643 A.
    assert values(build, FED) == (
        pytest.approx(42 / 0.03192),
        pytest.approx(58.8 / 0.0055248),
    )
    # Three: 42 / (0.06128 / 3) = 2056.1 A; 58.8 / (0.0110496 / 3) = 15964 A.
    assert values(build, BUS) == (
        pytest.approx(3 * 42 / 0.06128),
        pytest.approx(3 * 58.8 / 0.0110496),
    )
    # And through the main run: 42 / (0.06128 / 3 + 0.00096) = 1963.9 A.
    low, high = values(build, FAR)
    assert low == pytest.approx(42 / (0.06128 / 3 + 0.00096))
    assert high == values(build, BUS)[1]


def test_one_string_has_no_others() -> None:
    assert set(bands(with_pack(strings=1))) == {OWN, BUS, FAR}


def test_an_unknown_resistance_gives_no_band() -> None:
    found = bands(with_module(resistance=None))
    assert {(band.low, band.high) for band in found.values()} == {(None, None)}


def test_an_unknown_lead_still_gives_the_high_end() -> None:
    build = good_build(cabling=good_cabling(module_lead=None))
    # Without a lead to help: 3 · 58.8 / 0.010 = 17640 A.
    assert values(build, BUS) == (None, pytest.approx(17640.0))
    assert values(build, OWN) == (pytest.approx(700.0), pytest.approx(5880.0))


def test_an_unknown_main_run_leaves_only_the_far_low_end_open() -> None:
    build = good_build(cabling=good_cabling(main=None))
    assert values(build, FAR)[0] is None
    assert values(build, BUS)[0] is not None


@given(build=sound_builds())
def test_a_band_has_a_low_and_a_high_end(build: Build) -> None:
    for band in fault_bands(groundwork(build)):
        assert band.low is not None
        assert band.high is not None
        assert 0 < band.low.value < band.high.value
