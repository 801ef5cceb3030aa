"""The circuits of an installation: each with its ends, its cable, what it carries, its faults."""

from __future__ import annotations

import attrs

from evpack.base.brief import brief
from evpack.base.worked import Worked
from evpack.describe.cabling import Run
from evpack.describe.fuses import FuseFamily

STRING, MAIN, CHARGER, ARRAY = "string", "main", "charger", "array"
# Places of a fault: before a string's fuse, and where all strings feed it.
AT_STRING, AT_BUS = "string, at its own terminals", "bus, all strings"


@attrs.frozen(kw_only=True)
class FaultBand:
    """Prospective fault current at a place, as a band.

    Parameters
    ----------
    low : Worked or None
        None where a cable on the way is unknown.
    time_constant : Worked
        L/R of the loop at the high end [s]: what a DC fuse has to break.
    assumed : bool
        The modules' resistance is unknown, and the worst that is credible was taken for it.
    """

    place: str
    low: Worked | None
    high: Worked
    time_constant: Worked
    assumed: bool = False

    __repr__ = brief


@attrs.frozen(kw_only=True)
class Circuit:
    """One circuit, or several alike; a number that is None is unknown.

    Parameters
    ----------
    kind : {"string", "main", "charger", "array"}
    place : str
        Where its fuse sits, in words.
    device : str
        The name of the device at its end; empty for the strings.
    source, end : str
        Its two ends, in words.
    count : int
        How many are alike.
    run : Run or None
        Its cable; None is unknown.
    run_key : str
        The section of the build sheet that describes the cable.
    carries : Worked or None
        The most that it carries for good [A], before any factor.
    surge : Worked or None
        What it carries for seconds [A].
    lower : Worked or None
        The least rating of its fuse [A].
    better : Worked or None
        A higher lower bound that is met where the upper bound allows it.
    upper : Worked or None
        The highest rating that guards cable and links [A].
    voltage : Worked or None
        DC voltage that its fuse must break [V].
    interrupting : Worked or None
        The most that its fuse must break [A].
    least_fault : Worked or None
        The least fault current that its fuse must clear, at the far end of the cable [A].
    wanted : FuseFamily or str
        The family that the builder wants.
    section : str
        The section of the build sheet that describes its fuse.
    both_ways : bool
        Whether current flows through it both ways, or a fault does against the working current.
    backfed : Worked or None
        What other sources at its end feed back into its cable [A]; None: unknown, or `joined` is 0.
    joined : int
        How many other sources join it at its end.
    units : int
        Of an array: how many are alike, one to each unit of its charger.
    needs_fuse : bool
        False where no fuse is needed there, with `no_fuse` saying why.
    """

    kind: str
    place: str
    device: str = ""
    source: str
    end: str
    count: int
    run: Run | None
    run_key: str
    carries: Worked | None
    surge: Worked | None = None
    lower: Worked | None
    better: Worked | None = None
    upper: Worked | None
    voltage: Worked | None
    interrupting: Worked | None
    least_fault: Worked | None
    as_gg: bool = False
    wanted: FuseFamily | str = ""
    section: str
    guarded_by: str
    both_ways: bool = True
    backfed: Worked | None = None
    joined: int = 0
    units: int = 1
    needs_fuse: bool = True
    no_fuse: str = ""

    __repr__ = brief
