"""How the bars themselves make the strings share: from one end, or from opposite ends."""

from __future__ import annotations

from evpack.base.basis import Basis
from evpack.base.finding import Finding, Rule, Severity, Standing, at_most
from evpack.base.units import SHARE
from evpack.base.wording import say
from evpack.kernels.ladder import load_shares
from evpack.outcome.cells import at_room
from evpack.outcome.groundwork import Groundwork

EVEN = Rule(
    key="bar-sharing.even",
    says="The string nearest to where the load joins the bars carries more than the farthest, "
    "unless plus and minus are taken off opposite ends.",
    source="ohms-law",
    stands=Standing.GUARD,
    kind=SHARE,
)


def bars_share(ground: Groundwork) -> tuple[Finding, ...]:
    """Judge what the bars add to the uneven sharing that the design reckons with.

    Strings alike stand evenly along the bars, at the lowest credible resistance of the modules, at
    which the bars count most; the devices join at one end. Nothing is said of a single string, nor
    where bars, leads or the modules' resistance are not known: others ask for those.
    """
    build = ground.build
    pack, lead, bar = build.pack, build.cabling.module_lead, build.cabling.bar
    each, strings = at_room(pack.module, least=True), pack.strings
    if strings < 2 or each is None or lead is None or bar is None:  # noqa: PLR2004
        return ()
    low = ground.guard("k_low", "ohmic_part")
    ohms = each.value * pack.modules_in_series * low.value + float(lead.resistance.m)
    piece = float(bar.resistance.m) / 2 / (strings - 1)
    pieces = [piece] * (strings - 1)
    same = float(load_shares([ohms] * strings, pieces, pieces).max()) * strings
    cross = load_shares([ohms] * strings, pieces, pieces, load_minus=strings - 1)
    assumed = ground.guard("k", "sharing_imbalance")
    return (
        at_most(
            EVEN,
            SHARE.of(same),
            SHARE.of(assumed.value),
            about="bus bars",
            otherwise=Severity.CAUTION,
            value_name="the busiest string against an even share, the load at one end of the bars,",
            limit_name="what the design reckons with",
            remedy="Take plus and minus off opposite ends of the bars, where it would be "
            f"{say(float(cross.max()) * strings, '')}; or use thicker or shorter bars.",
            assumed=(low.means,) if low.basis is Basis.ASSUMED else (),
        ),
    )
