"""Published: open-circuit curves of the library against the electrode functions behind them.

The functions are those of Mohtat et al. 2020 (JES 167 110561) for graphite and NMC532, and of
Chen et al. 2020 (JES 167 080534), as shipped in the general-purpose library PyBaMM (BSD-3); their
stoichiometries at empty and full follow from its capacities and its 4.2 V and lower cut-off.
"""

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.integrate import quad
from scipy.optimize import brentq

from evpack.kernels import load_line
from evpack.kernels.load_line import state_at
from evpack.load.chemistries import chemistry

Array = NDArray[np.float64]
MILLIVOLT = 1e-3


def nmc532(sto: Array) -> Array:
    """Positive electrode of Mohtat 2020 [V]."""
    polynomial = np.polynomial.Polynomial([4.3452, -1.6518, 1.6225, -2.0843, 3.5146, -2.2166])
    return polynomial(sto) - 0.5623e-4 * np.exp(109.451 * sto - 100.006)


def graphite(sto: Array) -> Array:
    """Negative electrode of Mohtat 2020 [V]."""
    steps = [
        (0.0120, 0.127, 0.016),
        (0.0118, 0.155, 0.016),
        (0.0035, 0.220, 0.020),
        (0.0095, 0.190, 0.013),
        (0.0145, 0.490, 0.020),
        (0.0800, 1.030, 0.055),
    ]
    fall = sum(height * np.tanh((sto - at) / width) for height, at, width in steps)
    return 0.063 + 0.8 * np.exp(-75 * (sto + 0.001)) - fall


# Stoichiometry at empty (2.8 V) and at full (4.2 V).
NEGATIVE = (0.001499, 0.833395)
POSITIVE = (0.890908, 0.033524)


def between(ends: tuple[float, float], soc: Array) -> Array:
    return ends[0] + soc * (ends[1] - ends[0])


def mohtat(soc: Array) -> Array:
    return nmc532(between(POSITIVE, soc)) - graphite(between(NEGATIVE, soc))


def curve_of(key: str) -> tuple[Array, Array]:
    curve = chemistry(key).ocv
    assert curve is not None
    return curve.soc, curve.volts


def test_nmc_is_mohtat_2020() -> None:
    soc, volts = curve_of("nmc")
    assert volts == pytest.approx(mohtat(soc), abs=0.1 * MILLIVOLT)
    assert volts[[0, -1]] == pytest.approx([2.8, 4.2], abs=0.1 * MILLIVOLT)


def test_reading_nmc_between_its_points() -> None:
    """A grid of 1 % and straight lines: within 1 mV above 15 %, where the curve bends least."""
    soc, volts = curve_of("nmc")
    fine = np.linspace(0.15, 1.0, 1701)
    assert np.interp(fine, soc, volts) == pytest.approx(mohtat(fine), abs=MILLIVOLT)


@pytest.mark.parametrize(
    ("percent", "printed"), [(10, 3.513), (20, 3.588), (50, 3.717), (80, 3.972), (100, 4.200)]
)
def test_mohtat_with_empty_at_3_volts(percent: float, printed: float) -> None:
    """Another table of the same cell puts empty at 3.0 V; that is 0.56 % of ours, and no more."""
    soc, volts = curve_of("nmc")
    start = np.interp(3.0, volts[:3], soc[:3])
    ours = start + percent / 100 * (1 - start)
    assert np.interp(ours, soc, volts) == pytest.approx(printed, abs=2 * MILLIVOLT)


def test_lto_is_the_same_positive_less_a_flat_1_55_volts() -> None:
    soc, volts = curve_of("lto")
    positive = nmc532(between((0.886, POSITIVE[1]), soc))
    assert volts == pytest.approx(positive - 1.55, abs=MILLIVOLT)


def nmc811(sto: float) -> float:
    """Positive electrode of Chen 2020 [V]."""
    return float(
        4.4875
        - 0.8090 * sto
        - 0.0428 * np.tanh(18.5138 * (sto - 0.5542))
        - 17.7326 * np.tanh(15.7890 * (sto - 0.3117))
        + 17.5842 * np.tanh(15.9308 * (sto - 0.3120))
    )


def graphite_silicon(sto: float) -> float:
    """Negative electrode of Chen 2020 [V]."""
    return float(
        0.2482
        + 1.9793 * np.exp(-39.3631 * sto)
        - 0.0909 * np.tanh(29.8538 * (sto - 0.1234))
        - 0.04478 * np.tanh(14.9159 * (sto - 0.2769))
        - 0.0205 * np.tanh(30.4444 * (sto - 0.6103))
    )


@pytest.mark.parametrize(("soc", "spread"), [(0.3, 0.12), (0.5, 0.12), (0.8, 0.12), (1.0, 0.002)])
def test_another_nmc_grade_lies_as_far_off_as_the_library_says(soc: float, spread: float) -> None:
    """The library's NMC entry promises up to about 0.1 V to another grade: NMC811 is one."""
    other = nmc811(0.853975 + soc * (0.263845 - 0.853975)) - graphite_silicon(
        0.026346 + soc * (0.910618 - 0.026346)
    )
    assert np.interp(soc, *curve_of("nmc")) == pytest.approx(other, abs=spread)


@pytest.mark.parametrize(("cell_low", "cell_high"), [(3.4, 4.05), (3.5, 4.1), (3.6, 4.0)])
def test_the_share_between_two_voltages_is_that_of_the_published_curve(
    cell_low: float, cell_high: float
) -> None:
    """Window shares: the kernels on our table, against quadrature of the published functions.

    With no resistance and next to no load the states at two cell voltages, and the share of the
    energy between them, depend on the curve alone.
    """
    soc, volts = curve_of("nmc")
    ohms = np.full_like(soc, 1e-12)
    low, collapsed = load_line.lowest_state(soc, volts, ohms, 1e-9, cell_low)
    high = state_at(soc, volts, cell_high)
    share = load_line.energy_between(
        soc, volts, ohms, power=1e-9, capacity=1.0, low=low, high=high
    ) / load_line.energy_between(soc, volts, ohms, power=0.0, capacity=1.0, low=0.0, high=1.0)

    def published(s: float) -> float:
        return float(mohtat(np.array(s)))

    at_low = brentq(lambda s: published(s) - cell_low, 0.0, 1.0)
    at_high = brentq(lambda s: published(s) - cell_high, 0.0, 1.0)
    whole = quad(published, 0.0, 1.0, limit=200)[0]
    assert not collapsed
    assert low == pytest.approx(at_low, abs=0.002)
    assert high == pytest.approx(at_high, abs=0.002)
    assert share == pytest.approx(quad(published, at_low, at_high, limit=200)[0] / whole, abs=0.003)


# Median rest voltage [V] at median states of charge of retired vehicle cells, ten minutes after a
# charge of a known share (open data to Nature Communications 15, 2024, doi
# 10.1038/s41467-024-54454-0; half of its cells, gathered in tenths of charge).
RETIRED_LFP = {
    0.136: 3.224,
    0.255: 3.275,
    0.343: 3.295,
    0.450: 3.300,
    0.551: 3.303,
    0.646: 3.304,
    0.749: 3.316,
    0.853: 3.330,
    0.914: 3.332,
}
RETIRED_NMC = {0.150: 3.524, 0.250: 3.599, 0.350: 3.629, 0.450: 3.659, 0.507: 3.682}


@pytest.mark.parametrize(("key", "points"), [("lfp", RETIRED_LFP), ("nmc", RETIRED_NMC)])
def test_retired_cells_lie_about_within_what_the_library_thinks_possible(
    key: str, points: dict[float, float]
) -> None:
    found = chemistry(key)
    assert found.ocv is not None
    curves = (found.ocv, *found.kindred)
    for state, volts in points.items():
        possible = [float(np.interp(state, curve.soc, curve.volts)) for curve in curves]
        # To 10 mV: they rest ten minutes only, and each tenth is one median.
        assert min(possible) - 0.01 <= volts <= max(possible) + 0.01
