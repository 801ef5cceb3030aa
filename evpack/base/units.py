"""Quantities: one registry, one strict reader of text, one canonical unit for each kind.

Text a user typed never reaches pint's own parser, which reads ``1,5 V`` as 15 V. The reader here
takes one finite number and one unit of a short list, and answers everything else with the fix.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, TypeAlias

import attrs
import pint

from evpack.base.errors import UnitError, nearest
from evpack.base.wording import number

if TYPE_CHECKING:
    from pint.facets.plain import PlainQuantity

    Quantity: TypeAlias = PlainQuantity[Any]
else:
    Quantity = pint.Quantity


def _registry() -> Any:
    """Return pint's registry; its kept definitions save a third of a second, and are not trusted.

    A folder that cannot be written and a file that is cut short make no difference but time.
    """
    try:
        return pint.UnitRegistry(cache_folder=":auto:")
    except Exception:  # noqa: BLE001  what a broken file raises is anybody's guess
        return pint.UnitRegistry()


registry: Any = _registry()
# One application registry, so that quantities survive pickling into other processes.
pint.set_application_registry(registry)  # type: ignore[no-untyped-call]


@attrs.frozen(eq=False)
class Kind:
    """A kind of quantity: its canonical unit, how the trade writes it, what is believable."""

    name: str
    unit: str
    pint_name: str
    spellings: Mapping[str, float]
    most: float
    least: float = 0.0
    offsets: Mapping[str, float] = attrs.field(factory=dict)
    halves: frozenset[str] = frozenset()  # spellings that may follow a fraction: 1/4 in, 1 1/2 in
    pint_unit: Any = attrs.field(init=False, default=None)
    container: Any = attrs.field(init=False, default=None)

    def __repr__(self) -> str:
        return f"<Kind {self.name!r}: {self.unit}>"

    def __attrs_post_init__(self) -> None:
        """Resolve pint's unit once; resolving it for every quantity costs ten times as much."""
        object.__setattr__(self, "pint_unit", registry.Unit(self.pint_name))
        object.__setattr__(self, "container", registry.Quantity(1.0, self.pint_unit)._units)  # noqa: SLF001

    def of(self, value: float) -> Quantity:
        """Wrap a plain number that already is in the canonical unit.

        What pint's constructor does beyond this (reading text, magnitudes that are quantities)
        costs twenty times as much, and a design wraps hundreds of numbers.
        """
        quantity: Quantity = object.__new__(registry.Quantity)
        quantity._magnitude = value  # noqa: SLF001
        quantity._units = self.container  # noqa: SLF001
        return quantity

    def read(self, given: object) -> Quantity:
        """Return a quantity of this kind from text with a unit, or from a quantity.

        Raises
        ------
        UnitError
            No unit, a wrong or unknown one, not one finite number, or an unbelievable size.
        """
        if isinstance(given, pint.Quantity):
            return self._checked(self._from_pint(given), given)
        if isinstance(given, str):
            return self._checked(self._from_text(given), given)
        if isinstance(given, int | float) and not isinstance(given, bool):
            raise UnitError(f"{given} has no unit; write it as {self._with_unit(str(given))}")
        raise UnitError(
            f"{given!r} is not {self.one}; write a number and its unit, "
            f"such as '1 {self.example_unit}'"
        )

    @property
    def example_unit(self) -> str:
        """Return the unit's plainest spelling, for messages."""
        return next(iter(self.spellings))

    @property
    def one(self) -> str:
        """Return its name with its article, for messages."""
        return f"{'an' if self.name[0] in 'aeiou' else 'a'} {self.name}"

    def _with_unit(self, number: str) -> str:
        """Say how a number that came without a unit may be meant; it may be meant in two ways."""
        plain = f"'{number} {self.example_unit}'"
        if self.spellings[self.example_unit] == 1:
            return plain
        for unit, factor in self.spellings.items():
            if factor == 1:
                return f"{plain} or '{number} {unit}', whichever it is"
        value = float(number.replace("\u2212", "-"))
        return f"{plain}, or as '{value * 100:g} %' if it is a part of 1" if value <= 1 else plain

    def _from_pint(self, given: Any) -> float:
        try:
            return float(given.m_as(self.pint_unit))
        except pint.DimensionalityError:
            raise UnitError(
                f"{given} is not {self.one}; it needs a unit such as {self.example_unit}"
            ) from None
        except (TypeError, ValueError):
            raise UnitError(f"'{given}' is not one plain number with its unit") from None

    def _from_text(self, text: str) -> float:
        if self.halves and (fraction := _FRACTION.fullmatch(text.strip())):
            return self._from_fraction(text, fraction)
        match = _NUMBER_AND_UNIT.fullmatch(text.strip())
        if match is None:
            raise UnitError(_why_unreadable(text, self))
        value, unit = float(match[1].replace("\u2212", "-")), match[2].strip()
        if not unit:
            raise UnitError(f"'{text}' has no unit; write it as {self._with_unit(match[1])}")
        if unit in self.spellings:
            return _scaled(value + self.offsets.get(unit, 0.0), self.spellings[unit])
        if unit == "F" and "degF" in self.spellings:  # a farad, if it were taken for what it says
            raise UnitError(f"'{text}': write degrees Fahrenheit as '{match[1]} degF'")
        for other in KINDS:
            if unit in other.spellings:
                raise UnitError(
                    f"'{text}' is {other.one}; {self.one} is needed here, "
                    f"such as '{match[1]} {self.example_unit}'"
                )
        mistake = _mistake(text, self)
        if mistake:
            raise UnitError(mistake)
        raise UnitError(f"'{text}': unit '{unit}' is not known{nearest(unit, self.spellings)}")

    def _from_fraction(self, text: str, fraction: re.Match[str]) -> float:
        """Return ``1/4 in`` or ``1 1/2 in``: parts of an inch as a rule is divided."""
        over, under, unit = int(fraction[2]), int(fraction[3]), fraction[4]
        if unit not in self.halves or under not in _DIVIDED or not 0 < over < under:
            raise UnitError(
                f"'{text}': write a decimal, {_LIKE.format(self.example_unit)}; only halves to "
                "sixty-fourths of an inch are read as a fraction, such as '1/4 in'"
            )
        return (int(fraction[1] or 0) + over / under) * self.spellings[unit]

    def _checked(self, value: float, given: object) -> Quantity:
        if not math.isfinite(value):
            raise UnitError(f"'{given}' is not a finite number")
        if not self.least <= value <= self.most:
            raise UnitError(
                f"'{given}' is not a believable {self.name} here; "
                f"between {number(self.least)} and {self._most_told()} is needed"
            )
        return self.of(value)

    def _most_told(self) -> str:
        """Write the largest believable value in a unit that keeps it short."""
        larger = [(f, unit) for unit, f in self.spellings.items() if 1 < f < self.most]
        if self.most < _LARGE or not larger:
            return f"{number(self.most)} {self.unit or '(1 = 100 %)'}"
        factor, unit = max(larger)
        return f"{number(self.most / factor)} {unit}"


_LARGE = 1e4  # a bound from here on is written in a larger unit
_NOT_KNOWN = frozenset(
    {"?", "??", "???", "-", "--", "n/a", "na", "tba", "tbc", "tbd", "todo", "unknown", "not known"}
    | {"don't know", "no idea", "unsure", "xxx"}
)
_NUMBER_AND_UNIT = re.compile(
    r"([+\-\u2212]?(?:\d+\.?\d*|\.\d+)(?:[eE][+\-]?\d+)?)(?![\d.,_*])\s*(.*)"
)
_LIKE = "such as '48.5 {}'"
_FRACTION = re.compile(r"(?:(\d{1,3})[ -])?(\d{1,2})/(\d{1,2}) *([a-z]+)")
_DIVIDED = (2, 4, 8, 16, 32, 64)  # what an inch is divided into


def _scaled(number: float, factor: float) -> float:
    """Scale without binary dust: 2800 × 0.001 is 2.8000000000000003, and 2800 / 1000 is 2.8."""
    whole = round(1 / factor)
    return number / whole if whole > 1 and factor == 1 / whole else number * factor


def _mistake(text: str, kind: Kind) -> str:
    """Return the fix for what people write now and then, or nothing."""
    like = _LIKE.format(kind.example_unit)
    if text.strip().lower() in _NOT_KNOWN:
        return f"'{text}': leave the line out; what you do not know stays unknown"
    if re.search(r"\d,\d", text):
        return f"'{text}': write decimals with a point and thousands without a comma, {like}"
    if re.search(r"\d[\s'’]+\d", text):
        return f"'{text}': write thousands without spaces or signs, {like}"
    if re.search(r"\d[^\d/]{0,6}?(-|\u2013|\u2014|\bto\b)\s*\d", text):
        return f"'{text}': write one number, not a range, {like}"
    return ""


def _why_unreadable(text: str, kind: Kind) -> str:
    mistake = _mistake(text, kind)
    if mistake:
        return mistake
    like = _LIKE.format(kind.example_unit)
    if re.match(r"\s*[+-]?(nan|inf|infinity)\b", text, re.IGNORECASE):
        return f"'{text}' is not a finite number"
    return f"'{text}' is not a number with a unit; write {like}"


def _kind(name: str, unit: str, pint_name: str, spellings: str, most: float, **more: Any) -> Kind:
    table = {}
    for item in spellings.split("|"):
        word, _, factor = item.partition("=")
        table[word.strip()] = float(factor or 1)
    return Kind(name, unit, pint_name, table, most, **more)


VOLTAGE = _kind("voltage", "V", "volt", "V|mV=1e-3|kV=1e3|VDC|V DC|Vdc|volt|volts", 2000.0)
CURRENT = _kind("current", "A", "ampere", "A|mA=1e-3|kA=1e3|ADC|A DC|amp|amps", 1e6)
POWER = _kind("power", "W", "watt", "W|kW=1e3|MW=1e6|VA|kVA=1e3|watt|watts", 1e7)
ENERGY = _kind("energy", "Wh", "watt_hour", "Wh|kWh=1e3|MWh=1e6", 1e9)
CHARGE = _kind("charge", "Ah", "ampere_hour", "Ah|mAh=1e-3|A h", 1e6)
RESISTANCE = _kind(
    "resistance", "Ω", "ohm", "mOhm=1e-3|Ohm|ohm|Ω|mΩ=1e-3|mohm=1e-3|uOhm=1e-6|µΩ=1e-6", 1e4
)
CAPACITANCE = _kind("capacitance", "F", "farad", "uF=1e-6|µF=1e-6|mF=1e-3|F", 100.0)
TIME = _kind("time", "s", "second", "s|ms=1e-3|min=60|h=3600|hours=3600|day=86400|days=86400", 1e10)
_INCHES = frozenset({"in", "inch", "inches"})
LENGTH = _kind(
    "length",
    "m",
    "meter",
    "m|cm=0.01|mm=1e-3|ft=0.3048|foot=0.3048|feet=0.3048|in=0.0254|inch=0.0254|inches=0.0254",
    1e4,
    halves=_INCHES,
)
TEMPERATURE = _kind(
    "temperature",
    "°C",
    "degC",
    "degC|°C|C|degF=0.5555555555555556|°F=0.5555555555555556",
    200.0,
    least=-100.0,
    offsets={"degF": -32.0, "°F": -32.0},
)
COMPENSATION = _kind(
    "temperature compensation",
    "V/K",
    "volt/delta_degC",
    "mV/K=1e-3|mV/degC=1e-3|mV/°C=1e-3|V/K|V/degC",
    10.0,
    least=-10.0,
)
RISE = _kind("temperature difference", "K", "delta_degC", "K|kelvin", 200.0, least=-100.0)
COEFFICIENT = _kind(
    "temperature coefficient",
    "1/K",
    "1/delta_degC",
    "%/K=0.01|%/degC=0.01|%/°C=0.01|1/K",
    0.02,
    least=-0.02,
)
INDUCTANCE = _kind("inductance of a run", "H/m", "henry/meter", "uH/m=1e-6|µH/m=1e-6|H/m", 1e-3)
LET_THROUGH = _kind(
    "let-through energy (I²t)", "A²s", "ampere**2*second", "A2s|A²s|kA2s=1e3|kA²s=1e3", 1e12
)
HEAT = _kind("pulse of heat", "J", "joule", "J|kJ=1e3", 1e9)
ANGLE = _kind("angle", "°", "degree", "deg|°|degrees", 360.0, least=-360.0)
# A sum in whatever money the user pays in; the pages write the name of that money for the sign.
registry.define("money = [money]")
MONEY = _kind("sum of money", "¤", "money", "¤", 1e12, least=-1e12)
# Read off an instrument or worked out, and no field of a noun: `kind_of` need not tell these.
INSULATION = _kind(
    "insulation resistance",
    "Ω",
    "ohm",
    "MOhm=1e6|MΩ=1e6|GOhm=1e9|GΩ=1e9|kOhm=1e3|kΩ=1e3|Ohm|Ω",
    1e13,
)
INCIDENT = _kind("incident energy", "cal/cm²", "calorie/centimeter**2", "cal/cm²|cal/cm2", 1e5)
SHARE = _kind("share", "", "dimensionless", "%=0.01|percent=0.01", 1000.0)
KINDS = (
    VOLTAGE,
    CURRENT,
    POWER,
    ENERGY,
    CHARGE,
    RESISTANCE,
    CAPACITANCE,
    TIME,
    LENGTH,
    TEMPERATURE,
    COMPENSATION,
    RISE,
    COEFFICIENT,
    INDUCTANCE,
    LET_THROUGH,
    HEAT,
    ANGLE,
    MONEY,
    SHARE,
)
_BY_CONTAINER = {kind.container: kind for kind in KINDS}


def kind_of(quantity: Quantity) -> Kind:
    """Return the kind of a quantity that a noun holds (they are all in canonical units)."""
    # Not by `quantity.units`, which makes a new unit each time.
    kind = _BY_CONTAINER.get(quantity._units)  # noqa: SLF001
    if kind is None:
        raise TypeError(f"{quantity} is not in one of evpack's canonical units")
    return kind


# The attrs converters. Named functions, because the type checker's attrs plugin wants that.


def volts(given: object) -> Quantity:
    """Convert text or a quantity to volts."""
    return VOLTAGE.read(given)


def amps(given: object) -> Quantity:
    """Convert text or a quantity to amperes."""
    return CURRENT.read(given)


def watts(given: object) -> Quantity:
    """Convert text or a quantity to watts; VA counts as watts (unity power factor)."""
    return POWER.read(given)


def watt_hours(given: object) -> Quantity:
    """Convert text or a quantity to watt-hours."""
    return ENERGY.read(given)


def amp_hours(given: object) -> Quantity:
    """Convert text or a quantity to ampere-hours."""
    return CHARGE.read(given)


def ohms(given: object) -> Quantity:
    """Convert text or a quantity to ohms."""
    return RESISTANCE.read(given)


def farads(given: object) -> Quantity:
    """Convert text or a quantity to farads."""
    return CAPACITANCE.read(given)


def seconds(given: object) -> Quantity:
    """Convert text or a quantity to seconds."""
    return TIME.read(given)


def metres(given: object) -> Quantity:
    """Convert text or a quantity to metres."""
    return LENGTH.read(given)


def celsius(given: object) -> Quantity:
    """Convert text or a quantity to degrees Celsius (a temperature, not a difference)."""
    return TEMPERATURE.read(given)


def kelvins(given: object) -> Quantity:
    """Convert text or a quantity to a difference of temperatures in kelvin."""
    return RISE.read(given)


def volts_per_kelvin(given: object) -> Quantity:
    """Convert text or a quantity to volts per kelvin."""
    return COMPENSATION.read(given)


def per_kelvin(given: object) -> Quantity:
    """Convert text to a temperature coefficient: ``"-0.28 %/K"``, or volts per kelvin."""
    if isinstance(given, str) and any(
        given.strip().endswith(unit) for unit in COMPENSATION.spellings
    ):
        return COMPENSATION.read(given)
    if isinstance(given, pint.Quantity) and given.units == COMPENSATION.pint_unit:
        return COMPENSATION.read(given)
    return COEFFICIENT.read(given)


def henries_per_metre(given: object) -> Quantity:
    """Convert text or a quantity to henries per metre."""
    return INDUCTANCE.read(given)


def ampere_squared_seconds(given: object) -> Quantity:
    """Convert text or a quantity to ampere-squared-seconds."""
    return LET_THROUGH.read(given)


def joules(given: object) -> Quantity:
    """Convert text or a quantity to joules."""
    return HEAT.read(given)


def degrees(given: object) -> Quantity:
    """Convert text or a quantity to an angle in degrees."""
    return ANGLE.read(given)


def money(given: object) -> Quantity:
    """Convert text or a quantity to a sum of money."""
    return MONEY.read(given)


def share(given: object) -> Quantity:
    """Convert text such as ``"20 %"`` to a share of one."""
    return SHARE.read(given)
