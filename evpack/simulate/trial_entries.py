"""What the devices of a design do when the sheet is followed, with their errors at the worst."""

from __future__ import annotations

import attrs

from evpack.base.basis import Basis
from evpack.base.brief import brief
from evpack.base.fitted import NOT_FITTED
from evpack.base.units import VOLTAGE, Quantity
from evpack.describe.charger import Charger
from evpack.describe.inverter import Inverter
from evpack.outcome.cell_imbalance import imbalance_basis
from evpack.outcome.design import Design
from evpack.outcome.settings import Act, Line, Setting

CUTS = "cell monitoring (BMS)"
# What takes a charger's voltage elsewhere, unless it is turned off or entered.
_RAISES = (Line.FLOAT, Line.EQUALISE, Line.COMPENSATION)


@attrs.frozen(kw_only=True)
class ChargerAtWorst:
    """One charger as it is set.

    Parameters
    ----------
    volts : float or None
        The highest voltage that it may really hold, its error included [V]; None is not settled.
    amps : float or None
        What all its units give together as they are set [A]; None is not known.
    unit : float or None
        What one unit gives by itself, whatever is entered [A].
    assumed : tuple of str
    """

    name: str
    volts: float | None
    amps: float | None
    unit: float | None
    assumed: tuple[str, ...]

    __repr__ = brief


@attrs.frozen(kw_only=True)
class StopAtWorst:
    """One inverter: the voltage at which it really stops, its meter reading high [V]."""

    name: str
    volts: float | None
    assumed: tuple[str, ...]

    __repr__ = brief


def chargers_at_worst(design: Design) -> tuple[ChargerAtWorst, ...]:
    """Return every charger as the sheet sets it."""
    return tuple(_charger(design, charger) for charger in design.build.all_chargers)


def _charger(design: Design, charger: Charger) -> ChargerAtWorst:
    error, assumed = _error(
        design, charger.accuracy, charger.basis.of("accuracy"), "charger_accuracy", charger.name
    )
    unit = None if charger.current is None else float(charger.current.m)
    highest = _highest(design, charger)
    limit = _line(design, charger.name, Line.CURRENT)
    amps = None
    if limit is not None and not limit.not_connected:
        entered = limit.act is Act.ENTER and limit.worked is not None
        settled = limit.act is not Act.FIND_OUT
        each = limit.worked.value if entered and limit.worked is not None else unit
        amps = each * charger.count if settled and each else None  # one of 0 A charges nothing
    return ChargerAtWorst(
        name=charger.name,
        volts=None if highest is None else highest * (1 + error),
        amps=amps,
        unit=unit,
        assumed=assumed,
    )


def _highest(design: Design, charger: Charger) -> float | None:
    """Return the highest voltage that is entered on a charger, or that its profile rises to [V]."""
    profile = charger.left_on
    if profile is None:
        lines = _lines(design, charger.name)
        if any(line.not_connected for line in lines):
            return None
        if any(line.name in _RAISES and line.act in {Act.FIND_OUT, Act.CANNOT} for line in lines):
            return None  # it may rise to nobody knows what
        entered = [
            line.worked.value
            for line in lines
            if line.act is Act.ENTER and line.worked is not None and line.worked.kind is VOLTAGE
        ]
        charge = _line(design, charger.name, Line.CHARGE)
        return max(entered) if charge is not None and charge.act is Act.ENTER else None
    site = design.build.site
    if site.coldest is None:
        return None
    felt = min(float(t.m) for t in (site.coldest, site.coldest_outside) if t is not None)
    return max(
        profile.compensated(felt, equalising=equalising, least=charger.unstated_compensation)
        for equalising in (False, True)
    )


def stops_at_worst(design: Design) -> tuple[StopAtWorst, ...]:
    """Return where every inverter really stops."""
    return tuple(_stop(design, inverter) for inverter in design.build.inverters)


def _stop(design: Design, inverter: Inverter) -> StopAtWorst:
    error, assumed = _error(
        design,
        inverter.meter_accuracy,
        inverter.basis.of("meter_accuracy"),
        "meter_accuracy",
        inverter.name,
    )
    line = _line(design, inverter.name, Line.CUT_OFF)
    volts = None
    if inverter.cut_off is NOT_FITTED:
        volts = None if inverter.window_low is None else float(inverter.window_low.m)
    elif line is not None and line.act is Act.ENTER and line.worked is not None:
        volts = line.worked.value
    return StopAtWorst(
        name=inverter.name, volts=None if volts is None else volts / (1 + error), assumed=assumed
    )


def cut_of_monitoring(design: Design, side: str) -> float | None:
    """Return the ``"high"`` or ``"low"`` cut of the cell monitoring, as the sheet has it [V]."""
    cut = Line.CELL_CUT_HIGH if side == "high" else Line.CELL_CUT_LOW
    line = _line(design, CUTS, cut)
    return None if line is None else line.per_cell


def only_assumed(design: Design, side: str) -> tuple[str, ...]:
    """Return what a cell is judged by that is only assumed, in words.

    Parameters
    ----------
    side : str
        ``"highest"`` or ``"least"``: the limit of a cell that it is held against.
    """
    pack, module = design.build.pack, design.build.pack.module
    known = (
        ("spread of the cells", imbalance_basis(pack, full=side == "highest")),
        (f"{side} voltage of a cell", module.limit_basis(side)),
        ("open-circuit voltage curve", module.curve.basis),
    )
    return tuple(words for words, basis in known if basis is Basis.ASSUMED)


def amps_assumed(design: Design) -> tuple[str, ...]:
    """Return the chargers whose current is only assumed, in words."""
    return tuple(
        f"current of {charger.name}"
        for charger in design.build.all_chargers
        if charger.basis.of("current") is Basis.ASSUMED
    )


def output_assumed(design: Design) -> tuple[str, ...]:
    """Return the inverters whose output or efficiency is only assumed, in words."""
    return tuple(
        f"{field} of {inverter.name}"
        for inverter in design.build.inverters
        for field in ("continuous", "efficiency")
        if inverter.basis.of(field) is Basis.ASSUMED
    )


def _error(
    design: Design, stated: Quantity | None, basis: Basis, fallback: str, name: str
) -> tuple[float, tuple[str, ...]]:
    policy = design.build.policy
    if stated is None:
        stated, basis = getattr(policy, fallback), policy.basis.of(fallback)
    return float(stated.m), (f"error of {name}",) if basis is Basis.ASSUMED else ()


def _lines(design: Design, device: str) -> tuple[Setting, ...]:
    settings = None if design.settings is None else design.settings.device(device)
    return () if settings is None else settings.lines


def _line(design: Design, device: str, name: Line) -> Setting | None:
    return next((line for line in _lines(design, device) if line.name == name), None)
