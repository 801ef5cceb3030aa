"""What public rules let stand in a kind of place."""

from __future__ import annotations

import attrs

from evpack.base.brief import brief
from evpack.base.units import Quantity

VOLTAGE_OPEN, VOLTAGE_COVERED = "voltage", "voltage covered"
ENERGY_THERE, ENERGY_OF_A_UNIT = "energy", "energy of a unit"
LISTING, SCOPE = "listing", "scope"
JUDGES = (VOLTAGE_OPEN, VOLTAGE_COVERED, ENERGY_THERE, ENERGY_OF_A_UNIT, LISTING, SCOPE)


@attrs.frozen(kw_only=True)
class SiteLimit:
    """One rule on one kind of place.

    Parameters
    ----------
    rules, kind : str
        The rule set of the site, and the kind of place, for which it holds.
    judges : str
        What of the pack it judges, one of `JUDGES`: "voltage covered" is the voltage where no live
        part can be reached; "scope" says what the rule set is not made for.
    limit : quantity or None
        The most [V] or [Wh]; None where it gives no number.
    bound : bool
        Whether it is a clause of that rule set which surely reaches this kind of place.
    clause, edition, source, says : str
        Where it stands, in which edition, its key of the sources, and it in a sentence.
    """

    rules: str
    kind: str
    judges: str
    limit: Quantity | None
    bound: bool
    clause: str
    edition: str
    source: str
    says: str

    __repr__ = brief
