"""How a build is worked where its sheet does not say: a stand-in that is told as one."""

from __future__ import annotations

import attrs

from evpack.base.wording import say
from evpack.describe.build import Build
from evpack.describe.operation import BATTERY_FIRST, ISLAND, Operation, daily
from evpack.outcome.design import Design

# Of the continuous load, where nobody said what runs most of the time. Common practice, no source.
_PART = 0.3


def worked(design: Design) -> tuple[Operation, str]:
    """Return the operation of a build's sheet, or a stand-in, and what is to be said of it.

    The stand-in is a home that takes the typical load around the clock, without any sun.

    Parameters
    ----------
    design : Design
        With thresholds of a changeover the utility carries on below it; without, it is an island.
    """
    build = design.build
    if build.operation is not None:
        return build.operation, f"{build.title}: worked as its sheet says."
    mean = _mean_load(build)
    settled = design.settings is not None and design.settings.thresholds.changeover is not None
    operation = Operation(
        mode=BATTERY_FIRST if settled else ISLAND, load=daily("home", f"{24 * mean:.6g} Wh")
    )
    return operation, (
        f"{build.title}: its sheet has no section [operation], so a stand-in is worked here: a "
        f"home that takes {say(24 * mean, 'Wh')} a day, no sun. Nothing below is of your site "
        "until you describe it there."
    )


def with_operation(design: Design) -> Design:
    """Return the design with a stand-in for its operation where it has none."""
    operation, _ = worked(design)
    return attrs.evolve(design, build=attrs.evolve(design.build, operation=operation))


def _mean_load(build: Build) -> float:
    load = build.load
    return float(load.typical.m if load.typical is not None else _PART * load.continuous.m)
