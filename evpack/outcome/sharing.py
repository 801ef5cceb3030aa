"""How parallel strings share the current."""

from __future__ import annotations

import attrs

from evpack.base.brief import brief
from evpack.base.worked import Worked


@attrs.frozen(kw_only=True)
class Sharing:
    """Currents of the strings at the pack's greatest continuous current.

    `one_out` is what each remaining string carries when one is missing; None with one string.
    `method` says how the worst was got: a simple bound, or a simulation.
    """

    strings: int
    total: Worked
    even: Worked
    worst: Worked
    one_out: Worked | None
    method: str

    __repr__ = brief
