"""The log of a finished pack: a made-up pack whose numbers are known, and what departs."""

from __future__ import annotations

from typing import Any

import attrs
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from strategies import HYDRIDE, IRON, chemistry, straight

from evpack.base.finding import Severity
from evpack.match.after import compare, counted, rests, steps
from evpack.outcome.matching import Afterwards
from evpack.outcome.pack_log import PackLog

OK, NOTE, CAUTION, UNKNOWN, STOP = Severity
CELLS, OHMS, AMP_HOURS = 14, 0.010, 100.0
LINE = chemistry(
    "line", "4.2 3.65 3.0 2.0", "4.05 3.45 3.4 4.12 4.18 3.2 3.0 3.95 0.02 0.03", straight(3.0, 4.2)
)
HOUR = 3600.0


def run(
    parts: list[tuple[float, float]],
    *,
    start: float = 0.9,
    ohms: float = OHMS,
    amp_hours: float = AMP_HOURS,
    growth: float = 0.0,
    every: float = 5.0,
) -> PackLog:
    """Return the log of a pack with a straight curve: parts of so many amperes for so many seconds.

    The cells lie 20 mV apart at first, and `growth` a month more [V].
    """
    time = np.arange(0.0, sum(part[1] for part in parts), every)
    ends = np.cumsum([part[1] for part in parts])
    amps = np.array([part[0] for part in parts])[np.searchsorted(ends, time, side="right")]
    charge = np.concatenate([[0.0], np.cumsum((amps[1:] + amps[:-1]) / 2 * every)]) / HOUR
    cell = 3.0 + 1.2 * (start - charge / amp_hours)
    volts = CELLS * cell - ohms * amps
    apart = 0.020 + growth * time / (30 * 24 * HOUR)
    return PackLog(
        seconds=time,
        volts=volts,
        amps=amps,
        highest=volts / CELLS + apart / 2,
        lowest=volts / CELLS - apart / 2,
    )


# Rest, 50 A for an hour with three short breaks, rest: half of the 100 Ah.
USE = [
    (0.0, 2 * HOUR),
    *((50.0, 900.0), (0.0, 60.0)) * 3,
    (50.0, 900.0),
    (0.0, 2 * HOUR),
]


def compared(held: PackLog, kind: Any = LINE, **predicted: Any) -> Afterwards:
    fields = {"resistance": OHMS, "capacity": AMP_HOURS}
    return compare(held, kind, CELLS, **(fields | predicted))


def severity(found: Afterwards, key: str) -> list[Severity]:
    return [f.severity for f in found.findings if f.rule.key == key]


def test_a_pack_as_predicted_by_hand() -> None:
    """The steps show 10 mΩ; 50 Ah take it from 90 to 40 %, so that it holds 100 Ah."""
    found = compared(run(USE))
    assert found.resistance is not None
    assert found.capacity is not None
    # The voltage falls a little in the ten seconds of the step: 50 A · 10 s of 100 Ah, 14 · 1.7 mV.
    assert found.resistance.value == pytest.approx(OHMS, rel=0.06)
    assert found.capacity.value == pytest.approx(AMP_HOURS, rel=1e-3)
    assert found.growth is None
    assert severity(found, "after.resistance") == severity(found, "after.capacity") == [OK]
    assert severity(found, "after.limits") == [OK, OK]
    assert severity(found, "after.spread") == [UNKNOWN]


@pytest.mark.parametrize(
    ("made", "key", "severity_"),
    [
        ({"ohms": 0.0115}, "after.resistance", OK),
        ({"ohms": 0.0130}, "after.resistance", CAUTION),
        ({"amp_hours": 92.0}, "after.capacity", OK),
        ({"amp_hours": 88.0}, "after.capacity", CAUTION),
    ],
)
def test_a_pack_that_departs(made: dict[str, Any], key: str, severity_: Severity) -> None:
    assert severity(compared(run(USE, **made)), key) == [severity_]


@pytest.mark.parametrize(("growth", "severity_"), [(0.009, OK), (0.012, CAUTION), (-0.01, OK)])
def test_a_spread_that_grows(growth: float, severity_: Severity) -> None:
    """Two rests at like charge eight days apart, with a little use between."""
    week = [(0.0, 2 * HOUR), (5.0, HOUR), (0.0, 8 * 24 * HOUR)]
    found = compared(run(week, growth=growth, every=60.0))
    assert found.growth is not None
    assert found.growth.value == pytest.approx(growth, rel=0.02)
    assert severity(found, "after.spread") == [severity_]


@pytest.mark.parametrize(
    ("key", "predicted"),
    [("after.resistance", {"resistance": None}), ("after.capacity", {"capacity": None})],
)
def test_what_nobody_predicted_is_not_judged(key: str, predicted: dict[str, Any]) -> None:
    assert severity(compared(run(USE), **predicted), key) == [UNKNOWN]


def test_a_log_that_tells_nothing_is_not_judged() -> None:
    found = compared(run([(0.0, 600.0), (20.0, 600.0)]))
    assert found.resistance is found.capacity is found.growth is None
    for key in ("after.resistance", "after.capacity", "after.spread"):
        assert severity(found, key) == [UNKNOWN]
    assert all(f.remedy for f in found.findings if f.severity is UNKNOWN)


@pytest.mark.parametrize(
    ("start", "expected"), [(0.9, [OK, OK]), (1.02, [STOP, OK]), (0.45, [OK, STOP])]
)
def test_a_cell_beyond_its_limits_stops_it(start: float, expected: list[Severity]) -> None:
    """At 102 % a cell stands at 4.224 V; from 45 % half of the charge is not to be had."""
    assert severity(compared(run(USE, start=start)), "after.limits") == expected


def test_a_flat_chemistry_tells_nothing_on_its_plateau() -> None:
    """Half way through an LFP curve the rests say nothing, whatever was counted between."""
    time = np.arange(0.0, 10 * HOUR, 60.0)
    amps = np.where((time > 5 * HOUR) & (time < 5.5 * HOUR), 50.0, 0.0)
    volts = 14 * 3.30 - 0.01 * amps
    held = PackLog(seconds=time, volts=volts, amps=amps, highest=volts / 14, lowest=volts / 14)
    assert compared(held, IRON).capacity is None


def test_a_chemistry_without_targets_has_no_rests() -> None:
    assert compared(run(USE), HYDRIDE).capacity is None


@given(ohms=st.floats(0.004, 0.05), more=st.floats(1.0, 2.0))
def test_more_resistance_never_looks_better(ohms: float, more: float) -> None:
    one, other = (compared(run(USE, ohms=each, every=10.0)) for each in (ohms, ohms * more))
    assert one.resistance is not None
    assert other.resistance is not None
    assert one.resistance.value <= other.resistance.value + 1e-12
    assert severity(one, "after.resistance") <= severity(other, "after.resistance")


# --- Reading the log --------------------------------------------------------------------------


def plain(amps: list[float], every: float = 5.0) -> PackLog:
    current = np.array(amps)
    flat = np.full(current.size, 3.7)
    return PackLog(
        seconds=every * np.arange(current.size),
        volts=50 - 0.01 * current,
        amps=current,
        highest=flat,
        lowest=flat,
    )


def test_a_step_is_read_ten_seconds_on() -> None:
    (step,) = steps(plain([0, 0, 0, 40, 40, 40, 40]))
    assert (step.amps, step.ohms) == ((0.0, 40.0), pytest.approx(0.01))


@pytest.mark.parametrize(
    "amps",
    [
        [0, 0, 0, 40, 40],  # it ends before ten seconds are over
        [0, 0, 0, 40, 30, 40, 40],  # it wanders
        [10, 0, 5, 40, 40, 40, 40],  # what was before wanders
        [40, 40, 40, 43, 43, 43, 43],  # too small: 3 A of 43 A
    ],
)
def test_a_step_that_cannot_be_read_is_passed_over(amps: list[float]) -> None:
    assert steps(plain(amps)) == []


def test_a_coarse_log_has_no_steps() -> None:
    assert steps(plain([0, 0, 0, 40, 40, 40, 40], every=15.0)) == []
    held = plain([0, 0, 0, 40, 40, 40, 40])
    gap = held.seconds + np.where(np.arange(7) > 3, 60.0, 0.0)
    assert steps(attrs.evolve(held, seconds=gap)) == []


def test_rests_are_told_by_their_current_and_length() -> None:
    held = plain([0] * 10 + [40] * 3 + [0.1] * 5 + [-40])
    assert rests(held, 40.0) == [9]
    assert rests(held, 20.0) == [9, 17]


def test_charge_is_counted_with_its_sign() -> None:
    held = plain([36.0] * 11 + [-36.0] * 10)
    assert counted(held, 0, 10) == pytest.approx(0.5)  # 36 A for 50 s
    assert counted(held, 11, 20) == pytest.approx(-0.45)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"volts": [1.0]}, "equal length"),
        ({"volts": [1.0, np.nan]}, "not a finite number"),
        ({"seconds": [0.0, 0.0]}, "must rise"),
        ({"highest": None}, "the highest and the lowest"),
        ({"strings": [[1.0, 2.0], [1.0, np.inf]]}, "not a finite number"),
    ],
)
def test_a_log_that_is_none_is_refused(change: dict[str, Any], words: str) -> None:
    columns = {name: [0.0, 1.0] for name in ("seconds", "volts", "amps", "highest", "lowest")}
    with pytest.raises(ValueError, match=words):
        PackLog(**(columns | change))


# --- Cells and strings that were logged, or not ------------------------------------------------


def test_without_cells_limits_and_spread_stay_unknown() -> None:
    found = compared(attrs.evolve(run(USE), highest=None, lowest=None))
    assert severity(found, "after.limits") == [UNKNOWN, UNKNOWN]
    assert severity(found, "after.spread") == [UNKNOWN]
    assert found.growth is None


def test_the_busiest_string_against_what_was_predicted() -> None:
    # While it works the strings carry 30 and 20 A of 50 A: 1.2 times an even share.
    held = run(USE)
    split = np.array([0.6, 0.4])[:, np.newaxis] * held.amps
    shared = attrs.evolve(held, strings=split)
    (told,) = [f for f in compared(shared, share=1.25).findings if f.rule.key == "after.sharing"]
    assert (told.severity, told.about) == (OK, "string 1")
    assert told.value == pytest.approx(1.2)
    assert severity(compared(shared, share=1.15), "after.sharing") == [CAUTION]
    assert severity(compared(shared), "after.sharing") == [UNKNOWN]
    assert severity(compared(held, share=1.2), "after.sharing") == []


def test_strings_that_never_worked_tell_nothing() -> None:
    idle = attrs.evolve(run([(0.0, 3600.0)]), strings=np.zeros((2, 720)))
    assert severity(compared(idle, share=1.2), "after.sharing") == []
