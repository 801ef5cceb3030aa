"""The thread: the whole job in the order it is done.

Describe, check, set, protect. Read this first; each step is a room of its own.
"""

from __future__ import annotations

import attrs

from evpack.base.finding import Finding
from evpack.check.arrangement import arrangement, chemistry_allowed
from evpack.check.asked import settle
from evpack.check.bar_sharing import bars_share
from evpack.check.believable import believable, trips
from evpack.check.charging import charging
from evpack.check.current import currents
from evpack.check.figures import pack_figures
from evpack.check.monitoring import monitoring
from evpack.check.place import place
from evpack.check.profile import profiles
from evpack.check.proven import prove
from evpack.check.sharing import sharing
from evpack.check.solar import solar_sides
from evpack.check.source import demand, pack_source
from evpack.check.stack import stacks
from evpack.check.usable import usable_window
from evpack.check.window import windows
from evpack.describe.build import Build
from evpack.describe.checked import need
from evpack.describe.safeguards import FuseCatalogue
from evpack.load.tables import cold_factors, credible_ranges, fuse_catalogue, site_limits
from evpack.outcome.design import Design
from evpack.outcome.groundwork import Groundwork
from evpack.protect.reading import reading_temperature
from evpack.protect.schedule import protection
from evpack.protect.sizing import settled
from evpack.setpoint.ladder import within_string_fuse
from evpack.setpoint.sheet import settings_sheet

_ROUNDS = 3  # in which the runs whose size is left open are settled


def design(
    build: Build,
    *,
    catalogue: FuseCatalogue | None = None,
    stop_early: bool = False,
    ends: bool = True,
    remedies: bool = True,
) -> Design:
    """Carry a build through every step, and return all that was worked out and found.

    Parameters
    ----------
    build : Build
        What the user states.
    catalogue : FuseCatalogue, optional
        Fuses to choose from; by default those of the site's rule set.
    stop_early : bool
        Stop before the protection if something holds the design up by then, for a search through
        many builds. What was found so far is returned, and `protection` is None.
    ends : bool
        Whether what nobody stated is judged with both ends of what is credible; a search that only
        looks leaves that.
    remedies : bool
        Whether remedies that change the build are tried, so that those that help are told; a
        search that tells none leaves that.

    Returns
    -------
    Design
        Its `build` is the one given, with every run that was left open at the size chosen.
        Never raises for a risky design: that is a finding. `decide` weighs the findings.
    """
    need("design", build, Build)

    def carry(one: Build) -> Design:
        made = _carried(one, catalogue, stop_early=stop_early)
        for _ in range(_ROUNDS):  # a thicker lead raises the fault current, which may change a fuse
            sized = one if made.protection is None else settled(made.build, made.protection)
            if sized is made.build:
                break
            made = _carried(sized, catalogue, stop_early=stop_early)
        return made

    made = carry(build)
    if ends:
        made = settle(made, carry)
    return _weighed(prove(made, carry) if remedies and not stop_early else made)


def _weighed(made: Design) -> Design:
    """Return the design with nothing to enter or to buy while something holds it up."""
    held = any(f.holds for f in made.findings)
    settings, schedule = made.settings, made.protection
    if settings is not None and settings.withheld is not held:
        settings = attrs.evolve(settings, withheld=held)
    if schedule is not None and schedule.withheld is not held:
        schedule = attrs.evolve(schedule, withheld=held)
    return attrs.evolve(made, settings=settings, protection=schedule)


def _carried(build: Build, catalogue: FuseCatalogue | None, *, stop_early: bool) -> Design:
    """Carry a build through every step, its runs as they are."""
    figures = pack_figures(build)
    allowed = chemistry_allowed(build)
    findings: list[Finding] = [allowed]
    targets = build.pack.module.chemistry.targets
    if targets is None:  # not to be charged to a set voltage: there is nothing to set
        return Design(
            build=build,
            figures=figures,
            settings=None,
            usable=None,
            sharing=None,
            protection=None,
            findings=tuple(findings),
        )
    ground = Groundwork(
        build=build,
        targets=targets,
        figures=figures,
        source=pack_source(build),
        demand=demand(build),
    )
    findings += believable(build, credible_ranges())
    findings += arrangement(build)
    findings += monitoring(build)

    settings, found = settings_sheet(ground)
    findings += found

    usable, found = usable_window(ground, settings.thresholds)
    findings += found
    findings += windows(ground, settings.thresholds)
    findings += place(ground, site_limits())
    findings += profiles(ground)
    findings += charging(ground, settings)
    findings += currents(ground, settings, usable)
    findings += stacks(ground)
    findings += bars_share(ground)
    solar, found = solar_sides(ground, cold_factors())
    findings += found

    shared = sharing(ground)
    if stop_early and any(f.holds for f in findings):
        return Design(
            build=build,
            figures=figures,
            settings=settings,
            usable=usable,
            sharing=shared,
            protection=None,
            solar=solar,
            findings=tuple(findings),
        )
    fuses = catalogue or fuse_catalogue(build.site.rules)
    schedule, found = protection(ground, shared, fuses, solar, settings)
    findings += found
    findings += trips(schedule.fuses)
    open_yet = not any(f.holds for f in findings)
    findings += reading_temperature(
        ground,
        (schedule, found),
        (lambda other: protection(other, shared, fuses, solar, settings)) if open_yet else None,
    )
    settings = within_string_fuse(ground, settings, schedule.string_fuse)
    return Design(
        build=build,
        figures=figures,
        settings=settings,
        usable=usable,
        sharing=shared,
        protection=schedule,
        solar=solar,
        findings=tuple(findings),
    )
