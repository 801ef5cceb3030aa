"""The finished pack against its design. Worked by hand."""

from __future__ import annotations

import attrs
import numpy as np
import pytest
from strategies import good_build, good_cabling, good_conductor, with_module

from evpack.base.errors import DescriptionError
from evpack.base.finding import Finding, Severity
from evpack.describe.cabling import Run
from evpack.design import design
from evpack.finished import compare_log
from evpack.outcome.pack_log import PackLog


def log(ohms: float) -> PackLog:
    """Return four load steps of 40 A on a pack of 52 V."""
    time = np.arange(0.0, 800.0, 5.0)
    amps = np.where(time % 200 >= 100, 40.0, 0.0)
    volts = 52.0 - ohms * amps
    return PackLog(seconds=time, volts=volts, amps=amps)


def found(log: PackLog, build: object = None) -> dict[str, Finding]:
    made = design(good_build() if build is None else build)
    return {f.rule.key: f for f in compare_log(made, log).findings}


def test_the_resistance_up_to_the_bar() -> None:
    # 20 / 3 mΩ of modules and 1.28 / 3 mΩ of leads: 7.0933 mΩ, a quarter more 8.8667 mΩ.
    told = found(log(0.0088))["after.resistance"]
    assert (told.severity, told.value) == (Severity.OK, pytest.approx(0.0088))
    assert told.limit == pytest.approx(1.25 * 0.02128 / 3)
    assert found(log(0.0089))["after.resistance"].severity is Severity.CAUTION
    # A link of 0.5 m of 0.32 mΩ/m adds 0.16 mΩ to each string.
    link = Run(name="link", conductor=good_conductor(), length="0.5 m")
    linked = good_build(cabling=good_cabling(link=link))
    assert found(log(0.0089), linked)["after.resistance"].limit == pytest.approx(
        1.25 * (0.02128 + 0.00016) / 3
    )


def test_a_resistance_that_nobody_predicted() -> None:
    told = found(log(0.005), with_module(resistance=None))["after.resistance"]
    assert told.severity is Severity.UNKNOWN


def test_the_share_of_the_busiest_string() -> None:
    # 1.2 of an even share is assumed; 0.41 of three strings is 1.23.
    held = log(0.007)
    parts = np.array([0.41, 0.30, 0.29])[:, np.newaxis] * held.amps
    told = found(attrs.evolve(held, strings=parts))["after.sharing"]
    assert (told.severity, told.value) == (Severity.CAUTION, pytest.approx(1.23))
    assert told.limit == pytest.approx(1.2)


def test_only_a_design_and_a_log_are_compared() -> None:
    with pytest.raises(DescriptionError, match="a PackLog is needed"):
        compare_log(design(good_build()), "log.csv")  # type: ignore[arg-type]
    with pytest.raises(DescriptionError, match="a Design is needed"):
        compare_log(good_build(), log(0.01))  # type: ignore[arg-type]
