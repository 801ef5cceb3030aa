"""The one way in which a build changes: a place of its sheet, and what is typed there.

The panels, the searches, what a page can be turned through and what is written back to a sheet all
go through here, and so cannot differ.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, TypeAlias, TypeVar

import attrs

from evpack.base.basis import Basis
from evpack.base.brief import cut
from evpack.base.errors import DescriptionError, EvpackError, nearest
from evpack.base.fitted import NotFitted
from evpack.base.units import Quantity, metres, seconds, share, volts, watt_hours, watts
from evpack.describe.batch import Batch
from evpack.describe.build import Build
from evpack.describe.cabling import LEFT_OPEN, RUNS, Run
from evpack.describe.charger import Charger
from evpack.describe.chemistry import Chemistry
from evpack.describe.inverter import Inverter
from evpack.describe.module import Module
from evpack.describe.operation import ISLAND, NEVER, Operation, Profile
from evpack.describe.policy import check_target
from evpack.load.library import chemistry, profiles_near
from evpack.load.sheet_wiring import looked_up

_Make: TypeAlias = Callable[[Build, Any], Build]
_Noun = TypeVar("_Noun", Build, Batch)


def edited(build: _Noun, *edits: tuple[str, Any]) -> _Noun:
    """Return the build, or the heap, with edits made, in their order.

    An edit changes what it names, and beside it only what else could not be: a load that runs for
    long is no less than what is typical and no more than the peak. What is edited counts as
    chosen, no longer as assumed. The text of the build sheet is dropped, since it does not
    describe the new build. A build that nothing changes is returned as it is.

    Parameters
    ----------
    *edits : pairs of str and any
        A place, as ``"load.continuous"`` in a build sheet, and the value, typed as there or as
        the noun that the place holds.

    Raises
    ------
    EvpackError
        A place that no edit knows, a value that is none, or one that makes a noun that cannot
        exist.
    """
    new = build
    makers: Mapping[str, Callable[[Any, Any], Any]] = (
        _MAKERS if isinstance(build, Build) else _HEAP_MAKERS
    )
    for place, value in edits:
        make = makers.get(place)
        if make is None:
            raise DescriptionError(f"nothing is changed at '{place}'{nearest(place, makers)}")
        new = make(new, value)
    return new if new is build else attrs.evolve(new, sheet="")


def places() -> tuple[str, ...]:
    """Return every place that an edit knows: of a build sheet, and of that of a heap."""
    return (*_MAKERS, *_HEAP_MAKERS)


_SAME = 1e-9  # below this a difference is a rounding of a control, not an edit [canonical unit]
_COUNTS = frozenset({"modules_in_series", "cells_in_series", "strings", "available", "parallel"})


def _same(new: Any, old: Any) -> bool:
    if isinstance(new, int | str) or old is None:
        return bool(new == old)
    return abs(float(new.m) - float(old.m)) <= _SAME


def _put(noun: Any, **fields: Any) -> Any:
    """Return a noun with what differs put in, each of it now chosen; the same noun if none does."""
    for name in _COUNTS & fields.keys():
        if not isinstance(fields[name], int) or isinstance(fields[name], bool):
            raise DescriptionError(f"{name} is a count, such as 3; got {cut(repr(fields[name]))}")
    new = {name: value for name, value in fields.items() if not _same(value, getattr(noun, name))}
    if not new:
        return noun
    chosen = noun.basis.but(**dict.fromkeys(new, Basis.CHOSEN))
    return attrs.evolve(noun, basis=chosen, **new)


def _with(build: Build, **nouns: Any) -> Build:
    """Return a build with nouns put in; the same build where they are its own."""
    if all(noun is getattr(build, name) for name, noun in nouns.items()):
        return build
    return attrs.evolve(build, **nouns)


def _strings(build: Build, value: Any) -> Build:
    return _with(build, pack=_put(build.pack, strings=value))


def _in_series(build: Build, value: Any) -> Build:
    """Put other modules in series; the lead-acid profiles are those of a pack of that voltage."""
    pack, profiles = _put(build.pack, modules_in_series=value), build.profiles
    if pack is build.pack:
        return build
    if profiles == profiles_near(float(build.pack.nominal.m)):  # and nobody chose others
        profiles = profiles_near(float(pack.nominal.m))
    return attrs.evolve(build, pack=pack, profiles=profiles)


def _available(build: Build, value: Any) -> Build:
    return _with_module(build, _put(build.pack.module, available=value))


def _with_module(build: Build, module: Module) -> Build:
    if module is build.pack.module:
        return build
    return attrs.evolve(build, pack=attrs.evolve(build.pack, module=module))


def _cells(build: Build, value: Any) -> Build:
    return _with_module(build, _put(build.pack.module, cells_in_series=value))


def _chemistry(build: Build, value: Any) -> Build:
    """Put cells of another kind in: what was said of the voltages of the old ones is theirs."""
    kind, module = value if isinstance(value, Chemistry) else chemistry(value), build.pack.module
    if kind is module.chemistry:
        return build
    own: dict[str, Any] = dict.fromkeys(("cell_highest", "cell_least", "cell_nominal", "ocv"))
    chosen = module.basis.but(chemistry=Basis.CHOSEN)
    module = attrs.evolve(module, chemistry=kind, basis=chosen, **own)
    policy = attrs.evolve(build.policy, charge_target=None)
    return attrs.evolve(_with_module(build, module), policy=policy)


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


def charge_target_of(build: Build) -> Quantity | None:
    """Return the charge target in force: the policy's, else the chemistry's, else None."""
    targets = build.pack.module.chemistry.targets
    if targets is None:
        return None
    own = build.policy.charge_target
    return targets.charge if own is None else own  # 0 V is a target too, if no good one


def _charge_target(build: Build, value: Any) -> Build:
    target, now = volts(value), charge_target_of(build)
    if now is not None and _same(target, now):
        return build
    policy = _put(build.policy, charge_target=target)
    check_target(policy, build.pack.module)
    return _with(build, policy=policy)


def _reserve(build: Build, value: Any) -> Build:
    return _with(build, policy=_put(build.policy, reserve=share(value)))


def _continuous(build: Build, value: Any) -> Build:
    """Change what runs for long; what is typical and the peak follow where it passes them."""
    load, most = build.load, watts(value)
    fields: dict[str, Quantity] = {"continuous": most}
    if load.typical is not None and load.typical.m > most.m:
        fields["typical"] = most
    if load.peak is not None and load.peak.m < most.m:
        fields["peak"] = most
    return _with(build, load=_put(load, **fields))


def _peak(build: Build, value: Any) -> Build:
    """Limit what starts at once; it is never less than what runs for long."""
    return _with(build, load=_put(build.load, peak=watts(value)))


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


def _inverters(build: Build) -> tuple[Inverter, ...]:
    if not build.inverters:
        raise DescriptionError("there is no inverter to change")
    return build.inverters


def _inverter_count(build: Build, value: Any) -> Build:
    first, *others = _inverters(build)
    return attrs.evolve(build, inverters=(attrs.evolve(first, count=value), *others))


def _split(build: Build, value: Any) -> Build:
    """Put one more like the first inverter beside it, each on a leg of a split-phase supply."""
    first = _inverters(build)[0]
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


def _in_run(run: str, make: Callable[[Run, Any], Run]) -> _Make:
    def made(build: Build, value: Any) -> Build:
        cabling, old = build.cabling, getattr(build.cabling, run)
        if old is None:
            raise DescriptionError(f"cabling.{run} is not described, so there is nothing to change")
        new: Any = make(old, value)
        return build if new is old else _with(build, cabling=attrs.evolve(cabling, **{run: new}))

    return made


def _size(run: Run, size: Any) -> Run:
    """Take another size under the same conditions."""
    if size == (LEFT_OPEN if run.left_open else run.conductor.size):
        return run
    sizes = [conductor.size for conductor in run.alternatives]
    if not sizes or size not in {LEFT_OPEN, *sizes}:
        raise DescriptionError(f"{run.name}: size '{size}' is not held{nearest(size, sizes)}")
    if run.conditions is not None:
        return _looked_up_again(run, size)
    if size == LEFT_OPEN:
        return attrs.evolve(run, conductor=run.alternatives[-1], left_open=True)
    found = next(conductor for conductor in run.alternatives if conductor.size == size)
    return attrs.evolve(run, conductor=found, left_open=False)


def _looked_up_again(run: Run, size: str) -> Run:
    """Look a conductor up anew, as a sheet that says so would; how well it is known may fall."""
    assert run.conditions is not None  # noqa: S101  (told to the type checker; callers asked)
    try:
        found = looked_up(size, run.parallel, run.conditions)
    except EvpackError as problem:
        raise DescriptionError(f"{run.name}: circuits: {problem}") from None
    guessed = {"conductor": Basis.ASSUMED} if "not stated" in found.conductor.conditions else {}
    exceptions = {**run.basis.exceptions, **guessed}
    basis = attrs.evolve(run.basis, exceptions=exceptions)
    return attrs.evolve(
        run,
        conductor=found.conductor,
        alternatives=found.alternatives,
        left_open=size == LEFT_OPEN,
        basis=basis,
    )


def _length(run: Run, value: Any) -> Run:
    """Take another length; the shortest of unlike ones is no longer than it."""
    long = metres(value)
    if run.shortest is not None and run.shortest.m > long.m:
        run = attrs.evolve(run, shortest=long)
    new: Run = _put(run, length=long)
    return new


def _parallel(run: Run, value: Any) -> Run:
    """Lay another number side by side: each pair counts as a circuit that warms the others."""
    new: Run = _put(run, parallel=value)
    if new is run or run.conditions is None:
        return new
    return _looked_up_again(new, LEFT_OPEN if run.left_open else run.conductor.size)


def _safeguard(place: str) -> _Make:
    def make(build: Build, value: Any) -> Build:
        guards = attrs.evolve(build.safeguards, **{place: value})
        return attrs.evolve(build, safeguards=guards)

    return make


def _in_operation(make: Callable[[Operation, Any], Operation]) -> _Make:
    def made(build: Build, value: Any) -> Build:
        if build.operation is None:
            raise DescriptionError("no operation is described, so there is nothing to change")
        return _with(build, operation=make(build.operation, value))

    return made


def _mode(operation: Operation, value: Any) -> Operation:
    """Take another mode; an island has no utility to charge from."""
    never = {"mains_charging": NEVER} if value == ISLAND else {}
    new: Operation = _put(operation, mode=str(value), **never)
    return new


def energy_a_day(load: Profile) -> float:
    """Return what a load takes on a day in the mean [Wh]."""
    return 24.0 * float(load.values.mean())


def _energy(operation: Operation, value: Any) -> Operation:
    """Scale the load to what a day takes in the mean; its shape stays."""
    load, wanted = operation.load, float(watt_hours(value).m)
    now = energy_a_day(load)
    if abs(wanted - now) <= _SAME:
        return operation
    scaled = attrs.evolve(load, values=load.values * (wanted / now))
    return attrs.evolve(operation, load=scaled, basis=operation.basis.but(load=Basis.CHOSEN))


def _volts_of(field: str) -> Callable[[Operation, Any], Operation]:
    def made(operation: Operation, value: Any) -> Operation:
        new: Operation = _put(operation, **{field: volts(value)})
        return new

    return made


def _return_delay(operation: Operation, value: Any) -> Operation:
    new: Operation = _put(operation, return_delay=seconds(value))
    return new


def _in_heap(field: str) -> Callable[[Batch, Any], Batch]:
    def made(batch: Batch, value: Any) -> Batch:
        new: Batch = _put(batch, **{field: value})
        return new

    return made


FUSES = ("string_fuse", "main_fuse", "charger_fuse", "array_fuse")
_MAKERS: Mapping[str, _Make] = {
    "module.available": _available,
    "module.cells_in_series": _cells,
    "module.chemistry": _chemistry,
    "pack.modules_in_series": _in_series,
    "pack.strings": _strings,
    "policy.charge_target": _charge_target,
    "policy.reserve": _reserve,
    "load.continuous": _continuous,
    "load.peak": _peak,
    "inverter": _inverter,
    "inverter.count": _inverter_count,
    "inverter.leg": _split,
    "charger": _charger,
    "charger.out": _charger_out,
    **{f"cabling.{run}.size": _in_run(run, _size) for run in RUNS},
    **{f"cabling.{run}.length": _in_run(run, _length) for run in RUNS},
    **{f"cabling.{run}.parallel": _in_run(run, _parallel) for run in RUNS},
    "protection.disconnect": _safeguard("disconnect"),
    **{f"protection.{fuse}": _safeguard(fuse) for fuse in FUSES},
    "operation.mode": _in_operation(_mode),
    "operation.changeover": _in_operation(_volts_of("changeover")),
    "operation.return_to_battery": _in_operation(_volts_of("return_to_battery")),
    "operation.return_delay": _in_operation(_return_delay),
    "operation.load.energy": _in_operation(_energy),
}
_HEAP_MAKERS: Mapping[str, Callable[[Batch, Any], Batch]] = {
    "wanted.modules_in_series": _in_heap("modules_in_series"),
    "wanted.strings": _in_heap("strings"),
}
