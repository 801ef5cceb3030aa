"""Making something otherwise in a build; every change is one a person could make."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import attrs

from evpack.base.basis import Basis
from evpack.base.errors import DescriptionError, nearest
from evpack.base.fitted import NotFitted
from evpack.base.units import Quantity, volts, watts
from evpack.describe.build import Build
from evpack.describe.charger import Charger
from evpack.describe.inverter import Inverter
from evpack.outcome.search import Change


def changed(build: Build, changes: tuple[Change, ...]) -> Build:
    """Return the build with changes made, in their order.

    The text of its build sheet is dropped, since it does not describe the new build. A build that
    nothing changes is returned as it is.

    Raises
    ------
    DescriptionError
        A place that no change knows, or a change that makes a noun that cannot exist.
    """
    if not changes:
        return build
    for change in changes:
        make = _MAKERS.get(change.place)
        if make is None:
            raise DescriptionError(
                f"nothing is changed at '{change.place}'{nearest(change.place, _MAKERS)}"
            )
        build = make(build, change.value)
    return attrs.evolve(build, sheet="")


def _in_pack(field: str) -> Callable[[Build, Any], Build]:
    def make(build: Build, value: Any) -> Build:
        pack = build.pack
        basis = pack.basis.but(**{field: Basis.CHOSEN})
        return attrs.evolve(build, pack=attrs.evolve(pack, basis=basis, **{field: value}))

    return make


def _available(build: Build, value: Any) -> Build:
    module = build.pack.module
    basis = module.basis.but(available=Basis.CHOSEN)
    module = attrs.evolve(module, available=value, basis=basis)
    return attrs.evolve(build, pack=attrs.evolve(build.pack, module=module))


def _charger_out(build: Build, value: Any) -> Build:
    """Leave a charger out, and the panels that feed it."""
    arrays = build.arrays
    if isinstance(arrays, tuple):
        arrays = tuple(array for array in arrays if array.feeds != value)
    chargers = tuple(charger for charger in build.chargers if charger.name != value)
    own = {name: run for name, run in build.cabling.own.items() if name != value}
    return attrs.evolve(
        build,
        chargers=chargers,
        arrays=arrays,
        cabling=attrs.evolve(build.cabling, own=own),
    )


def _charge_target(build: Build, value: Any) -> Build:
    basis = build.policy.basis.but(charge_target=Basis.CHOSEN)
    policy = attrs.evolve(build.policy, charge_target=volts(value), basis=basis)
    return attrs.evolve(build, policy=policy)


def _reserve(build: Build, value: Any) -> Build:
    basis = build.policy.basis.but(reserve=Basis.CHOSEN)
    return attrs.evolve(build, policy=attrs.evolve(build.policy, reserve=value, basis=basis))


def _continuous(build: Build, value: Any) -> Build:
    """Limit the load; what is typical follows, and so does the peak, in proportion."""
    load, most = build.load, watts(value)
    part = float(most.m) / float(load.continuous.m)
    fields: dict[str, Quantity] = {"continuous": most}
    if load.typical is not None and load.typical.m > most.m:
        fields["typical"] = most
    if load.peak is not None and part < 1:
        fields["peak"] = watts(f"{max(float(load.peak.m) * part, float(most.m)):.6g} W")
    basis = load.basis.but(**dict.fromkeys(fields, Basis.CHOSEN))
    return attrs.evolve(build, load=attrs.evolve(load, basis=basis, **fields))


def _peak(build: Build, value: Any) -> Build:
    """Limit what starts at once; it is never less than what runs for long."""
    load = build.load
    basis = load.basis.but(peak=Basis.CHOSEN)
    return attrs.evolve(build, load=attrs.evolve(load, peak=watts(value), basis=basis))


def _inverter(build: Build, value: Any) -> Build:
    """Put another inverter in the place of each one; names and legs stay, and so do counts."""
    if not isinstance(value, Inverter):
        raise DescriptionError("an inverter is needed in place of another")
    found = tuple(
        attrs.evolve(
            value,
            name=old.name,
            count=old.count,
            leg=old.leg,
            charger=_built_in(value, old, alone=len(build.inverters) == 1),
        )
        for old in build.inverters
    )
    return attrs.evolve(build, inverters=found)


def _built_in(value: Inverter, old: Inverter, *, alone: bool) -> Charger | NotFitted | None:
    """Return the built-in charger of an inverter that stands in for one; of several, each named.

    What was kept off stays off.
    """
    if not isinstance(value.charger, Charger):
        return value.charger
    name = value.charger.name if alone else f"{value.charger.name}, {old.name}"
    off = old.charger.kept_off if isinstance(old.charger, Charger) else ""
    return attrs.evolve(value.charger, name=name, kept_off=off or value.charger.kept_off)


def _charger(build: Build, value: Any) -> Build:
    """Put another charger in the place of every one of its source; what is kept off stays so."""
    if not isinstance(value, Charger):
        raise DescriptionError("a charger is needed in place of another")
    found = tuple(
        attrs.evolve(value, name=old.name, count=old.count, kept_off=old.kept_off or value.kept_off)
        if old.source == value.source
        else old
        for old in build.chargers
    )
    return attrs.evolve(build, chargers=found)


def _inverter_count(build: Build, value: Any) -> Build:
    first, *others = build.inverters
    return attrs.evolve(build, inverters=(attrs.evolve(first, count=value), *others))


def _split(build: Build, value: Any) -> Build:
    """Put one more like the first inverter beside it, each on a leg of a split-phase supply."""
    first = build.inverters[0]
    charger = first.charger
    if isinstance(charger, Charger):  # of two, each needs a name of its own
        charger = attrs.evolve(charger, name=f"{charger.name}, leg 2")
    one = attrs.evolve(first, name=f"{first.name}, leg 1", leg="1", count=1)
    two = attrs.evolve(one, name=f"{first.name}, leg 2", leg="2", charger=charger)
    legs = (one, two)
    own = {name: run for name, run in build.cabling.own.items() if name != first.name}
    if first.name in build.cabling.own:
        own |= {leg.name: build.cabling.own[first.name] for leg in legs}
    leg = build.load.larger_leg
    load = attrs.evolve(build.load, larger_leg=value if leg is None else leg)
    cabling = attrs.evolve(build.cabling, own=own)
    return attrs.evolve(build, inverters=legs, load=load, cabling=cabling)


def _left_open(run: str) -> Callable[[Build, Any], Build]:
    def make(build: Build, value: Any) -> Build:
        del value  # "smallest" is all there is
        cabling = build.cabling
        old = getattr(cabling, run)
        new = attrs.evolve(old, left_open=True, conductor=old.alternatives[-1])
        return attrs.evolve(build, cabling=attrs.evolve(cabling, **{run: new}))

    return make


def _safeguard(place: str) -> Callable[[Build, Any], Build]:
    def make(build: Build, value: Any) -> Build:
        guards = attrs.evolve(build.safeguards, **{place: value})
        return attrs.evolve(build, safeguards=guards)

    return make


DEVICES = ("inverter", "charger")  # places that take a whole device of a list
RUNS = ("module_lead", "link", "main", "charger", "array")
FUSES = ("string_fuse", "main_fuse", "charger_fuse", "array_fuse")
_MAKERS: Mapping[str, Callable[[Build, Any], Build]] = {
    "module.available": _available,
    "pack.modules_in_series": _in_pack("modules_in_series"),
    "pack.strings": _in_pack("strings"),
    "policy.charge_target": _charge_target,
    "policy.reserve": _reserve,
    "load.continuous": _continuous,
    "load.peak": _peak,
    "inverter": _inverter,
    "inverter.count": _inverter_count,
    "inverter.leg": _split,
    "charger": _charger,
    "charger.out": _charger_out,
    **{f"cabling.{run}.size": _left_open(run) for run in RUNS},
    "protection.disconnect": _safeguard("disconnect"),
    **{f"protection.{fuse}": _safeguard(fuse) for fuse in FUSES},
}


def at_hand(modules: int) -> Change:
    """Return the change that says how many modules there are."""
    return Change(
        place="module.available",
        value=modules,
        says=f"{modules} module{'s' if modules > 1 else ''} at hand",
    )


def arranged(modules_in_series: int, strings: int) -> tuple[Change, ...]:
    """Return the changes that arrange a pack otherwise."""
    return (
        Change(
            place="pack.modules_in_series",
            value=modules_in_series,
            says=f"{modules_in_series} in series",
        ),
        Change(
            place="pack.strings",
            value=strings,
            says=f"{strings} string{'s' if strings > 1 else ''} in parallel",
        ),
    )
