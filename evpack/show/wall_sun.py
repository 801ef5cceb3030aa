"""What the cards for an emergency say of the sun: whether there are solar cables, how many volts.

What nobody said is never told as if it were not there.
"""

from __future__ import annotations

from evpack.base.finding import Severity
from evpack.base.wording import say_up
from evpack.describe.build import Build
from evpack.outcome.design import Design
from evpack.show.clean import prose
from evpack.show.wall_labels import BLANK

MISSING = '<span class="missing">(? the sheet does not say)</span>'
# The rules that know of an array's voltage: whether the one on the coldest morning is settled, and
# the highest known.
_COLD, _TOUCH = "solar.cold-voltage", "solar.touch"


def has_sun(build: Build) -> bool | None:
    """Return whether there are solar cables; None where nobody said.

    A solar charger has them, whoever settles what feeds it. Without one, ``pv = "none"`` says that
    there are none.
    """
    if build.solar_arrays or any(charger.source == "solar" for charger in build.all_chargers):
        return True
    return None if build.arrays is None else False


def array_volts(design: Design) -> str:
    """Return a line of the most that solar cables may carry; nothing where there are none.

    Told as the most only where every solar charger has its arrays and the cold voltage of each is
    settled; else as what is known of it, with a blank.
    """
    sun = has_sun(design.build)
    if sun is False:
        return ""
    cold = [side.cold_open.value for side in design.solar if side.cold_open is not None]
    if sun and _settled(design):
        return f'<p class="sun">Solar cables: up to {prose(say_up(max(cold), "V"))} DC.</p>'
    cold += [f.value for f in design.findings if f.rule.key == _TOUCH and f.value is not None]
    least = f"{prose(say_up(max(cold), 'V'))} DC or more, " if cold else ""
    any_at_all = "" if sun else ", if there are any"
    return f'<p class="sun">Solar cables{any_at_all}: {least}up to {BLANK} V DC {MISSING}</p>'


def _settled(design: Design) -> bool:
    """Return whether the voltage on the coldest morning is known of whatever feeds a charger."""
    build = design.build
    fed = {array.feeds for array in build.solar_arrays}
    if any(c.source == "solar" and c.name not in fed for c in build.all_chargers):
        return False
    known = {side.array for side in design.solar if side.cold_open is not None}
    judged = {
        f.about for f in design.findings if f.rule.key == _COLD and f.severity != Severity.UNKNOWN
    }
    return {array.name for array in build.solar_arrays} <= known & judged
