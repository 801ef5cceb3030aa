"""The shipped bench record, integrated a second time.

The record is published (data/bench/, doi 10.5281/zenodo.2580327 as stated in its sidecar); no
capacity is printed with it. Expected values are therefore of two kinds: *independent*, computed
here step by step with the csv module and plain Python from another idea (duration of a step times
what was read in it), and *noted*, from an earlier integration kept in the project's reference
notes, to the digits noted there.
"""

from __future__ import annotations

import csv
from functools import cache
from pathlib import Path

import pytest

from evpack.load.bench_record import read_bench_record
from evpack.outcome.bench import BenchReading

RECORD = Path(__file__).parents[2] / "data" / "bench" / "ev_pouch_cell_33Ah_hppc_25C.bdf.csv"
# Noted: state of charge -> volts at the end of an hour of rest.
RESTS = {
    1.000: 4.182,
    0.895: 4.086,
    0.791: 4.048,
    0.687: 3.984,
    0.582: 3.949,
    0.478: 3.909,
    0.374: 3.869,
    0.270: 3.802,
    0.165: 3.723,
    0.061: 3.531,
}


@cache
def reading() -> BenchReading:
    return read_bench_record(RECORD)


@cache
def steps() -> list[list[tuple[float, float, float]]]:
    """Return time, volts and discharge amperes, a list for each step of the step column."""
    found: dict[str, list[tuple[float, float, float]]] = {}
    with RECORD.open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            sample = (
                float(row["Test Time / s"]),
                float(row["Voltage / V"]),
                -float(row["Current / A"]),
            )
            found.setdefault(row["Step Count / 1"], []).append(sample)
    return list(found.values())


def independent(of_volts: float) -> float:
    """Integrate after the full charge: each reading holds since the reading before it.

    `of_volts` 0 gives Ah, 1 gives Wh. Steps that are rests are left out.
    """
    total = 0.0
    before = steps()[0][-1][0]
    for step in steps()[1:]:
        for time, volts, amps in step:
            if abs(amps) > 0.05:
                total += amps * volts**of_volts * (time - before)
            before = time
    return total / 3600.0


def test_capacity_agrees_with_the_independent_integration() -> None:
    assert reading().capacity.m_as("Ah") == pytest.approx(independent(0), rel=1e-4)


def test_energy_agrees_with_the_independent_integration() -> None:
    assert reading().energy.m_as("Wh") == pytest.approx(independent(1), rel=1e-4)


def test_capacity_agrees_with_step_durations() -> None:
    # A third way, by hand from the steps' durations: the ten pulses of 30 A last 30.0 s each;
    # nine stretches of 10 A last 1080.1 s each and the last one 602.7 s; nine charge pulses at
    # 22.5 A and one limited by voltage to about 16.1 A last 10.0 s each.
    # 9000 + 97209 + 6027 - 2025 - 161 = 110050 A s = 30.569 Ah.
    by_hand = (10 * 30 * 30 + 10 * (9 * 1080.1 + 602.7) - 10 * (9 * 22.5 + 16.1)) / 3600
    assert reading().capacity.m_as("Ah") == pytest.approx(by_hand, rel=1e-3)


def test_capacity_and_energy_as_noted() -> None:
    assert reading().capacity.m_as("Ah") == pytest.approx(30.560, rel=1e-3)
    assert reading().energy.m_as("Wh") == pytest.approx(117.32, rel=3e-3)


def test_mean_voltage_is_energy_over_charge() -> None:
    assert reading().mean_voltage.m_as("V") == pytest.approx(117.32 / 30.560, abs=0.001)


def test_resistance_at_middle_charge_as_noted() -> None:
    resistance = reading().resistance
    assert resistance is not None
    assert resistance.m_as("mohm") == pytest.approx(2.07, abs=0.005)


def test_resistances_agree_with_the_samples_at_ten_seconds() -> None:
    # Independent: the pulse steps are those at -30 A; the 20th reading of one comes at 10.0 s.
    found = []
    for rest, pulse in zip(steps(), steps()[1:], strict=False):
        if pulse[0][2] == 30.0:
            assert pulse[19][0] - rest[-1][0] == pytest.approx(10.0)
            found.append((rest[-1][1] - pulse[19][1]) / (30.0 + abs(rest[-1][2])))
    assert len(found) == 10
    assert reading().pulse_ohms == pytest.approx(found, rel=1e-3)


@pytest.mark.parametrize(
    ("k", "soc", "volts"), [(k, *rest) for k, rest in enumerate(RESTS.items())]
)
def test_rest_voltages_as_noted(k: int, soc: float, volts: float) -> None:
    assert reading().rest_soc[k] == pytest.approx(soc, abs=0.0006)
    assert reading().rest_volts[k] == pytest.approx(volts, abs=0.0005)


def test_no_more_rests_than_noted() -> None:
    assert reading().rest_soc.size == len(RESTS)


def test_the_curve_holds_the_rests_and_ends_at_the_loaded_end() -> None:
    curve = reading().curve
    assert curve is not None
    for soc, volts in zip(reading().rest_soc, reading().rest_volts, strict=True):
        assert volts in curve.volts[curve.soc == soc]
    # By hand: 3.0 V under 10 A, and 10 A times the 2.53 mΩ of the lowest pulse.
    assert curve.volts[0] == pytest.approx(3.0 + 10 * 0.00253, abs=0.0005)
    assert reading().estimated_below == pytest.approx(0.061, abs=0.0005)


def test_positive_current_charges_in_this_record() -> None:
    assert reading().charge_positive
    assert "detected" in reading().current_sign


def test_limits_and_temperature() -> None:
    assert reading().least.m_as("V") == 3.0
    assert reading().highest.m_as("V") == pytest.approx(4.2, abs=0.005)
    temperature = reading().temperature
    assert temperature is not None
    assert temperature.m == pytest.approx(25.0)
