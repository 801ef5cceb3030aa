"""The one way in which a build changes: a place of its sheet, and what is typed there.

The panels, the searches, what a page can be turned through and what is written back to a sheet all
go through here, and so cannot differ.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, TypeAlias

import attrs

from evpack.base.basis import Basis
from evpack.base.brief import cut
from evpack.base.errors import DescriptionError, nearest
from evpack.base.fitted import NotFitted
from evpack.base.units import Quantity, metres, share, volts, watts
from evpack.describe.build import Build
from evpack.describe.cabling import LEFT_OPEN, RUNS, Run
from evpack.describe.charger import Charger
from evpack.describe.inverter import Inverter
from evpack.describe.policy import check_target

_Make: TypeAlias = Callable[[Build, Any], Build]


def edited(build: Build, *edits: tuple[str, Any]) -> Build:
    """Return the build with edits made, in their order.

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
    for place, value in edits:
        make = _MAKERS.get(place)
        if make is None:
            raise DescriptionError(f"nothing is changed at '{place}'{nearest(place, _MAKERS)}")
        new = make(new, value)
    return new if new is build else attrs.evolve(new, sheet="")


def places() -> tuple[str, ...]:
    """Return every place that an edit knows."""
    return tuple(_MAKERS)


_SAME = 1e-9  # below this a difference is a rounding of a control, not an edit [canonical unit]
_COUNTS = frozenset({"modules_in_series", "strings", "available", "parallel"})


def _same(new: Any, old: Any) -> bool:
    if isinstance(new, int) or old is None:
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


def _in_pack(field: str) -> _Make:
    return lambda build, value: _with(build, pack=_put(build.pack, **{field: value}))


def _available(build: Build, value: Any) -> Build:
    module = _put(build.pack.module, available=value)
    if module is build.pack.module:
        return build
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
    """Take another size under the same conditions; how well it is known stays what it was."""
    if size == (LEFT_OPEN if run.left_open else run.conductor.size):
        return run
    if size == LEFT_OPEN and run.alternatives:
        return attrs.evolve(run, conductor=run.alternatives[-1], left_open=True)
    for conductor in run.alternatives:
        if conductor.size == size:
            return attrs.evolve(run, conductor=conductor, left_open=False)
    sizes = [conductor.size for conductor in run.alternatives]
    raise DescriptionError(f"{run.name}: size '{size}' is not held{nearest(size, sizes)}")


def _length(run: Run, value: Any) -> Run:
    """Take another length; the shortest of unlike ones is no longer than it."""
    long = metres(value)
    if run.shortest is not None and run.shortest.m > long.m:
        run = attrs.evolve(run, shortest=long)
    new: Run = _put(run, length=long)
    return new


def _parallel(run: Run, value: Any) -> Run:
    new: Run = _put(run, parallel=value)
    return new


def _safeguard(place: str) -> _Make:
    def make(build: Build, value: Any) -> Build:
        guards = attrs.evolve(build.safeguards, **{place: value})
        return attrs.evolve(build, safeguards=guards)

    return make


FUSES = ("string_fuse", "main_fuse", "charger_fuse", "array_fuse")
_MAKERS: Mapping[str, _Make] = {
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
    **{f"cabling.{run}.size": _in_run(run, _size) for run in RUNS},
    **{f"cabling.{run}.length": _in_run(run, _length) for run in RUNS},
    **{f"cabling.{run}.parallel": _in_run(run, _parallel) for run in RUNS},
    "protection.disconnect": _safeguard("disconnect"),
    **{f"protection.{fuse}": _safeguard(fuse) for fuse in FUSES},
}
