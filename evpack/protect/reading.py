"""Was the resistance read in the cold? Asked only where the protection would then be another."""

from __future__ import annotations

from collections.abc import Callable

import attrs

from evpack.base.basis import Basis
from evpack.base.finding import Finding, Rule, Severity, Standing, state, unknown
from evpack.base.units import TEMPERATURE
from evpack.base.wording import say, say_up
from evpack.kernels.cold import ROOM
from evpack.outcome.groundwork import Groundwork
from evpack.outcome.protection import ProtectionSchedule
from evpack.protect.fault import BUS

READ_AT = Rule(
    key="reading.temperature",
    says="Read in the cold, a resistance promises less fault current than the warm pack drives.",
    source="common-practice",
    stands=Standing.QUESTION,
)

# A module is read where it lies, or in a warmer place: as cold as the cells get there, but hardly
# in frost [°C]. Common practice, no source.
_FROST = 0.0

_NAMED = 3  # places that are named one by one

Found = tuple[ProtectionSchedule, tuple[Finding, ...]]


def reading_temperature(
    ground: Groundwork, as_read: Found, again: Callable[[Groundwork], Found] | None
) -> tuple[Finding, ...]:
    """Return what is to be asked of how warm the modules were when their resistance was read.

    Nothing where somebody said, or where nobody measured. Judged with both ends of what is
    credible: in a room, as it stands, and as cold as the place of the pack gets.

    Parameters
    ----------
    as_read : tuple
        The protection and its findings, with the reading taken as one at room temperature.
    again : callable or None
        Makes them anew for another groundwork; None where the design is held up anyway.
    """
    module = ground.build.pack.module
    unsaid = module.resistance is not None and module.resistance_temperature is None
    if not unsaid or module.basis.of("resistance") is not Basis.MEASURED:
        return ()
    about, taken = module.name, f"It is taken as read at {say(ROOM[0], '°C')} or warmer."
    said = (
        "Say how warm the cells were: resistance_temperature under [module], or temperature "
        "beside the resistance."
    )
    nobody = "At what temperature its resistance was read is not specified."
    coldest = _coldest(ground)
    if again is None or coldest >= ROOM[0]:
        return (
            state(READ_AT, Severity.NOTE, about=about, detail=f"{nobody} {taken}", remedy=said),
        )
    cold = again(_read_at(ground, coldest))
    others = _otherwise(as_read, cold)
    if not others:
        return (
            state(
                READ_AT,
                Severity.NOTE,
                about=about,
                detail=f"{nobody} {taken} Read at {say(coldest, '°C')}, the protection would be "
                "the same.",
            ),
        )
    now, then = (_most(schedule) for schedule, _ in (as_read, cold))
    return (
        unknown(
            READ_AT,
            about=about,
            detail=f"{nobody} Read at {say(coldest, '°C')}, the warm pack would drive up to "
            f"{say_up(then, 'A')} into a fault at the bus, not {say_up(now, 'A')}, and these would "
            f"not do as they are: {_listed(others)}.",
            remedy=f"{said} At {say(ROOM[0], '°C')} or warmer all stays as it is.",
        ),
    )


def _coldest(ground: Groundwork) -> float:
    """Return the coldest at which a reading is credible [°C]."""
    coldest = ground.build.site.coldest
    return _FROST if coldest is None else min(max(float(coldest.m), _FROST), ROOM[0])


def _read_at(ground: Groundwork, celsius: float) -> Groundwork:
    """Return the groundwork of the same build, its modules read at a temperature."""
    pack = ground.build.pack
    module = attrs.evolve(pack.module, resistance_temperature=TEMPERATURE.of(celsius))
    build = attrs.evolve(ground.build, pack=attrs.evolve(pack, module=module))
    return attrs.evolve(ground, build=build)


def _otherwise(as_read: Found, cold: Found) -> list[str]:
    """Return what is chosen otherwise, or held up, if the reading was a cold one."""
    chosen = [
        one.place
        for one, other in zip(as_read[0].fuses, cold[0].fuses, strict=True)
        if (one.size, one.family) != (other.size, other.family)
    ]
    held = {(f.rule.key, f.about) for f in as_read[1] if f.holds}
    more = [f.about for f in cold[1] if f.holds and (f.rule.key, f.about) not in held]
    return list(dict.fromkeys((*chosen, *more)))


def _listed(names: list[str]) -> str:
    """Return the first few names, and how many more there are."""
    more = len(names) - _NAMED
    return "; ".join(names[:_NAMED]) + (f"; and {more} more" if more > 0 else "")


def _most(schedule: ProtectionSchedule) -> float:
    """Return the highest fault current at the bus [A]."""
    return max(band.high.value for band in schedule.faults if band.place == BUS)
