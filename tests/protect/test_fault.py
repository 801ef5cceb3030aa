"""Prospective fault currents as a band. Worked by hand."""

from __future__ import annotations

import pytest
from hypothesis import given
from strategies import (
    good_build,
    good_cabling,
    good_conductor,
    good_site,
    groundwork,
    sound_builds,
    with_module,
    with_pack,
)

from evpack.base.basis import Basis
from evpack.describe.build import Build
from evpack.describe.cabling import Run
from evpack.outcome.protection import FaultBand
from evpack.protect.fault import BUS, FED, MODULE, STRING, at_terminals, fault_bands

OWN = STRING
FAR, CHARGED = at_terminals("inverter"), at_terminals("charger")


def bands(build: Build) -> dict[str, FaultBand]:
    return {band.place: band for band in fault_bands(groundwork(build))}


def values(build: Build, place: str) -> tuple[float | None, float]:
    band = bands(build)[place]
    return (
        None if band.low is None else band.low.value,
        band.high.value,
    )


def test_the_bands_of_the_good_pack() -> None:
    # A string: 14 · 4.2 = 58.8 V, 20 mΩ; at its lowest half of that, at its highest three times,
    # 14 · 3.0 = 42 V. A lead is 1.28 mΩ warm and 0.82 of that cold, 1.0496 mΩ; the main 0.96 mΩ.
    build = good_build()
    # One module: 7 · 3.0 / 0.030 = 700 A and 7 · 4.2 / 0.005 = 5880 A, as the whole string.
    assert values(build, MODULE) == (pytest.approx(700.0), pytest.approx(5880.0))
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
    # And through the main run, and the bars of 30 × 10 mm, 0.3 m long: 2 · 0.3 m of 300 mm² at
    # 0.017241 · 1.21615 = 0.0209676 Ω mm²/m are 41.935 µΩ.
    # 42 / (0.06128 / 3 + 0.00096 + 0.000041935) = 1960.0 A.
    low, high = values(build, FAR)
    assert low == pytest.approx(42 / (0.06128 / 3 + 0.00096 + 0.000041935), rel=1e-6)
    assert high == values(build, BUS)[1]
    # The charger's cable is 2 · 2 m of 1 mΩ/m: 42 / (0.06128 / 3 + 0.004 + 0.000041935) A.
    low, high = values(build, CHARGED)
    assert low == pytest.approx(42 / (0.06128 / 3 + 0.004041935), rel=1e-6)


def test_a_module_read_in_frost_is_brought_to_a_room() -> None:
    # 7.2 mΩ in a room were read as 14.5 mΩ at 0 °C, 2.01 times. Of 14.5 mΩ at least
    # 14.5 / 2.1685 = 6.687 mΩ are left: 58.8 / (0.5 · 2 · 0.006687 + 0.0010496) · 3 = 22 802 A; in
    # the room 3 · 58.8 / (0.0072 + 0.0010496) = 21 383 A; as it was read 3 · 58.8 / 0.0155496 =
    # 11 344 A.
    frost = with_module(resistance="14.5 mOhm", resistance_temperature="0 degC")
    room = with_module(resistance="7.2 mOhm", resistance_temperature="22 degC")
    unsaid = with_module(resistance="14.5 mOhm")
    assert values(frost, BUS)[1] == pytest.approx(22_802, abs=5)
    assert values(room, BUS)[1] == pytest.approx(21_383, abs=1)
    assert values(unsaid, BUS)[1] == pytest.approx(11_344, abs=1)
    source = bands(frost)[BUS].high.inputs[3]
    assert source.basis is Basis.ASSUMED
    assert "at least: 14.5 mΩ a module read at 0 °C, brought to 15 °C" in source.means


def test_a_module_read_warm_is_not_taken_for_more_than_it_read() -> None:
    # Where current is the danger, the pack may get as warm; where sag is, it may not.
    warm = with_module(resistance="7.2 mOhm", resistance_temperature="45 degC")
    assert values(warm, BUS)[1] == pytest.approx(21_383, abs=1)
    # 42 / (3 · 2 · 7.2 / 0.5317 + 1.28) mΩ · 3 = 1527 A.
    assert values(warm, BUS)[0] == pytest.approx(1527, abs=1)


def test_one_string_has_no_others() -> None:
    assert set(bands(with_pack(strings=1))) == {MODULE, OWN, BUS, FAR, CHARGED}


def test_an_unknown_resistance_takes_the_worst_that_is_credible() -> None:
    found = bands(with_module(resistance=None))
    assert all(band.assumed for band in found.values())
    # 60 Ah: from 10 mΩ·Ah, 0.16667 mΩ a cell group, half of that for the high end: 14 of them
    # 1.16667 mΩ, 58.8 / 0.00116667 = 50 400 A. To 130 mΩ·Ah, 2.16667 mΩ, three times that: 91 mΩ,
    # 42 / 0.091 = 461.5 A.
    low, high = found[OWN].low, found[OWN].high
    assert low is not None
    assert (low.value, high.value) == (pytest.approx(42 / 0.091), pytest.approx(50_400.0))
    assert any("unknown" in name for name in high.assumed)
    assert not any(band.assumed for band in bands(good_build()).values())


def test_a_modules_own_tighter_limit_does_not_lower_the_fault() -> None:
    # Settings keep a cell at 4.1 V and above 3.2 V; a fault asks nobody.
    build = with_module(cell_highest="4.1 V", cell_least="3.2 V")
    assert values(build, OWN) == (pytest.approx(700.0), pytest.approx(5880.0))


def test_links_between_modules_stand_in_the_way() -> None:
    # One link of 0.3 m of 1 mΩ/m: 0.3 mΩ warm, 0.246 mΩ cold, in each string.
    link = Run(name="link", conductor=good_conductor(115.0, 1.0), length="0.3 m")
    build = good_build(cabling=good_cabling(link=link))
    assert values(build, OWN) == (
        pytest.approx(42 / 0.0603),
        pytest.approx(58.8 / 0.010246),
    )
    assert values(build, MODULE) == (pytest.approx(700.0), pytest.approx(5880.0))


def test_the_time_constant_is_that_of_the_runs() -> None:
    # Bus: a third of the 1 m lead, 1 µH/m; 58.8 V / 15 964 A are 3.6832 mΩ: 90.5 µs.
    tau = bands(good_build())[BUS].time_constant
    assert tau.value == pytest.approx(1e-6 / 3 / (0.0110496 / 3))
    # At the inverter 1.5 m more.
    tau = bands(good_build())[FAR].time_constant
    assert tau.value == pytest.approx(1e-6 * (1.5 + 1 / 3) / (0.0110496 / 3))


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
        assert band.low is None or band.low.value <= band.high.value
        assert band.time_constant.value >= 0


def test_of_unlike_leads_the_shortest_counts_at_the_high_end() -> None:
    # Half as long: 0.64 mΩ warm, 0.5248 mΩ cold. The low end takes the longest, 1.28 mΩ.
    lead = Run(name="lead", conductor=good_conductor(115.0, 0.64), length="1 m", shortest="0.5 m")
    build = good_build(cabling=good_cabling(module_lead=lead))
    low, high = values(build, BUS)
    assert high == pytest.approx(3 * 58.8 / 0.0105248)
    assert low == pytest.approx(3 * 42 / 0.06128)


def test_cells_colder_than_the_guard_reckons_with_give_less() -> None:
    # The guard's three times hold two for freezing cells and 1.5 for age and emptiness. At -20 °C
    # cells have four times: 6 times in all, and a string gives 42 V / (6 · 20 mΩ) = 350 A, not 700.
    cold = good_build(site=good_site(coldest="-20 degC"))
    low, high = values(cold, OWN)
    assert (low, high) == (pytest.approx(350.0), pytest.approx(5880.0))
    band = bands(cold)[OWN].low
    assert band is not None
    assert any("coldest" in name for name in band.assumed)
    assert values(good_build(site=good_site(coldest="0 degC")), OWN)[0] == pytest.approx(700.0)
