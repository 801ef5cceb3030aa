"""How parallel strings share the current, and what unequal leads do to it."""

from __future__ import annotations

import attrs

from evpack.base.brief import brief
from evpack.base.units import SHARE
from evpack.base.worked import Input, Worked, count, known
from evpack.describe.build import Build
from evpack.describe.policy import means
from evpack.outcome.resistance import at_room


@attrs.frozen(kw_only=True)
class Sharing:
    """Currents of the strings at the pack's greatest continuous current.

    `one_out` is what each remaining string carries when one is missing; None with one string.
    `method` says how the worst was got: a simple bound, or a simulation. `leads` is what the
    string on the shortest lead takes of an even share; None where the leads are alike.
    """

    strings: int
    total: Worked
    even: Worked
    worst: Worked
    one_out: Worked | None
    method: str
    leads: Worked | None = None

    __repr__ = brief


def unequal_leads(build: Build, strings: int) -> Worked | None:
    """Return what the string on the shortest lead carries, against an even share.

    Reckoned with the lowest credible resistance of the modules, at which the leads count most.

    Parameters
    ----------
    strings : int
        How many share: all, or those that are left when some are out.

    Returns
    -------
    Worked or None
        None where the leads are alike, where one string carries all, or where the modules'
        resistance is unknown, which no design passes.
    """
    pack, lead, policy = build.pack, build.cabling.module_lead, build.policy
    each = at_room(pack.module, least=True)
    if each is None or lead is None or lead.shortest is None or strings < 2:  # noqa: PLR2004
        return None
    if lead.shortest.m == lead.length.m:
        return None
    string = each.value * pack.modules_in_series
    long = float(lead.resistance.m)
    short = long * float(lead.shortest.m) / float(lead.length.m)
    low = known("k_low", means("ohmic_part"), policy.ohmic_part, policy.basis.of("ohmic_part"))
    wire = lead.basis.of("conductor")
    return Worked(
        name="string on the shortest lead against an even share",
        kind=SHARE,
        formula="{N_on} / (1 + ({N_on} − 1) · ({k_low} · {R_str} + {R_short}) / "
        "({k_low} · {R_str} + {R_long}))",
        inputs=(
            count("N_on", "strings that share", strings),
            low,
            Input(
                "R_str",
                "resistance of a string over 10 s",
                float(string),
                "Ω",
                each.basis,
            ),
            Input("R_short", "shortest lead, both ways", short, "Ω", wire),
            Input("R_long", "longest lead, both ways", long, "Ω", wire),
        ),
        source="ohms-law",
    )
