"""What a person can change in a build to clear what holds it up: ladders of changes, small first.

Each ladder is one kind of change, from the smallest step to the largest that makes sense; every
step is judged by the whole design, so a step that makes no sense is merely not offered.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import numpy as np

from evpack.base.basis import Basis
from evpack.base.fitted import NOT_FITTED, NotFitted
from evpack.base.wording import say
from evpack.describe.build import Build
from evpack.describe.cabling import LEFT_OPEN, RUNS
from evpack.describe.charger import Charger
from evpack.describe.equipment import EquipmentList
from evpack.describe.inverter import Inverter
from evpack.describe.safeguards import Disconnect, FuseCatalogue
from evpack.edit import FUSES
from evpack.outcome.design import Design
from evpack.outcome.search import Change

Ladder = tuple[str, tuple[tuple[Change, ...], ...]]  # what is changed, and its steps

_TARGET_STEP = 0.01  # of a charge target [V/cell]
_TARGET_STEPS = 30
_COUNTS = 3  # modules or strings more or less that are tried
_LOADS = (0.9, 0.8, 0.7, 0.6, 0.5, 0.4, 0.3, 0.2)  # parts of the continuous load
_RESERVE_STEPS = (0.05, 0.1, 0.15, 0.2)  # state of charge more kept for outages [1]
_ASKED = 4  # numbers of a battery disconnect: volts, amperes asked and wished, fault current
# Usual ratings. Common practice, no source: of whatever is bought, its print counts.
_VOLTS = (60.0, 80.0, 120.0, 250.0, 500.0, 1000.0)
_AMPS = (63.0, 80.0, 100.0, 125.0, 160.0, 200.0, 250.0, 315.0, 400.0, 500.0, 630.0, 800.0)
_FAULTS = (5e3, 10e3, 15e3, 20e3, 25e3, 30e3, 40e3, 50e3, 65e3, 80e3, 100e3)
_MORE = (1.0, 1.5, 2.0, 3.0)  # times what is asked now: another change may ask for more
_RUN = {
    "module_lead": "module leads",
    "link": "cables between modules",
    "main": "cables to the inverter",
    "charger": "cables to the charger",
    "array": "cables to the solar array",
}
_FUSE = {
    "string_fuse": "string fuses",
    "main_fuse": "main fuse",
    "charger_fuse": "charger fuse",
    "array_fuse": "fuses of the solar strings",
}


def ladders(
    made: Design, build: Build, catalogue: FuseCatalogue, equipment: EquipmentList
) -> Iterator[Ladder]:
    """Yield every ladder of changes of a build.

    Parameters
    ----------
    made : Design
        Of the build as it is: it tells what a battery disconnect must be.
    catalogue : FuseCatalogue
        The families of fuses that could stand in each place.
    equipment : EquipmentList
        The devices that could stand in for those of the build.
    """
    yield "charge target", tuple(_targets(build))
    yield "reserve", tuple(_reserves(build))
    yield "modules in series", tuple(_counts(build, "pack.modules_in_series", "in series"))
    yield "strings", tuple(_counts(build, "pack.strings", "strings in parallel"))
    for run in RUNS:
        yield _RUN[run], tuple(_sizes(build, run))
    for place in FUSES:
        yield _FUSE[place], tuple(_families(build, place, catalogue))
    yield "load", tuple(_loads(build))
    yield "peak load", tuple(_peaks(build))
    yield "battery disconnect", tuple(_disconnects(made))
    yield "charger left out", tuple(_left_out(build))
    yield from device_ladders(build, equipment)


def device_ladders(build: Build, equipment: EquipmentList, kind: str = "") -> Iterator[Ladder]:
    """Yield the ladders of devices of a list that could stand in for those of the build.

    Parameters
    ----------
    kind : str
        What to say of them: ", of a class of the library".
    """
    yield "inverter", _devices("inverter", equipment.inverters, kind)
    chargers = [c for c in equipment.chargers if any(c.source == o.source for o in build.chargers)]
    yield "charger", _devices("charger", chargers, kind)


def _targets(build: Build) -> Iterator[tuple[Change, ...]]:
    """Yield lower charge targets, then higher ones up to the chemistry's own."""
    targets = build.pack.module.chemistry.targets
    if targets is None:
        return
    policy = build.policy.charge_target
    now = float((targets.charge if policy is None else policy).m)
    lower = [now - _TARGET_STEP * k for k in range(1, _TARGET_STEPS + 1)]
    higher = np.arange(now + _TARGET_STEP, float(targets.charge.m) + 1e-9, _TARGET_STEP)
    if policy is not None:  # who chose a lower one had a reason
        higher = higher[:0]
    for volts in (*lower, *higher):
        if volts <= float(build.pack.module.nominal.m):
            continue
        yield (
            Change(
                place="policy.charge_target",
                value=f"{volts:.3f} V",
                says=f"charge the highest cell to {volts:.2f} V instead of {now:.2f} V",
            ),
        )


def _reserves(build: Build) -> Iterator[tuple[Change, ...]]:
    now = float(build.policy.reserve.m)
    for step in (*_RESERVE_STEPS, *(-step for step in _RESERVE_STEPS)):
        if 0 <= now + step <= 0.9:  # noqa: PLR2004
            yield (
                Change(
                    place="policy.reserve",
                    value=f"{100 * (now + step):.4g} %",
                    says=f"keep {say(now + step, '')} for outages instead of {say(now, '')}",
                ),
            )


def _counts(build: Build, place: str, what: str) -> Iterator[tuple[Change, ...]]:
    """Yield one more and one less, then two; more than there are is for the reader to weigh."""
    pack = build.pack
    now = pack.modules_in_series if place.endswith("series") else pack.strings
    for step in range(1, _COUNTS + 1):
        for count in (now + step, now - step):
            if count >= 1:
                taken = Change(
                    place=place,
                    value=count,
                    says=f"{count} {_whose(place, count, what)} instead of {now}",
                )
                yield (taken, *_found_more(build, place, count))


def _found_more(build: Build, place: str, count: int) -> tuple[Change, ...]:
    """Return the change that says that more modules are found; none where there are enough."""
    pack, there = build.pack, build.pack.module.available
    needed = count * (pack.strings if place.endswith("series") else pack.modules_in_series)
    if there is None or needed <= there:
        return ()
    more = needed - there
    words = f"find {more} module{'s' if more > 1 else ''} more"
    return (Change(place="module.available", value=needed, says=words),)


def _left_out(build: Build) -> Iterator[tuple[Change, ...]]:
    for charger in (c for c in build.chargers if not c.kept_off):
        yield (Change(place="charger.out", value=charger.name, says=f"leave {charger.name} out"),)


def _whose(place: str, count: int, what: str) -> str:
    if place.endswith("series"):
        return f"module{'s' if count > 1 else ''} {what}"
    return what if count > 1 else "string alone"


def _loads(build: Build) -> Iterator[tuple[Change, ...]]:
    now = float(build.load.continuous.m)
    for part in _LOADS:
        yield (
            Change(
                place="load.continuous",
                value=f"{now * part:.6g} W",
                says=f"keep the continuous load under {say(now * part, 'W')} instead of "
                f"{say(now, 'W')}",
            ),
        )


def _peaks(build: Build) -> Iterator[tuple[Change, ...]]:
    """Yield lower peak loads; where none is stated, the inverters' full surge is the peak."""
    load = build.load
    surges = [(inverter.surge, inverter.count) for inverter in build.inverters]
    if load.peak is not None:
        now = float(load.peak.m)
    elif surges and all(surge is not None for surge, _ in surges):
        now = sum(float(surge.m) * count for surge, count in surges if surge is not None)
    else:
        return
    for part in _LOADS:
        if now * part >= float(load.continuous.m):
            yield (
                Change(
                    place="load.peak",
                    value=f"{now * part:.6g} W",
                    says=f"start no more at once than {say(now * part, 'W')} instead of "
                    f"{say(now, 'W')}",
                ),
            )


def _disconnects(made: Design) -> Iterator[tuple[Change, ...]]:
    """Yield disconnects to buy: for what the design asks now, and for more.

    Not where one is fitted of which something is only not known: that is read off its print.
    """
    fitted = made.build.safeguards.disconnect
    needs = () if made.protection is None else made.protection.needs
    lines = next((device.lines for device in needs if device.what == "battery disconnect"), ())
    if len(lines) < _ASKED or (fitted is not NOT_FITTED and not _all_known(fitted)):
        return
    volts, _, current, fault = (line.value for line in lines)
    for more in _MORE:
        ratings = (
            f"{_rung(volts, _VOLTS):g} V",
            f"{_rung(current * more, _AMPS):g} A",
            f"{_rung(fault * more, _FAULTS):g} A",
        )
        wanted = Disconnect(
            dc_voltage=ratings[0],
            current=ratings[1],
            withstands=ratings[2],
            breaks_load=True,
            poles=2,
            polarised=False,
            place=fitted.place if isinstance(fitted, Disconnect) else "",
            basis=Basis.ASSUMED,  # till somebody reads its print
        )
        yield (
            Change(
                place="protection.disconnect",
                value=wanted,
                says=f"buy a battery disconnect for {ratings[0]} DC and {ratings[1]} that opens "
                "plus and minus under full load, is not polarised, and withstands "
                f"{say(_rung(fault * more, _FAULTS), 'A')} behind the fuses before it",
            ),
        )


def _all_known(fitted: Disconnect | NotFitted | None) -> bool:
    return isinstance(fitted, Disconnect) and all(
        getattr(fitted, field) is not None
        for field in ("dc_voltage", "current", "withstands", "breaks_load", "poles", "polarised")
    )


def _rung(value: float, rungs: Iterable[float]) -> float:
    """Return the least usual rating that reaches a value; the value itself above the last."""
    return next((rung for rung in rungs if rung >= value), float(np.ceil(value)))


def _sizes(build: Build, run: str) -> Iterator[tuple[Change, ...]]:
    """Yield the smallest conductor that passes: the design itself chooses it."""
    laid = getattr(build.cabling, run)
    if laid is None or laid.left_open or not laid.alternatives:
        return
    yield (
        Change(
            place=f"cabling.{run}.size",
            value=LEFT_OPEN,
            says=f"other {_RUN[run]}: the smallest size that passes every test",
        ),
    )


def _families(build: Build, place: str, catalogue: FuseCatalogue) -> Iterator[tuple[Change, ...]]:
    for family in catalogue.families:
        if getattr(build.safeguards, place) != family.key:
            yield (
                Change(
                    place=f"protection.{place}",
                    value=family.key,
                    says=f"another kind of {_FUSE[place]}: {family.name}",
                ),
            )


def _devices(
    place: str, devices: Iterable[Inverter | Charger], kind: str
) -> tuple[tuple[Change, ...], ...]:
    return tuple(
        (Change(place=place, value=device, says=f"another {place}{kind}: {device.name}"),)
        for device in devices
    )
