"""Nouns to change one field of: each fixture is a function that makes one."""

from collections.abc import Callable
from typing import Any

import pytest

from evpack.base.basis import Basis
from evpack.describe.cabling import Conductor
from evpack.describe.chemistry import CellLimits, CellTargets, Chemistry
from evpack.describe.module import Module
from evpack.describe.ocv import OcvCurve
from evpack.describe.pack import Pack

Maker = Callable[..., Any]

LIMITS = {
    "highest": "4.2 V",
    "nominal": "3.75 V",
    "least": "2.7 V",
    "reject_below": "2.0 V",
    "charge_coldest": "0 degC",
    "charge_hottest": "45 degC",
    "discharge_coldest": "-20 degC",
    "discharge_hottest": "60 degC",
}
TARGETS = {
    "charge": "4.05 V",
    "low_at_rest": "3.45 V",
    "changeover_loaded": "3.4 V",
    "warn_high": "4.12 V",
    "cut_high": "4.18 V",
    "warn_low": "3.2 V",
    "cut_low": "3.0 V",
    "float_most": "3.95 V",
    "top_guard": "20 mV",
    "ladder_gap": "30 mV",
    "rest": "1 h",
}


@pytest.fixture(scope="session")
def limits() -> Maker:
    return lambda **other: CellLimits(**{**LIMITS, **other})


@pytest.fixture(scope="session")
def targets() -> Maker:
    return lambda **other: CellTargets(**{**TARGETS, **other})


@pytest.fixture(scope="session")
def curve() -> Maker:
    usual = {
        "soc": [0, 0.5, 1],
        "volts": [3.0, 3.7, 4.2],
        "source": "ocv-shape",
        "quality": "made up",
        "basis": Basis.ASSUMED,
    }
    return lambda **other: OcvCurve(**{**usual, **other})


@pytest.fixture(scope="session")
def chemistry(limits: Maker, targets: Maker, curve: Maker) -> Maker:
    usual = {
        "key": "made-up",
        "name": "Made-up cells",
        "limits": limits(),
        "targets": targets(),
        "ocv": curve(),
        "confidence": "0.8",
        "source": "cell-limits",
    }
    return lambda **other: Chemistry(**{**usual, **other})


@pytest.fixture(scope="session")
def module(chemistry: Maker) -> Maker:
    usual = {
        "name": "Seven-cell module",
        "chemistry": chemistry(),
        "cells_in_series": 7,
        "cells_in_parallel": 2,
        "capacity": "66 Ah",
        "resistance": "9.1 mOhm",
        "resistance_method": "10 s pulse",
    }
    return lambda **other: Module(**{**usual, **other})


@pytest.fixture(scope="session")
def pack(module: Maker) -> Maker:
    usual = {"module": module(), "modules_in_series": 2, "strings": 4}
    return lambda **other: Pack(**{**usual, **other})


@pytest.fixture(scope="session")
def conductor() -> Maker:
    usual = {
        "size": "2/0 AWG",
        "area": 67.4,
        "ohm_per_metre": 0.00032,
        "ampacity": 175.0,
        "resistance_source": "nec-ch9-t8",
        "ampacity_source": "nec-310.16",
        "conditions": "75 °C column, 30 °C",
    }
    return lambda **other: Conductor(**{**usual, **other})
