"""From a design to strings that can be stepped through time, and what had to be assumed."""

from __future__ import annotations

from collections.abc import Sequence

import attrs
import numpy as np
from numpy.typing import NDArray

from evpack.base.basis import Basis
from evpack.base.brief import brief
from evpack.base.errors import DescriptionError
from evpack.base.wording import say
from evpack.describe.module import Module
from evpack.kernels.cold import resistance_factor
from evpack.kernels.network import COLDEST, Strings
from evpack.outcome.cells import factor
from evpack.outcome.design import Design

Array = NDArray[np.float64]

# All of these: common practice, no source. A string is seen as one body with one temperature.
HEAT_PER_ENERGY = 7.0  # heat capacity of modules against their energy [J/(K Wh)]
COOLS_IN = 3 * 3600.0  # time in which a stack of modules nears the air around it to 37 % [s]
SETTLES_IN = 600.0  # time constant of what resistance adds beyond 10 s [s]
FUSE_DROP = 0.05  # voltage over a fuse at its rating [V], low: ohms in series even out the sharing
JOINTS = 0.1e-3  # bolted joints of a string's lead [Ω]
OPEN = 1e9  # a string that is open [Ω]
_HOTTEST = 60  # last temperature of the table of resistance [°C]


@attrs.frozen(kw_only=True)
class StringScale:
    """How a string differs from the design's: factors on what its modules have.

    Parameters
    ----------
    capacity, resistance : float
        Against the design's module [1].
    modules : int or None
        How many modules of the string differ so; None is all of them.
    is_open : bool
        It carries nothing: its fuse is out, or it is taken off.
    """

    capacity: float = 1.0
    resistance: float = 1.0
    modules: int | None = None
    is_open: bool = False

    __repr__ = brief

    def __attrs_post_init__(self) -> None:
        """Refuse a module without capacity or resistance."""
        for what in ("capacity", "resistance"):
            value = getattr(self, what)
            if not (np.isfinite(value) and value > 0):
                raise DescriptionError(f"string scale: {what} must be above 0, got {value}")


@attrs.frozen(kw_only=True, eq=False)
class PackedStrings:
    """The strings of a design as the kernels step them, and what was assumed to make them.

    `assumed` names, in words, every value that nobody measured or read off a data sheet.
    """

    strings: Strings
    assumed: tuple[str, ...]

    __repr__ = brief


def pack_strings(
    design: Design,
    *,
    scales: Sequence[StringScale] | None = None,
    opposite_ends: bool = False,
    states: int = 201,
) -> PackedStrings:
    """Return the strings of a design, ready to be stepped through time.

    The string nearest to where the load joins the bars is the first, and the one on the shortest
    lead where leads are not alike. Its modules are level when full, and it is empty when its first
    module is.

    Parameters
    ----------
    design : Design
    scales : sequence of StringScale, optional
        One for each string; by default all are alike.
    opposite_ends : bool
        The load is taken off opposite ends of the two bars, and not off one end.
    states : int
        States of charge at which the curves are held.

    Raises
    ------
    DescriptionError
        The modules' resistance is unknown, or there is not one scale for each string.
    """
    build = design.build
    pack, module, policy = build.pack, build.pack.module, build.policy
    n = pack.strings
    given = [StringScale()] * n if scales is None else list(scales)
    if len(given) != n:
        raise DescriptionError(f"{n} strings need {n} scales, got {len(given)}")
    soc = np.linspace(0.0, 1.0, states)
    level = _level(module)
    made = [_string(module, pack.modules_in_series, soc, level, scale) for scale in given]
    ohms = np.array([of.ohms for of in made])
    grows = float(policy.long_resistance.m) - 1.0
    middle = ohms[:, states // 2]
    branches = np.empty((n, 0)) if grows <= 0 else (grows * middle)[:, np.newaxis]
    heat = np.full(n, HEAT_PER_ENERGY * float(pack.energy.m) / n)
    lead, bar, assumed = _joined(design)
    lead += np.where([scale.is_open for scale in given], OPEN, 0.0)
    celsius = np.arange(COLDEST, _HOTTEST + 1.0)
    return PackedStrings(
        strings=Strings(
            ocv=np.array([of.ocv for of in made]),
            ohms=ohms,
            cold=np.array([resistance_factor(float(t)) for t in celsius]),
            lead=lead,
            coulombs=3600.0 * np.array([of.capacity for of in made]),
            rc_ohms=branches,
            rc_seconds=np.full(branches.shape, SETTLES_IN),
            heat=heat,
            to_air=heat / COOLS_IN,
            plus=bar.copy(),
            minus=bar.copy(),
            tap_plus=0,
            tap_minus=n - 1 if opposite_ends else 0,
        ),
        assumed=(*_of_modules(module, policy.basis.of("long_resistance")), *assumed),
    )


@attrs.frozen(kw_only=True, eq=False)
class _String:
    """One string over its own states of charge: volts, ohms, and its capacity [Ah]."""

    ocv: Array
    ohms: Array
    capacity: float


def _level(module: Module) -> tuple[Array, Array]:
    """Return states of charge and resistance of one module at room temperature [Ω]."""
    bends, read_by = module.resistance_curve, factor(module, least=False)
    if bends is not None:
        return bends.soc, bends.ohms / read_by
    if module.resistance is None:
        raise DescriptionError(
            f"{module.name}: its resistance is not known, and how strings share hangs on it; "
            "measure it and put it in the build sheet"
        )
    return np.array([0.0, 1.0]), np.full(2, float(module.resistance.m) / read_by)


def _string(
    module: Module, series: int, soc: Array, level: tuple[Array, Array], scale: StringScale
) -> _String:
    """Return a string of like modules, of which some may differ."""
    odd = series if scale.modules is None else scale.modules
    if not 0 <= odd <= series:
        raise DescriptionError(f"{odd} modules of a string of {series} cannot differ")
    whole = float(module.capacity.m)
    parts = [(series - odd, 1.0, 1.0), (odd, scale.capacity, scale.resistance)]
    parts = [part for part in parts if part[0]]
    least = min(of for _, of, _ in parts)
    curve, cells = module.curve, module.cells_in_series
    ocv, ohms = np.zeros_like(soc), np.zeros_like(soc)
    for count, capacity, resistance in parts:
        own = 1.0 - (1.0 - soc) * least / capacity  # level when full
        ocv += count * cells * np.interp(own, curve.soc, curve.volts)
        ohms += count * resistance * np.interp(own, *level)
    return _String(ocv=ocv, ohms=ohms, capacity=whole * least)


def _joined(design: Design) -> tuple[Array, Array, tuple[str, ...]]:
    """Return lead, fuse and joints of each string [Ω], the pieces of a bar [Ω], and assumptions."""
    build = design.build
    cabling, n = build.cabling, build.pack.strings
    assumed = [f"bolted joints of a string's lead, {say(JOINTS, 'Ω')}"]
    lead = np.full(n, JOINTS)
    if cabling.link is not None:
        lead += float(cabling.link.one_way.m) * (build.pack.modules_in_series - 1)
    run = cabling.module_lead
    if run is None:
        assumed.append("no leads: their run is not known")
    else:
        lead += float(run.resistance.m)
        lead[0] -= float(run.resistance.m) * (1.0 - run.shortest_part)
    size = string_fuse(design)
    if size is not None:
        guards = build.safeguards
        fuses = (2 if guards.both_poles else 1) * (2 if guards.both_ends else 1)
        lead += fuses * FUSE_DROP / size
        assumed.append(f"{say(FUSE_DROP, 'V')} over a string fuse at its rating")
    bar = np.zeros(n - 1)
    if cabling.bar is None:
        assumed.append("bars without resistance: they are not known")
    elif n > 1:
        bar += float(cabling.bar.resistance.m) / 2 / (n - 1)
    return lead, bar, tuple(assumed)


def main_cable(design: Design) -> float:
    """Return the mains of all inverters side by side [Ω]; 0 where one of them is not known."""
    cabling, inverters = design.build.cabling, design.build.inverters
    runs = [(cabling.run_of(i, cabling.main), i.count) for i in inverters]
    conducts = [count / float(run.resistance.m) for run, count in runs if run is not None]
    return 1 / sum(conducts) if conducts and len(conducts) == len(runs) else 0.0


def string_fuse(design: Design) -> float | None:
    """Return the rating of the string fuse that the design chose [A]; None where it chose none."""
    return None if design.protection is None else design.protection.string_fuse


def _of_modules(module: Module, grows: Basis) -> tuple[str, ...]:
    """Return what is assumed of the modules, in words."""
    found = []
    if module.basis.of("capacity") is Basis.ASSUMED:
        found.append("capacity of the modules")
    if module.resistance_curve is None:
        found.append("the same resistance of the modules at every state of charge")
        if module.basis.of("resistance") is Basis.ASSUMED:
            found.append("resistance of the modules")
    if module.curve.basis is Basis.ASSUMED:
        found.append("open-circuit voltage curve")
    if grows is Basis.ASSUMED:
        found.append("resistance over hours against that over 10 s")
    return (
        *found,
        f"resistance beyond 10 s settles in {say(SETTLES_IN, 's')}",
        "resistance of cold cells",
        f"heat capacity of the modules, {HEAT_PER_ENERGY:g} J/K for each Wh",
        f"the air takes {say(COOLS_IN, 's')} to cool them to 37 %",
    )
