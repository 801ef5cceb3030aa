"""How the pack is worked: who carries the load when, what the sun gives, what the utility costs.

Everything here is said by the user or taken from the rest of the build: a threshold that nobody
gives is that of the settings sheet.
"""

from __future__ import annotations

import re
from typing import TypeVar

import attrs
import numpy as np
from attrs.converters import optional
from numpy.typing import NDArray

from evpack.base.basis import ALL_CHOSEN, Bases, bases
from evpack.base.brief import brief
from evpack.base.errors import DescriptionError, nearest
from evpack.base.told import INNER, told
from evpack.base.units import (
    TIME,
    Quantity,
    celsius,
    degrees,
    seconds,
    share,
    volts,
    watt_hours,
    watts,
)
from evpack.base.wording import say
from evpack.describe.checked import checked, need

Array = NDArray[np.float64]
T = TypeVar("T")

BATTERY_FIRST, UTILITY_FIRST, ISLAND = "battery first", "utility first", "island"
MODES = (BATTERY_FIRST, UTILITY_FIRST, ISLAND)
NEVER, WITH_UTILITY, CHEAP_HOURS = "never", "with the utility", "in the cheapest hours"
MAINS_CHARGING = (NEVER, WITH_UTILITY, CHEAP_HOURS)
IN_DAYS, EVENLY = "days", "even"
CLOUDS = (IN_DAYS, EVENLY)

DAY, HOUR, DAYS = 86400.0, 3600.0, 365
_MOST_STEPS = 40_000_000  # a year in steps of a second, and some more
_MOST_YEARS = 10

# What is asked in each hour of a day, against each other, from midnight. Common practice, no
# source: a home with its morning and its evening, a cabin lit in the evening, a workshop by day.
SHAPES: dict[str, tuple[float, ...]] = {
    "flat": (1.0,) * 24,
    "home": (
        *(0.5, 0.45, 0.4, 0.4, 0.4, 0.5, 0.9, 1.3, 1.2, 0.9, 0.8, 0.9),
        *(1.1, 1.0, 0.8, 0.8, 1.0, 1.5, 2.0, 2.1, 1.9, 1.5, 1.0, 0.7),
    ),
    "cabin": (
        *(0.3, 0.3, 0.3, 0.3, 0.3, 0.3, 0.6, 1.0, 0.8, 0.5, 0.5, 0.6),
        *(0.8, 0.6, 0.5, 0.5, 0.8, 1.8, 3.0, 3.4, 3.0, 2.2, 1.2, 0.5),
    ),
    "workshop": (
        *(0.2, 0.2, 0.2, 0.2, 0.2, 0.2, 0.4, 1.5, 2.6, 3.0, 3.0, 2.6),
        *(1.2, 2.8, 3.0, 2.8, 2.2, 1.0, 0.4, 0.2, 0.2, 0.2, 0.2, 0.2),
    ),
}


def clock(given: object) -> Quantity:
    """Convert a time of day such as ``"22:30"`` to seconds after midnight."""
    if not isinstance(given, str):
        if isinstance(given, int | float) or given is None:
            raise DescriptionError(f"got {given}; a time of day in quotes is needed, as '22:30'")
        return seconds(given)
    match = re.fullmatch(r"(\d{1,2}):(\d{2})", given.strip())
    if match is None:
        raise DescriptionError(f"'{given[:40]}' is not a time of day; write it as '22:30'")
    hour, minute = int(match[1]), int(match[2])
    if hour * 60 + minute > 24 * 60 or minute > 59:  # noqa: PLR2004
        raise DescriptionError(f"'{given}' is not a time of day; it runs from '00:00' to '24:00'")
    return TIME.of(hour * HOUR + minute * 60.0)


@attrs.frozen
class Price:
    """What a kilowatt-hour costs, in a money that the user names."""

    amount: float
    currency: str

    def __str__(self) -> str:
        return f"{self.amount:g} {self.currency}/kWh"


_PRICE = re.compile(r"([+-]?(?:\d+\.?\d*|\.\d+))\s*([^\W\d_]{1,8}|[$€£¥])\s*/\s*kWh")


def price(given: object) -> Price:
    """Convert a price such as ``"0.32 EUR/kWh"``."""
    if isinstance(given, Price):
        return given
    if isinstance(given, int | float) and not isinstance(given, bool):
        raise DescriptionError(f"{given} has no unit; write it as '{given} EUR/kWh'")
    match = _PRICE.fullmatch(given.strip()) if isinstance(given, str) else None
    if match is None:
        raise DescriptionError(
            f"'{str(given)[:40]}' is not a price; write a number, a money and /kWh, "
            "such as '0.32 EUR/kWh'"
        )
    amount = float(match[1])
    if not 0 <= amount <= 1e6:  # noqa: PLR2004
        raise DescriptionError(f"'{given}' is not a believable price")
    return Price(amount, match[2])


def _values(given: object) -> Array:
    found = np.array(given, dtype=float)
    found.setflags(write=False)
    return found


@attrs.frozen(kw_only=True, eq=False, field_transformer=checked)
class Profile:
    """Values over equal times, again from the start when they end.

    Parameters
    ----------
    name : str
        What it is, for the pages: a shape and its energy, or a file.
    every : quantity
        How long each value holds [s].
    values : array
        Mean powers [W], or temperatures [°C]; the first begins at midnight of 1 January.
    """

    name: str
    every: Quantity = attrs.field(converter=seconds)
    values: Array = attrs.field(converter=_values, metadata=INNER)  # may be a year by minutes

    __repr__ = brief

    def __attrs_post_init__(self) -> None:
        """Refuse what is no row of finite numbers, and times of nothing."""
        if self.values.ndim != 1 or not self.values.size:
            raise DescriptionError(f"{self.name}: a profile is one row of values")
        if not np.isfinite(self.values).all():
            raise DescriptionError(f"{self.name}: holds a value that is not a finite number")
        if not self.every.m > 0:
            raise DescriptionError(f"{self.name}: each value must hold for some time")

    @property
    def period(self) -> float:
        """Return after what time it begins again [s]."""
        return float(self.every.m) * self.values.size


def daily(shape: str, energy: object) -> Profile:
    """Return a load of one of the built-in shapes, scaled to an energy a day.

    Examples
    --------
    >>> float(daily("flat", "12 kWh").values[0])
    500.0
    """
    if shape not in SHAPES:
        raise DescriptionError(f"shape '{str(shape)[:40]}' is not held{nearest(shape, SHAPES)}")
    wanted = watt_hours(energy)
    weights = np.array(SHAPES[shape])
    return Profile(
        name=f"{shape}, {say(float(wanted.m), 'Wh')} a day",
        every="1 h",
        values=weights / weights.sum() * float(wanted.m),
    )


def hourly(name: str, values: object) -> Profile:
    """Return a profile of 24 typed powers, one for each hour from midnight."""
    given = list(values) if isinstance(values, tuple | list) else []
    if len(given) != 24:  # noqa: PLR2004
        raise DescriptionError(
            f"{name}: 24 powers are needed, one for each hour from midnight, got {len(given)}"
        )
    return Profile(name=name, every="1 h", values=[float(watts(value).m) for value in given])


def _monthly(given: object) -> tuple[Quantity, ...]:
    every = list(given) if isinstance(given, tuple | list) else [given] * 12
    if len(every) != 12:  # noqa: PLR2004
        raise DescriptionError(
            f"weather: one share, or one for each of the 12 months, is needed, got {len(every)}"
        )
    found = tuple(share(value) for value in every)
    for factor in found:
        if not 0 <= factor.m <= 1:
            raise DescriptionError(
                f"weather: what the clouds leave lies between 0 and 100 %, got {say(factor.m, '')}"
            )
    return found


@attrs.frozen(kw_only=True, eq=False, field_transformer=checked)
class Sun:
    """What the sun gives one array: by its place under a clear sky, or as a profile.

    Parameters
    ----------
    on : str
        The solar array, or the solar charger where the build describes no array.
    latitude, longitude : quantity or None
        Of the place, north and east positive [°].
    tilt, azimuth : quantity or None
        Of the panels: from level, and clockwise from north (180 is south) [°].
    weather : 12 quantities
        What the clouds of each month leave of the energy of a clear sky; all of it where nobody
        says.
    clouds : {"days", "even"}
        Days draws clear and dull days that come to the weather of each month; even dims every
        hour alike, which hides full packs, sun left unused and charging held back by the cold.
    rated : quantity or None
        Power of the array, in place of what the build says [W].
    profile : Profile or None
        Power out of the panels [W], in place of place and weather.
    """

    on: str
    latitude: Quantity | None = attrs.field(
        converter=optional(degrees), default=None, metadata=told("latitude")
    )
    longitude: Quantity | None = attrs.field(
        converter=optional(degrees), default=None, metadata=told("longitude")
    )
    tilt: Quantity | None = attrs.field(
        converter=optional(degrees), default=None, metadata=told("tilt of the panels")
    )
    azimuth: Quantity | None = attrs.field(
        converter=optional(degrees),
        default=None,
        metadata=told("direction of the panels, clockwise from north"),
    )
    weather: tuple[Quantity, ...] = attrs.field(
        converter=_monthly,
        default="100 %",
        metadata=told("what clouds leave, month by month", known=False),
    )
    clouds: str = attrs.field(default=IN_DAYS, metadata=told("clouds come in", after="profile"))
    rated: Quantity | None = attrs.field(
        converter=optional(watts),
        default=None,
        metadata=told("rated power, in place of the build's"),
    )
    profile: Profile | None = attrs.field(default=None, metadata=told("profile", after="weather"))
    basis: Bases = attrs.field(converter=bases, default=ALL_CHOSEN)

    __repr__ = brief

    def __attrs_post_init__(self) -> None:
        """Refuse a place that is none, half a place, and a profile beside a place."""
        if self.clouds not in CLOUDS:
            raise DescriptionError(
                f"{self.on}: clouds '{self.clouds[:40]}' is not known{nearest(self.clouds, CLOUDS)}"
            )
        angles = {"latitude": 90.0, "longitude": 180.0, "tilt": 90.0, "azimuth": 360.0}
        said = [name for name in angles if getattr(self, name) is not None]
        if self.profile is not None and said:
            raise DescriptionError(f"{self.on}: give either a profile or {said[0]}, not both")
        missing = [name for name in angles if name not in said]
        if self.profile is None and missing:
            raise DescriptionError(
                f"{self.on}: {', '.join(missing)} missing; a place under the sky needs "
                "latitude, longitude, tilt and azimuth"
            )
        for name in said:
            value, most = float(getattr(self, name).m), angles[name]
            least = 0.0 if name in {"tilt", "azimuth"} else -most
            if not least <= value <= most:
                raise DescriptionError(
                    f"{self.on}: {name} must lie between {least:g}° and {most:g}°, got {value:g}°"
                )
        if self.profile is not None and (self.profile.values < 0).any():
            raise DescriptionError(f"{self.on}: the sun gives no power below 0 W")


@attrs.frozen(kw_only=True, field_transformer=checked)
class PricedHours:
    """Hours of the day with a price of their own; they may run over midnight."""

    start: Quantity = attrs.field(converter=clock)
    end: Quantity = attrs.field(converter=clock)
    price: Price = attrs.field(converter=price, metadata=told("price"))

    __repr__ = brief

    def minutes(self) -> NDArray[np.bool_]:
        """Return whether each minute of the day lies within."""
        minute = np.arange(1440) * 60.0
        start, end = float(self.start.m), float(self.end.m)
        if start < end:
            return (minute >= start) & (minute < end)
        return (minute >= start) | (minute < end)


def _all_of(wanted: type[T], what: str, given: object) -> tuple[T, ...]:
    found = tuple(given) if isinstance(given, tuple | list) else (given,)
    for item in found:
        need(what, item, wanted)
    return found


def _hours(given: object) -> tuple[PricedHours, ...]:
    return _all_of(PricedHours, "hours", given)


def _suns(given: object) -> tuple[Sun, ...]:
    return _all_of(Sun, "sun", given)


def _outages(given: object) -> tuple[Outage, ...]:
    return _all_of(Outage, "outages", given)


@attrs.frozen(kw_only=True, field_transformer=checked)
class Tariff:
    """What the utility asks for a kilowatt-hour: one price, and other prices in some hours."""

    price: Price = attrs.field(converter=price, metadata=told("price"))
    hours: tuple[PricedHours, ...] = attrs.field(
        converter=_hours, factory=tuple, metadata=told("from {} to {}")
    )

    __repr__ = brief

    def __attrs_post_init__(self) -> None:
        """Refuse two moneys, and two prices for one hour."""
        taken = np.zeros(1440, dtype=int)
        for hours in self.hours:
            if hours.price.currency != self.price.currency:
                raise DescriptionError(
                    f"tariff: prices are in {self.price.currency} and in {hours.price.currency}; "
                    "one money is needed"
                )
            taken += hours.minutes()
        if (taken > 1).any():
            at = int(np.argmax(taken > 1))
            raise DescriptionError(
                f"tariff: two prices hold at {at // 60:02d}:{at % 60:02d}; one is needed"
            )

    def by_minute(self) -> Array:
        """Return the price in each minute of the day, for a kilowatt-hour."""
        found = np.full(1440, self.price.amount)
        for hours in self.hours:
            found[hours.minutes()] = hours.price.amount
        return found


@attrs.frozen(kw_only=True, field_transformer=checked)
class Outage:
    """A time without the utility.

    `day` is counted from 1 January, which is day 1; `at` is the time of day.
    """

    day: int
    at: Quantity = attrs.field(converter=clock, metadata=told("begins at"))
    lasts: Quantity = attrs.field(converter=seconds, metadata=told("lasts"))

    __repr__ = brief

    def __attrs_post_init__(self) -> None:
        """Refuse a day that no year has, and an outage of no time."""
        if not 1 <= self.day <= DAYS:
            raise DescriptionError(f"outage: day must lie between 1 and {DAYS}, got {self.day}")
        if not self.lasts.m > 0:
            raise DescriptionError("outage: lasts must be above 0 s")


def _fits(whole: float, step: float) -> bool:
    """Return whether a whole number of steps fills a time."""
    steps = whole / step
    return abs(steps - round(steps)) < 1e-9 * steps


@attrs.frozen(kw_only=True, eq=False, field_transformer=checked)
class Operation:
    """How the pack is worked over some time, a year as a rule.

    Parameters
    ----------
    mode : {"battery first", "utility first", "island"}
        Battery first falls back on the utility; utility first keeps the battery on standby for
        outages; an island has no utility.
    load : Profile
        What the AC side asks [W].
    sun : tuple of Sun
        One for each solar array.
    mains_charging : {"never", "with the utility", "in the cheapest hours"}
        When the mains chargers charge.
    changeover, return_to_battery, cut_off : quantity or None
        Voltages at the inverter [V]; None takes those of the settings sheet.
    restart : quantity or None
        At which the inverters start again after a cut-off [V]; None takes the inverter's own.
    changeover_delay, return_delay : quantity
        How long the voltage must stand beyond its threshold [s].
    coldest, warmest : quantity or None
        The air around the pack over the year, in winter and in summer [°C]; None takes the site's.
    coldest_day : int
        Day of the year on which it is coldest: 15 in the north, about 196 in the south.
    air : Profile or None
        The air around the pack [°C], in place of coldest and warmest.
    outages : tuple of Outage
    start : quantity
        State of charge at the start.
    step, length : quantity
        [s]; a step from 1 s to 1 h, of which a whole number fills an hour.
    first_day : int
        Day of the year on which it begins, at midnight; 1 January is day 1.
    """

    mode: str = attrs.field(default=BATTERY_FIRST, metadata=told("who comes first"))
    load: Profile = attrs.field(metadata=told("load"))
    sun: tuple[Sun, ...] = attrs.field(converter=_suns, factory=tuple, metadata=told("sun"))
    mains_charging: str = attrs.field(default=NEVER, metadata=told("mains chargers charge"))
    changeover: Quantity | None = attrs.field(
        converter=optional(volts),
        default=None,
        metadata=told("changeover", unsaid="as the settings sheet has it"),
    )
    return_to_battery: Quantity | None = attrs.field(
        converter=optional(volts),
        default=None,
        metadata=told("return to battery", unsaid="as the settings sheet has it"),
    )
    cut_off: Quantity | None = attrs.field(
        converter=optional(volts),
        default=None,
        metadata=told("cut-off", unsaid="as the settings sheet has it"),
    )
    restart: Quantity | None = attrs.field(
        converter=optional(volts),
        default=None,
        metadata=told("restart", unsaid="as the settings sheet has it"),
    )
    changeover_delay: Quantity = attrs.field(
        converter=seconds, default="30 s", metadata=told("delay of the changeover")
    )
    return_delay: Quantity = attrs.field(
        converter=seconds, default="5 min", metadata=told("delay of the return")
    )
    coldest: Quantity | None = attrs.field(
        converter=optional(celsius),
        default=None,
        metadata=told("coldest air around the pack", unsaid="that of the site"),
    )
    warmest: Quantity | None = attrs.field(
        converter=optional(celsius),
        default=None,
        metadata=told("warmest air around the pack", unsaid="that of the site"),
    )
    coldest_day: int = attrs.field(default=15, metadata=told("coldest on day"))
    air: Profile | None = attrs.field(
        default=None, metadata=told("air around the pack, from a profile", omit=True)
    )
    tariff: Tariff | None = attrs.field(
        default=None, metadata=told("tariff", unsaid="none", after="first_day", known=False)
    )
    outages: tuple[Outage, ...] = attrs.field(
        converter=_outages, factory=tuple, metadata=told("outages", after="tariff")
    )
    start: Quantity = attrs.field(
        converter=share, default="80 %", metadata=told("state of charge at the start")
    )
    step: Quantity = attrs.field(converter=seconds, default="1 min", metadata=told("step"))
    length: Quantity = attrs.field(converter=seconds, default="365 days", metadata=told("length"))
    first_day: int = attrs.field(default=1, metadata=told("begins on day"))
    basis: Bases = attrs.field(converter=bases, default=ALL_CHOSEN)

    __repr__ = brief

    def __attrs_post_init__(self) -> None:
        """Refuse words that are none of ours, times that do not fit, a load of nothing."""
        self._check_words()
        self._check_times()
        if (self.load.values < 0).any():
            raise DescriptionError("load: a load below 0 W would be a source")
        if not self.load.values.any():
            raise DescriptionError("load: it is 0 W all the time; a load is needed")
        if not 0 <= self.start.m <= 1:
            raise DescriptionError(
                f"start must lie between 0 and 100 %, got {say(self.start.m, '')}"
            )
        cold, warm = self.coldest, self.warmest
        if cold is not None and warm is not None and cold.m > warm.m:
            raise DescriptionError("coldest must not lie above warmest")

    def _check_words(self) -> None:
        for what, known in (("mode", MODES), ("mains_charging", MAINS_CHARGING)):
            if getattr(self, what) not in known:
                raise DescriptionError(
                    f"{what} '{getattr(self, what)[:40]}' is not known"
                    f"{nearest(getattr(self, what), known)}"
                )
        names = [sun.on for sun in self.sun]
        for name in names:
            if names.count(name) > 1:
                raise DescriptionError(f"sun: '{name}' stands there twice")
        if self.mains_charging == CHEAP_HOURS and self.tariff is None:
            raise DescriptionError("mains_charging in the cheapest hours needs a tariff")
        if self.mode == ISLAND and self.mains_charging != NEVER:
            raise DescriptionError("mains_charging must be 'never' on an island: it has no utility")

    def _check_times(self) -> None:
        step, length = float(self.step.m), float(self.length.m)
        if not 1 <= step <= HOUR or not _fits(HOUR, step):
            raise DescriptionError(
                "step must lie between 1 s and 1 h, and a whole number of steps must fill an "
                f"hour, got {say(step, 's')}"
            )
        if not step <= length <= _MOST_YEARS * DAYS * DAY or not _fits(length, step):
            raise DescriptionError(
                f"length must be a whole number of steps of {say(step, 's')}, and at most "
                f"{_MOST_YEARS} years, got {say(length, 's')}"
            )
        if length / step > _MOST_STEPS:
            raise DescriptionError(
                f"length: {length / step:.0f} steps of {say(step, 's')} are too many; take a "
                "longer step"
            )
        for what in ("first_day", "coldest_day"):
            if not 1 <= getattr(self, what) <= DAYS:
                raise DescriptionError(
                    f"{what} must lie between 1 and {DAYS}, got {getattr(self, what)}"
                )

    @property
    def steps(self) -> int:
        """Return how many steps it has."""
        return round(float(self.length.m / self.step.m))
