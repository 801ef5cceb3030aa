"""Panels of a part of the road: the few controls, and what of the answer they are about."""

from __future__ import annotations

from collections.abc import Mapping
from typing import ClassVar

from evpack.workbook.panel import Panel


class FitPanel(Panel):
    """How many modules in series, how many strings; the voltages beside those of the devices."""

    regions: ClassVar[tuple[str, ...]] = ("verdict", "figures", "ladder", "found")
    choices: ClassVar[tuple[str, ...]] = ("modules_in_series", "strings")
    what_if: ClassVar[Mapping[str, int]] = {"modules_in_series": 5, "strings": 5}


class SettingsPanel(Panel):
    """How high to charge, how much to keep, what load; the energy and what to enter."""

    regions: ClassVar[tuple[str, ...]] = ("verdict", "figures", "energy", "found", "settings")
    choices: ClassVar[tuple[str, ...]] = ("charge_target", "reserve", "continuous_load")
    what_if: ClassVar[Mapping[str, int]] = {"charge_target": 4, "reserve": 4, "continuous_load": 4}
