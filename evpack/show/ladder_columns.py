"""What stands on the voltage ladder: each column's bar, and the voltages marked on it."""

from __future__ import annotations

import math
from collections.abc import Iterable

import attrs

from evpack.base.fitted import Fitted, NotFitted
from evpack.base.units import Quantity
from evpack.describe.charger import Charger, LeadAcidProfile
from evpack.describe.inverter import Inverter
from evpack.describe.ranges import VoltageRange
from evpack.outcome.design import Design
from evpack.outcome.settings import Act, Line


@attrs.frozen
class Mark:
    """A voltage with a name.

    `kind` is "limit" (a fact), "set" (to be entered), "provisional" (would be, if the design
    worked), "unset" (wanted, but cannot be set), "high" (of a lead-acid profile, above this pack's
    target) or "hazard" (above what any cell stands).
    """

    name: str
    volts: float
    kind: str


@attrs.frozen
class Column:
    """One bar of the ladder; `low` or `high` None is an end that is not known.

    `kind` is "pack", "device", or "profile": what works at fixed voltages and has no range.
    """

    head: str
    under: str
    low: float | None
    high: float | None
    marks: tuple[Mark, ...]
    kind: str = "device"


def columns_of(design: Design) -> list[Column]:
    """Return the columns of the ladder: pack, inverters, chargers, lead-acid profiles."""
    build = design.build
    columns = [_pack_column(design)]
    columns += [_inverter_column(design, inverter) for inverter in build.inverters]
    columns += [_charger_column(design, charger) for charger in build.all_chargers]
    if build.profiles:
        columns.append(_profiles_column(design))
    return columns


def _pack_column(design: Design) -> Column:
    pack = design.build.pack
    n, targets = pack.cells_in_series, pack.module.chemistry.targets
    marks = [
        Mark("never above", float(pack.highest.m), "limit"),
        Mark("nominal", float(pack.nominal.m), "limit"),
        Mark("never below", float(pack.least.m), "limit"),
    ]
    if targets is not None:
        high = _cut(design, Line.CELL_CUT_HIGH, float(targets.cut_high.m))
        low = _cut(design, Line.CELL_CUT_LOW, float(targets.cut_low.m))
        marks.append(Mark("monitoring stops charge", n * high, "limit"))
        marks.append(Mark("monitoring stops discharge", n * low, "limit"))
        if design.figures is not None:
            marks.append(Mark("target, highest cell", design.figures.charge_target.value, "limit"))
    under = f"{n} cells in series" if targets is not None else f"{n} cells, no set voltage fits"
    return Column(
        "Pack", under, float(pack.least.m), float(pack.highest.m), _finite(marks), kind="pack"
    )


def _cut(design: Design, name: str, usual: float) -> float:
    """Return where the settings sheet has the cell monitoring cut [V/cell], else the usual."""
    sheet = design.settings
    lines = () if sheet is None else (line for d in sheet.devices for line in d.lines)
    set_to = (line.per_cell for line in lines if line.name == name and line.per_cell is not None)
    return next(set_to, usual)


def _inverter_column(design: Design, inverter: Inverter) -> Column:
    marks = _settings(design, inverter.name)
    low, high = _volts(inverter.window_low), _volts(inverter.window_high)
    if low is not None:
        marks.append(Mark("works from", low, "limit"))
    if high is not None:
        marks.append(Mark("works up to", high, "limit"))
    survives = _volts(inverter.survives)
    if survives is not None and survives != high:
        marks.append(Mark("damaged above", survives, "limit"))
    restart = _volts(inverter.restart)
    if restart is not None:
        marks.append(Mark("starts again at", restart, "limit"))
    name = inverter.name if inverter.count == 1 else f"{inverter.count} × {inverter.name}"
    known = low is not None or high is not None
    under = "inverter: works between" if known else "inverter: window not known"
    return Column(name, under, low, high, _finite(marks))


def _charger_column(design: Design, charger: Charger) -> Column:
    marks = _settings(design, charger.name)
    name = charger.name if charger.count == 1 else f"{charger.count} × {charger.name}"
    reach = charger.charge_voltage
    if charger.left_on is not None:
        marks += _hazards(design, charger.left_on)
    if isinstance(reach, VoltageRange):
        low, high = float(reach.low.m), float(reach.high.m)
        marks += [Mark("lowest entry", low, "limit"), Mark("highest entry", high, "limit")]
        return Column(name, f"{charger.source}: can be set", low, high, _finite(marks))
    if reach is None:
        return Column(name, f"{charger.source}: not known", None, None, _finite(marks))
    return _fixed(name, f"{charger.source}: fixed", _finite(marks))


def _profiles_column(design: Design) -> Column:
    """Return one column for all profiles, each by the voltage that it would hold for hours."""
    names: dict[float, list[str]] = {}
    for profile in design.build.profiles:
        names.setdefault(float(profile.absorption.m), []).append(profile.name)
    marks = tuple(
        Mark("; ".join(same), volts, _kind(design, volts)) for volts, same in names.items()
    )
    return _fixed("Lead-acid profiles", "absorption, if left on", marks)


def _fixed(head: str, under: str, marks: tuple[Mark, ...]) -> Column:
    ends = [mark.volts for mark in marks]
    return Column(
        head,
        under,
        min(ends, default=None),
        max(ends, default=None),
        marks,
        kind="profile",
    )


def _hazards(design: Design, profile: LeadAcidProfile) -> list[Mark]:
    """Return what a lead-acid profile that stays on would do to this pack."""
    named = (
        ("its equalise", profile.equalise),
        ("its absorption", profile.absorption),
        ("its float", profile.float_voltage),
        ("its low cut-off", profile.low_cut_off),
    )
    return [Mark(name, float(q.m), _kind(design, float(q.m))) for name, q in named]


def _kind(design: Design, volts: float) -> str:
    """Return how a voltage that a device would charge to compares with what the pack stands."""
    highest = float(design.build.pack.highest.m)
    target = design.figures.charge_target.value if design.figures is not None else highest
    if volts > highest * (1 + 1e-9):
        return "hazard"
    return "high" if volts > target * (1 + 1e-9) else "limit"


_KINDS = {Act.ENTER: "set", Act.CANNOT: "unset"}


def _settings(design: Design, device: str) -> list[Mark]:
    """Return the voltages that are to be entered on a device, by the names of the sheet."""
    sheet = design.settings
    lines = sheet.device(device) if sheet is not None else None
    if sheet is None or lines is None:
        return []
    kinds = {**_KINDS, Act.ENTER: "provisional"} if sheet.withheld else _KINDS
    return [
        Mark(line.name, line.worked.value, kinds[line.act])
        for line in lines.lines
        if line.worked is not None and line.worked.unit == "V" and line.act in _KINDS
    ]


def _finite(marks: Iterable[Mark]) -> tuple[Mark, ...]:
    return tuple(mark for mark in marks if math.isfinite(mark.volts))


def _volts(quantity: Quantity | NotFitted | None) -> float | None:
    return None if quantity is None or isinstance(quantity, Fitted) else float(quantity.m)


_GRAVITY = {"limit": 0, "high": 1, "unset": 2, "provisional": 3, "set": 4, "hazard": 5}


def merged(marks: Iterable[Mark]) -> list[Mark]:
    """Join the marks that stand at one voltage: their labels could not stand apart."""
    found: dict[int, Mark] = {}
    for mark in marks:
        key = round(mark.volts * 1000)
        there = found.get(key)
        if there is None:
            found[key] = mark
        elif mark.name not in there.name.split(", "):
            kind = max(there.kind, mark.kind, key=lambda k: _GRAVITY[k])
            first, second = (mark, there) if mark.kind == kind else (there, mark)
            found[key] = Mark(f"{first.name}, {second.name}", there.volts, kind)
    return sorted(found.values(), key=lambda m: -m.volts)
