"""What the nouns of an operation state: mode, load, sun, tariff, outages."""

from __future__ import annotations

from evpack.base.wording import say
from evpack.describe.operation import (
    DAY,
    HOUR,
    Operation,
    Outage,
    PricedHours,
    Profile,
    Sun,
    Tariff,
)
from evpack.show.fact import Fact, Facts, facts, many, row, rows, value_words
from evpack.show.words import count_of, per_cent


def _clock(seconds: float) -> str:
    minutes = round(seconds / 60)
    return f"{minutes // 60:02d}:{minutes % 60:02d}"


def _count(values: tuple[object, ...], thing: str) -> str:
    return count_of(len(values), thing) if values else "none"


@facts.register
def _profile(profile: Profile) -> Facts:
    return Facts(
        profile.name,
        (
            Fact("values", count_of(int(profile.values.size), "value")),
            Fact("each holds for", say(float(profile.every.m), "s")),
            Fact("begins again after", say(profile.period, "s")),
            Fact("least", f"{float(profile.values.min()):.4g}"),
            Fact("mean", f"{float(profile.values.mean()):.4g}"),
            Fact("most", f"{float(profile.values.max()):.4g}"),
        ),
    )


@facts.register
def _sun(sun: Sun) -> Facts:
    place = (
        ()
        if sun.profile is not None
        else rows(
            sun,
            ("latitude", "latitude"),
            ("longitude", "longitude"),
            ("tilt of the panels", "tilt"),
            ("direction of the panels, clockwise from north", "azimuth"),
        )
    )
    shares = ", ".join(per_cent(float(share.m)) for share in sun.weather)
    weather = shares if len(set(sun.weather)) > 1 else per_cent(float(sun.weather[0].m))
    return Facts(
        f"Sun on {sun.on}",
        many(
            place,
            Fact("what clouds leave, month by month", weather)
            if sun.profile is None
            else Fact("profile", sun.profile.name),
            row(sun, "clouds come in", "clouds") if sun.profile is None else (),
            row(sun, "rated power, in place of the build's", "rated"),
        ),
    )


@facts.register
def _priced(hours: PricedHours) -> Facts:
    span = f"{_clock(float(hours.start.m))} to {_clock(float(hours.end.m))}"
    return Facts(f"Price from {span}", (Fact("price", str(hours.price)),))


@facts.register
def _tariff(tariff: Tariff) -> Facts:
    return Facts(
        "Tariff",
        many(
            Fact("price", str(tariff.price)),
            (
                Fact(
                    f"from {_clock(float(hours.start.m))} to {_clock(float(hours.end.m))}",
                    str(hours.price),
                )
                for hours in tariff.hours
            ),
        ),
    )


@facts.register
def _outage(outage: Outage) -> Facts:
    return Facts(
        f"Outage on day {outage.day}",
        (
            Fact("begins at", _clock(float(outage.at.m))),
            Fact("lasts", say(float(outage.lasts.m), "s")),
        ),
    )


@facts.register
def _operation(operation: Operation) -> Facts:
    load = operation.load
    a_day = float(load.values.mean()) * DAY / HOUR
    return Facts(
        "Operation",
        many(
            row(operation, "who comes first", "mode"),
            Fact("load", load.name, operation.basis.of("load")),
            Fact("load a day, in the mean", say(a_day, "Wh")),
            Fact("sun", _count(operation.sun, "array")),
            row(operation, "mains chargers charge", "mains_charging"),
            (
                Fact(label, _of_sheet(operation, field), operation.basis.of(field), field=field)
                for label, field in (
                    ("changeover", "changeover"),
                    ("return to battery", "return_to_battery"),
                    ("cut-off", "cut_off"),
                    ("restart", "restart"),
                )
            ),
            rows(
                operation,
                ("delay of the changeover", "changeover_delay"),
                ("delay of the return", "return_delay"),
                ("state of charge at the start", "start"),
                ("step", "step"),
                ("length", "length"),
                ("begins on day", "first_day"),
            ),
            Fact("tariff", "none" if operation.tariff is None else str(operation.tariff.price)),
            Fact("outages", _count(operation.outages, "outage")),
        ),
    )


def _of_sheet(operation: Operation, field: str) -> str:
    value = getattr(operation, field)
    return "as the settings sheet has it" if value is None else value_words(value)
