"""Conductors, the runs laid with them, and the bar: what joins modules, bar and devices."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

import attrs
from attrs.converters import optional

from evpack.base.basis import ALL_CHOSEN, Bases, bases
from evpack.base.brief import brief
from evpack.base.errors import DescriptionError
from evpack.base.told import INNER, told
from evpack.base.units import CURRENT, RESISTANCE, Quantity, amps, metres
from evpack.base.wording import say
from evpack.describe.checked import above_nothing, checked, need, whole

# The size of a run that evpack is to choose, as a build sheet says it.
LEFT_OPEN = "smallest"
# The runs of a build, as a build sheet names them.
RUNS = ("module_lead", "link", "main", "charger", "array")
# No cable with a lug at each end is shorter [m]; a metre typed as a millimetre is.
_SHORTEST = 0.01
# Copper at 75 °C has this resistance [Ω mm²/m]: 0.017241 · (1 + 0.00393 · 55), IEC 60028.
_COPPER_AT_75 = 0.017241 * (1 + 0.00393 * 55)


@attrs.frozen(kw_only=True, field_transformer=checked)
class Conductor:
    """A copper conductor of a named size, with the table values that belong to it.

    Parameters
    ----------
    size : str
        As it is sold: ``"2/0 AWG"`` or ``"70 mm2"``.
    area : float
        Cross-section [mm²].
    ohm_per_metre : float
        DC resistance at 75 °C [Ω/m].
    ampacity : float
        What it may carry for good, under the conditions the run was looked up for [A].
    hottest : float
        Temperature that its ampacity brings it to [°C]: that of the column it was read from.
    ambient : float
        Temperature around it [°C].
    withstand : float
        k of the adiabatic equation I²t ≤ k²S² for its insulation [A √s/mm²].
    resistance_source, ampacity_source : str
        Keys of ``data/sources.toml``.
    conditions : str
        Column, ambient, bundling in words.
    plain : float or None
        By NEC, what the column of its terminals says without correction [A]: 125 % of a
        continuous current may reach that (215.2(A)(1)); None: no such clause.
    """

    size: str
    area: float = attrs.field(metadata=told("cross-section", unit="mm²"))
    ohm_per_metre: float = attrs.field(metadata=told("resistance, warm, each metre", unit="Ω/m"))
    ampacity: float = attrs.field(metadata=told("carries for good", unit="A"))
    hottest: float = attrs.field(default=75.0, metadata=told("which brings it to", unit="°C"))
    ambient: float = attrs.field(default=30.0, metadata=told("in an ambient of", unit="°C"))
    withstand: float = attrs.field(default=115.0, metadata=told("k of I²t = k²S²", unit="A √s/mm²"))
    resistance_source: str
    ampacity_source: str
    conditions: str
    plain: float | None = attrs.field(default=None, metadata=told(unit="A"))

    __repr__ = brief

    def __attrs_post_init__(self) -> None:
        """Refuse a conductor of no size, no resistance or no ampacity."""
        for what, unit in (
            ("area", "mm²"),
            ("ohm_per_metre", "Ω/m"),
            ("ampacity", "A"),
            ("withstand", "A √s/mm²"),
        ):
            value = getattr(self, what)
            if not (math.isfinite(value) and value > 0):
                raise DescriptionError(f"{self.size}: {what} must be above 0 {unit}, got {value}")


@attrs.frozen(kw_only=True, field_transformer=checked)
class Run:
    """A two-wire run: its length is one way, and its resistance is of both ways.

    Parameters
    ----------
    length : quantity
        One way [m]; of the longest, where several are laid in parallel or several leads are alike.
    parallel : int
        Conductors side by side for each pole.
    shortest : quantity or None
        The shortest of them, where they are not alike [m]; None says that all are alike.
    alternatives : tuple of Conductor
        The sizes of the tables under the same conditions, thin to thick; empty: not looked up.
    protected : bool or None
        Whether nothing can chafe or crush it and nothing that burns lies near: in conduit or duct,
        or double insulated and fixed all along. None is unknown.
    left_open : bool
        The builder leaves the size to evpack; `conductor` is then the thickest of the
        alternatives, until the smallest that passes takes its place.
    conditions : mapping or None
        What the sizes were looked up under, as `evpack.conductor_ladder` takes it; circuits only
        where somebody said how many lie together. None: not looked up.
    """

    name: str
    conductor: Conductor = attrs.field(metadata=told("conductor"))
    length: Quantity = attrs.field(converter=metres, metadata=told("length, one way"))
    parallel: int = attrs.field(
        validator=whole(1, 20), default=1, metadata=told("conductors in parallel", known=False)
    )
    shortest: Quantity | None = attrs.field(
        converter=optional(metres), default=None, metadata=told("the shortest of them", omit=True)
    )
    alternatives: tuple[Conductor, ...] = attrs.field(default=(), metadata=INNER)
    left_open: bool = False
    protected: bool | None = attrs.field(
        default=None, metadata=told("protected all along", omit=True)
    )
    conditions: Mapping[str, Any] | None = attrs.field(default=None, eq=False, metadata=INNER)
    basis: Bases = attrs.field(converter=bases, default=ALL_CHOSEN)

    __repr__ = brief

    def __attrs_post_init__(self) -> None:
        """Refuse a run too short to have two ends, and a shortest that is longer."""
        for what in ("length", "shortest"):
            value = getattr(self, what)
            if value is not None and 0 < value.m < _SHORTEST:
                raise DescriptionError(
                    f"{self.name}: {what} must be 10 mm or more, got {say(float(value.m), 'm')}: "
                    "is it in metres?"
                )
        if self.length.m <= 0:
            raise DescriptionError(f"{self.name}: length must be above 0 m")
        if self.shortest is not None and not 0 < self.shortest.m <= self.length.m:
            raise DescriptionError(
                f"{self.name}: shortest must lie above 0 m and not above length "
                f"({self.length.m:g} m), got {self.shortest.m:g} m"
            )

    @property
    def resistance(self) -> Quantity:
        """Return the resistance there and back at 75 °C [Ω]."""
        return RESISTANCE.of(2 * float(self.one_way.m))

    @property
    def one_way(self) -> Quantity:
        """Return the resistance of one way at 75 °C [Ω]."""
        return RESISTANCE.of(self.length.m * self.conductor.ohm_per_metre / self.parallel)

    @property
    def shortest_part(self) -> float:
        """Return the length of the shortest against that of the longest [1]."""
        return 1.0 if self.shortest is None else float(self.shortest.m / self.length.m)

    @property
    def ampacity(self) -> Quantity:
        """Return what its conductors carry together [A].

        Unlike ones share by 1/length, and the shortest reaches its own limit first: with one
        short and the others long, together they carry A · (1 + (p − 1) · shortest/length).
        """
        together = float(self.parallel)
        if self.shortest is not None and self.parallel > 1:
            together = 1 + (self.parallel - 1) * self.shortest_part
        return CURRENT.of(self.conductor.ampacity * together)


@attrs.frozen(kw_only=True, field_transformer=checked)
class Busbar:
    """The two bare copper bars (plus and minus) that all strings and devices join at.

    Parameters
    ----------
    width, thickness, length : quantity
        Of one bar [m].
    count : int
        Bars side by side for each pole.
    enclosed : bool or None
        In a box; None is unknown and counts as enclosed.
    carries : quantity or None
        What one bar carries for good by its table or its maker [A]; None is unknown.
    conditions, source : str
        Where that comes from.
    """

    name: str = "bus bars"
    width: Quantity = attrs.field(converter=metres, metadata=told("copper"))
    thickness: Quantity = attrs.field(converter=metres)
    length: Quantity = attrs.field(converter=metres, metadata=told("length"))
    count: int = attrs.field(validator=whole(1, 10), default=1)
    enclosed: bool | None = attrs.field(default=None, metadata=told("in a box"))
    carries: Quantity | None = attrs.field(
        converter=optional(amps), default=None, metadata=told("one bar carries for good")
    )
    conditions: str = ""
    source: str = "common-practice"
    basis: Bases = attrs.field(converter=bases, default=ALL_CHOSEN)

    __repr__ = brief

    def __attrs_post_init__(self) -> None:
        """Refuse a bar without a size."""
        for what in ("width", "thickness", "length"):
            if getattr(self, what).m <= 0:
                raise DescriptionError(f"{self.name}: {what} must be above 0 mm")
        above_nothing(self, "carries")
        if self.thickness.m > self.width.m:
            raise DescriptionError(f"{self.name}: thickness must not exceed width")

    @property
    def area(self) -> float:
        """Return the cross-section of one pole's bars [mm²]."""
        return float(self.width.m * self.thickness.m) * 1e6 * self.count

    @property
    def resistance(self) -> Quantity:
        """Return the resistance of both bars from end to end, at 75 °C [Ω]."""
        return RESISTANCE.of(2 * float(self.length.m) * _COPPER_AT_75 / self.area)


def _own(given: object) -> Mapping[str, Run]:
    if not isinstance(given, Mapping):
        raise DescriptionError(f"own: runs by the name of their device are needed; got {given!r}")
    for name, run in given.items():
        need(f"own run of {name}", run, Run)
    return dict(given)


@attrs.frozen(kw_only=True, field_transformer=checked)
class Cabling:
    """The runs of the pack; None is not yet decided, and then unknown.

    Parameters
    ----------
    module_lead : Run or None
        From each string to the bar.
    link : Run or None
        From one module to the next within a string; None: bolted straight, or part of the
        modules' measured resistance.
    main : Run or None
        From the bar to each inverter.
    charger : Run or None
        From each charger to the bar.
    array : Run or None
        From each solar array to its charger.
    bar : Busbar or None
        The bars.
    own : mapping of Run
        Runs of single devices, by the device's name; they go before `main`, `charger`, `array`.
    """

    module_lead: Run | None = attrs.field(default=None, metadata=told("string to bar"))
    link: Run | None = attrs.field(default=None, metadata=told("module to module"))
    main: Run | None = attrs.field(default=None, metadata=told("bar to inverter"))
    charger: Run | None = attrs.field(default=None, metadata=told("charger to bar"))
    array: Run | None = attrs.field(default=None, metadata=told("solar array to charger"))
    bar: Busbar | None = attrs.field(default=None, metadata=told("bus bars", after="own"))
    own: Mapping[str, Run] = attrs.field(converter=_own, factory=dict, metadata=told("to {}"))

    __repr__ = brief

    def run_of(self, device: Any, usual: Run | None) -> Run | None:
        """Return the run of a device by its name, else the usual one."""
        return self.own.get(device.name, usual)
